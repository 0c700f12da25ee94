"""Numbers values so that those which differ by noise alone get one number."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array


def bunches(values: Array, width: float) -> NDArray[np.intp]:
    """Number values; neighbours no farther apart than a width get the same number.

    Rounding would not do: what lies half way between two steps, such as 2.5 in between two millimetres, is
    rounded up or down by the noise of its reckoning.

    Parameters
    ----------
    values : numpy.ndarray
        Shape (n,).
    width : float
        In the unit of the values.

    Returns
    -------
    numpy.ndarray
        Shape (n,), from 0, ascending with the values.
    """
    order = np.argsort(values, kind="stable")
    number = np.zeros(len(values), dtype=np.intp)
    number[order[1:]] = np.cumsum(np.diff(values[order]) > width)
    return number
