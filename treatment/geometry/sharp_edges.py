"""Edges that stick out into the room: inner corners, posts, soffits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.outlines import Outlines
from treatment.geometry.polygon import PLANE_TOLERANCE, Polygon

#: How far beside an edge its surfaces are looked at (m).
_BESIDE = 1e-3


def sharp_edges(polygons: Sequence[Polygon], outlines: Outlines) -> Array:
    """Find the edges whose two surfaces face away from each other.

    Parameters
    ----------
    polygons : sequence of Polygon
        Surfaces of a closed room, normals into the air.
    outlines : Outlines
        Theirs.

    Returns
    -------
    numpy.ndarray
        Ends, shape (k, 2, 3), m; each edge once.
    """
    frames = np.array([[p.u_axis, p.v_axis] for p in polygons])
    origins, normals = np.array([p.origin for p in polygons]), np.array([p.normal for p in polygons])
    owner = outlines.owner

    def lifted(wall: Array, surface: NDArray[np.intp]) -> Array:
        return np.asarray(origins[surface] + np.einsum("ki,kij->kj", wall, frames[surface]))

    ends = np.stack([lifted(outlines.start, owner), lifted(outlines.end, owner)], axis=1)
    edge, other = _near(ends, outlines, owner)
    # The edge lies in the other's plane ...
    off = np.abs(np.einsum("kei,ki->ke", ends[edge] - origins[other][:, None], normals[other])).max(axis=1)
    edge, other = edge[off < PLANE_TOLERANCE], other[off < PLANE_TOLERANCE]
    # ... and its outline passes there.
    middle = ends[edge].mean(axis=1)
    wall = np.einsum("kij,kj->ki", frames[other], middle - origins[other])
    _, clearance = outlines.locate(other, wall)
    touching = clearance < 10.0 * PLANE_TOLERANCE
    edge, other = edge[touching], other[touching]
    # The edge's own surface, a little beside it, lies behind the other's plane: they face apart.
    along = outlines.end[edge] - outlines.start[edge]
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    across /= np.maximum(np.linalg.norm(across, axis=1), 1e-30)[:, None]
    flat = (outlines.start[edge] + outlines.end[edge]) / 2.0
    inside, _ = outlines.locate(owner[edge], flat + _BESIDE * across)
    beside = lifted(flat + np.where(inside[:, None], _BESIDE, -_BESIDE) * across, owner[edge])
    apart = np.einsum("ki,ki->k", beside - origins[other], normals[other]) < -1e-5
    found = ends[np.unique(edge[apart])]
    # Both surfaces of a corner report it: keep each edge once, whichever way it runs.
    ordered = [e if tuple(e[0]) <= tuple(e[1]) else e[::-1] for e in found]
    unique = {tuple(np.round(e, 6).ravel()): e for e in ordered}
    return frozen(np.array(list(unique.values())).reshape(-1, 2, 3))


def _near(
    ends: Array, outlines: Outlines, owner: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Pairs of an edge and another surface whose bounds hold the middle of the edge."""
    low = np.minimum.reduceat(ends.min(axis=1), outlines.first[:-1]) - 10.0 * PLANE_TOLERANCE
    high = np.maximum.reduceat(ends.max(axis=1), outlines.first[:-1]) + 10.0 * PLANE_TOLERANCE
    tree = shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    middle = ends.mean(axis=1)
    edge, other = tree.query(shapely.points(middle[:, :2]))
    z = middle[edge, 2]
    kept = (owner[edge] != other) & (z >= low[other, 2]) & (z <= high[other, 2])
    return edge[kept], other[kept]
