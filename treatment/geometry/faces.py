"""Triangles by the indices of their corners: edges, areas, places."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array

Indices = NDArray[np.intp]


def edges_of(faces: Indices) -> tuple[Indices, Indices]:
    """Edges of triangles.

    Parameters
    ----------
    faces : numpy.ndarray
        Shape (m, 3).

    Returns
    -------
    directed : numpy.ndarray
        First and second corner, shape (3 m, 2); edge k belongs to face k // 3.
    ids : numpy.ndarray
        The same number for the edges between the same two corners, shape (3 m,).
    """
    directed = faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
    low, high = directed.min(axis=1), directed.max(axis=1)
    _, ids = np.unique(low.astype(np.int64) * (int(faces.max(initial=0)) + 1) + high, return_inverse=True)
    return directed, ids.reshape(-1)


def area_vectors(vertices: Array, faces: Indices) -> Array:
    """Area vectors of triangles.

    Parameters
    ----------
    vertices : numpy.ndarray
        Shape (n, 3), m.
    faces : numpy.ndarray
        Shape (m, 3).

    Returns
    -------
    numpy.ndarray
        Shape (m, 3), m2.
    """
    a, b, c = (vertices[faces[:, i]] for i in range(3))
    return np.asarray(0.5 * np.cross(b - a, c - a))


def place_text(points: Array) -> str:
    """Write where something is.

    Parameters
    ----------
    points : numpy.ndarray
        Shape (n, 3), m.

    Returns
    -------
    str
        ``x 0.000 to 4.700, y 1.650, z 2.350 m``.
    """
    low, high = points.min(axis=0), points.max(axis=0)
    spans = [
        f"{axis} {a:.3f}" if b - a < 5e-4 else f"{axis} {a:.3f} to {b:.3f}"
        for axis, a, b in zip("xyz", low, high, strict=True)
    ]
    return ", ".join(spans) + " m"


def open_edges(faces: Indices) -> tuple[Indices, Indices]:
    """Edges that belong to one face only.

    Parameters
    ----------
    faces : numpy.ndarray
        Shape (m, 3).

    Returns
    -------
    corners : numpy.ndarray
        Shape (k, 2).
    face : numpy.ndarray
        Index of the face of each, shape (k,).
    """
    directed, ids = edges_of(faces)
    alone = np.flatnonzero(np.bincount(ids)[ids] == 1)
    return directed[alone], alone // 3
