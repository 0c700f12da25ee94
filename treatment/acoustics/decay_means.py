"""Means of a decay's quantities over places, with their standard errors."""

from __future__ import annotations

from dataclasses import fields

import numpy as np

from treatment.acoustics.decay import DecayFigures, EnergyDecay, decay_figures
from treatment.bands import Array, frozen


def figure_means(decay: EnergyDecay, axis: int | tuple[int, ...]) -> tuple[DecayFigures, DecayFigures]:
    """Mean of every quantity over some axes of the places, and its standard error.

    Parameters
    ----------
    decay : EnergyDecay
        Parts of shape (p, ..., b, t).
    axis : int or tuple of int
        Axes of the places (of `decay.energy` without its last, time) to average over.

    Returns
    -------
    mean : DecayFigures
        Arithmetic means over the places that support a quantity, as ISO 3382-1 and -2 average positions;
        NaN where fewer than half of them do.
    error : DecayFigures
        One standard error of each mean, leave-one-out over the parts (they share rays, so that errors of
        places do not average out as if they were independent); NaN with one part.
    """
    mean = DecayFigures(*(_mean(values, axis) for values in _values(decay_figures(decay))))
    p = len(decay.parts)
    if p < 2:
        nothing = [np.full_like(values, np.nan) for values in _values(mean)]
        return mean, DecayFigures(*nothing)
    total = decay.parts.sum(axis=0)
    left_out: list[list[Array]] = [[] for _ in fields(DecayFigures)]
    for part in decay.parts:
        rest = EnergyDecay(((total - part) / (p - 1))[None], decay.step, decay.reach_db)
        for kept, values in zip(left_out, _values(decay_figures(rest)), strict=True):
            kept.append(_mean(values, axis))
    return mean, DecayFigures(*(_error(np.array(values)) for values in left_out))


def widened(errors: DecayFigures, factor: float) -> DecayFigures:
    """Errors times a factor.

    Parameters
    ----------
    errors : DecayFigures
        Standard errors.
    factor : float
        1 and more.

    Returns
    -------
    DecayFigures
        Of the same shapes.
    """
    return DecayFigures(*(frozen(factor * values) for values in _values(errors)))


def _values(figures: DecayFigures) -> list[Array]:
    return [getattr(figures, f.name) for f in fields(DecayFigures)]


def _mean(values: Array, axis: int | tuple[int, ...]) -> Array:
    known = np.isfinite(values)
    count, share = known.sum(axis=axis), known.mean(axis=axis)
    mean = np.where(known, values, 0.0).sum(axis=axis) / np.maximum(count, 1)
    return frozen(np.where(share >= 0.5, mean, np.nan))


def _error(left_out: Array) -> Array:
    return frozen(np.sqrt(len(left_out) - 1) * np.std(left_out, axis=0))
