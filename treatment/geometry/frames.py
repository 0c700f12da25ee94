"""Axes of wall coordinates: level and climbing, as a person measures."""

from __future__ import annotations

from typing import Any

import numpy as np

from treatment.bands import Array


def wall_axes(normals: Array) -> Array:
    """Axes of wall coordinates on planes: u level, v climbing; on a level plane u = x, v = y.

    Parameters
    ----------
    normals : numpy.ndarray
        Unit normals, shape (n, 3).

    Returns
    -------
    numpy.ndarray
        u and v, shape (n, 2, 3). u counts from the front wall or from the left wall, as in a box,
        whichever way the surface faces.
    """
    level = np.hypot(normals[:, 0], normals[:, 1]) < 4e-5
    u = np.column_stack([normals[:, 1], -normals[:, 0], np.zeros(len(normals))])
    u *= np.sign(np.where(np.abs(u[:, 0]) > np.abs(u[:, 1]) - 1e-9, u[:, 0], u[:, 1]))[:, None]
    u[level] = np.column_stack([-normals[level, 2], np.zeros(level.sum()), normals[level, 0]])
    u[level] *= np.sign(u[level, :1])
    u /= np.linalg.norm(u, axis=1)[:, None]
    return np.stack([u, _climbing(normals, u)], axis=1)


def _climbing(normals: Array, u: Array) -> Array:
    """Second axis, perpendicular to the first, that climbs, or on a level plane runs along y."""
    v = np.cross(normals, u)
    climb = np.where(np.abs(v[..., 2]) > 1e-4, v[..., 2], v[..., 1])
    return np.asarray(np.where(climb[..., None] > 0.0, v, -v))


def axes_in_plane(normal: Array, u_axis: Any) -> tuple[Array, Array]:
    """Unit axes of one plane, the second climbing.

    Parameters
    ----------
    normal : numpy.ndarray
        Unit normal, shape (3,).
    u_axis : array_like or None
        Direction of u, shape (3,); None for that of `wall_axes`.

    Returns
    -------
    u, v : numpy.ndarray
        Shape (3,).
    """
    if u_axis is None:
        u, v = wall_axes(normal[None])[0]
        return u, v
    u = np.asarray(u_axis, dtype=np.float64)
    u = u - (u @ normal) * normal
    u = u / np.linalg.norm(u)
    return u, _climbing(normal, u)
