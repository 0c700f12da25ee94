"""Flat areas as triangles, wound by their normals."""

from __future__ import annotations

import numpy as np

from treatment.bands import Array
from treatment.present.forms import Face


def triangles_of(face: Face) -> Array:
    """Cut an area into triangles.

    Parameters
    ----------
    face : Face
        Any area, with or without holes.

    Returns
    -------
    numpy.ndarray
        Corners of n triangles, shape (n, 3, 3), m, anticlockwise seen from the painted side.
    """
    ring = face.rings[0]
    if len(face.rings) == 1 and len(ring) == 4 and _convex(ring):
        parts = ring[[[0, 1, 2], [0, 2, 3]]]
    else:
        import shapely

        u = ring[1] - ring[0]
        u = u / np.sqrt(u @ u)
        v = _cross(face.normal, u)
        flat = [np.stack([(r - ring[0]) @ u, (r - ring[0]) @ v], axis=-1) for r in face.rings]
        region = shapely.Polygon(flat[0])
        for outline in flat[1:]:
            region = region.symmetric_difference(shapely.Polygon(outline))
        pieces = shapely.get_parts(shapely.constrained_delaunay_triangles(region))
        # A triangle's outline is closed: its fourth point is its first.
        corners = shapely.get_coordinates(pieces).reshape(-1, 4, 2)[:, :3]
        parts = ring[0] + corners[..., :1] * u + corners[..., 1:] * v
    turn = _cross(parts[:, 1] - parts[:, 0], parts[:, 2] - parts[:, 0]) @ face.normal
    return np.where(turn[:, None, None] >= 0.0, parts, parts[:, ::-1])


def _cross(a: Array, b: Array) -> Array:
    """Cross product over the last axis; numpy's own takes five times as long for a few vectors."""
    x, y, z = a[..., 0], a[..., 1], a[..., 2]
    p, q, r = b[..., 0], b[..., 1], b[..., 2]
    return np.stack([y * r - z * q, z * p - x * r, x * q - y * p], axis=-1)


def _convex(ring: Array) -> bool:
    steps = ring[[1, 2, 3, 0]] - ring
    turns = _cross(steps, steps[[1, 2, 3, 0]])
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
