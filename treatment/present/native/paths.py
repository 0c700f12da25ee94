"""Reflection paths as they are chosen: which ones, where they run, and in what colour."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.planning.plan import Arrivals, Evaluation
from treatment.present.native.state import ALL, LOUDEST, ViewState
from treatment.present.palette import DELAY_SCALE, LEVEL_SCALE, rgb
from treatment.present.wording import loudest

#: What the colour tells, its unit, and the scale.
SCALES: Final = {"level": ("dB re direct", LEVEL_SCALE), "delay": ("ms behind direct", DELAY_SCALE)}


@dataclass(frozen=True, eq=False)
class PathLines:
    """Paths to paint; n paths.

    Parameters
    ----------
    arrival : numpy.ndarray
        Which arrivals they are, shape (n,).
    points : numpy.ndarray
        From the loudspeaker by the bounces to the seat, shape (n, k + 2, 3), m; a path of fewer bounces
        stays at the seat at its end.
    bounces : numpy.ndarray
        Number of bounces of each, shape (n,).
    colour : numpy.ndarray
        Shape (n, 3), uint8.
    """

    arrival: NDArray[np.intp]
    points: Array
    bounces: NDArray[np.intp]
    colour: NDArray[np.uint8]


def shown_level(arrivals: Arrivals, band: int) -> Array:
    """Level that is meant by the chosen band.

    Parameters
    ----------
    arrivals : Arrivals
        n arrivals.
    band : int
        Position on the band axis, or `LOUDEST`.

    Returns
    -------
    numpy.ndarray
        Re direct, shape (n,), dB.
    """
    return loudest(arrivals.level_db) if band == LOUDEST else np.asarray(arrivals.level_db[:, band])


def chosen_arrivals(
    arrivals: Arrivals, state: ViewState, orders: tuple[int, ...] | None = None
) -> NDArray[np.intp]:
    """Which arrivals are chosen.

    Parameters
    ----------
    arrivals : Arrivals
        n arrivals.
    state : ViewState
        Loudspeaker, seat, orders; whether only strong ones.
    orders : tuple of int, optional
        Instead of the state's.

    Returns
    -------
    numpy.ndarray
        Indices, ascending, shape (m,).
    """
    chosen = np.isin(arrivals.order, state.orders if orders is None else orders)
    if state.loudspeaker != ALL:
        chosen &= arrivals.source == state.loudspeaker
    if state.seat != ALL:
        chosen &= arrivals.seat == state.seat
    if state.strong and orders is None:
        chosen &= np.array([v in ("treat", "direct") for v in arrivals.verdict], dtype=bool)
    return np.flatnonzero(chosen)


def path_lines(evaluation: Evaluation, state: ViewState) -> PathLines:
    """Turn the chosen arrivals into coloured lines.

    Parameters
    ----------
    evaluation : Evaluation
        Of the step that is shown.
    state : ViewState
        What is chosen.

    Returns
    -------
    PathLines
        The weakest (or latest) first, so that what matters is painted over it.
    """
    scene, a = evaluation.scene, evaluation.arrivals
    index = chosen_arrivals(a, state)
    value = shown_level(a, state.band) if state.colouring == "level" else np.asarray(a.delay_ms)
    index = index[np.argsort(value[index] if state.colouring == "level" else -value[index], kind="stable")]
    starts = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    ends = np.array([s.position for s in scene.seats]).reshape(-1, 3)
    end = ends[a.seat[index]]
    bounce = np.where(np.isnan(a.points[index]), end[:, None], a.points[index])
    points = np.concatenate([starts[a.source[index], None], bounce, end[:, None]], axis=1)
    return PathLines(index, points, a.order[index], scale_colours(state.colouring, value[index]))


def scale_colours(colouring: str, values: Array) -> NDArray[np.uint8]:
    """Colours of many values.

    Parameters
    ----------
    colouring : str
        ``level`` or ``delay``.
    values : numpy.ndarray
        Shape (n,), dB or ms.

    Returns
    -------
    numpy.ndarray
        Shape (n, 3), uint8; beyond the scale its end colour.
    """
    scale = SCALES[colouring][1]
    at = [v for v, _ in scale]
    ends = np.array([rgb(c) for _, c in scale], dtype=np.float64)
    mixed = np.stack([np.interp(values, at, ends[:, k]) for k in range(3)], axis=-1)
    return np.rint(mixed).astype(np.uint8)
