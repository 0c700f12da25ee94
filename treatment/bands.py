"""The eight octave bands, and decibels.

Bands are the last axis of every array that has them.

References
----------
IEC 61260-1:2014, 5.2-5.4: base-10 octave ratio ``G = 10**0.3``, exact mid-band frequencies
``1000 G**x``, band edges ``f G**(-1/2)`` and ``f G**(+1/2)``.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

OCTAVE_RATIO: Final = 10.0**0.3


def frozen(values: Any) -> Array:
    """Copy values into a read-only float64 array.

    Parameters
    ----------
    values : array_like
        Any numbers.

    Returns
    -------
    numpy.ndarray
        Read-only float64 array of the same shape.
    """
    array = np.array(values, dtype=np.float64)
    array.setflags(write=False)
    return array


NOMINAL_HZ: Final[tuple[int, ...]] = (63, 125, 250, 500, 1000, 2000, 4000, 8000)
COUNT: Final = len(NOMINAL_HZ)
EXACT_HZ: Final = frozen(1000.0 * OCTAVE_RATIO ** np.arange(-4.0, 4.0))
LOWER_EDGE_HZ: Final = frozen(np.asarray(EXACT_HZ) / np.sqrt(OCTAVE_RATIO))
UPPER_EDGE_HZ: Final = frozen(np.asarray(EXACT_HZ) * np.sqrt(OCTAVE_RATIO))


def band_index(nominal_hz: int) -> int:
    """Index of an octave band.

    Parameters
    ----------
    nominal_hz : int
        Nominal mid-band frequency in Hz, one of `NOMINAL_HZ`.

    Returns
    -------
    int
        Position on the band axis.

    Raises
    ------
    ValueError
        When there is no such band.
    """
    return NOMINAL_HZ.index(nominal_hz)


def band_slice(lowest_hz: int, highest_hz: int) -> slice:
    """Slice of the band axis, both ends included.

    Parameters
    ----------
    lowest_hz, highest_hz : int
        Nominal mid-band frequencies in Hz.

    Returns
    -------
    slice
        For the last axis of a band array.
    """
    return slice(band_index(lowest_hz), band_index(highest_hz) + 1)


def band_label(nominal_hz: int) -> str:
    """Short label of a band: ``125 Hz``, ``4 kHz``.

    Parameters
    ----------
    nominal_hz : int
        Nominal mid-band frequency in Hz.

    Returns
    -------
    str
        Label for tables and charts.
    """
    return f"{nominal_hz // 1000} kHz" if nominal_hz >= 1000 else f"{nominal_hz} Hz"


def decibels(energy: Any, floor_db: float = -120.0) -> Array:
    """Energy ratio to decibels, ``10 lg(energy)``, never below a floor.

    Parameters
    ----------
    energy : array_like
        Energy ratios, 0 or more.
    floor_db : float
        Value given where the energy is smaller, so that no result is infinite.

    Returns
    -------
    numpy.ndarray
        Levels in dB, same shape.
    """
    least = 10.0 ** (floor_db / 10.0)
    return np.asarray(10.0 * np.log10(np.maximum(np.asarray(energy, dtype=np.float64), least)))


def energy_ratio(level_db: Any) -> Array:
    """Decibels to energy ratio, ``10**(level/10)``.

    Parameters
    ----------
    level_db : array_like
        Levels in dB.

    Returns
    -------
    numpy.ndarray
        Energy ratios, same shape.
    """
    return np.asarray(10.0 ** (np.asarray(level_db, dtype=np.float64) / 10.0))
