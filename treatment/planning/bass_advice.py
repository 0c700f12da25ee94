"""What would make the bass better: other places, delays and gains, other seats, a shorter decay."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.modal_response import level_db, unevenness
from treatment.bands import Array, frozen
from treatment.planning.bass import Bass
from treatment.planning.bass_places import NUMBERS, PlaceChoice, best_places, standing_places

#: What a receiver can set: delays in s, gains in dB, either polarity.
_DELAYS: Final = np.arange(0.0, 0.0205, 0.001)
_GAINS: Final = (0.0, -3.0, -6.0)
#: How far seats are moved along the room, m.
_MOVES: Final = np.round(np.arange(-0.6, 0.61, 0.1), 2)
#: Nothing is sat in nearer to a wall, m.
_FROM_WALLS: Final = 0.3


@dataclass(frozen=True, eq=False)
class Setting:
    """What to set for one subwoofer.

    Parameters
    ----------
    name : str
        Which.
    delay_s, gain_db : float
        s, dB.
    inverted : bool
        Whether its polarity is turned.
    """

    name: str
    delay_s: float
    gain_db: float
    inverted: bool


@dataclass(frozen=True, eq=False)
class BassAdvice:
    """What would change the bass, each with the unevenness that would be left (dB).

    Parameters
    ----------
    places : tuple of PlaceChoice
        Best places for one, two and four subwoofers.
    settings : tuple of Setting
        For the subwoofers where they stand; empty with fewer than two.
    set_unevenness : float
        With those settings.
    moves : numpy.ndarray
        Moves of all seats along x that the room allows, shape (k,), m.
    moved_unevenness : numpy.ndarray
        With them, shape (k,).
    halved_unevenness : float
        With half the decay time at all bass frequencies: what much thick absorption could do.
    """

    places: tuple[PlaceChoice, ...]
    settings: tuple[Setting, ...]
    set_unevenness: float
    moves: Array
    moved_unevenness: Array
    halved_unevenness: float


def advise_bass(bass: Bass) -> BassAdvice:
    """Work out what would help most.

    Parameters
    ----------
    bass : Bass
        From `treatment.planning.bass.predict_bass`.

    Returns
    -------
    BassAdvice
        Computed in this room; no rule of thumb is used.
    """
    compared = bass.response.compared
    frequency = bass.response.frequency_hz[compared]
    places = standing_places(bass.scene)
    choices = [c for n in NUMBERS if (c := best_places(bass, places, n)) is not None]
    settings, left = _settings(bass, bass.response.pressure[:, :, compared], frequency)
    moves, moved = _moved(bass, frequency)
    halved = bass.pressure(
        bass.source_positions, bass.seats, frequency, 0.5 * np.asarray(bass.response.decay_s)
    )
    return BassAdvice(
        tuple(choices), settings, left, moves, moved, float(unevenness(level_db(halved.sum(axis=0))))
    )


def levels_with(bass: Bass, choice: PlaceChoice) -> Array:
    """Levels at the seats with subwoofers at other places.

    Parameters
    ----------
    bass : Bass
        The room.
    choice : PlaceChoice
        Where they stand, equally loud and in phase.

    Returns
    -------
    numpy.ndarray
        Shape (r, f), dB re one subwoofer at 1 m in the open.
    """
    pressure = bass.pressure(choice.positions, bass.seats, bass.response.frequency_hz)
    return level_db(pressure.sum(axis=0))


def _settings(
    bass: Bass, pressure: NDArray[np.complex128], frequency: Array
) -> tuple[tuple[Setting, ...], float]:
    """Delay, gain and polarity, one subwoofer at a time until nothing helps; the first is the reference."""
    count = len(pressure)
    if count < 2 or not bass.scene.subwoofers:
        return (), float(unevenness(level_db(pressure.sum(axis=0))))
    options = list(itertools.product(_DELAYS.tolist(), _GAINS, (1.0, -1.0)))
    factors = np.array(
        [
            sign * 10.0 ** (gain / 20.0) * np.exp(-2j * np.pi * delay * frequency)
            for delay, gain, sign in options
        ]
    )
    chosen = [options.index((0.0, 0.0, 1.0))] * count
    best = float(unevenness(level_db(pressure.sum(axis=0))))
    for _ in range(10):
        better = False
        for s in range(1, count):
            others = sum(pressure[k] * factors[chosen[k]] for k in range(count) if k != s)
            scores = unevenness(level_db(others + pressure[s] * factors[:, None]))
            k = int(np.argmin(scores))
            # A setting must earn its trouble.
            if scores[k] < best - 0.05:
                chosen[s], best, better = k, float(scores[k]), True
        if not better:
            break
    return (
        tuple(
            Setting(name, options[k][0], options[k][1], options[k][2] < 0.0)
            for name, k in zip(bass.sources, chosen, strict=True)
        ),
        best,
    )


def _moved(bass: Bass, frequency: Array) -> tuple[Array, Array]:
    kept, left = [], []
    for move in _MOVES:
        seats = bass.seats + np.array([move, 0.0, 0.0])
        if move == 0.0 or bass.scene.enclosure.contains(seats, margin=_FROM_WALLS).all():
            pressure = bass.pressure(bass.source_positions, seats, frequency)
            kept.append(float(move))
            left.append(float(unevenness(level_db(pressure.sum(axis=0)))))
    return frozen(kept), frozen(left)
