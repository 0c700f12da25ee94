"""Whether convex bodies share space: panels with lines of sight, paths of sound, spaces to be kept clear."""

from __future__ import annotations

from functools import cache
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array

#: Bodies that share less than this (m) touch.
TOUCHING: Final = 1e-3


def share_space(
    hull: Array, centre: Array, half: Array, axes: Array, slack: float = TOUCHING
) -> NDArray[np.bool_]:
    """Tell which oriented boxes share space with a convex hull.

    Two convex bodies are apart exactly when some axis separates their shadows, and only the faces' normals
    and the cross products of two edges need be tried (separating axis theorem; Gottschalk, Lin & Manocha,
    Computer Graphics 30 (1996) 171, for boxes). Every triple and pair of the hull's points is taken for a
    face and an edge: a few too many, but none is missed.

    Parameters
    ----------
    hull : numpy.ndarray
        Points whose hull is meant, shape (n, 3), m; it may be flat, a line or a point.
    centre, half : numpy.ndarray
        Of g boxes: middle, and half-lengths along the axes, shape (g, 3), m.
    axes : numpy.ndarray
        Unit vectors of the boxes' edges, shape (3, 3), a row each.
    slack : float
        Overlap that still counts as touching, m.

    Returns
    -------
    numpy.ndarray
        Shape (g,), bool.
    """
    shared = _together_on(axes, hull, centre, half, axes, slack)
    if shared.any():
        # Most boxes are sorted out by their own three axes; the others are worth the rest.
        which = np.flatnonzero(shared)
        shared[which] = _together_on(_directions(hull, axes), hull, centre[which], half[which], axes, slack)
    return shared


def bodies_meet(a: Array, b: Array) -> bool:
    """Tell whether two convex hulls share space, by the same axes.

    Parameters
    ----------
    a, b : numpy.ndarray
        Points whose hulls are meant, shapes (n, 3) and (m, 3), m; one may be flat.

    Returns
    -------
    bool
        True unless an axis separates them; to touch is to be apart.
    """
    found = [_directions(a, np.eye(3)), _directions(b, np.eye(3))]
    edges = [_units((p[:, None] - p[None]).reshape(-1, 3)) for p in (a, b)]
    found.append(_units(_cross(edges[0][:, None], edges[1][None]).reshape(-1, 3)))
    tried = np.concatenate(found)
    one, other = a @ tried.T, b @ tried.T
    gap = np.maximum(one.min(axis=0) - other.max(axis=0), other.min(axis=0) - one.max(axis=0))
    return bool(gap.max() < -1e-9)


def _together_on(
    tried: Array, hull: Array, centre: Array, half: Array, axes: Array, slack: float
) -> NDArray[np.bool_]:
    """Which boxes no axis of those tried separates from the hull."""
    along = hull @ tried.T
    middle = centre @ tried.T
    reach = half @ np.abs(axes @ tried.T)
    gap = np.maximum(along.min(axis=0) - (middle + reach), (middle - reach) - along.max(axis=0))
    return np.asarray(np.all(gap < -slack, axis=1), dtype=bool)


def _directions(hull: Array, axes: Array) -> Array:
    """Axes that may separate, beside the boxes' own: unit vectors, shape (k, 3)."""
    points = np.unique(np.round(hull, 9), axis=0)
    n = len(points)
    i, j = np.triu_indices(n, 1)
    edges = points[j] - points[i]
    a, b, c = _triples(n)
    # Written out: `numpy.cross` takes longer to look at its arguments than to work on so few.
    return _units(
        np.concatenate(
            [
                _cross(points[b] - points[a], points[c] - points[a]),
                _cross(edges, axes[:, None]).reshape(-1, 3),
            ]
        )
    )


@cache
def _triples(count: int) -> NDArray[np.intp]:
    """Every three of so many points, shape (3, k)."""
    found = np.array(list(combinations(range(count), 3)), dtype=np.intp).reshape(-1, 3).T
    found.setflags(write=False)
    return found


def _cross(a: Array, b: Array) -> Array:
    ax, ay, az = a[..., 0], a[..., 1], a[..., 2]
    bx, by, bz = b[..., 0], b[..., 1], b[..., 2]
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], axis=-1)


def _units(found: Array) -> Array:
    size = np.linalg.norm(found, axis=1)
    return np.asarray(found[size > 1e-9] / size[size > 1e-9, None])
