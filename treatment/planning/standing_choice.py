"""Chooses panels that stand on the floor, after the panels that hang, by the same objective.

Places are put in order by their rank, and a trial is made only where the rank is more than what the best
trial so far has gained. Each step takes what gains most per money, with the money that is left or in exchange
for the hung panels that are worth least for theirs. Nothing is random.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from treatment.planning.greedy import EARLY_STOP
from treatment.planning.means import means, needs
from treatment.planning.objective import Score
from treatment.planning.problem import Problem
from treatment.planning.standing_places import Place, find_places, mirrored
from treatment.planning.standing_trial import Trial, Unit
from treatment.planning.standing_trials import Trials
from treatment.planning.swaps import Pairs

#: A step must gain this much of the whole; an exchange of hung panels for it, too.
LEAST: Final = 0.005
#: One that is worth little beside the best may still stand, with money that is left, for the reverberation:
#: when it takes this share of the misfit that is left.
REVERBERATION_SHARE: Final = 0.1
#: No more standing panels than this: beyond it a person would build a different room.
MOST_STANDING: Final = 8
#: Places that are asked, in one step, whether a panel may stand there.
_MOST_ASKED: Final = 200
#: What passes near edges may make a place better than its rank by this much.
_SLACK: Final = 0.01
#: Other places that each unit is tried at when all stand.
_OTHERS: Final = 2


@dataclass(frozen=True, eq=False)
class Standing:
    """Standing panels that were chosen, and what hangs beside them.

    Parameters
    ----------
    pairs : list of (site, build)
        Hung panels that stay.
    places : tuple of Place
        Where panels stand, in the order of choice.
    before, after : Score
        Of the hung panels alone, as they were chosen, and of all, worked out in the same way.
    wished : int or None
        Build that would stand next if nothing were limited; None when none would, or others hang.
    """

    pairs: Pairs
    places: tuple[Place, ...]
    before: Score
    after: Score
    wished: int | None = None


def may_stand(problem: Problem) -> list[int]:
    """Builds that may stand on the floor within the limits.

    Parameters
    ----------
    problem : Problem
        The choice.

    Returns
    -------
    list of int
        Their indices; none where the limits name surfaces and the floor is not among them.
    """
    limits, scene = problem.scene.limits, problem.room
    floors = {s.name for s in scene.surfaces if s.ground}
    if limits.surfaces is not None and not floors & set(limits.surfaces):
        return []
    return [k for k, b in enumerate(problem.builds) if "free-standing" in b.on]


def choose_standing(
    problem: Problem, pairs: Pairs, best_rate: float = 0.0, places: Sequence[Place] | None = None
) -> Standing | None:
    """Choose standing panels with the money that is left, or in exchange for hung ones.

    Parameters
    ----------
    problem : Problem
        The choice.
    pairs : list of (site, build)
        Hung panels, chosen.
    best_rate : float
        What the best of them gains of the whole per unit of money; a step that brings less than a tenth of
        that is left.
    places : sequence of Place, optional
        The only places to try; by default all that may be worth it.

    Returns
    -------
    Standing or None
        None when no build may stand on the floor or no money could ever reach for one.
    """
    whole, used = means(problem.scene, problem.hanging), needs(problem.builds)
    if not any(np.all(used[k] <= whole + 1e-9) for k in may_stand(problem)):
        return None
    trials = Trials.of(problem)
    now = first = trials.work_out(pairs, ())
    tried = _places(trials, first) if places is None else list(places)
    top = best_rate
    while len(now.places) < MOST_STANDING:
        step = _step(trials, now, tried)
        if step is None or not _worth(now, step[0], step[1], top):
            break
        now, top = step[0], max(top, step[1])
    now = _exchanged(trials, now, tried)
    wished = _wish(trials, now, tried, top) if not now.pairs else None
    return Standing(now.pairs, now.places, first.score, now.score, wished)


def _worth(now: Trial, then: Trial, rate: float, top: float) -> bool:
    """Whether a step is worth its money: beside the best one, or for the reverberation, as with hung ones."""
    if rate >= EARLY_STOP * top:
        return True
    left, rest = 1.0 - now.score.reverberation, 1.0 - then.score.reverberation
    return then.pairs == now.pairs and rest < (1.0 - REVERBERATION_SHARE) * left


def _places(trials: Trials, now: Trial) -> list[Place]:
    builds = [b if k in may_stand(trials.problem) else None for k, b in enumerate(trials.problem.builds)]
    found = find_places(trials.room, now.early.paths, trials.receivers, builds, trials.problem.earlier)
    return [p for p, free in zip(found, trials.free_ground(found), strict=True) if free]


def _units(trials: Trials, places: Sequence[Place]) -> list[Unit]:
    """Every place alone, and those that are each other's twin together."""
    by_key = {p.key: p for p in places}
    found: list[Unit] = [(p,) for p in places]
    for p in places:
        twin = by_key.get(mirrored(trials.room, p).key)
        if twin is not None and p.key < twin.key:
            found.append((p, twin))
    return found


def _ranked(
    trials: Trials, now: Trial, places: Sequence[Place], *, free: bool = False
) -> list[tuple[float, Unit, Pairs]]:
    """Units with what they may gain at most, and the hung panels that stay, the most per money first."""
    found: list[tuple[float, float, Unit, Pairs]] = []
    paid: dict[tuple[int, ...], tuple[Pairs, float] | None] = {}
    for unit in _units(trials, places):
        kinds = tuple(p.build for p in unit)
        if kinds not in paid:
            paid[kinds] = (now.pairs, 0.0) if free else trials.freed(now.pairs, now.places, unit)
        stay = paid[kinds]
        if stay is None:
            continue
        gain = trials.rank(now, unit) - now.score.total - stay[1] + _SLACK
        if gain > LEAST:
            found.append((gain / _price(trials, unit), gain, unit, stay[0]))
    found.sort(key=lambda f: (-f[0], [p.key for p in f[2]]))
    return [(gain, unit, rest) for _, gain, unit, rest in found]


def _price(trials: Trials, unit: Unit) -> float:
    return max(sum(trials.problem.builds[p.build].price for p in unit), 0.01)


def _stand(trials: Trials, pairs: Pairs, places: Sequence[Place], unit: Unit) -> bool:
    return all(trials.stands(pairs, (*places, *unit[:n]), p) for n, p in enumerate(unit))


def _step(
    trials: Trials, now: Trial, places: Sequence[Place], *, free: bool = False
) -> tuple[Trial, float] | None:
    """Best unit per money, and what it gains per money; None when none gains."""
    best: tuple[Trial, float] | None = None
    most, asked = max(3, trials.left // 2), 0
    for gain, unit, rest in _ranked(trials, now, places, free=free):
        price = _price(trials, unit)
        if asked >= _MOST_ASKED or most <= 0 or (best is not None and gain / price <= best[1]):
            break
        asked += 1
        if not _stand(trials, rest, now.places, unit):
            continue
        most -= 1
        trials.left -= 1
        trial = trials.work_out(rest, (*now.units, unit))
        gained = trial.score.total - now.score.total
        if gained > LEAST and (best is None or gained / price > best[1]):
            best = trial, gained / price
    return best


def _exchanged(trials: Trials, now: Trial, places: Sequence[Place]) -> Trial:
    """Try every unit at other places, all the others standing: the first was chosen without the rest."""
    for unit in now.units if len(now.units) > 1 else ():
        if unit not in now.units or trials.left <= 0:
            break
        others = tuple(u for u in now.units if u is not unit)
        without = trials.work_out(now.pairs, others)
        trials.left -= 1
        tried = 0
        for _, other, rest in _ranked(trials, without, places):
            if tried >= _OTHERS or trials.left <= 0:
                break
            same = len(other) == len(unit) and other != unit and rest == now.pairs
            if not same or not _stand(trials, rest, without.places, other):
                continue
            tried += 1
            trials.left -= 1
            trial = trials.work_out(rest, (*others, other))
            if trial.score.total > now.score.total + 1e-4:
                now = trial
    return now


def _wish(trials: Trials, now: Trial, places: Sequence[Place], top: float) -> int | None:
    """Build that would stand next if nothing were limited."""
    if len(now.places) >= MOST_STANDING or trials.left <= 0:
        return None
    step = _step(trials, now, places, free=True)
    if step is None or not _worth(now, step[0], step[1], top):
        return None
    return step[0].units[-1][0].build
