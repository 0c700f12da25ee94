"""Makers of room shapes: boxes, extruded plans, obstacles, and what contact takes away."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from treatment.bands import Array, frozen
from treatment.geometry.polygon import AREA_TOLERANCE, PLANE_TOLERANCE, Polygon

#: Two normals are parallel when their cosine is within this of one (0.03 degrees).
PARALLEL_TOLERANCE = 1e-7


def box(length: float, width: float, height: float) -> tuple[Polygon, ...]:
    """Surfaces of a box room: front, back, left, right, floor, ceiling.

    Parameters
    ----------
    length, width, height : float
        Extent along x, y and z in m.

    Returns
    -------
    tuple of Polygon
        Six surfaces in that order; wall coordinates as agreed (u = x or y, v = z or y).
    """
    centre = np.array([length, width, height]) / 2.0
    lo, hi = np.zeros(3), np.array([length, width, height])

    def side(axis: int, at: float, u: int, v: int) -> Polygon:
        corners = np.zeros((4, 3))
        corners[:, axis] = at
        corners[:, u] = [lo[u], hi[u], hi[u], lo[u]]
        corners[:, v] = [lo[v], lo[v], hi[v], hi[v]]
        inside = np.zeros(3)
        inside[axis] = centre[axis] - at
        return Polygon.from_corners(corners, inside=inside, u_axis=np.eye(3)[u], origin=corners[0])

    return (
        side(0, 0.0, 1, 2),
        side(0, length, 1, 2),
        side(1, 0.0, 0, 2),
        side(1, width, 0, 2),
        side(2, 0.0, 0, 1),
        side(2, height, 0, 1),
    )


def extrude(corners: Sequence[Sequence[float]] | Array, height: float) -> tuple[Polygon, ...]:
    """Surfaces of a room with a level ceiling over any simple floor plan: walls, floor, ceiling.

    Parameters
    ----------
    corners : array_like
        Shape (n, 2), m, anticlockwise seen from above.
    height : float
        Height in m.

    Returns
    -------
    tuple of Polygon
        n walls in the order of the corners, then the floor, then the ceiling.
    """
    plan = np.asarray(corners, dtype=np.float64)
    following = np.roll(plan, -1, axis=0)
    walls = []
    for a, b in zip(plan, following, strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        foot = np.array([[*a, 0.0], [*b, 0.0], [*b, height], [*a, height]])
        walls.append(
            Polygon.from_corners(
                foot, inside=[-along[1], along[0], 0.0], u_axis=[*along, 0.0], origin=foot[0]
            )
        )
    level = np.column_stack([plan, np.zeros(len(plan))])
    floor = Polygon.from_corners(level, inside=[0, 0, 1], u_axis=[1, 0, 0], origin=[0, 0, 0])
    top = level + np.array([0.0, 0.0, height])
    ceiling = Polygon.from_corners(top, inside=[0, 0, -1], u_axis=[1, 0, 0], origin=[0, 0, height])
    return (*walls, floor, ceiling)


def solid_box(at: Sequence[float], size: Sequence[float]) -> tuple[Polygon, ...]:
    """Surfaces of an obstacle, normals outwards into the room's air.

    Parameters
    ----------
    at, size : sequence of float
        Lowest corner and extent, shape (3,), m.

    Returns
    -------
    tuple of Polygon
        Six surfaces: toward the front, back, left, right, bottom, top.
    """
    shift = np.asarray(at, dtype=np.float64)
    turned = []
    for p in box(*(float(s) for s in size)):
        turned.append(Polygon(frozen(p.origin + shift), p.u_axis, p.v_axis, frozen(-p.normal), p.region))
    return tuple(turned)


def subtract_contacts(polygons: Sequence[Polygon]) -> tuple[Polygon | None, ...]:
    """Take out of every surface the patches where another surface lies against it.

    Parameters
    ----------
    polygons : sequence of Polygon
        Shell and obstacles.

    Returns
    -------
    tuple of Polygon or None
        One for each given surface; None where nothing is left of it.
    """
    regions = [p.region for p in polygons]
    for i, p in enumerate(polygons):
        for j in range(i + 1, len(polygons)):
            q = polygons[j]
            if p.normal @ q.normal > -1.0 + PARALLEL_TOLERANCE:
                continue
            if abs(float(p.height_above(q.origin))) > PLANE_TOLERANCE:
                continue
            in_p = q.with_region(regions[j]).in_frame_of(p)
            contact = shapely.intersection(regions[i], in_p)
            if contact.area < AREA_TOLERANCE:
                continue
            rest = p.with_region(regions[i]).in_frame_of(q)
            regions[i] = _surface_part(shapely.difference(regions[i], in_p))
            regions[j] = _surface_part(shapely.difference(regions[j], rest))
    return tuple(
        None if region.area < AREA_TOLERANCE else p.with_region(region)
        for p, region in zip(polygons, regions, strict=True)
    )


def _surface_part(geometry: object) -> object:
    """Keep the polygons of a shapely result; drop the lines and points that touching leaves."""
    parts = [
        g for g in shapely.get_parts(geometry) if g.geom_type == "Polygon" and g.area >= AREA_TOLERANCE / 10
    ]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
