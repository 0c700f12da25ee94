"""Distances between straight pieces in space."""

from __future__ import annotations

import numpy as np

from treatment.bands import Array


def segment_distances(start: Array, end: Array, edges: Array) -> Array:
    """Least distance of each segment from each edge.

    Parameters
    ----------
    start, end : numpy.ndarray
        Segments, shape (n, 3), m.
    edges : numpy.ndarray
        Shape (m, 2, 3), m.

    Returns
    -------
    numpy.ndarray
        Shape (n, m), m.

    References
    ----------
    C. Ericson, Real-Time Collision Detection (2005), section 5.1.9: closest points of two segments.
    """
    d1 = (end - start)[:, None]
    d2 = (edges[:, 1] - edges[:, 0])[None]
    r = start[:, None] - edges[None, :, 0]
    a = np.maximum((d1 * d1).sum(-1), 1e-30)
    e = np.maximum((d2 * d2).sum(-1), 1e-30)
    b, c, f = (d1 * d2).sum(-1), (d1 * r).sum(-1), (d2 * r).sum(-1)
    bend = a * e - b * b
    s = np.where(bend > 1e-12 * a * e, np.clip((b * f - c * e) / np.where(bend == 0.0, 1.0, bend), 0, 1), 0.0)
    t = (b * s + f) / e
    s = np.where(t < 0.0, np.clip(-c / a, 0.0, 1.0), np.where(t > 1.0, np.clip((b - c) / a, 0.0, 1.0), s))
    t = np.clip(t, 0.0, 1.0)
    gap = r + s[..., None] * d1 - t[..., None] * d2
    return np.asarray(np.sqrt((gap * gap).sum(-1)))
