"""Sound pressure in a room as a sum over its modes, and how it differs from seat to seat."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.modes import Modes
from treatment.bands import Array

#: A decay by 60 dB in T seconds is an amplitude decay of 3 ln(10) / T per second.
_SIXTY_DB: Final = 3.0 * math.log(10.0)
#: Levels below this are no longer told apart, so that one exact null does not rule a mean, dB.
FLOOR_DB: Final = -60.0


def mode_damping(modes: Modes, decay_s: Array) -> Array:
    """Decay constant of each mode from decay times by octave band.

    Parameters
    ----------
    modes : Modes
        m modes.
    decay_s : numpy.ndarray
        Reverberation time by octave band, shape (8,), s; between band centres it follows the logarithm of
        the frequency, below 63 Hz the lowest band is held.

    Returns
    -------
    numpy.ndarray
        ``delta = 3 ln(10) / T``, shape (m,), 1/s (Kuttruff, Room Acoustics, section 3.5).
    """
    octave = np.log2(np.maximum(modes.frequency_hz, 1.0))
    times = np.interp(octave, np.log2(bands.EXACT_HZ), np.asarray(decay_s, dtype=float))
    return np.asarray(_SIXTY_DB / times)


def modal_pressure(
    modes: Modes,
    sources: Array,
    receivers: Array,
    frequency_hz: Array,
    damping: Array,
    speed_of_sound: float,
    fade_s2: float = 0.0,
) -> NDArray[np.complex128]:
    """Pressure of point sources at receivers, each source alone.

    Parameters
    ----------
    modes : Modes
        m modes; they should reach well above the highest frequency.
    sources, receivers : numpy.ndarray
        Shapes (s, 3) and (r, 3), m.
    frequency_hz : numpy.ndarray
        Shape (f,), Hz, above 0.
    damping : numpy.ndarray
        Of each mode, shape (m,), 1/s.
    speed_of_sound : float
        m/s.
    fade_s2 : float
        Time tau by which high modes are faded out, s2; what is taken from them is what
        `treatment.acoustics.near_field.near_pressure` gives back. Default: none is.

    Returns
    -------
    numpy.ndarray
        Shape (s, r, f), over the pressure that the same source gives at 1 m in the open:
        ``(4 pi c^2 / V) sum psi(r) psi(r0) / (w_n^2 - w^2 + 2 j delta_n w)`` with mode shapes of mean
        square 1 (Kuttruff, Room Acoustics, eq. 3.10 with small damping). A source that is flat in the open
        has a constant volume acceleration, which is what this refers to. The constant mode (0 Hz) is the
        rise toward low frequencies that a closed hard room has.
    """
    omega = 2.0 * math.pi * np.asarray(frequency_hz, dtype=float)
    natural = 2.0 * math.pi * modes.frequency_hz
    apart = natural[:, None] ** 2 - omega[None] ** 2 + 2j * np.asarray(damping)[:, None] * omega[None]
    gain = np.exp(-fade_s2 * apart) / apart if fade_s2 else 1.0 / apart
    scale = 4.0 * math.pi * speed_of_sound**2 / modes.volume
    at_source, at_receiver = modes.shapes(sources), modes.shapes(receivers)
    return np.asarray(
        np.einsum("sm,rm,mf->srf", at_source, at_receiver, gain * scale, optimize=True), dtype=np.complex128
    )


def level_db(pressure: NDArray[np.complex128]) -> Array:
    """Level of pressures in dB, not below `FLOOR_DB`.

    Parameters
    ----------
    pressure : numpy.ndarray
        Any shape.

    Returns
    -------
    numpy.ndarray
        ``20 lg |p|``.
    """
    return np.asarray(20.0 * np.log10(np.maximum(np.abs(pressure), 10.0 ** (FLOOR_DB / 20.0))))


def mean_spatial_variance(level: Array) -> Array:
    """How much the bass differs from seat to seat.

    Parameters
    ----------
    level : numpy.ndarray
        Shape (..., r, f), dB.

    Returns
    -------
    numpy.ndarray
        Population variance over the r seats, mean over the f frequencies, shape (...,), dB^2
        (Welti and Devantier, J. Audio Eng. Soc. 54 (2006) 347; figure of merit from memory).
    """
    return np.asarray(np.var(level, axis=-2).mean(axis=-1))


def unevenness(level: Array) -> Array:
    """How far the bass is from the same level at every seat and every frequency.

    Parameters
    ----------
    level : numpy.ndarray
        Shape (..., r, f), dB.

    Returns
    -------
    numpy.ndarray
        Standard deviation over seats and frequencies together, shape (...,), dB. Its square is the mean
        spatial variance plus the variance over frequency of the seats' mean, so it also counts what all
        seats share and an equaliser could mend in part.
    """
    return np.asarray(np.std(level, axis=(-2, -1)))
