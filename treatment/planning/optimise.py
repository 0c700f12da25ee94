"""Chooses placements under the budget: early arrivals first, then reverberation.

The early stage is done twice: greedily, with the full model, and as an integer programme on a linearised
objective for the same money. Whichever the full model likes better is kept, and its distance from the proven
bound of the linearised objective is reported. Then panels are added for the reverberation.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.planning.greedy import (
    KNOWN_BONUS,
    SIDE_WORTH,
    Choice,
    State,
    early_gains,
    early_stage,
    even_builds,
    group_gains,
    reverberation_stage,
    start_state,
    take,
)
from treatment.planning.problem import Problem
from treatment.planning.programme import Bound, Programme, solve, state_programme
from treatment.planning.targets import CRITERION_BANDS


@dataclass(frozen=True, eq=False)
class Selection:
    """What was chosen, and how good it is.

    Parameters
    ----------
    choices : tuple of Choice
        In the order of their benefit.
    bound : Bound or None
        Of the early panels; None when there are none.
    """

    choices: tuple[Choice, ...]
    bound: Bound | None


def choose(problem: Problem) -> Selection:
    """Choose panels; the cost stays within the scene's budget.

    Parameters
    ----------
    problem : Problem
        From `state_problem`.

    Returns
    -------
    Selection
        Nothing is random: the same scene gives the same selection.
    """
    if len(problem.sites) == 0:
        return Selection((), None)
    state = start_state(problem)
    money = state.left
    early_stage(problem, state)
    bound = None
    if state.chosen:
        state, bound = _improved(problem, state, money - state.left)
    reverberation_stage(problem, state)
    return Selection(tuple(state.chosen), bound)


def _improved(problem: Problem, greedy: State, spent: float) -> tuple[State, Bound]:
    """Better one of the greedy choice and the programme's, with its distance from the bound."""
    tried = np.flatnonzero(even_builds(problem) & problem.allowed.any(axis=0))
    absorption = np.array([problem.builds[k].material.capped[CRITERION_BANDS] for k in tried])
    everything = np.arange(len(problem.cover.group_site))
    gains = group_gains(problem, problem.early.bare, everything, np.sqrt(1.0 - absorption))
    taken = [(c.site, c.build) for c in greedy.chosen]
    programme = state_programme(problem, gains, tried.tolist(), taken)
    chosen, bound = solve(problem, programme, spent, _side_gains(problem, programme))
    by_greed = np.array([(int(s), int(b)) in set(taken) for s, b in _columns(programme)])
    if chosen.any():
        other = _taken(problem, programme, chosen)
        if _worth(problem, other) > _worth(problem, greedy):
            return other, Bound(programme.value(chosen), bound)
    return greedy, Bound(programme.value(by_greed), bound)


def _columns(programme: Programme) -> zip[tuple[int, int]]:
    return zip(programme.site.tolist(), programme.build.tolist(), strict=True)


def _side_gains(problem: Problem, programme: Programme) -> Array:
    """What each column does for the reverberation, and for staying as an earlier plan was, in dB."""
    start = problem.early.total(problem.early.bare)
    now = float(problem.misfit(problem.absorption_area))
    added = problem.added_area[programme.site, programme.build]
    side = now - problem.misfit(problem.absorption_area + added)
    alone = np.asarray(programme.gain.sum(axis=0)).ravel()
    known = np.where(problem.known[programme.site], KNOWN_BONUS - 1.0, 0.0)
    return np.asarray(np.maximum(SIDE_WORTH * start * side / max(now, 1e-9), 0.0) + known * alone)


def _worth(problem: Problem, state: State) -> float:
    """Full objective of the early stage: relative excess and misfit taken away."""
    start = problem.early.total(problem.early.bare)
    misfit = float(problem.misfit(problem.absorption_area))
    early = 1.0 - problem.early.total(state.factor) / start
    return early + SIDE_WORTH * (1.0 - float(problem.misfit(state.absorption_area)) / max(misfit, 1e-9))


def _taken(problem: Problem, programme: Programme, chosen: NDArray[np.bool_]) -> State:
    """Hang the chosen columns, each time the one that then gains most per money."""
    state = start_state(problem)
    left = np.flatnonzero(chosen)
    while len(left):
        builds = np.zeros(len(problem.builds), dtype=bool)
        builds[programme.build[left]] = True
        gains = early_gains(problem, state.factor, programme.site[left], builds)
        own = gains[np.arange(len(left)), programme.build[left]]
        best = int(np.argmax(own / programme.price[left]))
        n = left[best]
        take(problem, state, int(programme.site[n]), int(programme.build[n]), "early", float(own[best]))
        left = np.delete(left, best)
    return state
