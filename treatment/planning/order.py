"""How orderly the panels of one surface hang, and the small moves that would line one of them up.

A person sees lines: edges at one height, middles on one line, equal gaps, a row that is its own image. So
disorder is a number of lines, of panels without an image and of unequal gaps: it needs no threshold but the
one at which two edges are one line.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise
from typing import Final

import numpy as np

from treatment.bands import Array
from treatment.scene.model import Scene

#: Edges this near to each other are on one line (m): a pencil line. Nothing smaller is put right.
LINE: Final = 1e-3
#: Gaps wider than this (m) are no gaps of a row. A choice.
_ROW_GAP: Final = 0.60
#: ``(u_low, v_low, u_high, v_high)`` in wall coordinates, m.
Bounds = tuple[float, float, float, float]
#: Which wall coordinate, and where the middle line crosses it.
Middle = tuple[int, float]


def middle_line(scene: Scene, surface: int) -> Middle | None:
    """Find the line that panels of a surface are mirrored in.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.

    Returns
    -------
    tuple of (int, float) or None
        The screen's middle where it hangs there; else the room's, where the surface runs from left to right
        and reaches both sides of it; else that of the wall. None for other ceilings and slopes.
    """
    polygon = scene.surfaces[surface].polygon
    low_u, low_v, high_u, high_v = polygon.bounds
    if scene.screen is not None and scene.screen.surface == surface:
        return 0, scene.screen.rectangle.centre[0]
    room = float(scene.hall[:, 1].mean())
    for k, (axis, low, high) in enumerate(((polygon.u_axis, low_u, high_u), (polygon.v_axis, low_v, high_v))):
        if abs(axis[1]) > 1.0 - 1e-9:
            at = float((room - polygon.origin[1]) / axis[1])
            return (k, at) if low < at < high else None
    return (0, (low_u + high_u) / 2.0) if scene.surfaces[surface].kind == "wall" else None


def disorder(table: Array, middle: Middle | None) -> int:
    """Count the lines, the panels without an image and the unequal gaps on one surface.

    Parameters
    ----------
    table : numpy.ndarray
        Bounds of the panels in wall coordinates, shape (n, 4), m.
    middle : tuple of (int, float) or None
        From `middle_line`.

    Returns
    -------
    int
        Different lines of lower edges, middles and upper edges along both coordinates; panels whose image in
        the middle line does not hang; in every row the different gaps but one. The same for the mirrored
        surface.
    """
    if len(table) == 0:
        return 0
    lines = sum(_different(values) for k in (0, 1) for values in _edges(table, k).T)
    return lines + _lopsided(table, middle) + sum(_uneven(table, k) for k in (0, 1))


def aligning_moves(own: Bounds, others: Array, middle: Middle | None, reach: float) -> Iterator[Array]:
    """List small moves of one panel that put it in line with others of its surface, or in the middle.

    Parameters
    ----------
    own : tuple of float
        Bounds of the panel in wall coordinates, m.
    others : numpy.ndarray
        Bounds of the others, shape (n, 4), m.
    middle : tuple of (int, float) or None
        From `middle_line`.
    reach : float
        No move goes further along either coordinate, m.

    Yields
    ------
    numpy.ndarray
        Along u and v, shape (2,), m.
    """
    table = np.array([own])
    for k in (0, 1):
        wished: list[float] = (_edges(others, k) - _edges(table, k)).ravel().tolist() if len(others) else []
        low, centre = own[k], (own[k] + own[k + 2]) / 2.0
        if middle is not None and middle[0] == k:
            wished.append(middle[1] - centre)
        wished += [at - low for at in _even_places(own, others, k)]
        for step in wished:
            if LINE < abs(step) <= reach:
                yield np.array([step, 0.0] if k == 0 else [0.0, step])
    if middle is not None:
        images = _mirrored(others, middle)
        for step in (images[:, :2] + images[:, 2:]) / 2.0 - (table[:, :2] + table[:, 2:]) / 2.0:
            if LINE < np.abs(step).max() <= reach:
                yield step


def _edges(table: Array, k: int) -> Array:
    """Lower edge, middle and upper edge along one coordinate, shape (n, 3)."""
    low, high = table[:, k], table[:, k + 2]
    return np.column_stack([low, (low + high) / 2.0, high])


def _different(values: Array) -> int:
    return 1 + int((np.diff(np.sort(values)) > LINE).sum()) if len(values) else 0


def _mirrored(table: Array, middle: Middle) -> Array:
    """Images of rectangles in the middle line."""
    k, at = middle
    images = table.copy()
    images[:, k], images[:, k + 2] = 2.0 * at - table[:, k + 2], 2.0 * at - table[:, k]
    return images


def _lopsided(table: Array, middle: Middle | None) -> int:
    if middle is None:
        return 0
    apart = np.abs(_mirrored(table, middle)[:, None] - table[None]).max(axis=2)
    return int((apart.min(axis=1) > LINE).sum())


def _rows(table: Array, k: int) -> list[list[int]]:
    """Panels that follow each other along one coordinate with an edge or the middle of the other in line."""
    left, rows = list(range(len(table))), []
    edges = _edges(table, 1 - k)
    while left:
        row, grown = [left.pop(0)], True
        while grown:
            near = [n for n in left if (np.abs(edges[row] - edges[n]) <= LINE).any()]
            grown = bool(near)
            row += near
            left = [n for n in left if n not in near]
        rows.append(sorted(row, key=lambda n: float(table[n, k])))
    return rows


def _gaps(table: Array, row: Sequence[int], k: int) -> list[float]:
    between = [float(table[b, k] - table[a, k + 2]) for a, b in pairwise(row)]
    return [gap for gap in between if -LINE < gap <= _ROW_GAP]


def _uneven(table: Array, k: int) -> int:
    gaps = [_gaps(table, row, k) for row in _rows(table, k)]
    return sum(max(0, _different(np.array(g)) - 1) for g in gaps)


def _even_places(own: Bounds, others: Array, k: int) -> list[float]:
    """Where its lower edge would be if the panel had equal gaps on both sides, or the gap of others."""
    beside = [n for n in range(len(others)) if _side_by_side(own, others[n], 1 - k)]
    size = own[k + 2] - own[k]
    places = []
    for a, b in combinations(sorted(beside, key=lambda n: float(others[n, k])), 2):
        gap = float(others[b, k] - others[a, k + 2])
        if gap >= size:
            places.append(float(others[a, k + 2]) + (gap - size) / 2.0)
        if 0.0 <= gap <= _ROW_GAP:
            places += [float(others[b, k + 2]) + gap, float(others[a, k]) - gap - size]
    return places


def _side_by_side(own: Bounds, other: Array, k: int) -> bool:
    return bool(min(own[k + 2], other[k + 2]) - max(own[k], other[k]) > LINE)
