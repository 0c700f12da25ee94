"""Flat areas as triangles, wound by their normals."""

from __future__ import annotations

import numpy as np

from treatment.bands import Array
from treatment.present.forms import Face


def triangles_of(face: Face) -> list[Array]:
    """Cut an area into triangles.

    Parameters
    ----------
    face : Face
        Any area, with or without holes.

    Returns
    -------
    list of numpy.ndarray
        Corners, each (3, 3), m, anticlockwise seen from the painted side.
    """
    ring = face.rings[0]
    if len(face.rings) == 1 and len(ring) == 4 and _convex(ring):
        parts = [ring[[0, 1, 2]], ring[[0, 2, 3]]]
    else:
        import shapely

        u = ring[1] - ring[0]
        u = u / np.linalg.norm(u)
        v = np.cross(face.normal, u)
        flat = [np.stack([(r - ring[0]) @ u, (r - ring[0]) @ v], axis=-1) for r in face.rings]
        region = shapely.Polygon()
        for outline in flat:
            region = region.symmetric_difference(shapely.Polygon(outline))
        pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(region))
        corners = [np.asarray(t.exterior.coords)[:3] for t in pieces]
        parts = [ring[0] + c[:, :1] * u + c[:, 1:] * v for c in corners]
    return [p if np.cross(p[1] - p[0], p[2] - p[0]) @ face.normal >= 0.0 else p[::-1] for p in parts]


def _convex(ring: Array) -> bool:
    steps = np.roll(ring, -1, axis=0) - ring
    turns = np.cross(steps, np.roll(steps, -1, axis=0))
    return bool(np.all(turns @ turns[0] >= 0.0))


def brightness(face: Face) -> float:
    """Brightness of an area by its slant.

    Parameters
    ----------
    face : Face
        Any area.

    Returns
    -------
    float
        About 1: a soft light from above and a little from the front keeps planes of different slant apart.
    """
    return 0.90 + 0.10 * float(face.normal @ np.array([0.35, 0.25, 0.90]))
