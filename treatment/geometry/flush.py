"""Surfaces that lie in one plane and touch: walls of two materials in a row, the parts of a mesh's wall."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.joints import Joints
from treatment.geometry.polygon import PLANE_TOLERANCE
from treatment.geometry.segments import segment_distances
from treatment.geometry.sharp_edges import BEYOND, CLOSING_TURN, closed_behind, image

Indices = NDArray[np.intp]

#: Surfaces that turn by less at their joint lie in one plane (degrees).
_FLAT = 0.05
#: Their wall axes are the same within this.
_SAME_AXES = 1e-6
#: Joints shorter than this hold nothing (m).
_LEAST = 1e-3


@dataclass(frozen=True, eq=False)
class Flush:
    """Surfaces in one plane, n in the room, and the k joints between them.

    Parameters
    ----------
    group : numpy.ndarray
        The lowest index of a surface that each lies flush with, directly or by way of others, shape (n,);
        its own where there is none.
    shift : numpy.ndarray
        What to add to wall coordinates on each surface to have them on the first one of its group,
        shape (n, 2), m.
    near, far : numpy.ndarray
        Surfaces on both sides of each joint, shape (k,).
    reach : numpy.ndarray
        Its ends, or far beyond a wall that it runs into, shape (k, 2, 3), m. Images of joints behind walls
        that close the group at inner corners are joints, too.
    inward : numpy.ndarray
        Unit direction into the near surface, shape (k, 3).
    """

    group: Indices
    shift: Array
    near: Indices
    far: Indices
    reach: Array
    inward: Array

    def members(self, surface: int) -> list[int]:
        """Surfaces that lie flush with one, itself included, ascending.

        Parameters
        ----------
        surface : int
            Its index.
        """
        return np.flatnonzero(self.group == self.group[surface]).tolist()

    def between(self, start: int, end: int) -> Array:
        """What to add to wall coordinates on one surface to have them on another of its group.

        Parameters
        ----------
        start, end : int
            Indices of the surfaces.

        Returns
        -------
        numpy.ndarray
            Shape (2,), m.
        """
        return np.asarray(self.shift[start] - self.shift[end])


def find_flush(joints: Joints, owner: Indices, frames: Array, origins: Array) -> Flush:
    """Find the surfaces that lie flush with one another.

    Parameters
    ----------
    joints : Joints
        Of a room.
    owner : numpy.ndarray
        Surface of each of its edges, shape (e,).
    frames, origins : numpy.ndarray
        Wall axes and origins of its surfaces, shapes (n, 2, 3) and (n, 3), m.

    Returns
    -------
    Flush
        With every surface in a group of its own in most rooms.
    """
    pairs = _pairs(joints, owner, frames)
    group = np.arange(len(origins))
    for a, b in pairs:
        low, high = sorted((int(group[a]), int(group[b])))
        group[group == high] = low
    shift = np.einsum("nij,nj->ni", frames[group], origins - origins[group])
    made = [_joints_of(joints, owner, a, b) for a, b in pairs]
    ends = np.concatenate([np.zeros((0, 2, 3)), *(m[0] for m in made)])
    inward = np.concatenate([np.zeros((0, 3)), *(m[1] for m in made)])
    sides = np.repeat(np.array(pairs, dtype=np.intp).reshape(-1, 2), [len(m[0]) for m in made], axis=0)
    of = group[sides[:, 0]]
    closing = np.unique(joints.edge[joints.turn <= CLOSING_TURN])
    closing = closing[np.argsort(group[owner[closing]], kind="stable")]
    reach = _reaching(ends, of, joints.ends[closing], group[owner[closing]])
    again, origin, into = closed_behind(joints, group[owner], ends, of, closing)
    near, far = np.concatenate([sides, sides[again]]).T
    return Flush(
        group,
        frozen(shift),
        near,
        far,
        frozen(np.concatenate([reach, image(reach[again], origin, into)])),
        frozen(np.concatenate([inward, image(inward[again][:, None], 0.0 * origin, into)[:, 0]])),
    )


def _pairs(joints: Joints, owner: Indices, frames: Array) -> list[tuple[int, int]]:
    """Pairs of surfaces in one plane that touch, each once."""
    flat = np.flatnonzero(np.abs(joints.turn) < _FLAT)
    pairs = np.sort(np.column_stack([owner[joints.edge[flat]], joints.other[flat]]), axis=1)
    found = [(int(a), int(b)) for a, b in np.unique(pairs, axis=0)]
    return [(a, b) for a, b in found if np.abs(frames[a] - frames[b]).max() < _SAME_AXES]


def _joints_of(joints: Joints, owner: Indices, a: int, b: int) -> tuple[Array, Array]:
    """Pieces that two outlines share, shape (j, 2, 3), and the directions into the first, (j, 3)."""
    ends, inward = [], []
    for e in np.flatnonzero(owner == a):
        start, size = joints.ends[e, 0], float(np.linalg.norm(np.diff(joints.ends[e], axis=0)))
        along = (joints.ends[e, 1] - start) / max(size, 1e-12)
        for f in np.flatnonzero(owner == b):
            away = joints.ends[f] - start
            place = away @ along
            off = np.abs(away - place[:, None] * along).max()
            low, high = max(0.0, float(place.min())), min(size, float(place.max()))
            facing = float(joints.inward[e] @ joints.inward[f]) < 0.0
            if facing and off < 10.0 * PLANE_TOLERANCE and high - low > _LEAST:
                ends.append([start + low * along, start + high * along])
                inward.append(joints.inward[e])
    return np.array(ends).reshape(-1, 2, 3), np.array(inward).reshape(-1, 3)


def _reaching(ends: Array, group: Indices, closing: Array, closed: Indices) -> Array:
    """Joints lengthened far beyond the inner corners that they run into, shape (k, 2, 3)."""
    reach = ends.copy()
    for k in range(len(ends)):
        along = (ends[k, 1] - ends[k, 0]) / np.linalg.norm(ends[k, 1] - ends[k, 0])
        corners = closing[closed == group[k]]
        if len(corners):
            gap = segment_distances(ends[k], ends[k], corners).min(axis=1)
            reach[k] += np.where(gap < 10.0 * PLANE_TOLERANCE, BEYOND, 0.0)[:, None] * [-along, along]
    return reach
