"""The ceiling of a floor plan: heights at corners, or slopes as a person measures them, to planes."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from treatment.bands import Array, frozen
from treatment.errors import Finding, GeometryError
from treatment.geometry.roof import (
    ceiling_height,
    level,
    lowest_parts,
    plane_from_eave,
    plane_through,
    planes_over,
)
from treatment.measures import small_words
from treatment.scene.codes import finding, nearest
from treatment.scene.naming import numbered, side_of
from treatment.scene.schema import PlanHeightsEntry, PlanSlopesEntry, SlopeEntry
from treatment.units import format_length

#: Heights that a tape gives for one plane agree within this (m): common practice for a tape and a floor.
TAPE_ERROR: Final = 0.015


@dataclass(frozen=True, eq=False)
class Roof:
    """A ceiling: everywhere the lowest of its planes.

    Parameters
    ----------
    planes : numpy.ndarray
        ``z = a x + b y + c``, shape (k, 3).
    names : tuple of str
        One for each plane.
    """

    planes: Array
    names: tuple[str, ...]


def make_roof(
    entry: PlanHeightsEntry | PlanSlopesEntry, corners: Array, walls: list[str], order: list[int], unit: str
) -> tuple[Roof | None, list[Finding]]:
    """Make the ceiling.

    Parameters
    ----------
    entry : PlanHeightsEntry or PlanSlopesEntry
        What the file says, in m.
    corners : numpy.ndarray
        ``(x, y)`` anticlockwise, shape (n, 2), m.
    walls : list of str
        Names of the walls, from corner to corner.
    order : list of int
        Index in the file of each corner.
    unit : str
        Unit that the person uses, for messages.

    Returns
    -------
    roof : Roof or None
        None when it is no ceiling.
    findings : list of Finding
        What is wrong or worth knowing.
    """
    if isinstance(entry, PlanHeightsEntry):
        return _from_heights(entry, corners, order, unit)
    return _from_slopes(entry, corners, walls, unit)


def _from_heights(
    entry: PlanHeightsEntry, corners: Array, order: list[int], unit: str
) -> tuple[Roof | None, list[Finding]]:
    if len(entry.ceiling) != len(corners):
        message = f"{len(entry.ceiling)} heights for {len(corners)} corners"
        hint = "give the height of the ceiling at every corner, in the order of the corners"
        return None, [finding("ceiling-heights-count", "room.ceiling", message, hint)]
    heights = np.array(entry.ceiling)[order]
    table = np.column_stack([corners, np.ones(len(corners))])
    fitted = frozen(np.linalg.lstsq(table, heights, rcond=None)[0])
    off = heights - ceiling_height(fitted[None], corners)
    most = small_words(float(np.abs(off).max()), unit)
    findings = []
    if np.abs(off).max() <= TAPE_ERROR:
        planes = fitted[None]
        if np.abs(off).max() > 0.001:
            message = f"the heights differ from one flat ceiling by up to {most}"
            findings.append(
                finding(
                    "ceiling-not-quite-flat",
                    "room.ceiling",
                    f"{message}; it is read as flat",
                    "nothing need be done",
                )
            )
    else:
        planes = planes_over(corners, heights)
        below = ceiling_height(planes, corners) - heights
        if below.max() > TAPE_ERROR:
            at = int(below.argmax())
            message = (
                f"corner {order[at] + 1} has {format_length(float(heights[at]), unit)}, "
                f"{format_length(float(below[at]), unit)} below the ceiling that spans the others: a valley"
            )
            hint = "measure it again; a ceiling with a valley can be given as a mesh"
            return None, [finding("ceiling-valley", f"room.ceiling[{order[at]}]", message, hint)]
        message = f"the heights lie in no plane: the ceiling folds into {len(planes)} planes between them"
        hint = f"if it is flat, measure again: a corner is off by about {most}"
        findings.append(finding("ceiling-folds", "room.ceiling", message, hint))
    if entry.height is not None:
        planes = frozen(np.vstack([level(entry.height), planes]))
    names = _names(planes, [None] * len(planes))
    used = [not part.is_empty for part in lowest_parts(_shape(corners), planes)]
    return Roof(frozen(planes[used]), tuple(n for n, u in zip(names, used, strict=True) if u)), findings


def _from_slopes(
    entry: PlanSlopesEntry, corners: Array, walls: list[str], unit: str
) -> tuple[Roof | None, list[Finding]]:
    findings: list[Finding] = []
    planes: list[Array] = []
    given: list[str | None] = []
    places: list[str] = []
    if entry.height is not None:
        planes.append(level(entry.height))
        given.append("ceiling")
        places.append("room.height")
    for i, slope in enumerate(entry.ceiling):
        plane, problem = _plane(slope, f"room.ceiling[{i}]", corners, walls, unit)
        if problem is not None:
            findings.append(problem)
        elif plane is not None:
            planes.append(plane)
            given.append(slope.name)
            places.append(f"room.ceiling[{i}]")
    if findings or not planes:
        return None, findings
    table = frozen(planes)
    names = _names(table, given)
    for k, part in enumerate(lowest_parts(_shape(corners), table)):
        if part.is_empty:
            message = f'"{names[k]}" is nowhere the lowest part of the ceiling'
            hint = "the ceiling is the lowest of its planes: is its height or its pitch right?"
            findings.append(finding("ceiling-part-unused", places[k], message, hint))
    return Roof(table, tuple(names)), findings


def _shape(corners: Array) -> object:
    import shapely

    return shapely.Polygon(corners)


def _plane(
    slope: SlopeEntry, where: str, corners: Array, walls: list[str], unit: str
) -> tuple[Array | None, Finding | None]:
    given = {k for k in ("wall", "knee", "pitch", "through", "points") if getattr(slope, k) is not None}
    ways = ({"points"}, {"wall", "knee", "pitch"}, {"wall", "knee", "through"})
    if given not in ways:
        message = f"a slope from {' and '.join(sorted(given)) or 'nothing'} is not understood"
        hint = "give wall, knee and pitch; or wall, knee and through (a point on the slope); or three points"
        return None, finding("ceiling-slope-unclear", where, message, hint)
    try:
        if slope.points is not None:
            return plane_through(slope.points), None
    except GeometryError as error:
        return None, finding("ceiling-slope-unclear", f"{where}.points", error.message, error.hint)
    wall, knee = slope.wall or "", slope.knee or 0.0
    if wall not in walls:
        message = f'the slope begins at "{wall[:60]}", which is no wall of the room'
        return None, finding("unknown-surface", f"{where}.wall", message, nearest(wall, walls))
    i = walls.index(wall)
    start, end = corners[i], corners[(i + 1) % len(corners)]
    if slope.through is not None:
        along = (end - start) / np.linalg.norm(end - start)
        run = float(np.array([-along[1], along[0]]) @ (np.array(slope.through[:2]) - start))
        if run < 0.05:
            message = f'the point that the slope goes through is {format_length(run, unit)} before "{wall}"'
            hint = "choose one well inside the room, such as where the slope ends"
            return None, finding("ceiling-slope-unclear", f"{where}.through", message, hint)
        return plane_from_eave(start, end, knee, (slope.through[2] - knee) / run), None
    return plane_from_eave(start, end, knee, math.tan(math.radians(slope.pitch or 0.0))), None


def _names(planes: Array, given: list[str | None]) -> list[str]:
    """Names of the planes: as given, else ``ceiling``, or ``slope-`` and the side where it comes down."""
    if len(planes) == 1:
        return [given[0] or "ceiling"]
    made = []
    for (a, b, _), name in zip(planes, given, strict=True):
        flat = math.hypot(a, b) < 1e-9
        made.append(name or ("ceiling" if flat else f"slope-{side_of(np.array([-a, -b, 0.0]))}"))
    return numbered(made)
