"""What belongs to the room's surfaces: obstacles, openings, keep-outs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations
from typing import Any, Final

import numpy as np
import shapely

from treatment.errors import Finding, GeometryError
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import PLANE_TOLERANCE, Polygon, Rectangle
from treatment.geometry.shapes import subtract_contacts
from treatment.measures import area_words
from treatment.scene.codes import finding, nearest
from treatment.scene.model import Mouth
from treatment.scene.obstacles import check_obstacle, check_together, listed, outside_area, solid_of
from treatment.scene.outline import Shell
from treatment.scene.outside import cut_off, outside_words, place_along
from treatment.scene.schema import KeepOutEntry, ObstacleEntry, OpeningEntry, RecessEntry

#: An opening that lies on its surface by more than this share is slightly mistyped, not turned.
LIKELY_PART: Final = 0.7


@dataclass(frozen=True, eq=False)
class Fitted:
    """The room with its obstacles.

    Parameters
    ----------
    enclosure : Enclosure
        Boundary of the air.
    names : tuple of str
        Name of each surface; obstacles give theirs to all their faces.
    obstacles : tuple of int or None
        Index of the obstacle in the file that each surface belongs to.
    """

    enclosure: Enclosure
    names: tuple[str, ...]
    obstacles: tuple[int | None, ...]


def fit_obstacles(shell: Shell, entries: dict[int, ObstacleEntry], unit: str) -> tuple[Fitted, list[Finding]]:
    """Put the obstacles into the room.

    Parameters
    ----------
    shell : Shell
        The room.
    entries : dict of int to ObstacleEntry
        By index in the file.
    unit : str
        For messages.

    Returns
    -------
    fitted : Fitted
        The room with those obstacles that fit.
    findings : list of Finding
        What is wrong with the others.
    """
    findings: list[Finding] = []
    good: dict[int, ObstacleEntry] = {}
    for i, entry in entries.items():
        trouble = check_obstacle(i, entry, shell, unit)
        findings += trouble
        if not any(f.severity == "error" for f in trouble):
            good[i] = entry
    trouble = check_together(good, shell, unit)
    findings += trouble
    if trouble:
        good = {}
    try:
        return _join(shell, good), findings
    except GeometryError as error:
        findings.append(finding("obstacle-fills-room", "obstacles", error.message, error.hint))
        return _join(shell, {}), findings


def _join(shell: Shell, good: dict[int, ObstacleEntry]) -> Fitted:
    polygons: list[Polygon] = list(shell.polygons)
    names = list(shell.names)
    owners: list[int | None] = [None] * len(names)
    if not good:
        return Fitted(shell.enclosure, shell.names, tuple(owners))
    for i, entry in good.items():
        faces = solid_of(entry, shell)
        polygons += faces
        names += [entry.name] * len(faces)
        owners += [i] * len(faces)
    left = subtract_contacts(polygons, len(shell.names))
    kept = [(p, n, o) for p, n, o in zip(left, names, owners, strict=True) if p is not None]
    return Fitted(
        Enclosure(tuple(p for p, _, _ in kept)),
        tuple(n for _, n, _ in kept),
        tuple(o for _, _, o in kept),
    )


def fit_rectangles(
    section: str,
    entries: dict[int, OpeningEntry] | dict[int, KeepOutEntry],
    shell: Shell,
    fitted: Fitted,
    unit: str,
) -> tuple[dict[int, tuple[int, Rectangle]], list[Finding]]:
    """Put openings or keep-outs on their surfaces.

    Parameters
    ----------
    section : {"openings", "keep_outs"}
        Which.
    entries : dict of int to OpeningEntry or KeepOutEntry
        By index in the file.
    shell : Shell
        The room.
    fitted : Fitted
        The room with its obstacles.
    unit : str
        For messages.

    Returns
    -------
    placed : dict of int to tuple of int and Rectangle
        Surface index and rectangle, by index in the file; those that do not fit are left out.
    findings : list of Finding
        Why.
    """
    findings: list[Finding] = []
    placed: dict[int, tuple[int, Rectangle]] = {}
    what = "opening" if section == "openings" else "keep-out"
    for i, entry in entries.items():
        where = f"{section}[{i}]"
        if entry.surface in shell.missing:
            continue
        rectangle = Rectangle(*entry.at, *entry.size)
        over = _mouth_under(shell, entry.surface, rectangle)
        if over is not None:
            findings.append(_over_mouth(what, where, entry.name, over, shell))
            continue
        if entry.surface not in shell.names:
            message = f'"{entry.name}" is on "{entry.surface[:60]}", which the room does not have'
            hint = nearest(entry.surface, shell.names)
            if entry.surface in fitted.names:
                hint = "it must be a surface of the room, not an obstacle"
            findings.append(finding("unknown-surface", f"{where}.surface", message, hint))
            continue
        whole = shell.polygons[shell.names.index(entry.surface)]
        if outside_area(rectangle.shape(), whole.region):
            findings.append(outside_finding(f"{what}-outside-surface", where, entry, rectangle, whole, unit))
            continue
        if entry.surface not in fitted.names:  # an obstacle covers all of it
            seen: Any = shapely.Polygon()
        else:
            seen = fitted.enclosure.polygons[fitted.names.index(entry.surface)].region
        if section == "openings" and outside_area(rectangle.shape(), seen):
            hidden = area_words(rectangle.shape().difference(seen).area, unit, 2)
            message = f'{hidden} of "{entry.name}" lie behind an obstacle on "{entry.surface}"'
            hint = "give only the part that shows, or move the obstacle off the surface"
            findings.append(finding("opening-behind-obstacle", where, message, hint))
        elif entry.surface in fitted.names:
            placed[i] = (fitted.names.index(entry.surface), rectangle)
    if section == "openings":
        findings += list(_overlaps(placed, entries, unit))
    return placed, findings


def _mouth_under(shell: Shell, surface: str, rectangle: Rectangle) -> Mouth | None:
    """Recess whose mouth lies under a rectangle."""
    for mouth in shell.recesses:
        if mouth.surface == surface and mouth.rectangle.overlaps(rectangle, slack=PLANE_TOLERANCE):
            return mouth
    return None


def _over_mouth(what: str, where: str, name: str, mouth: Mouth, shell: Shell) -> Finding:
    """Say that nothing can be on a surface where a recess opens."""
    message = f'"{name}" reaches over the mouth of "{mouth.name}", where "{mouth.surface}" is open'
    faces = [n for n, f in shell.faces.items() if shell.recesses[f.recess] is mouth]
    deep = next((n for n in faces if n.rpartition("-")[2] in ("back", "front")), faces[0])
    hint = f'put it on a face of the recess, such as surface = "{deep}", or move it'
    return finding(f"{what}-over-recess", where, message, hint)


def outside_finding(
    code: str,
    where: str,
    entry: OpeningEntry | KeepOutEntry | RecessEntry,
    rectangle: Rectangle,
    whole: Polygon,
    unit: str,
) -> Finding:
    """Say that a rectangle is not on its surface, and how it could be.

    Parameters
    ----------
    code : str
        Of the finding.
    where : str
        Key path of the entry.
    entry : OpeningEntry, KeepOutEntry or RecessEntry
        As typed.
    rectangle : Rectangle
        Where it is.
    whole : Polygon
        The surface without what stands before it.
    unit : str
        Unit of plain numbers.

    Returns
    -------
    Finding
        With the nearest place that was meant as its hint.
    """
    u0, v0, u1, v1 = rectangle.bounds
    a0, b0, a1, b1 = whole.bounds
    message = outside_words(f'"{entry.name}"', rectangle, entry.surface, whole, unit)
    if cut_off(rectangle, whole):
        fitting = place_along(rectangle, whole)
        hint = "of this size it fits nowhere on it at that height: make it lower or narrower"
        if fitting is not None:
            hint = f"at that height it fits with at = {listed((fitting.u, fitting.v), unit)}"
        return finding(code, where, message, hint)
    swapped = Rectangle(*entry.at[::-1], *entry.size[::-1])
    turned = Rectangle(*entry.at, *entry.size[::-1])
    start, end = np.maximum([u0, v0], [a0, b0]), np.minimum([u1, v1], [a1, b1])
    part = shapely.box(*start, *end) if np.all(end > start) else shapely.Polygon()
    clipped = f"the part on it has at = {listed(start, unit)}, size = {listed(end - start, unit)}"
    fits = part.area > 0.0 and not outside_area(part, whole.region)
    if fits and part.area > LIKELY_PART * rectangle.area:
        hint = clipped
    elif not outside_area(turned.shape(), whole.region):
        hint = f"width first: did you mean size = {listed(entry.size[::-1], unit)}?"
    elif not outside_area(swapped.shape(), whole.region):
        hint = f"along the wall first: did you mean at = {listed(entry.at[::-1], unit)}?"
    elif fits:
        hint = clipped
    else:
        hint = "at is the lower corner, measured along the surface and up"
    return finding(code, where, message, hint)


def _overlaps(
    placed: dict[int, tuple[int, Rectangle]],
    entries: dict[int, OpeningEntry] | dict[int, KeepOutEntry],
    unit: str,
) -> Iterator[Finding]:
    for (i, (s, a)), (j, (t, b)) in combinations(placed.items(), 2):
        if s == t and a.overlaps(b, slack=PLANE_TOLERANCE):
            shared = area_words(a.shape().intersection(b.shape()).area, unit, 2)
            message = f'"{entries[j].name}" and "{entries[i].name}" share {shared}'
            hint = "move one of them, or make them one opening"
            yield finding("openings-overlap", f"openings[{j}]", message, hint)
