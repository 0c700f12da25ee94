"""Which predicted path an arrival of a recording is, and whether the recording is of this pair at all.

The rule. A delay is compared first, a level judged afterwards. A *single bounce* fits an arrival within
`TAPE_MS`, whatever its level: a panel that failed sends more than it promised and must be named all the same.
*Several bounces* are many, so that some path lies near any delay; they fit only within a tolerance at which a
delay taken at random would be hit by one of them in `CHANCE` of all cases, and only where they bring what was
measured.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.early_sound import (
    APART_S,
    EarlyArrivals,
    EarlySound,
    early_arrivals,
    expected_sound,
    likeness,
)
from treatment.bands import Array
from treatment.planning.plan import Evaluation
from treatment.planning.targets import CRITERION_BANDS, CRITERION_DB, CRITERION_MS

Indices = NDArray[np.intp]

#: A single bounce fits within this, ms: 25 mm of tape at loudspeaker, seat and wall shift a path by about
#: 30 mm (one standard deviation, 0.09 ms); this is two of them. Judgement.
TAPE_MS: Final = 0.2
#: Several bounces fit within the tolerance at which a random delay would meet one of them that often.
CHANCE: Final = 0.2
#: How dense paths lie is counted this far to either side of an arrival, ms.
_AROUND_MS: Final = 2.5
#: A smaller tolerance than this tells nothing: two samples, and a change of 5 degrees C over 5 ms.
_LEAST_MS: Final = 0.05
#: Paths that together bring this much less than was measured do not explain it, dB.
SHORT_DB: Final = 8.0
#: More than promised by this is told: sounds in phase bring 3 dB more than their energies, a loudspeaker's
#: directivity and the bands' weights the rest, dB. Judgement.
STRONGER_DB: Final = 5.0
#: Single bounces predicted above this are looked for, dB re direct: 5 dB above what is read.
STRONG_DB: Final = -15.0
#: Early sound less like the prediction than this is another's; recordings of a simulated room with 30 mm of
#: tape error are 0.7 to 0.95 like their own, and mostly below 0.6 like others. Judgement.
_LIKE: Final = 0.5
#: Pairs that are that much more alike fit better; that much less, they fit as well.
_BETTER, _AS_WELL = 0.15, 0.05
#: Of several paths at one delay, those with less than this share of the strongest one's energy go unnamed.
_ALSO: Final = 0.25
#: Strong single bounces are looked for up to here, ms: later, bounces of higher order lie everywhere.
WITHIN_MS: Final = 15.0


@dataclass(frozen=True, eq=False)
class MatchedArrival:
    """One arrival of the recording, and the path that fits.

    Parameters
    ----------
    delay_ms, level_db : float
        Behind the direct sound, and its energy re the direct sound's.
    surface : str or None
        What sent it: ``left``, ``left with P2``, ``left then back``; None where no path fits.
    also : tuple of str
        Other paths that fit nearly as well.
    predicted_ms, predicted_db : float
        Delay of the path that fits, and the energy of all that do, mean from 1 to 8 kHz; NaN without one.
        For a single bounce that is stronger than promised: what it alone promised in its loudest band.
    strong : bool
        Whether it fails the early-reflection criterion.
    bounces : int
        Of the path that fits; 0 without one.
    stronger_db : float
        How much more than promised, dB; 0 where it keeps its promise or nothing fits.
    panel : str
        The panel that the single bounce lies on; empty for none.
    crowded : bool
        Whether nothing is named because too many paths of several bounces lie there, not for want of any.
    """

    delay_ms: float
    level_db: float
    surface: str | None
    also: tuple[str, ...]
    predicted_ms: float
    predicted_db: float
    strong: bool
    bounces: int = 0
    stronger_db: float = 0.0
    panel: str = ""
    crowded: bool = False


@dataclass(frozen=True)
class PairFit:
    """How well a recording fits one loudspeaker and one seat.

    Parameters
    ----------
    source, seat : str
        The pair.
    found, strong : int
        How many of the strong single bounces that can be told apart are in the recording.
    missing : tuple of str
        The others.
    alike : float
        How like the early sound as a whole is to the predicted one, -1 to 1.
    """

    source: str
    seat: str
    found: int
    strong: int
    missing: tuple[str, ...]
    alike: float

    def doubtful(self, fits: tuple[PairFit, ...]) -> bool:
        """Whether loudspeaker or seat may be another.

        Parameters
        ----------
        fits : tuple of PairFit
            All pairs.

        Returns
        -------
        bool
            True when less than half of the strong single bounces are found, the early sound is little
            like the predicted one, or another pair's is much more so.
        """
        best = max(f.alike for f in fits)
        return 2 * self.found < self.strong or self.alike < max(_LIKE, best - _BETTER)


def match_arrivals(evaluation: Evaluation, arrivals: EarlyArrivals) -> list[MatchedArrival]:
    """Give each arrival the predicted path that fits.

    Parameters
    ----------
    evaluation : Evaluation
        Of one loudspeaker and one seat.
    arrivals : EarlyArrivals
        From the recording.

    Returns
    -------
    list of MatchedArrival
        In the order of the delays.
    """
    a = evaluation.arrivals
    mine = np.flatnonzero(a.order > 0)
    delay, order = a.delay_ms[mine], a.order[mine]
    inner = a.level_db[mine][:, CRITERION_BANDS]
    energy = np.mean(10.0 ** (inner / 10.0), axis=1)
    found = []
    for at_s, level in zip(arrivals.delay_s, arrivals.level_db, strict=True):
        at, db = 1000.0 * float(at_s), float(level)
        off = np.abs(delay - at)
        single = np.flatnonzero((order == 1) & (off <= TAPE_MS))
        several = np.flatnonzero((order > 1) & (off <= several_tolerance(at, db, delay, order, energy)))
        near = np.concatenate([single, several])
        together = 10.0 * math.log10(max(float(energy[near].sum()), 1e-12))
        strong = _strong(at, db)
        if len(single):
            # The nearest of those that promise most: a wall with two materials sends one sound.
            best = int(single[np.argmax(inner[single].max(axis=1))])
            promised = max(float(inner[best].max()), together)
            if db - promised > STRONGER_DB:
                near, together = single, float(inner[best].max())
                over = db - together
            else:
                over = 0.0
                best = int(near[np.argmax(energy[near])])
        elif len(near) and together >= db - SHORT_DB:
            best, over = int(near[np.argmax(energy[near])]), 0.0
        else:
            some = float(energy[off <= TAPE_MS].sum())
            crowded = 10.0 * math.log10(max(some, 1e-12)) >= db - SHORT_DB
            found.append(MatchedArrival(at, db, None, (), math.nan, math.nan, strong, crowded=crowded))
            continue
        rest = [k for k in near[np.argsort(-energy[near], kind="stable")] if k != best]
        also = tuple(_words(evaluation, int(mine[k])) for k in rest if energy[k] >= _ALSO * energy[best])
        path = int(mine[best])
        panel = a.names[path][0] if order[best] == 1 and _is_panel(evaluation, a.names[path][0]) else ""
        found.append(
            MatchedArrival(
                at, db, _words(evaluation, path), also, float(delay[best]), together, strong,
                int(order[best]), over, panel,
            )
        )  # fmt: skip
    return found


def heard_alone(arrivals: EarlyArrivals) -> list[MatchedArrival]:
    """Arrivals of a recording that is compared with nothing.

    Parameters
    ----------
    arrivals : EarlyArrivals
        From the recording.

    Returns
    -------
    list of MatchedArrival
        Without a path.
    """
    pairs = zip(1000.0 * arrivals.delay_s, arrivals.level_db, strict=True)
    return [MatchedArrival(float(d), float(v), None, (), math.nan, math.nan, _strong(d, v)) for d, v in pairs]


def several_tolerance(at_ms: float, level_db: float, delay_ms: Array, order: Indices, energy: Array) -> float:
    """Tolerance for paths of several bounces at one arrival, by the chance of a random match.

    Parameters
    ----------
    at_ms, level_db : float
        The arrival.
    delay_ms : numpy.ndarray
        Of the predicted paths, shape (n,), ms.
    order : numpy.ndarray
        Their bounces, shape (n,).
    energy : numpy.ndarray
        Re direct, shape (n,).

    Returns
    -------
    float
        ms. With n paths that are strong enough within W = 5 ms round the arrival, one of them lies within t
        of a random delay with probability ``1 - exp(-2 n t / W)`` (Poisson); t is where that is 0.2, at
        most that of a single bounce, and 0 where it falls below 0.05 ms.
    """
    loud = 10.0 * np.log10(np.maximum(energy, 1e-12)) >= level_db - SHORT_DB
    window = min(at_ms, _AROUND_MS) + _AROUND_MS
    count = int(np.count_nonzero((order > 1) & loud & (np.abs(delay_ms - at_ms) <= _AROUND_MS)))
    if count == 0:
        return TAPE_MS
    tolerance = min(TAPE_MS, -math.log(1.0 - CHANCE) * window / (2.0 * count))
    return tolerance if tolerance >= _LEAST_MS else 0.0


def pair_fits(evaluation: Evaluation, sound: EarlySound) -> tuple[PairFit, ...]:
    """Look for the strong single bounces of every loudspeaker and seat in a recording.

    Parameters
    ----------
    evaluation : Evaluation
        Of any number of loudspeakers and seats, three bounces.
    sound : EarlySound
        From the recording.

    Returns
    -------
    tuple of PairFit
        In the order of loudspeakers, then seats.
    """
    scene, a = evaluation.scene, evaluation.arrivals
    arrivals = early_arrivals(sound)
    at, db = 1000.0 * arrivals.delay_s, arrivals.level_db
    level = 10.0 * np.log10(
        np.maximum(np.mean(10.0 ** (a.level_db[:, CRITERION_BANDS] / 10.0), axis=1), 1e-12)
    )
    fits = []
    for s, speaker in enumerate(scene.loudspeakers):
        for r, seat in enumerate(scene.seats):
            mine = np.flatnonzero((a.source == s) & (a.seat == r) & (a.order > 0))
            promised = expected_sound(a.delay_ms[mine] / 1000.0, level[mine])
            expected = early_arrivals(promised, within_s=WITHIN_MS / 1000.0, above_db=STRONG_DB)
            hits, missing = 0, []
            for wanted, strength in zip(1000.0 * expected.delay_s, expected.level_db, strict=True):
                names = _single_bounces(evaluation, mine, level, float(wanted))
                if not names:
                    continue
                loud = at[db >= strength - SHORT_DB]
                if len(loud) and np.abs(loud - wanted).min() <= TAPE_MS:
                    hits += 1
                else:
                    missing.append(" with ".join(names))
            count = hits + len(missing)
            like = likeness(sound, promised)
            fits.append(PairFit(speaker.name, seat.name, hits, count, tuple(missing), like))
    return tuple(fits)


def _single_bounces(evaluation: Evaluation, mine: Indices, level: Array, at_ms: float) -> list[str]:
    """Single bounces that make an arrival: together half of its energy or more, the strongest first."""
    a = evaluation.arrivals
    near = mine[np.abs(a.delay_ms[mine] - at_ms) <= 1000.0 * APART_S / 2.0]
    energy = 10.0 ** (level[near] / 10.0)
    alone = a.order[near] == 1
    if energy[alone].sum() < 0.5 * energy.sum():
        return []
    order = np.argsort(-energy[alone], kind="stable")
    return [_words(evaluation, int(k)) for k in near[alone][order]]


def best_fits(fits: tuple[PairFit, ...]) -> tuple[PairFit, ...]:
    """Pairs that a recording fits best.

    Parameters
    ----------
    fits : tuple of PairFit
        All pairs.

    Returns
    -------
    tuple of PairFit
        The one whose early sound is most alike and those that are as good (a room that is alike on both
        sides has two), the best first; empty when nothing is alike.
    """
    best = max((f.alike for f in fits), default=0.0)
    near = [f for f in fits if f.alike >= max(_LIKE, best - _AS_WELL)]
    return tuple(sorted(near, key=lambda f: -f.alike))


def _strong(delay_ms: float, level_db: float) -> bool:
    return bool(delay_ms <= CRITERION_MS and level_db >= CRITERION_DB)


def _is_panel(evaluation: Evaluation, name: str) -> bool:
    return any(p.id == name for p in evaluation.placements)


def _words(evaluation: Evaluation, path: int) -> str:
    """``left``, ``left with P2``, ``left then P3``."""
    a = evaluation.arrivals
    names = a.names[path]
    if len(names) == 1 and _is_panel(evaluation, names[0]):
        wall = evaluation.scene.surfaces[int(a.surfaces[path][0])].name
        return names[0] if wall == names[0] else f"{wall} with {names[0]}"
    return " then ".join(names)
