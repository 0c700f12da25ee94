"""Energy decays, traced or measured, and the quantities of room acoustics taken from them.

References
----------
ISO 3382-1:2009, A.2.2 and equations (A.10) to (A.13); ISO 3382-2:2008, clause 6 and annex B.
M. R. Schroeder, JASA 37 (1965) 409: backward integration.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen

#: Level range (dB below the start) of each decay time, and how far the decay must reach for it: 10 dB
#: more than its lower end (ISO 3382-1, 5.3.3: from memory).
RANGES: Final = {"edt": (0.0, -10.0), "t20": (-5.0, -25.0), "t30": (-5.0, -35.0)}
HEADROOM_DB: Final = 10.0
#: Curvature above which a decay is no straight line and no single time describes it, percent
#: (ISO 3382-2, annex B; from memory): 5 is suspicious, 10 is unreliable.
SUSPICIOUS_PERCENT: Final = 5.0
UNRELIABLE_PERCENT: Final = 10.0
#: T30 over EDT from which a decay is said to sag. Common practice, no source; strong direct sound alone
#: makes EDT some percent shorter.
SAGGING: Final = 1.5


@dataclass(frozen=True, eq=False)
class EnergyDecay:
    """How the sound at places dies away, by band.

    Parameters
    ----------
    parts : numpy.ndarray
        Energy in each time step, shape (p, ..., b, t): p independent estimates of the same thing
        (batches of rays; one for a measurement), any axes for places, bands, time. Time zero is the
        arrival of the direct sound. Traced energy is relative to the free-field direct sound at 1 m.
    step : float
        Length of a time step in s.
    reach_db : numpy.ndarray or None
        How far below the start the decay can be trusted (peak to noise), shape (..., b), dB, positive.
        None: as far as the curve goes at nine tenths of its length.
    """

    parts: Array
    step: float
    reach_db: Array | None = None

    @property
    def energy(self) -> Array:
        """Mean over the parts, shape (..., b, t)."""
        return np.asarray(self.parts.mean(axis=0))

    @property
    def times(self) -> Array:
        """Start of each time step, shape (t,), s."""
        return np.asarray(np.arange(self.parts.shape[-1]) * self.step)


@dataclass(frozen=True, eq=False)
class DecayFigures:
    """Quantities of a decay, each of shape (..., b); NaN where the decay does not support one.

    Parameters
    ----------
    edt, t20, t30 : numpy.ndarray
        Decay times over 0 to -10, -5 to -25 and -5 to -35 dB, extrapolated to 60 dB, s.
    c50, c80 : numpy.ndarray
        Early-to-late ratio, dB.
    d50 : numpy.ndarray
        Share of the energy in the first 50 ms, 0 to 1.
    ts : numpy.ndarray
        Centre time, s.
    curvature : numpy.ndarray
        ``100 (T30/T20 - 1)``, percent.
    """

    edt: Array
    t20: Array
    t30: Array
    c50: Array
    c80: Array
    d50: Array
    ts: Array
    curvature: Array


def backward_curve(energy: Array) -> Array:
    """Integrate backwards (Schroeder).

    Parameters
    ----------
    energy : numpy.ndarray
        Energy by time step, shape (..., t).

    Returns
    -------
    numpy.ndarray
        Level at the start of each step and at the end, relative to the start, shape (..., t + 1), dB;
        ``-inf`` where nothing is left, NaN where there was nothing at all.
    """
    left = np.zeros((*energy.shape[:-1], energy.shape[-1] + 1))
    left[..., :-1] = np.cumsum(energy[..., ::-1], axis=-1)[..., ::-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(10.0 * np.log10(left / left[..., :1]))


def decay_time(curve_db: Array, step: float, upper_db: float, lower_db: float) -> Array:
    """Decay time from the straight line that fits a piece of a decay curve best.

    Parameters
    ----------
    curve_db : numpy.ndarray
        Falling levels at equal time steps, shape (..., t), dB.
    step : float
        s.
    upper_db, lower_db : float
        Piece of the curve that counts, dB below the start.

    Returns
    -------
    numpy.ndarray
        Time for 60 dB at that slope, shape (...), s; NaN where fewer than three points lie in the
        piece, the curve ends before it, or it does not fall.
    """
    used = (curve_db <= upper_db + 1e-9) & (curve_db >= lower_db - 1e-9)
    count = used.sum(axis=-1)
    reaches = np.any(curve_db <= lower_db, axis=-1)
    t = np.arange(curve_db.shape[-1]) * step
    level = np.where(used, curve_db, 0.0)
    n = np.maximum(count, 1)
    mean_t = (used * t).sum(axis=-1) / n
    mean_l = level.sum(axis=-1) / n
    off = np.where(used, t - mean_t[..., None], 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (off * (level - mean_l[..., None])).sum(axis=-1) / (off * off).sum(axis=-1)
        time = -60.0 / slope
    return np.where((count >= 3) & reaches & (slope < 0.0), time, np.nan)


def decay_figures(decay: EnergyDecay) -> DecayFigures:
    """Work out the quantities of a decay.

    Parameters
    ----------
    decay : EnergyDecay
        Any decay.

    Returns
    -------
    DecayFigures
        From the mean of its parts, shape (..., b) each.
    """
    return _figures(decay.energy, decay.step, decay.reach_db)


def figure_errors(decay: EnergyDecay) -> DecayFigures:
    """Estimate the standard errors of the quantities from the scatter of the parts.

    Parameters
    ----------
    decay : EnergyDecay
        With at least two parts.

    Returns
    -------
    DecayFigures
        One standard error of each quantity of the mean, shape (..., b); NaN where the quantity is, or
        where there is one part only.

    References
    ----------
    Leave-one-out (jackknife): Efron & Tibshirani, An Introduction to the Bootstrap (1993), eq. (11.5).
    """
    p = len(decay.parts)
    if p < 2:
        return DecayFigures(*(np.full(decay.parts.shape[1:-1], np.nan) for _ in fields(DecayFigures)))
    total = decay.parts.sum(axis=0)
    spread: dict[str, list[Array]] = {f.name: [] for f in fields(DecayFigures)}
    for part in decay.parts:
        figures = _figures((total - part) / (p - 1), decay.step, decay.reach_db)
        for name, values in spread.items():
            values.append(getattr(figures, name))
    return DecayFigures(*(frozen(_jackknife(values)) for values in spread.values()))


def place_mean(decay: EnergyDecay, name: str = "t30") -> tuple[Array, Array]:
    """Mean of a quantity over all places, and its standard error.

    Parameters
    ----------
    decay : EnergyDecay
        Any decay.
    name : str
        Field of `DecayFigures`.

    Returns
    -------
    mean : numpy.ndarray
        Arithmetic mean over the places that support the quantity (ISO 3382-2, 7.1), shape (b,); NaN
        where fewer than half of them do.
    error : numpy.ndarray
        One standard error from the scatter of the parts, shape (b,); NaN with one part.
    """
    mean = _mean_over_places(getattr(decay_figures(decay), name))
    p = len(decay.parts)
    if p < 2:
        return mean, np.full_like(mean, np.nan)
    total = decay.parts.sum(axis=0)
    left_out = [
        _mean_over_places(getattr(_figures((total - part) / (p - 1), decay.step, decay.reach_db), name))
        for part in decay.parts
    ]
    return mean, _jackknife(left_out)


def double_slope(decay: EnergyDecay) -> NDArray[np.bool_]:
    """Tell where a decay is clearly no straight line.

    Parameters
    ----------
    decay : EnergyDecay
        Any decay.

    Returns
    -------
    numpy.ndarray
        Shape (..., b), bool. Either the curvature exceeds `UNRELIABLE_PERCENT`: the bend lies in the
        range of T30. Or T30 exceeds `SAGGING` times EDT: the bend lies above it, where T20 and T30
        both see the slow part only. Either must exceed twice its own standard error, where that is
        known. T20 and T30 do not describe such a decay; show the curve.
    """
    figures, errors = decay_figures(decay), figure_errors(decay)
    with np.errstate(invalid="ignore"):
        bent = figures.curvature > np.fmax(UNRELIABLE_PERCENT, 2.0 * errors.curvature)
        doubt = np.nan_to_num(np.hypot(errors.t30, errors.edt), nan=0.0)
        sags = (figures.t30 > SAGGING * figures.edt) & (figures.t30 - figures.edt > 2.0 * doubt)
    return np.asarray(bent | sags)


def _jackknife(left_out: list[Array]) -> Array:
    """Standard error from results that each leave one part out; NaN where one of them is not finite."""
    values = np.array(left_out)
    values[~np.isfinite(values)] = np.nan
    return np.asarray(np.sqrt(len(values) - 1) * np.std(values, axis=0))


def _mean_over_places(values: Array) -> Array:
    flat = values.reshape(-1, values.shape[-1])
    known = np.isfinite(flat)
    count = known.sum(axis=0)
    mean = np.where(known, flat, 0.0).sum(axis=0) / np.maximum(count, 1)
    return np.where(2 * count >= len(flat), mean, np.nan)


def _figures(energy: Array, step: float, reach_db: Array | None) -> DecayFigures:
    curve = backward_curve(energy)
    total = energy.sum(axis=-1)
    reach = -curve[..., int(0.9 * energy.shape[-1])] if reach_db is None else reach_db
    times = {}
    for name, (upper, lower) in RANGES.items():
        time = decay_time(curve, step, upper, lower)
        with np.errstate(invalid="ignore"):
            times[name] = np.where(reach >= HEADROOM_DB - lower, time, np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        d50, d80 = (_early(energy, step, limit) / total for limit in (0.050, 0.080))
        middle = (np.arange(energy.shape[-1]) + 0.5) * step
        return DecayFigures(
            frozen(times["edt"]),
            frozen(times["t20"]),
            frozen(times["t30"]),
            frozen(10.0 * np.log10(d50 / (1.0 - d50))),
            frozen(10.0 * np.log10(d80 / (1.0 - d80))),
            frozen(d50),
            frozen((energy * middle).sum(axis=-1) / total),
            frozen(100.0 * (times["t30"] / times["t20"] - 1.0)),
        )


def _early(energy: Array, step: float, limit: float) -> Array:
    """Energy before a time; the step that holds it counts in part."""
    share = np.clip(limit / step - np.arange(energy.shape[-1]), 0.0, 1.0)
    return np.asarray(energy @ share)
