"""Where surfaces meet: which edge of which surface lies on which other surface, and at what angle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.outlines import Outlines
from treatment.geometry.polygon import PLANE_TOLERANCE, Polygon

Indices = NDArray[np.intp]

#: How far beside an edge its surfaces are looked at (m).
_BESIDE = 1e-3


@dataclass(frozen=True, eq=False)
class Joints:
    """Edges of all outlines and the surfaces that they touch; e edges, j joints.

    Parameters
    ----------
    ends : numpy.ndarray
        Of every edge in the room, shape (e, 2, 3), m.
    inward : numpy.ndarray
        Unit direction from each edge into its own surface, shape (e, 3).
    edge, other : numpy.ndarray
        Edge of each joint, and the surface on the other side, shape (j,).
    turn : numpy.ndarray
        Angle of the air at the joint less 180 degrees, shape (j,), degrees: 0 where both lie in one
        plane, -90 in the corner of a box, +90 at the edge of a post.
    """

    ends: Array
    inward: Array
    edge: Indices
    other: Indices
    turn: Array


def find_joints(polygons: Sequence[Polygon], outlines: Outlines) -> Joints:
    """Find where surfaces meet.

    Parameters
    ----------
    polygons : sequence of Polygon
        Surfaces of a closed room, normals into the air.
    outlines : Outlines
        Theirs.

    Returns
    -------
    Joints
        Each joint from both of its surfaces. What holds at the middle of an edge holds for all of it.
    """
    frames = np.array([[p.u_axis, p.v_axis] for p in polygons])
    origins, normals = np.array([p.origin for p in polygons]), np.array([p.normal for p in polygons])
    owner = outlines.owner

    def lifted(wall: Array, surface: Indices) -> Array:
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
    along = outlines.end - outlines.start
    across = np.stack([-along[:, 1], along[:, 0]], axis=1)
    across /= np.maximum(np.linalg.norm(across, axis=1), 1e-30)[:, None]
    inside, _ = outlines.locate(owner, (outlines.start + outlines.end) / 2.0 + _BESIDE * across)
    across = np.where(inside[:, None], across, -across)
    inward = np.einsum("ki,kij->kj", across, frames[owner])
    # The edge's own surface, a little beside it, lies behind the other's plane: they face apart.
    beside = ends[edge].mean(axis=1) + _BESIDE * inward[edge]
    apart = np.einsum("ki,ki->k", beside - origins[other], normals[other]) < -1e-5
    between = np.einsum("ki,ki->k", normals[owner[edge]], normals[other])
    turn = np.degrees(np.arccos(np.clip(between, -1.0, 1.0)))
    return Joints(frozen(ends), frozen(inward), edge, other, frozen(np.where(apart, turn, -turn)))


def _near(ends: Array, outlines: Outlines, owner: Indices) -> tuple[Indices, Indices]:
    """Pairs of an edge and another surface whose bounds hold the middle of the edge."""
    low = np.minimum.reduceat(ends.min(axis=1), outlines.first[:-1]) - 10.0 * PLANE_TOLERANCE
    high = np.maximum.reduceat(ends.max(axis=1), outlines.first[:-1]) + 10.0 * PLANE_TOLERANCE
    tree = shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    middle = ends.mean(axis=1)
    edge, other = tree.query(shapely.points(middle[:, :2]))
    z = middle[edge, 2]
    kept = (owner[edge] != other) & (z >= low[other, 2]) & (z <= high[other, 2])
    return edge[kept], other[kept]
