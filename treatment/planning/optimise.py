"""Chooses placements within the limits: early arrivals first, then reverberation.

The early stage is done greedily, with the full model, and as an integer programme on a linearised objective
for the same money. Whichever the objective likes better is improved by exchanges, and its distance from the
proven bound of the linearised objective is reported. Then panels are added for the reverberation.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.planning.gains import dull_builds, early_gains, even_builds, group_gains
from treatment.planning.greedy import KNOWN_BONUS, early_stage, next_wish, reverberation_stage
from treatment.planning.means import costs, limit_words
from treatment.planning.objective import SIDE_WORTH, Score, score
from treatment.planning.problem import Problem
from treatment.planning.programme import Bound, Programme, solve, state_programme, tighter_bound
from treatment.planning.standing_places import Place
from treatment.planning.state import Choice, State, start_state, take
from treatment.planning.swaps import Pairs, exchange
from treatment.planning.targets import CRITERION_BANDS

#: From this gap on the bound is worked out better; that takes as long as the programme itself.
_TIGHTEN = 0.025


@dataclass(frozen=True, eq=False)
class Selection:
    """What was chosen, and how good it is.

    Parameters
    ----------
    choices : tuple of Choice
        In the order of their benefit.
    bound : Bound or None
        Of the early panels; None when there are none.
    score : Score or None
        What the choice is worth; None when nothing could be chosen.
    limits : tuple of str
        Which limit held the choice back, in words.
    standing : tuple of Place
        Where panels stand, in the order of choice.
    gave_way : int
        Hung panels that were chosen at first and left out again for standing ones.
    aligned : int
        Panels that were moved a little to be in line with others: see `tidy`.
    as_chosen : tuple of (site, build)
        Where all hung before that; empty where none was moved.
    """

    choices: tuple[Choice, ...]
    bound: Bound | None
    score: Score | None = None
    limits: tuple[str, ...] = ()
    standing: tuple[Place, ...] = ()
    gave_way: int = 0
    aligned: int = 0
    as_chosen: tuple[tuple[int, int], ...] = ()


def choose(problem: Problem) -> Selection:
    """Choose panels; the cost stays within the scene's budget and limits.

    Parameters
    ----------
    problem : Problem
        From `state_problem`.

    Returns
    -------
    Selection
        Nothing is random: the same scene gives the same selection.
    """
    found = _choose(problem)
    dull = dull_builds(problem)
    if not dull.any() or dull.all() or not found.choices:
        return found
    # No step looks ahead: a dull panel that is the best next one may keep a better whole away.
    other = _choose(replace(problem, allowed=problem.allowed & ~dull))
    better = other.score is not None and (found.score is None or other.score.total > found.score.total)
    return other if better else found


def _choose(problem: Problem) -> Selection:
    if len(problem.sites) == 0:
        return Selection((), None)
    whole = start_state(problem).left
    state, cost = start_state(problem), costs(problem.builds, whole)[0]
    # Where only few panels may hang, the best panel counts, not the cheapest: each way is tried.
    for other in costs(problem.builds, whole):
        tried = start_state(problem)
        early_stage(problem, tried, other)
        if not state.chosen or score(problem, tried.pairs).total > score(problem, state.pairs).total:
            state, cost = tried, other
    bound = None
    early = bool(state.chosen)
    if early:
        state, bound = _improved(problem, state, cost)
    else:
        reverberation_stage(problem, state)
    wished = next_wish(problem, state, early)
    build = None if wished is None else problem.builds[wished]
    words = limit_words(problem.scene, problem.scene.builds, state.left, build)
    return Selection(tuple(state.chosen), bound, score(problem, state.pairs), words)


def _improved(problem: Problem, greedy: State, cost: Array) -> tuple[State, Bound]:
    """Best of the greedy choice, the programme's and exchanges, with its distance from the bound.

    Panels for the reverberation are there already: what a choice is worth shows when it is whole.
    """
    tried = np.flatnonzero(even_builds(problem) & problem.allowed.any(axis=0))
    absorption = np.array([problem.builds[k].material.capped[CRITERION_BANDS] for k in tried])
    everything = np.arange(len(problem.cover.group_site))
    gains = group_gains(problem, problem.early.bare, everything, np.sqrt(1.0 - absorption))
    programme = state_programme(problem, gains, tried.tolist(), greedy.pairs, cost)
    left = start_state(problem).left
    spent = sum(problem.builds[b].price for _, b in greedy.pairs)
    left = np.concatenate([[spent], left[1:]])
    found, bound = solve(problem, programme, left, _side_gains(problem, programme))
    columns = list(zip(programme.site.tolist(), programme.build.tolist(), strict=True))
    chosen = _better(problem, greedy.pairs, _picked(columns, found))
    chosen = exchange(problem, chosen, columns)
    state = _whole(problem, chosen, cost)
    value = programme.value(_flags(columns, chosen))
    if Bound(value, bound).gap > _TIGHTEN:
        found, closer = tighter_bound(problem, programme, left)
        bound = min(bound, closer)
        # Made without regard to twins, it is another start, and now and then a better one.
        other = exchange(problem, _picked(columns, found), columns)
        second = _whole(problem, other, cost)
        if score(problem, second.pairs).total > score(problem, state.pairs).total:
            state, value = second, programme.value(_flags(columns, other))
    return state, Bound(value, bound)


def _whole(problem: Problem, chosen: Pairs, cost: Array) -> State:
    """Hang the panels of an early choice, and then those for the reverberation."""
    state = _hung(problem, chosen, cost)
    reverberation_stage(problem, state)
    return state


def _picked(columns: Pairs, flags: NDArray[np.bool_]) -> Pairs:
    return [c for c, taken in zip(columns, flags, strict=True) if taken]


def _flags(columns: Pairs, chosen: Pairs) -> NDArray[np.bool_]:
    taken = set(chosen)
    return np.array([c in taken for c in columns], dtype=bool)


def _better(problem: Problem, one: Pairs, other: Pairs) -> Pairs:
    """Better one of two choices by the objective; the first of equals."""
    return other if other and score(problem, other).total > score(problem, one).total else one


def _side_gains(problem: Problem, programme: Programme) -> Array:
    """What each column does for the reverberation, and for staying as an earlier plan was, in dB."""
    start = problem.early.total(problem.early.bare)
    now = float(problem.misfit(problem.absorption_area))
    added = problem.added_area[programme.site, programme.build]
    side = now - problem.misfit(problem.absorption_area + added)
    alone = np.asarray(programme.gain.sum(axis=0)).ravel()
    known = np.where(problem.known[programme.site], KNOWN_BONUS - 1.0, 0.0)
    return np.asarray(np.maximum(SIDE_WORTH * start * side / max(now, 1e-9), 0.0) + known * alone)


def _hung(problem: Problem, chosen: Pairs, cost: Array) -> State:
    """Hang the chosen panels, each time the one that then gains most per cost."""
    state = start_state(problem)
    left = sorted(chosen)
    while left:
        sites = np.array([s for s, _ in left], dtype=np.intp)
        builds = np.array([b for _, b in left], dtype=np.intp)
        places, row = np.unique(sites, return_inverse=True)
        gains = early_gains(problem, state.factor, places, _only(problem, builds))[row, builds]
        best = int(np.argmax(gains / cost[builds]))
        take(problem, state, *left.pop(best), "early", float(gains[best]))
    return state


def _only(problem: Problem, builds: NDArray[np.intp]) -> NDArray[np.bool_]:
    tried = np.zeros(len(problem.builds), dtype=bool)
    tried[builds] = True
    return tried
