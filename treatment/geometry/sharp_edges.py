"""Edges at which the reflection off a surface ends in open air: corners that stick out, posts, folds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.bunches import bunches
from treatment.geometry.joints import Joints

Indices = NDArray[np.intp]

#: Surfaces that turn by less than this at their joint stand for one curved or long surface (degrees).
LEAST_TURN = 30.0
#: An inner corner of 100 degrees or less is closed by the second wall: there, reflections of the next
#: order take over where those of this order end (exactly so at 90 degrees and hard walls).
CLOSING_TURN = -80.0
#: An edge whose end no other such edge meets goes on behind the wall there, as its mirror image does (m).
BEYOND: Final = 1000.0
#: Corners nearer than this are one (m).
_SAME = 1e-3


@dataclass(frozen=True, eq=False)
class Rims:
    """Edges at which surfaces end in open air; k of them.

    Parameters
    ----------
    surface : numpy.ndarray
        Whose edge, ascending, shape (k,).
    ends : numpy.ndarray
        Shape (k, 2, 3), m.
    reach : numpy.ndarray
        The same, far beyond a wall that the edge runs into, shape (k, 2, 3), m.
    inward : numpy.ndarray
        Unit direction from the edge into the surface, shape (k, 3).
    mirrored : numpy.ndarray
        Shape (k,), bool: the image of such an edge behind a wall that closes the surface on another side.
        To the wave a surface that ends at an inner corner goes on there as its mirror image.
    """

    surface: Indices
    ends: Array
    reach: Array
    inward: Array
    mirrored: NDArray[np.bool_]


def reflecting_rims(joints: Joints, owner: Indices) -> Rims:
    """Find the edges at which reflections end in open air.

    Parameters
    ----------
    joints : Joints
        Of a room.
    owner : numpy.ndarray
        Surface of each edge, shape (e,).

    Returns
    -------
    Rims
        Edges that stick out into the room and folds of more than 100 degrees; neither the corners of
        a box nor the joints of nearly coplanar surfaces.
    """
    turn = joints.turn
    bends = (turn >= LEAST_TURN) | ((turn <= -LEAST_TURN) & (turn > CLOSING_TURN))
    goes_on = joints.edge[np.abs(turn) < LEAST_TURN]
    found = np.setdiff1d(joints.edge[bends], goes_on)
    closing = np.setdiff1d(joints.edge[turn <= CLOSING_TURN], found)
    return _with_images(joints, owner, found, closing)


def _with_images(joints: Joints, owner: Indices, found: Indices, closing: Indices) -> Rims:
    """Edges of surfaces, and their images in the walls that close the same surfaces."""
    ends, inward = joints.ends[found], joints.inward[found]
    reach = reaching(ends, owner[found])
    rim, origin, into = closed_behind(joints, owner, ends, owner[found], closing)
    surface = np.concatenate([owner[found], owner[found][rim]])
    order = np.argsort(surface, kind="stable")
    return Rims(
        surface[order],
        frozen(np.concatenate([ends, image(ends[rim], origin, into)])[order]),
        frozen(np.concatenate([reach, image(reach[rim], origin, into)])[order]),
        frozen(np.concatenate([inward, image(inward[rim][:, None], 0.0 * origin, into)[:, 0]])[order]),
        np.concatenate([np.zeros(len(found), dtype=bool), np.ones(len(rim), dtype=bool)])[order],
    )


def closed_behind(
    joints: Joints, owner: Indices, ends: Array, surface: Indices, closing: Indices
) -> tuple[Indices, Array, Array]:
    """Find the walls that close surfaces behind their edges.

    Parameters
    ----------
    joints : Joints
        Of a room.
    owner : numpy.ndarray
        Surface of each of its edges, shape (e,).
    ends : numpy.ndarray
        Edges, shape (k, 2, 3), m.
    surface : numpy.ndarray
        Whose edges they are, shape (k,).
    closing : numpy.ndarray
        Indices of edges at inner corners, ascending.

    Returns
    -------
    edge : numpy.ndarray
        Index into `ends`, once for each wall behind, shape (i,). An edge that runs into a wall is not
        closed by it: it reaches through.
    origin, into : numpy.ndarray
        A point of the wall and the unit direction back into the surface, shape (i, 3).
    """
    edge, wall = _pairs(surface, owner[closing])
    origin, into = joints.ends[closing[wall], 0], joints.inward[closing[wall]]
    off = np.einsum("kei,ki->ke", ends[edge] - origin[:, None], into)
    apart = np.flatnonzero(np.abs(off).min(axis=1) > _SAME)
    return edge[apart], origin[apart], into[apart]


def image(points: Array, origin: Array, into: Array) -> Array:
    """Mirror points behind walls.

    Parameters
    ----------
    points : numpy.ndarray
        Shape (k, e, 3), m.
    origin, into : numpy.ndarray
        Point and unit normal of each wall, shape (k, 3).

    Returns
    -------
    numpy.ndarray
        Shape (k, e, 3), m.
    """
    away = np.einsum("kei,ki->ke", points - origin[:, None], into)
    return np.asarray(points - 2.0 * away[..., None] * into[:, None])


def _pairs(first: Indices, second: Indices) -> tuple[Indices, Indices]:
    """Indices of all pairs of equal values; the second ascending."""
    low, high = np.searchsorted(second, first, "left"), np.searchsorted(second, first, "right")
    count = high - low
    one = np.repeat(np.arange(len(first)), count)
    heads = np.cumsum(count) - count
    return one, np.arange(int(count.sum())) - np.repeat(heads, count) + np.repeat(low, count)


def reaching(ends: Array, group: Indices) -> Array:
    """Lengthen edges far beyond every end that no other edge of the group meets.

    Parameters
    ----------
    ends : numpy.ndarray
        Shape (k, 2, 3), m.
    group : numpy.ndarray
        Shape (k,).

    Returns
    -------
    numpy.ndarray
        Shape (k, 2, 3), m.
    """
    places = ends.reshape(-1, 3)
    keys = np.column_stack([np.repeat(group, 2), *(bunches(places[:, i], _SAME) for i in range(3))])
    _, inverse, count = np.unique(keys, axis=0, return_inverse=True, return_counts=True)
    alone = (count[inverse.ravel()] == 1).reshape(-1, 2)
    along = ends[:, 1] - ends[:, 0]
    along = along / np.maximum(np.linalg.norm(along, axis=1), 1e-30)[:, None]
    reach = ends.copy()
    reach[:, 0] -= np.where(alone[:, :1], BEYOND, 0.0) * along
    reach[:, 1] += np.where(alone[:, 1:], BEYOND, 0.0) * along
    return frozen(reach.reshape(-1, 2, 3))
