"""The first milliseconds of an impulse response: single arrivals, as recorded and as paths predict them.

Energy is gathered over a few tenths of a millisecond with a raised cosine (a rectangle would give every
arrival a flat top), re that of the direct sound. Predicted paths are drawn the same way, so that what merges
in a recording merges there too; their energies add up, and phases are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from treatment.acoustics.impulse_response import onset
from treatment.bands import Array, frozen

#: Energy of an arrival is gathered this far to either side, s.
_HALF_WINDOW: Final = 0.0003
#: Arrivals nearer to each other than this merge, s.
APART_S: Final = 0.00045
#: An arrival rises this far above the dips beside it, dB: less is a shoulder of a stronger one.
_RISES_DB: Final = 2.0
#: Arrivals are read from the sound from here to here, Hz: the criterion's bands.
_EARLY_HZ: Final = (710.0, 11_200.0)
#: Predicted sound is drawn with so many steps per second.
_FINE_HZ: Final = 100_000
#: Two courses of early sound are compared from here to here, s, each smoothed this far to either side: wide
#: enough that an inch of tape does no harm.
_COMPARED_S: Final = (0.0006, 0.012)
_COMPARED_HALF: Final = 0.0005


@dataclass(frozen=True, eq=False)
class EarlyArrivals:
    """Sound that arrives soon after the direct sound.

    Parameters
    ----------
    delay_s : numpy.ndarray
        Behind the direct sound, ascending, shape (k,), s.
    level_db : numpy.ndarray
        Energy within 0.3 ms of it over that of the direct sound, shape (k,), dB.
    """

    delay_s: Array
    level_db: Array


@dataclass(frozen=True, eq=False)
class EarlySound:
    """Energy by time round the direct sound.

    Parameters
    ----------
    energy : numpy.ndarray
        Not smoothed, shape (n,).
    direct : int
        Index of the direct sound.
    rate : int
        Steps per second.
    """

    energy: Array
    direct: int
    rate: int

    def smoothed(self, half_s: float) -> Array:
        """Energy gathered with a raised cosine, re that of the direct sound.

        Parameters
        ----------
        half_s : float
            Half its width, s.

        Returns
        -------
        numpy.ndarray
            Shape (n,).
        """
        window = np.hanning(2 * max(1, round(half_s * self.rate)) + 3)[1:-1]
        smooth = np.convolve(self.energy, window, mode="same")
        return np.asarray(smooth / smooth[self.direct])


def early_sound(signal: Array, rate: int, within_s: float = 0.025) -> EarlySound:
    """Early sound of a recording.

    Parameters
    ----------
    signal : numpy.ndarray
        Samples, shape (n,).
    rate : int
        Samples per second.
    within_s : float
        How long after the direct sound, s.

    Returns
    -------
    EarlySound
        Between 0.7 and 11 kHz.
    """
    from scipy.signal import butter, sosfiltfilt

    low, high = _EARLY_HZ[0], min(_EARLY_HZ[1], 0.45 * rate)
    sos = butter(2, [low, high], "bandpass", fs=rate, output="sos")
    begin = max(0, onset(signal) - round(0.005 * rate))
    part = signal[begin : begin + round((within_s + 0.02) * rate)]
    energy = sosfiltfilt(sos, part) ** 2
    half = max(1, round(_HALF_WINDOW * rate))
    first = EarlySound(energy, int(np.argmax(energy)), rate).smoothed(_HALF_WINDOW)
    return EarlySound(frozen(energy), int(np.argmax(first[: onset(part) + 4 * half])), rate)


def expected_sound(delay_s: Array, level_db: Array) -> EarlySound:
    """Early sound of predicted paths.

    Parameters
    ----------
    delay_s, level_db : numpy.ndarray
        Of the paths behind and re the direct sound, which is not among them, shape (n,).

    Returns
    -------
    EarlySound
        The direct sound and they.
    """
    begin = round(0.005 * _FINE_HZ)
    at = np.round(np.append(delay_s, 0.0) * _FINE_HZ).astype(int) + begin
    energy = np.zeros(max(int(at.max()), round(_COMPARED_S[1] * _FINE_HZ) + begin) + begin)
    np.add.at(energy, at, np.append(10.0 ** (level_db / 10.0), 1.0))
    return EarlySound(frozen(energy), begin, _FINE_HZ)


def early_arrivals(sound: EarlySound, *, within_s: float = 0.025, above_db: float = -20.0) -> EarlyArrivals:
    """Find single arrivals behind the direct sound.

    Parameters
    ----------
    sound : EarlySound
        Of a recording or a prediction.
    within_s : float
        How long after the direct sound, s.
    above_db : float
        How strong, re the direct sound, dB.

    Returns
    -------
    EarlyArrivals
        Peaks of the energy. Arrivals closer than 0.45 ms merge, and so does one that rises less than 2 dB
        above the dip between it and a stronger one.
    """
    from scipy.signal import find_peaks

    decibels = 10.0 * np.log10(np.maximum(sound.smoothed(_HALF_WINDOW), 1e-12))
    peaks, _ = find_peaks(decibels, distance=max(1, round(APART_S * sound.rate)), prominence=_RISES_DB)
    delay, level = (peaks - sound.direct) / sound.rate, decibels[peaks]
    keep = (delay > 2.0 * _HALF_WINDOW) & (delay <= within_s) & (level >= above_db)
    return EarlyArrivals(frozen(delay[keep]), frozen(level[keep]))


def likeness(a: EarlySound, b: EarlySound) -> float:
    """How much two courses of early sound are alike.

    Parameters
    ----------
    a, b : EarlySound
        Any two.

    Returns
    -------
    float
        Correlation coefficient of the smoothed amplitudes between 0.6 and 12 ms: 1 for the same, about 0
        for strangers, 0 where one of them is even.
    """
    time = np.arange(*_COMPARED_S, 1.0 / 20_000.0)
    rows = []
    for sound in (a, b):
        smooth = np.sqrt(sound.smoothed(_COMPARED_HALF))
        x = np.interp(time, (np.arange(len(smooth)) - sound.direct) / sound.rate, smooth)
        rows.append(x - x.mean())
    scale = float(np.sqrt((rows[0] @ rows[0]) * (rows[1] @ rows[1])))
    return float(rows[0] @ rows[1]) / scale if scale > 1e-12 else 0.0
