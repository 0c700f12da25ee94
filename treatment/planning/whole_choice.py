"""The whole choice: panels that hang, then panels that stand with the money that is left or in exchange."""

from __future__ import annotations

from dataclasses import replace

from treatment.planning.changes import renumbered
from treatment.planning.enough import with_panels
from treatment.planning.greedy import next_wish
from treatment.planning.means import limit_words, means, needs
from treatment.planning.optimise import Selection, choose
from treatment.planning.plan import Placement
from treatment.planning.problem import Problem
from treatment.planning.reasons import placements_of
from treatment.planning.standing_choice import Standing, choose_standing
from treatment.planning.standing_words import standing_placements, standing_words
from treatment.planning.state import Choice, State, start_state, take
from treatment.planning.swaps import Pairs


def choose_all(problem: Problem) -> Selection:
    """Choose panels of all kinds; the cost stays within the scene's budget and limits.

    Parameters
    ----------
    problem : Problem
        From `state_problem`.

    Returns
    -------
    Selection
        With the places of standing panels. Where none is worth it, the same as from `choose`, but that it
        says so.
    """
    hung = choose(problem)
    pairs = [(c.site, c.build) for c in hung.choices]
    start = problem.early.total(problem.early.bare)
    rates = [c.gain / start / problem.builds[c.build].price for c in hung.choices if c.purpose == "early"]
    found = choose_standing(problem, pairs, max(rates, default=0.0))
    if found is None:
        return hung
    gone = len(pairs) - len(found.pairs)
    said = standing_words(found.before, found.after, len(found.places), gone)
    if not found.places:
        return replace(hung, limits=(*_limits(problem, hung, found), *said))
    again = _again(problem, hung.choices, found.pairs) if gone else start_again(problem, hung.choices)
    return Selection(
        tuple(again.chosen),
        hung.bound,
        found.after,
        (*_limits(problem, replace(hung, choices=tuple(again.chosen)), found, again), *said),
        found.places,
        gone,
    )


def selected(problem: Problem, selection: Selection) -> tuple[Placement, ...]:
    """All panels of a choice, those that hang already first.

    Parameters
    ----------
    problem : Problem
        What was to be chosen.
    selection : Selection
        What was chosen.

    Returns
    -------
    tuple of Placement
        Kept ones, hung ones in the order of their benefit, standing ones; each new one with its reasons.
        What an earlier plan has too keeps its number.
    """
    hung = (*problem.hanging, *placements_of(problem, selection.choices))
    panels = (*hung, *standing_placements(problem, hung, selection.standing))
    return renumbered(panels, problem.hanging, problem.earlier)


def start_again(problem: Problem, choices: tuple[Choice, ...]) -> State:
    """State with all of some choices taken.

    Parameters
    ----------
    problem : Problem
        The choice.
    choices : tuple of Choice
        In their order.
    """
    return _again(problem, choices, [(c.site, c.build) for c in choices])


def _again(problem: Problem, choices: tuple[Choice, ...], stay: Pairs) -> State:
    """Take those choices again that stay; what each gains is worked out without the others."""
    state = start_state(problem)
    for c in choices:
        if (c.site, c.build) not in stay:
            continue
        early = problem.early.total(state.factor)
        off = float(problem.misfit(state.absorption_area))
        take(problem, state, c.site, c.build, c.purpose, c.gain)
        gain = early - problem.early.total(state.factor)
        if c.purpose != "early":
            gain = off - float(problem.misfit(state.absorption_area))
        state.chosen[-1] = replace(state.chosen[-1], gain=gain)
    return state


def _limits(
    problem: Problem, hung: Selection, found: Standing, state: State | None = None
) -> tuple[str, ...]:
    """Which limit held the plan back, the standing panels paid for."""
    if found.places or not hung.choices:
        left = means(problem.scene, problem.hanging)
        used = needs(problem.builds)
        for k in [c.build for c in hung.choices] + [p.build for p in found.places]:
            left = left - used[k]
        wished = found.wished
        if state is not None and hung.choices:
            panels = (
                *problem.hanging,
                *(p.placement(problem.builds, f"S{n}") for n, p in enumerate(found.places)),
            )
            more = with_panels(problem.room, panels)[0] - problem.absorption_area
            state.absorption_area = state.absorption_area + more
            wished = next_wish(problem, state, any(c.purpose == "early" for c in hung.choices))
        build = None if wished is None else problem.builds[wished]
        return limit_words(problem.scene, problem.scene.builds, left, build)
    return hung.limits
