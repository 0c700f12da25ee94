"""Impulse responses: where they begin, octave bands, noise, and decay.

References
----------
ISO 3382-1:2009, 5.3 and annex A: time zero, ranges, backward integration with a corrected end.
ISO 18233:2006: what an impulse response may be measured with.
IEC 61260-1:2014: octave bands, base ten.
F. Jacobsen and J. H. Rindel, J. Sound Vib. 117 (1987) 187: filtering backwards in time.
A. Lundeby, T. E. Vigran, H. Bietz, M. Vorlaender, Acustica 81 (1995) 344: where the noise begins.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from treatment import bands
from treatment.acoustics.decay import EnergyDecay
from treatment.bands import Array, frozen

#: Time zero: first sample this far below the largest one (ISO 3382-1, 5.3.2 speaks of more than 20 dB).
_ONSET_DB: Final = -20.0
#: Order of the Butterworth low pass that an octave filter is made from: class 1 of IEC 61260-1.
_ORDER: Final = 3
#: Time step of a measured decay, s.
STEP: Final = 0.001
#: A band's bandwidth times the decay time must exceed this for a filter run backwards in time (Jacobsen and
#: Rindel; 16 for one that runs forwards).
LEAST_BT: Final = 4.0
#: Over its bandwidth: the time after which an octave filter of this kind has rung out to 1e-4 of its energy.
_RINGING: Final = 4.0
#: Share of the recording that is taken for noise at first (Lundeby).
_TAIL: Final = 0.1


@dataclass(frozen=True, eq=False)
class MeasuredDecay:
    """Decay of a recording by band.

    Parameters
    ----------
    decay : EnergyDecay
        One part, shape (1, 8, t): energy above the noise, up to where the noise takes over and as an
        exponential of the same slope from there on; zero throughout in bands that cannot be read.
    peak_to_noise_db : numpy.ndarray
        Largest 10 ms mean over the noise, shape (8,), dB; NaN in bands that cannot be read.
    knee_s : numpy.ndarray
        When the decay meets the noise, shape (8,), s.
    direct : numpy.ndarray
        Energy of the decay's first step that comes from what arrives at time zero, mostly the direct sound,
        shape (8,).
    """

    decay: EnergyDecay
    peak_to_noise_db: Array
    knee_s: Array
    direct: Array

    @property
    def later(self) -> EnergyDecay:
        """The decay without what arrives at time zero: how the room itself begins to die away."""
        parts = self.decay.parts.copy()
        parts[:, :, 0] = np.maximum(parts[:, :, 0] - self.direct, 0.0)
        return replace(self.decay, parts=frozen(parts))


def onset(signal: Array) -> int:
    """Find where an impulse response begins.

    Parameters
    ----------
    signal : numpy.ndarray
        Samples, shape (n,).

    Returns
    -------
    int
        First sample that is within 20 dB of the largest (ISO 3382-1, 5.3.2).
    """
    size = np.abs(signal)
    return int(np.argmax(size >= size.max() * 10.0 ** (_ONSET_DB / 20.0)))


def octave_signals(signal: Array, rate: int) -> Array:
    """Filter into octave bands, backwards in time.

    Parameters
    ----------
    signal : numpy.ndarray
        Samples, shape (n,).
    rate : int
        Samples per second.

    Returns
    -------
    numpy.ndarray
        Shape (8, n); NaN in bands that the sampling rate cannot hold. Run backwards a filter rings before
        an event rather than after it, which leaves decays four times as short readable (Jacobsen and Rindel).
    """
    from scipy.signal import butter, sosfilt

    found = np.full((bands.COUNT, len(signal)), np.nan)
    for i, (low, high) in enumerate(zip(bands.LOWER_EDGE_HZ, bands.UPPER_EDGE_HZ, strict=True)):
        if high < 0.48 * rate:
            sos = butter(_ORDER, [low, high], "bandpass", fs=rate, output="sos")
            found[i] = sosfilt(sos, signal[::-1])[::-1]
    return found


def measured_decay(signal: Array, rate: int) -> MeasuredDecay:
    """Read the decay of a measured impulse response in octave bands.

    Parameters
    ----------
    signal : numpy.ndarray
        Samples, shape (n,).
    rate : int
        Samples per second.

    Returns
    -------
    MeasuredDecay
        From time zero on.
    """
    # Filters run backwards ring before time zero: they need a time before it.
    lead = round(_RINGING / float(bands.UPPER_EDGE_HZ[0] - bands.LOWER_EDGE_HZ[0]) * rate)
    signal = np.concatenate([np.zeros(lead), signal])
    start = onset(signal)
    per_step = max(1, round(STEP * rate))
    step = per_step / rate
    count = (len(signal) - start) // per_step
    used = signal[: start + count * per_step]
    octaves = octave_signals(used, rate)
    filtered = octaves[:, start:]
    energy = (filtered**2).reshape(bands.COUNT, count, per_step).sum(axis=-1)
    direct = _rung_before(octaves[:, :start], rate)
    energy[:, 0] += direct
    cleaned = np.zeros((bands.COUNT, 2 * count))
    ratio, knees = np.full(bands.COUNT, np.nan), np.full(bands.COUNT, np.nan)
    for band in range(bands.COUNT):
        if np.isfinite(energy[band]).all() and energy[band].max() > 0.0:
            cleaned[band], ratio[band], knees[band] = _without_noise(energy[band], step)
    decay = EnergyDecay(frozen(cleaned[None]), step, frozen(np.nan_to_num(ratio, nan=0.0)))
    return MeasuredDecay(decay, frozen(ratio), frozen(knees), frozen(np.nan_to_num(direct, nan=0.0)))


def _rung_before(octaves: Array, rate: int) -> Array:
    """Energy of each band, shape (8,), by which filters run backwards ring before time zero.

    It belongs to what arrives at time zero, mostly the direct sound, which would be lost from C50, D50 and
    EDT. Noise of as long a time before it is taken off.
    """
    found = np.zeros(len(octaves))
    for band, samples in enumerate(octaves):
        bandwidth = bands.UPPER_EDGE_HZ[band] - bands.LOWER_EDGE_HZ[band]
        length = min(round(_RINGING / bandwidth * rate), octaves.shape[1])
        rung = np.square(samples[octaves.shape[1] - length :])
        noise = np.square(samples[max(0, octaves.shape[1] - 2 * length) : octaves.shape[1] - length])
        quiet = float(noise.mean()) if len(noise) else 0.0
        found[band] = max(float(rung.sum()) - quiet * length, 0.0)
    return found


def _smoothed(energy: Array, width: int) -> Array:
    """Means over whole intervals, shape (k,)."""
    whole = len(energy) // width
    return np.asarray(energy[: whole * width].reshape(whole, width).mean(axis=1))


def _without_noise(energy: Array, step: float) -> tuple[Array, float, float]:
    """Decay of one band without its noise, its peak to noise in dB, and when the noise takes over.

    Lundeby's iteration: a line through the decay above the noise, where it crosses the noise, the noise
    from well behind that, and the line again from the last decibels above it.
    """
    count = len(energy)
    noise = float(energy[-max(1, int(_TAIL * count)) :].mean())
    width = max(1, round(0.010 / step))
    peak = float(_smoothed(energy, width).max())
    floor = 1e-30 * peak
    slope, knee = math.nan, count
    for _ in range(6):
        means = _smoothed(energy, width)
        level = 10.0 * np.log10(np.maximum(means, floor) / peak)
        noise_db = 10.0 * math.log10(max(noise, floor) / peak)
        top = int(np.argmax(level))
        below = np.flatnonzero(level[top:] < noise_db + 7.0)
        end = top + (int(below[0]) if len(below) else len(level) - top)
        # The last 20 dB above the noise, less where the decay is shorter.
        begin = top + int(np.argmax(level[top:end] < max(noise_db + 27.0, -1e9))) if end > top else top
        begin = min(begin, max(top, end - 3))
        if end - begin < 3:
            break
        x = (np.arange(begin, end) + 0.5) * width
        new_slope, offset = np.polyfit(x, level[begin:end], 1)
        if new_slope >= 0.0:
            break
        slope = float(new_slope)
        crossing = (noise_db - offset) / slope
        new_knee = int(np.clip(crossing, 1, count))
        # Three to ten intervals to each 10 dB; noise from where the decay is 10 dB below it.
        width = int(np.clip(round(-10.0 / slope / 5.0), 1, max(1, count // 20)))
        behind = min(int(new_knee - 10.0 / slope), int((1.0 - _TAIL) * count))
        noise = float(energy[behind:].mean())
        if abs(new_knee - knee) <= max(1, 0.01 * knee):
            knee = new_knee
            break
        knee = new_knee
    ratio = 10.0 * math.log10(peak / max(noise, floor))
    cleaned = np.zeros(2 * count)
    knee = max(1, min(knee, count))
    cleaned[:knee] = np.maximum(energy[:knee] - noise, 0.0)
    if math.isfinite(slope) and slope < 0.0:
        # What a decay without noise would still bring (ISO 3382-1, A.2.2): an exponential from the noise on.
        after = np.arange(2 * count - knee) + 0.5
        cleaned[knee:] = noise * 10.0 ** (slope * after / 10.0)
    return cleaned, ratio, knee * step
