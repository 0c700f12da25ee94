"""Which walls hide a part of the room although they face the viewer: the walls of an inner corner."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.present.camera import Camera
from treatment.present.native.picking import Targets

#: A thing this near to a wall is not hidden by it, m.
_SLACK = 0.05
#: Beyond this many pairs of triangles and points (a mesh of thousands of faces) nothing is thinned.
_MOST_PAIRS = 400_000


def hiding_walls(walls: Targets, camera: Camera, points: Array) -> NDArray[np.bool_]:
    """Find walls that face the viewer and stand before something.

    Parameters
    ----------
    walls : Targets
        Surfaces of the room.
    camera : Camera
        From where it is seen.
    points : numpy.ndarray
        What should be seen: heads, loudspeakers, panels, shape (p, 3), m.

    Returns
    -------
    numpy.ndarray
        Shape (f,), bool. Walls that turn their back are cut away already, and are not meant.
    """
    found = np.zeros(len(walls.faces), dtype=bool)
    if len(points) == 0 or len(walls.corners) == 0 or len(points) * len(walls.corners) > _MOST_PAIRS:
        return found
    eye = camera.position
    a = walls.corners[:, 0]
    ab, ac = walls.corners[:, 1] - a, walls.corners[:, 2] - a
    normal = np.cross(ab, ac)
    facing = (eye - a) * normal
    way = points - eye
    # Plane first, then the point where the line of sight meets it, in coordinates of the triangle.
    down = np.einsum("pj,tj->pt", way, normal)
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.einsum("tj,tj->t", a - eye, normal) / down
        at = eye + part[..., None] * way[:, None] - a
        square = np.einsum("tj,tj->t", normal, normal)
        u = np.einsum("ptj,tj->pt", np.cross(at, ac), normal) / square
        v = np.einsum("ptj,tj->pt", np.cross(ab, at), normal) / square
        length = np.linalg.norm(way, axis=1)[:, None]
        crossed = (u >= 0.0) & (v >= 0.0) & (u + v <= 1.0) & (part > 0.0) & ((1.0 - part) * length > _SLACK)
    hidden = crossed.any(axis=0) & (facing.sum(axis=1) > 0.0)
    found[np.unique(walls.owner[hidden])] = True
    return found


def worth_seeing(points: Sequence[Array]) -> Array:
    """Gather points that should be seen.

    Parameters
    ----------
    points : sequence of numpy.ndarray
        Places, shape (3,) each, m.

    Returns
    -------
    numpy.ndarray
        Shape (p, 3).
    """
    return np.array(points, dtype=np.float64).reshape(-1, 3)
