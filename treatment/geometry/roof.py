"""Rooms under sloping ceilings: the ceiling is, everywhere, the lowest of some planes.

That covers level, shed, gable and hip ceilings with knee walls, in any mixture, and it always closes:
each plane is a surface where it is the lowest, and each wall ends where the lowest plane meets it. A
ceiling with a valley is no such ceiling; a mesh describes it. A dormer is a recess (see `recesses`).

A plane is held as ``(a, b, c)``: its height is ``z = a x + b y + c``.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import Any

import numpy as np
import shapely

from treatment.bands import Array, frozen
from treatment.errors import GeometryError
from treatment.geometry.polygon import AREA_TOLERANCE, PLANE_TOLERANCE, POINT_TOLERANCE, SLIVER, Polygon

#: A part of the floor smaller than this (m2) is rounding; steep planes make ten times as much of it.
_SLIVER = 1e-6


def level(height: float) -> Array:
    """Level plane.

    Parameters
    ----------
    height : float
        In m.

    Returns
    -------
    numpy.ndarray
        ``(0, 0, height)``.
    """
    return frozen([0.0, 0.0, height])


def plane_through(points: Sequence[Sequence[float]] | Array) -> Array:
    """Plane through three points.

    Parameters
    ----------
    points : array_like
        Shape (3, 3), m.

    Returns
    -------
    numpy.ndarray
        ``(a, b, c)``.

    Raises
    ------
    GeometryError
        When the points lie in a line as seen from above: no height follows from them.
    """
    p = np.asarray(points, dtype=np.float64)
    table = np.column_stack([p[:, :2], np.ones(3)])
    if abs(np.linalg.det(table)) < AREA_TOLERANCE:
        raise GeometryError(
            "three points of a plane lie in a line as seen from above", hint="choose one beside the line"
        )
    return frozen(np.linalg.solve(table, p[:, 2]))


def plane_from_eave(start: Sequence[float], end: Sequence[float], height: float, slope: float) -> Array:
    """Plane that climbs from a horizontal line.

    Parameters
    ----------
    start, end : sequence of float
        Two places of the line as seen from above, shape (2,), m; the plane climbs to the left of the
        way from the first to the second.
    height : float
        Height of the line, m.
    slope : float
        Rise per run; negative falls.

    Returns
    -------
    numpy.ndarray
        ``(a, b, c)``.
    """
    a, b = np.asarray(start, dtype=np.float64), np.asarray(end, dtype=np.float64)
    along = (b - a) / np.linalg.norm(b - a)
    uphill = slope * np.array([-along[1], along[0]])
    return frozen([*uphill, height - uphill @ a])


def ceiling_height(planes: Array, places: Any) -> Array:
    """Height of the ceiling at places of the floor plan.

    Parameters
    ----------
    planes : numpy.ndarray
        Shape (k, 3).
    places : array_like
        ``(x, y)``, shape (..., 2), m.

    Returns
    -------
    numpy.ndarray
        Height of the lowest plane, shape (...), m.
    """
    xy = np.asarray(places, dtype=np.float64)
    return np.asarray((xy @ planes[:, :2].T + planes[:, 2]).min(axis=-1))


def planes_over(corners: Array, heights: Array) -> Array:
    """Planes of the ceiling that folds over given heights like a stretched sheet.

    Parameters
    ----------
    corners : numpy.ndarray
        ``(x, y)``, shape (n, 2), n >= 3, m.
    heights : numpy.ndarray
        Shape (n,), m.

    Returns
    -------
    numpy.ndarray
        Shape (k, 3): the planes through three of the points with no point above them (the upper faces
        of the points' convex hull). One plane where all points lie in it.
    """
    from scipy.spatial import ConvexHull  # here, because it takes a third of a second to import

    faces = ConvexHull(np.column_stack([corners, heights])).equations
    upper = faces[faces[:, 2] > 1e-6]
    found: list[Array] = []
    for plane in np.column_stack([-upper[:, :2], -upper[:, 3]]) / upper[:, 2:3]:
        known = np.array(found).reshape(-1, 3)
        apart = np.abs(corners @ (known - plane)[:, :2].T + (known - plane)[:, 2])
        if len(found) == 0 or apart.max(axis=0).min() > 10.0 * PLANE_TOLERANCE:
            found.append(plane)
    return frozen(found)


def lowest_parts(plan: Any, planes: Array) -> list[Any]:
    """Part of a floor plan over which each plane is the lowest.

    Parameters
    ----------
    plan : shapely.Polygon
        The floor.
    planes : numpy.ndarray
        Shape (k, 3).

    Returns
    -------
    list of shapely geometry
        One for each plane; empty where it is nowhere the lowest, or over less than a square millimetre.
    """
    parts = []
    for k, plane in enumerate(planes):
        part = plan
        for j, other in enumerate(planes):
            a, b, c = plane - other
            steep = float(np.hypot(a, b))
            if steep < 1e-9:
                # Parallel: the lower one rules; of two equal ones, the first.
                if c > POINT_TOLERANCE or (abs(c) <= POINT_TOLERANCE and j < k):
                    part = shapely.Polygon()
                continue
            away = np.array([a, b]) / steep
            middle = np.array(plan.centroid.coords[0])
            foot = middle - away * (a * middle[0] + b * middle[1] + c) / steep
            # Far enough to hold all of the plan that lies on the lower side.
            reach = 2.0 * (float(np.linalg.norm(foot - middle)) + plan.length)
            side = reach * np.array([away[1], -away[0]])
            back = reach * away
            part = part.intersection(
                shapely.Polygon([foot - side, foot + side, foot + side - back, foot - side - back])
            )
        pieces = [p for p in shapely.get_parts(part) if p.geom_type == "Polygon" and p.area > _SLIVER]
        parts.append(shapely.MultiPolygon(pieces) if len(pieces) != 1 else pieces[0])
    return parts


def roofed(
    corners: Sequence[Sequence[float]] | Array, planes: Array, foot: float = 0.0
) -> tuple[tuple[Polygon | None, ...], Polygon, tuple[Polygon | None, ...]]:
    """Surfaces of a room over a floor plan, under the lowest of some planes.

    Parameters
    ----------
    corners : array_like
        Shape (n, 2), m, anticlockwise seen from above.
    planes : numpy.ndarray
        Shape (k, 3).
    foot : float
        Height of the floor, m.

    Returns
    -------
    walls : tuple of Polygon or None
        n walls; u from the first corner, v = height. None where the ceiling meets the floor.
    floor : Polygon
        With u = x, v = y.
    ceilings : tuple of Polygon or None
        k surfaces; None where a plane is nowhere the lowest. A level one has u = x, v = y, a sloping
        one u level and v climbing.

    Raises
    ------
    GeometryError
        When the ceiling lies below the floor somewhere.
    """
    plan = np.asarray(corners, dtype=np.float64)
    lowest = ceiling_height(planes, plan)
    if lowest.min() < foot - PLANE_TOLERANCE:
        at = int(lowest.argmin())
        raise GeometryError(
            f"the ceiling is {foot - lowest[at]:.3f} m below the floor at x {plan[at, 0]:.3f} m, "
            f"y {plan[at, 1]:.3f} m",
            hint="draw the outline of the floor only as far as the ceiling reaches down",
        )
    walls = tuple(_wall(a, b, planes, foot) for a, b in zip(plan, np.roll(plan, -1, axis=0), strict=True))
    base = np.column_stack([plan, np.full(len(plan), foot)])
    floor = Polygon.from_corners(base, inside=[0, 0, 1], u_axis=[1, 0, 0], origin=[0, 0, foot])
    parts = lowest_parts(shapely.Polygon(plan), planes)
    return walls, floor, tuple(_ceiling(part, plane) for part, plane in zip(parts, planes, strict=True))


def _wall(start: Array, end: Array, planes: Array, foot: float) -> Polygon | None:
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    rise, at_start = planes[:, :2] @ along, planes[:, :2] @ start + planes[:, 2]
    marks = {0.0, length}
    for i, j in combinations(range(len(planes)), 2):
        bend = rise[i] - rise[j]
        if abs(bend) > 1e-12:
            t = float((at_start[j] - at_start[i]) / bend)
            if POINT_TOLERANCE < t < length - POINT_TOLERANCE:
                marks.add(t)
    places = np.array(sorted(marks))
    # Planes that meet in one place mark it once, or neither mark would seem to bend.
    places = places[np.diff(places, prepend=-1.0) > POINT_TOLERANCE]
    top = np.maximum((at_start + places[:, None] * rise).min(axis=1), foot)
    # Crossings of planes above the lowest one make no corner.
    line = np.column_stack([places, top])
    bends = [0, *(k for k in range(1, len(line) - 1) if _bends(line[k - 1 : k + 2])), len(line) - 1]
    outline = [[0.0, foot], [length, foot], *line[bends][::-1]]
    ring: list[Any] = [
        p for k, p in enumerate(outline) if np.linalg.norm(np.subtract(p, outline[k - 1])) > POINT_TOLERANCE
    ]
    flat = np.array(ring)
    if len(flat) < 3 or shapely.Polygon(flat).area < SLIVER:
        return None
    space = np.column_stack([start + flat[:, :1] * along, flat[:, 1]])
    origin = np.array([*start, foot])
    return Polygon.from_corners(space, inside=[-along[1], along[0], 0.0], u_axis=[*along, 0.0], origin=origin)


def _bends(three: Array) -> bool:
    a, b, c = three
    return bool(abs((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])) > 1e-9)


def _ceiling(part: Any, plane: Array) -> Polygon | None:
    if part.is_empty:
        return None
    a, b, c = plane
    normal = np.array([a, b, -1.0]) / np.sqrt(a * a + b * b + 1.0)

    def lifted(ring: Any) -> Array:
        xy = np.asarray(ring.coords)[:-1]
        # Where three planes meet in a point, rounding may leave it there twice.
        xy = xy[np.linalg.norm(xy - np.roll(xy, 1, axis=0), axis=1) > POINT_TOLERANCE]
        return np.column_stack([xy, xy @ plane[:2] + c])

    outlines = [(lifted(p.exterior), [lifted(h) for h in p.interiors]) for p in shapely.get_parts(part)]
    if np.hypot(a, b) < 1e-9:
        return Polygon.in_plane([0, 0, -1], outlines, u_axis=[1, 0, 0], origin=[0, 0, c])
    return Polygon.in_plane(normal, outlines)
