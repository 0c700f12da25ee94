"""Where sound comes from, seen from a seat, and where it leaves a loudspeaker.

Angles follow ITU-R BS.2051: azimuth 0 toward the screen (the front wall, -x), positive to the left (-y);
elevation positive up.
"""

from __future__ import annotations

import numpy as np

from treatment.acoustics.image_sources import Paths
from treatment.bands import Array


def arrivals_from(paths: Paths, sources: Array, receivers: Array) -> Array:
    """Direction of arrival of each path at its receiver.

    Parameters
    ----------
    paths : Paths
        n paths.
    sources, receivers : numpy.ndarray
        Positions that the paths refer to, shape (s, 3) and (r, 3), m.

    Returns
    -------
    numpy.ndarray
        Azimuth and elevation, shape (n, 2), degrees; azimuth from -180 (exclusive) to 180.
    """
    last = sources[paths.source].copy()
    bounced = np.flatnonzero(paths.order > 0)
    last[bounced] = paths.points[bounced, paths.order[bounced] - 1]
    return angles_of(last - receivers[paths.receiver])


def angles_of(vectors: Array) -> Array:
    """Azimuth and elevation of directions.

    Parameters
    ----------
    vectors : numpy.ndarray
        Shape (..., 3), any length but zero.

    Returns
    -------
    numpy.ndarray
        Shape (..., 2), degrees.
    """
    level = np.hypot(vectors[..., 0], vectors[..., 1])
    azimuth = np.degrees(np.arctan2(-vectors[..., 1], -vectors[..., 0]))
    azimuth = np.where(level < 1e-9, 0.0, np.where(azimuth <= -180.0, 180.0, azimuth))
    return np.stack([azimuth + 0.0, np.degrees(np.arctan2(vectors[..., 2], level))], axis=-1)


def departures(paths: Paths, sources: Array, receivers: Array) -> Array:
    """Unit vectors in which paths leave their sources.

    Parameters
    ----------
    paths : Paths
        n paths.
    sources, receivers : numpy.ndarray
        Positions that the paths refer to, shape (s, 3) and (r, 3), m.

    Returns
    -------
    numpy.ndarray
        Shape (n, 3).
    """
    first = receivers[paths.receiver].copy()
    bounced = np.flatnonzero(paths.order > 0)
    first[bounced] = paths.points[bounced, 0]
    vectors = first - sources[paths.source]
    return np.asarray(vectors / np.linalg.norm(vectors, axis=1, keepdims=True))
