"""How far an absorption coefficient can be trusted: laboratories, sources, gaps in the data.

Every uncertainty here is an expanded one, coverage factor ``k = 2``: about 95 of 100 laboratories that
measure the same sample lie within plus or minus this much. The standard uncertainty is half of it.

References
----------
ISO 12999-2:2020, clause 5, formula (1) and Table 1 (third octaves, 63 Hz to 5 kHz), clause 6, formula (4)
and Table 2 (practical coefficients, octaves 250 Hz to 4 kHz): standard deviation of reproducibility
``m alpha + n``. The standard was not opened; the constants were read in an open implementation, and they
give its worked Tables 4 and 5 to the last digit (see the tests).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import COUNT, Array, frozen

#: Coverage factor of every expanded uncertainty in this program.
COVERAGE: Final = 2.0

#: Third octaves of ISO 12999-2:2020, Table 1: mid-band in Hz -> (m, n).
THIRD_OCTAVE_CONSTANTS: Final[dict[int, tuple[float, float]]] = {
    63: (0.450, 0.015), 80: (0.330, 0.015), 100: (0.240, 0.015), 125: (0.180, 0.015),
    160: (0.140, 0.015), 200: (0.110, 0.015), 250: (0.090, 0.015), 315: (0.075, 0.015),
    400: (0.060, 0.015), 500: (0.050, 0.015), 630: (0.045, 0.015), 800: (0.040, 0.015),
    1000: (0.040, 0.015), 1250: (0.040, 0.016), 1600: (0.037, 0.018), 2000: (0.035, 0.021),
    2500: (0.030, 0.026), 3150: (0.030, 0.032), 4000: (0.030, 0.040), 5000: (0.026, 0.060),
}  # fmt: skip

#: Octaves: 250 Hz to 4 kHz from Table 2. 125 Hz: mean of its three thirds in Table 1, since the thirds of
#: one laboratory err together. 63 Hz: the third of that name, as 50 Hz is not tabulated. 8 kHz: nothing is
#: tabulated, the third of 5 kHz is held.
_SLOPE: Final = frozen([0.450, (0.240 + 0.180 + 0.140) / 3.0, 0.059, 0.0, 0.0, 0.0, 0.0, 0.026])
_OFFSET: Final = frozen([0.015, 0.015, 0.016, 0.040, 0.040, 0.040, 0.050, 0.060])

#: A cell that stands at 1.00 because the source cuts there may hide up to this much: ISO 354 data reach
#: 1.1 to 1.2 (common practice).
CLIPPED: Final = 0.15

#: What laboratories differ by is taken to be half of a coefficient at most. Judgement: the standard states it
#: for absorbers, and would let a hard wall absorb nothing or three times as much.
WORST_SHARE: Final = 0.5

#: Expanded uncertainty of a weighted coefficient: 2 x 0.035 (ISO 12999-2:2020, clause 7, formula (6)).
WEIGHTED: Final = 0.07


def third_octave_reproducibility(absorption: Any, frequency: Sequence[int]) -> Array:
    """Expanded uncertainty of third-octave coefficients between laboratories.

    Parameters
    ----------
    absorption : array_like
        ISO 354 coefficients, shape (n,).
    frequency : sequence of int
        Nominal mid-bands, keys of `THIRD_OCTAVE_CONSTANTS`, n of them.

    Returns
    -------
    numpy.ndarray
        ``k (m alpha + n)`` with k = 2, shape (n,).

    Raises
    ------
    KeyError
        When a band is not tabulated.
    """
    slope, offset = np.array([THIRD_OCTAVE_CONSTANTS[f] for f in frequency]).T
    return np.asarray(COVERAGE * (slope * np.asarray(absorption, dtype=np.float64) + offset))


def reproducibility(absorption: Any) -> Array:
    """Expanded uncertainty of octave coefficients between laboratories: the floor of every row.

    Parameters
    ----------
    absorption : array_like
        Coefficients, last axis the eight octaves.

    Returns
    -------
    numpy.ndarray
        ``k (m alpha + n)`` with k = 2, same shape. 63 and 125 Hz are built from third octaves, 8 kHz is
        held from 5 kHz.
    """
    return np.asarray(COVERAGE * (_SLOPE * np.asarray(absorption, dtype=np.float64) + _OFFSET))


def row_uncertainty(
    absorption: Any,
    assumed: NDArray[np.bool_],
    clipped: NDArray[np.bool_],
    others: Sequence[tuple[Any, NDArray[np.bool_]]] = (),
) -> Array:
    """Expanded uncertainty of a row: laboratories, gaps, clipping, and sources that disagree.

    Parameters
    ----------
    absorption : array_like
        Coefficients of the row, shape (8,).
    assumed : numpy.ndarray
        Shape (8,), bool: bands without published data.
    clipped : numpy.ndarray
        Shape (8,), bool: cells that look cut at 1.
    others : sequence of (array_like, numpy.ndarray)
        Coefficients and assumed bands of the rows that disagree.

    Returns
    -------
    numpy.ndarray
        Shape (8,), read-only. Reproducibility is the floor. A held band adds, by root of sum of squares,
        the step between the two published bands next to it, since the curve may go on as it came. The
        distance to the farthest disagreeing source is taken where that is more, so that every published
        value lies inside.
    """
    alpha = np.asarray(absorption, dtype=np.float64)
    expanded = reproducibility(alpha)
    published = np.flatnonzero(~assumed)
    for band in np.flatnonzero(assumed):
        near = published[np.argsort(np.abs(published - band), kind="stable")][:2]
        step = abs(float(alpha[near[0]] - alpha[near[1]])) if len(near) == 2 else 0.0
        expanded[band] = np.hypot(expanded[band], step)
    expanded = np.where(clipped, np.maximum(expanded, CLIPPED), expanded)
    for values, guessed in others:
        apart = np.abs(np.asarray(values, dtype=np.float64) - alpha)
        expanded = np.where(assumed | guessed, expanded, np.maximum(expanded, apart))
    return frozen(expanded.reshape(COUNT))


def distances(
    absorption: Any, assumed: NDArray[np.bool_], others: Sequence[tuple[Any, NDArray[np.bool_]]]
) -> Array:
    """How far the rows that disagree lie below and above a row.

    Parameters
    ----------
    absorption : array_like
        Coefficients of the row, shape (8,).
    assumed : numpy.ndarray
        Shape (8,), bool: bands without published data, which say nothing here.
    others : sequence of (array_like, numpy.ndarray)
        Coefficients and assumed bands of the rows that disagree.

    Returns
    -------
    numpy.ndarray
        Shape (2, 8), not negative: to the lowest and to the highest of them.
    """
    alpha = np.asarray(absorption, dtype=np.float64)
    apart = np.zeros((2, COUNT))
    for values, guessed in others:
        step = np.where(assumed | guessed, 0.0, np.asarray(values, dtype=np.float64) - alpha)
        apart = np.maximum(apart, [-step, step])
    return frozen(apart)


def sides(absorption: Any, own: Any, apart: Any) -> tuple[Array, Array]:
    """How much less and how much more a surface may absorb than its row says.

    Parameters
    ----------
    absorption : array_like
        Coefficients, shape (8,).
    own : array_like
        Expanded uncertainty of the row without those that disagree, shape (8,).
    apart : array_like
        As from `distances`, shape (2, 8).

    Returns
    -------
    tuple of numpy.ndarray
        Expanded (k = 2), shape (8,) each, read-only. Of `own` the laboratories' part is `WORST_SHARE` of the
        coefficient at most; nothing cuts what a gap in the data, a spread of the build, or another published
        row adds. Nothing absorbs less than nothing.
    """
    alpha, whole = np.asarray(absorption, dtype=np.float64), np.asarray(own, dtype=np.float64)
    laboratory = np.minimum(reproducibility(alpha), whole)
    rest = np.sqrt(np.maximum(whole**2 - laboratory**2, 0.0))
    kept = np.hypot(np.minimum(laboratory, WORST_SHARE * alpha), rest)
    less, more = (np.maximum(kept, side) for side in np.asarray(apart, dtype=np.float64))
    return frozen(np.minimum(less, alpha)), frozen(more)
