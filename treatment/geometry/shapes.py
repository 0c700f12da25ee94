"""Makers of room shapes: boxes, extruded plans, obstacles, and what contact takes away."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from treatment.bands import Array, frozen
from treatment.geometry.polygon import AREA_TOLERANCE, PLANE_TOLERANCE, SLIVER, Polygon
from treatment.geometry.roof import level, roofed

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
    walls, floor, ceilings = roofed(corners, level(height)[None])
    return tuple(p for p in (*walls, floor, *ceilings) if p is not None)


def solid_box(at: Sequence[float], size: Sequence[float], planes: Array | None = None) -> tuple[Polygon, ...]:
    """Surfaces of an obstacle, normals outwards into the room's air.

    Parameters
    ----------
    at, size : sequence of float
        Lowest corner and extent, shape (3,), m.
    planes : numpy.ndarray, optional
        Sloping ceiling that cuts its top, shape (k, 3): see `treatment.geometry.roof`.

    Returns
    -------
    tuple of Polygon
        Six surfaces: toward the front, back, left, right, bottom, top; where a ceiling cuts it, its
        sides, its bottom and one top for each plane.
    """
    shift = np.asarray(at, dtype=np.float64)
    x, y, z = (float(s) for s in size)
    if planes is None:
        turned = (
            Polygon(frozen(p.origin + shift), p.u_axis, p.v_axis, p.normal, p.region) for p in box(x, y, z)
        )
    else:
        foot = shift[:2] + np.array([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]])
        walls, floor, tops = roofed(foot, np.vstack([planes, level(shift[2] + z)]), float(shift[2]))
        turned = (p for p in (*walls, floor, *tops) if p is not None)
    return tuple(Polygon(p.origin, p.u_axis, p.v_axis, frozen(-p.normal), p.region) for p in turned)


def subtract_contacts(polygons: Sequence[Polygon], shell: int = 0) -> tuple[Polygon | None, ...]:
    """Take out of every surface the patches where another surface lies against it.

    Parameters
    ----------
    polygons : sequence of Polygon
        Shell and obstacles.
    shell : int
        The first so many surfaces are known not to lie against each other.

    Returns
    -------
    tuple of Polygon or None
        One for each given surface; None where nothing is left of it.
    """
    regions = [p.region for p in polygons]
    normals, origins = np.array([p.normal for p in polygons]), np.array([p.origin for p in polygons])
    for j in range(max(shell, 1), len(polygons)):
        q = polygons[j]
        off = np.abs(np.einsum("ki,ki->k", q.origin - origins[:j], normals[:j]))
        against = (normals[:j] @ q.normal < PARALLEL_TOLERANCE - 1.0) & (off < PLANE_TOLERANCE)
        for i in np.flatnonzero(against).tolist():
            p = polygons[i]
            in_p = q.with_region(regions[j]).in_frame_of(p)
            contact = shapely.intersection(regions[i], in_p)
            if contact.area < AREA_TOLERANCE:
                continue
            rest = p.with_region(regions[i]).in_frame_of(q)
            regions[i] = surface_part(shapely.difference(regions[i], in_p))
            regions[j] = surface_part(shapely.difference(regions[j], rest))
    return tuple(
        None if region.area < SLIVER else p.with_region(region)
        for p, region in zip(polygons, regions, strict=True)
    )


def surface_part(geometry: Any) -> Any:
    """Keep the polygons of a shapely result; drop the lines and points that touching leaves.

    Parameters
    ----------
    geometry : shapely geometry
        What is left of a surface, in wall coordinates.

    Returns
    -------
    shapely.Polygon or shapely.MultiPolygon
        Its parts, slivers left out.
    """
    parts = [g for g in shapely.get_parts(geometry) if g.geom_type == "Polygon" and g.area >= SLIVER]
    return parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts)
