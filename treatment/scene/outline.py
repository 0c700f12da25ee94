"""The outline of a room: from lengths or corners to its walls, floor and ceiling."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Final

import numpy as np
import shapely

from treatment.bands import Array
from treatment.errors import Finding, GeometryError
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import Polygon
from treatment.geometry.roof import level, roofed
from treatment.geometry.shapes import box
from treatment.measures import place_words
from treatment.scene.ceiling import Roof, make_roof
from treatment.scene.codes import finding
from treatment.scene.model import Mouth
from treatment.scene.schema import BoxEntry, MeshEntry, PlanEntry, PlanHeightsEntry, RoomEntry
from treatment.units import UNITS, format_length

BOX_NAMES: Final = ("front", "back", "left", "right", "floor", "ceiling")
MOST_CORNERS: Final = 200
#: Corners nearer than this are one corner, a bend flatter than this is none (m).
SAME_PLACE: Final = 0.001
#: Sizes that no small room has (m): asked about, never changed. Common practice.
LIKELY_HEIGHT, LIKELY_LENGTH, LARGEST, SMALLEST = 4.5, 20.0, 100.0, 0.5
_HEIGHTS: Final = ("height", "ceiling")
#: Nobody stands in a room lower than this (m): in feet it was most likely read in metres. Common practice.
STANDING_HEIGHT: Final = 1.5
#: Unit that was most likely meant where a plain number in the unit of the file is far too large.
_SMALLER_UNIT: Final = {"m": "feet", "ft": "inches", "cm": "millimetres"}
_FAR_SMALLER_UNIT: Final = {"m": "millimetres or centimetres", "ft": "inches or millimetres"}


@dataclass(frozen=True)
class Face:
    """A surface that belongs to a recess.

    Parameters
    ----------
    recess : int
        Index of the recess in the shell.
    entry : int
        Its index in the file.
    like : str
        Name of the surface that it is made like where nothing is said: the one that it continues, else the
        one that the recess is in.
    continues : bool
        Whether it lies in one plane with that surface and touches it.
    """

    recess: int
    entry: int
    like: str
    continues: bool


@dataclass(frozen=True, eq=False)
class Shell:
    """The room without what stands in it.

    Parameters
    ----------
    polygons : tuple of Polygon
        Its surfaces.
    names : tuple of str
        Their names.
    plan : shapely.Polygon or None
        The floor, in x and y; None for a mesh.
    planes : numpy.ndarray or None
        The ceiling: lowest of these planes ``z = a x + b y + c``, shape (k, 3); None for a mesh.
    groups : tuple of str
        Name of the group of each surface in a mesh file; empty where there is none.
    recesses : tuple of Mouth
        Those that were joined to it.
    faces : mapping of str to Face
        Surfaces of recesses, by name.
    closed : mapping of str to Polygon
        Surfaces with a recess as they would be without it, by name; of some nothing else is left.
    missing : frozenset of str
        Names that faces of recesses would have which do not fit.
    """

    polygons: tuple[Polygon, ...]
    names: tuple[str, ...]
    plan: Any = None
    planes: Array | None = None
    groups: tuple[str, ...] = ()
    recesses: tuple[Mouth, ...] = ()
    faces: Mapping[str, Face] = field(default_factory=dict)
    closed: Mapping[str, Polygon] = field(default_factory=dict)
    missing: frozenset[str] = frozenset()

    def whole(self, name: str) -> Polygon:
        """A surface without the mouths of recesses in it.

        Parameters
        ----------
        name : str
            Its name.

        Returns
        -------
        Polygon
            As it would be without them.
        """
        return self.closed[name] if name in self.closed else self.polygons[self.names.index(name)]

    @cached_property
    def enclosure(self) -> Enclosure:
        """The room without what stands in it."""
        return Enclosure(self.polygons)


def make_shell(entry: RoomEntry, unit: str, folder: Path | None = None) -> tuple[Shell | None, list[Finding]]:
    """Make the surfaces of a room.

    Parameters
    ----------
    entry : RoomEntry
        What the file says, in m.
    unit : str
        Unit that the person uses, for messages.
    folder : pathlib.Path, optional
        Folder of the scene file: a mesh file is named from there.

    Returns
    -------
    shell : Shell or None
        None when the outline is no room.
    findings : list of Finding
        What is wrong or worth knowing.
    """
    if isinstance(entry, MeshEntry):
        from treatment.scene.mesh_room import make_mesh_shell

        return make_mesh_shell(entry, unit, folder)
    if isinstance(entry, BoxEntry):
        findings = check_sizes({"length": entry.length, "width": entry.width, "height": entry.height}, unit)
        if any(f.severity == "error" for f in findings):
            return None, findings
        plan = shapely.box(0.0, 0.0, entry.length, entry.width)
        surfaces = box(entry.length, entry.width, entry.height)
        return Shell(surfaces, BOX_NAMES, plan, level(entry.height)[None]), findings
    corners = np.array(entry.corners, dtype=np.float64).reshape(-1, 2)
    findings = _check_corners(corners, unit)
    sizes = {"height": entry.height} if entry.height is not None else {}
    if not findings:
        along_x, along_y = (float(e) for e in corners.max(axis=0) - corners.min(axis=0))
        sizes = {"corners (along x)": along_x, "corners (along y)": along_y, **sizes}
    findings += check_sizes(sizes, unit)
    if entry.names is not None and len(entry.names) != len(corners):
        findings.append(
            finding(
                "plan-names-count",
                "room.names",
                f"{len(entry.names)} names for {len(corners)} walls",
                "name every wall, from corner 1 to corner 2 first, or leave names out",
            )
        )
    if any(f.severity == "error" for f in findings):
        return None, findings
    ordered, names, order, notes = _in_order(
        corners, entry.names, unit, straight=isinstance(entry, PlanHeightsEntry)
    )
    findings += notes
    if isinstance(entry, PlanEntry):
        roof: Roof | None = Roof(level(entry.height)[None], ("ceiling",))
    else:
        roof, found = make_roof(entry, ordered, names, order, unit)
        findings += found
    if roof is None:
        return None, findings
    try:
        walls, floor, ceilings = roofed(ordered, roof.planes)
    except GeometryError as error:
        findings.append(finding("ceiling-below-floor", "room.ceiling", error.message, error.hint))
        return None, findings
    pieces = zip((*walls, floor, *ceilings), (*names, "floor", *roof.names), strict=True)
    kept = [(p, n) for p, n in pieces if p is not None]
    surfaces = tuple(p for p, _ in kept)
    if not isinstance(entry, PlanEntry):
        highest = max((float(p.to_room(p.edges[:, 0])[:, 2].max()) for p in surfaces), default=0.0)
        findings += check_sizes({"ceiling (at its highest)": highest}, unit)
        if any(f.severity == "error" for f in findings):
            return None, findings
    shell = Shell(surfaces, tuple(n for _, n in kept), shapely.Polygon(ordered), roof.planes)
    try:
        _ = shell.enclosure
    except GeometryError as error:
        where = "room.height" if isinstance(entry, PlanEntry) else "room.ceiling"
        findings.append(finding("ceiling-below-floor", where, error.message, error.hint))
        return None, findings
    return shell, findings


def check_sizes(sizes: dict[str, float], unit: str) -> list[Finding]:
    """Ask about sizes that look like a slip of units.

    Parameters
    ----------
    sizes : dict of str to float
        By key, in m.
    unit : str
        Unit that the person uses, for messages.

    Returns
    -------
    list of Finding
        What looks wrong.
    """
    findings = []
    for key, size in sizes.items():
        where, shown = f"room.{key.split(' ')[0]}", f"{key} is {format_length(size, unit)}"
        if size > LARGEST:
            meant = _FAR_SMALLER_UNIT.get(unit, "a smaller unit")
            hint = f"are these {meant}? write units at the top of the file, or a text with its unit"
            limit = f"{format_length(LARGEST, unit)} is the most that can be a room"
            findings.append(finding("size-looks-like-millimetres", where, f"{shown}; {limit}", hint))
        elif size < SMALLEST:
            hint = f'is the unit right? plain numbers are in {unit}: write units = "m", or "2.5 m"'
            limit = f"{format_length(SMALLEST, unit)} is the least that can be a room"
            findings.append(finding("size-looks-too-small", where, f"{shown}; {limit}", hint))
        elif unit == "ft" and size < STANDING_HEIGHT and key.split(" ")[0] in _HEIGHTS:
            meant = f"{size / UNITS['ft']:g} m would be usual"
            hint = f'are these metres? {meant}: write units = "m"; if it is right, go on'
            message = f"{shown}, lower than {format_length(STANDING_HEIGHT, unit)}: nobody stands in it"
            findings.append(finding("size-looks-like-metres", where, message, hint))
        elif size > (likely := LIKELY_LENGTH if key.split(" ")[0] not in _HEIGHTS else LIKELY_HEIGHT):
            limit = format_length(likely, unit)
            meant = _SMALLER_UNIT.get(unit, "a smaller unit")
            hint = f'are these {meant}? write units = "ft" or a text such as "8 ft"; if it is right, go on'
            message = f"{shown}, beyond {limit}: unusual for a small room"
            findings.append(finding("size-looks-like-feet", where, message, hint))
    return findings


def _check_corners(corners: Array, unit: str) -> list[Finding]:
    if len(corners) < 3:
        hint = "name the corners in the order in which you walk round the room"
        message = f"{len(corners)} corners make no room; at least three are needed"
        return [finding("plan-too-few-corners", "room.corners", message, hint)]
    if len(corners) > MOST_CORNERS:
        message = f"{len(corners)} corners; a floor plan has at most {MOST_CORNERS}"
        hint = (
            "leave out what is smaller than a hand; a curved wall is well described by eight to twelve pieces"
        )
        return [finding("plan-too-many-corners", "room.corners", message, hint)]
    findings = []
    for j in range(1, len(corners)):
        gaps = np.abs(corners[:j] - corners[j]).max(axis=1)
        if gaps.min() < SAME_PLACE:
            i = int(gaps.argmin())
            x, y = (format_length(float(c), unit) for c in corners[j])
            closing = i == 0 and j == len(corners) - 1
            findings.append(
                finding(
                    "plan-duplicate-corner",
                    f"room.corners[{j}]",
                    f"corner {j + 1} is at the place of corner {i + 1}: x {x}, y {y}",
                    "the outline closes by itself: leave the last corner out"
                    if closing
                    else "leave one of the two out",
                )
            )
    if findings:
        return findings
    crossing = _first_crossing(corners)
    if crossing is not None:
        i, j = crossing
        n = len(corners)
        findings.append(
            finding(
                "plan-self-crossing",
                f"room.corners[{j}]",
                f"the wall from corner {i + 1} to {i + 2} meets that from {j + 1} to {(j + 1) % n + 1}",
                "go round the room once, corner by corner; are two corners exchanged?",
            )
        )
    return findings


def _first_crossing(corners: Array) -> tuple[int, int] | None:
    """Find the first two walls that are no neighbours and meet, or neighbours that fold back."""
    n = len(corners)
    walls = [shapely.LineString([corners[i], corners[(i + 1) % n]]) for i in range(n)]
    for i in range(n):
        for j in range(i + 1, n):
            beside = j == i + 1 or (i == 0 and j == n - 1)
            if beside:
                if walls[i].intersection(walls[j]).length > SAME_PLACE:
                    return i, j
            elif walls[i].distance(walls[j]) < SAME_PLACE:
                return i, j
    return None


def _in_order(
    corners: Array, given: list[str] | None, unit: str, *, straight: bool
) -> tuple[Array, list[str], list[int], list[Finding]]:
    """Put corners anticlockwise seen from above; corner 1 stays corner 1, a given name its wall.

    A corner in a straight wall is worth a word, unless the ceiling folds there.
    """
    findings = []
    n = len(corners)
    order = list(range(n))
    x, y = corners.T
    names = given or [f"wall-{i + 1}" for i in range(n)]
    if float(x @ np.roll(y, -1) - y @ np.roll(x, -1)) < 0.0:
        order = [0, *order[:0:-1]]
        corners = corners[order]
        told = "each given name stays with its wall" if given else f"wall-1 runs from corner 1 to corner {n}"
        names = given[::-1] if given else names
        findings.append(
            finding(
                "plan-clockwise",
                "room.corners",
                f"the corners run clockwise seen from above; they are read the other way round: {told}",
                "u on a wall now runs from its other end; list the corners front-left, back-left, "
                "back-right, front-right to have walls and corners in the same order",
            )
        )
    for i in range(n if not straight else 0):
        before, here, after = corners[i - 1], corners[i], corners[(i + 1) % n]
        if shapely.LineString([before, after]).distance(shapely.Point(here)) < SAME_PLACE:
            findings.append(
                finding(
                    "plan-straight-corner",
                    "room.corners",
                    f"the corner at {place_words(here, unit)} lies in a straight wall",
                    "leave it out, unless the wall has two materials",
                )
            )
    low = corners.min(axis=0)
    if np.abs(low).max() > SAME_PLACE:
        findings.append(
            finding(
                "plan-origin",
                "room.corners",
                f"the floor plan begins at {place_words(low, unit)}, not at 0, 0",
                "all readings of the file count from where x and y are 0, best the front-left corner",
            )
        )
    return corners, names, order, findings
