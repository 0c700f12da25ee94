"""Edges that stick out into the room and can hide something: inner corners, posts, soffits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.joints import Joints
from treatment.geometry.sharp_edges import CLOSING_TURN, closed_behind, image, reaching

Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Screens:
    """Edges whose two surfaces face apart; k of them, and i images.

    Parameters
    ----------
    ends, reach : numpy.ndarray
        Ends, and the same far beyond walls that the edge runs into, shape (k, 2, 3), m.
    normals, inward : numpy.ndarray
        Of the two surfaces that meet there: normals, and unit directions from the edge into either,
        shape (k, 2, 3).
    body : numpy.ndarray
        Number of the obstacle or corner that each edge belongs to, shape (k,).
    image_of : numpy.ndarray
        Edge that an image belongs to, shape (i,). What hides something and stands on a floor goes on
        below it as its mirror image; there the image of its edge is its far side.
    image_reach, image_inward : numpy.ndarray
        As for the edges, shape (i, 2, 3), m; into the surface that the wall closes, then into the other.
    """

    ends: Array
    reach: Array
    normals: Array
    inward: Array
    body: Indices
    image_of: Indices
    image_reach: Array
    image_inward: Array


def find_screens(joints: Joints, owner: Indices, normals: Array) -> Screens:
    """Find the edges that can hide something.

    Parameters
    ----------
    joints : Joints
        Of a room.
    owner : numpy.ndarray
        Surface of each edge, shape (e,).
    normals : numpy.ndarray
        Of the surfaces, shape (n, 3).

    Returns
    -------
    Screens
        Each edge once; where two surfaces report different lengths, the shorter ones. Images only
        behind walls that go on behind what hides: the floor under a platform does, the wall
        behind the corner of an L does not.
    """
    sharp = np.flatnonzero(joints.turn > 0.0)
    sharp = sharp[_reported_once(joints, owner, sharp)]
    edge, other = joints.edge[sharp], joints.other[sharp]
    own = owner[edge]
    # Both surfaces report an edge, each in its own direction: the lower end comes first.
    ordered = [e if tuple(e[0]) <= tuple(e[1]) else e[::-1] for e in joints.ends[edge]]
    ends = np.array(ordered).reshape(-1, 2, 3)
    reach = reaching(ends, np.zeros(len(ends), dtype=np.intp))
    # Into the other surface: in its plane, across the edge, and behind the edge's own surface.
    along = ends[:, 1] - ends[:, 0]
    into = np.cross(normals[other], along)
    into /= np.maximum(np.linalg.norm(into, axis=1), 1e-30)[:, None]
    into = np.where((into * normals[own]).sum(axis=1, keepdims=True) > 0.0, -into, into)
    inward = np.stack([joints.inward[edge], into], axis=1)
    closing = _going_on(joints, owner)
    found = [closed_behind(joints, owner, ends, side, closing) for side in (own, other)]
    image_of = np.concatenate([e for e, _, _ in found])
    origin, back = (np.concatenate([f[n] for f in found]) for n in (1, 2))
    turned = np.concatenate([inward[e][:, [side, 1 - side]] for side, (e, _, _) in enumerate(found)])
    return Screens(
        frozen(ends),
        frozen(reach),
        frozen(np.stack([normals[own], normals[other]], axis=1)),
        frozen(inward),
        _bodies(own, other),
        image_of,
        frozen(image(reach[image_of], origin, back)),
        frozen(image(turned, 0.0 * origin, back)),
    )


def _reported_once(joints: Joints, owner: Indices, sharp: Indices) -> Indices:
    """Which joints to keep of those that both surfaces report: the side with the shorter edges."""
    edge = joints.edge[sharp]
    length = np.linalg.norm(joints.ends[edge, 1] - joints.ends[edge, 0], axis=1)
    reported: dict[tuple[int, int], dict[int, list[int]]] = {}
    for k, (own, far) in enumerate(zip(owner[edge].tolist(), joints.other[sharp].tolist(), strict=True)):
        reported.setdefault((min(own, far), max(own, far)), {}).setdefault(own, []).append(k)
    kept: list[int] = []
    for sides in reported.values():
        kept += min(sides.values(), key=lambda ks: float(length[ks].max()))
    return np.array(sorted(kept), dtype=np.intp)


def _bodies(one: Indices, other: Indices) -> Indices:
    """Number surfaces that hang together at such edges; by edge."""
    root: dict[int, int] = {}

    def find(surface: int) -> int:
        while root.setdefault(surface, surface) != surface:
            root[surface] = root[root[surface]]
            surface = root[surface]
        return surface

    for a, b in zip(one.tolist(), other.tolist(), strict=True):
        root[find(a)] = find(b)
    _, number = np.unique([find(a) for a in one.tolist()], return_inverse=True)
    return np.asarray(number, dtype=np.intp).ravel()


def _going_on(joints: Joints, owner: Indices) -> Indices:
    """Edges at inner corners whose wall also closes another side of the same obstacle, ascending."""
    inner = joints.turn <= CLOSING_TURN
    pairs = list(zip(joints.edge[inner].tolist(), joints.other[inner].tolist(), strict=True))
    closes = {(int(owner[e]), wall) for e, wall in pairs}
    beside: dict[int, set[int]] = {}
    sharp = joints.turn > 0.0
    for e, far in zip(joints.edge[sharp].tolist(), joints.other[sharp].tolist(), strict=True):
        beside.setdefault(int(owner[e]), set()).add(far)
    found = []
    for e, wall in pairs:
        own = int(owner[e])
        near = beside.get(own, set())
        around = near.union(*(beside.get(n, set()) for n in near)) - {own}
        if any((n, wall) in closes for n in around):
            found.append(e)
    return np.unique(np.array(found, dtype=np.intp))
