"""What a panel may absorb beyond its coefficients: an infinite sheet has no edges, a panel has many."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from treatment.bands import Array, frozen
from treatment.materials.edge import edge_gain
from treatment.materials.make_material import LARGEST_COEFFICIENT
from treatment.materials.material import Material


def possible_gain(
    absorption: Array, width: float, height: float, published: Sequence[Material] = ()
) -> Array:
    """How much more than its coefficients a panel may absorb.

    Parameters
    ----------
    absorption : numpy.ndarray
        Its coefficients, shape (8,).
    width, height : float
        Of its face, m.
    published : sequence of Material
        Measured rows of the same build, where the coefficients are predicted.

    Returns
    -------
    numpy.ndarray
        Shape (8,), not negative, to one side only: the gain of the edges with its doubt, or the distance up
        to the highest of the measured rows where that is more; at most what lifts the coefficient to 1.3.
        Measured samples of much the same build lie above the prediction by 0.15 to 0.5 at 250 Hz. It is
        counted as a doubt and not added, because the slope is known to a factor of three only.
    """
    most = np.sum(edge_gain(absorption, width, height), axis=0)
    for row in published:
        most = np.maximum(most, np.where(row.assumed, 0.0, row.absorption - absorption))
    return frozen(np.clip(most, 0.0, np.maximum(LARGEST_COEFFICIENT - absorption, 0.0)))
