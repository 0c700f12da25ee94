"""Scene -> Plan: choose, evaluate before and after with one function, list, warn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from treatment.bands import frozen
from treatment.errors import PlanError
from treatment.materials.prices import Prices
from treatment.materials.stock import Stock, stock_for
from treatment.planning.bill import make_bill, priced_builds
from treatment.planning.cautions import cautions_for
from treatment.planning.changes import changes_of
from treatment.planning.early import EarlyField
from treatment.planning.evaluate import evaluate
from treatment.planning.extent import treatment_extents
from treatment.planning.first_steps import first_steps
from treatment.planning.legal import review_placements
from treatment.planning.lists import Step
from treatment.planning.optimise import Selection
from treatment.planning.plan import Placement, Plan
from treatment.planning.problem import Problem, state_problem
from treatment.planning.reasons import blocked_reflections
from treatment.planning.reflectors import cloud_words
from treatment.planning.sensitivity import seat_shifts
from treatment.planning.standing_words import standing_steps
from treatment.planning.statements import bound_words, outcome_words, score_words, tidy_words, weight_words
from treatment.planning.tidy import tidied
from treatment.planning.trace import PRECISION, trace_scene, with_rays
from treatment.planning.whole_choice import choose_all, selected
from treatment.scene.model import Scene


@dataclass(frozen=True)
class Options:
    """What a plan is made with, beside the room.

    Parameters
    ----------
    rays : int
        Rays that check the reverberation before and after; none by default.
    stock : Stock or None
        What the timber merchant sells; by default the scene's, or what is usual in its units.
    prices : Prices or None
        Prices of one's own; by default the scene's.
    precision : float
        Relative standard error of T30 at which rays stop.
    progress : callable, optional
        Told how much of the tracing is done, 0 to 1, first before and then after.
    """

    rays: int = 0
    stock: Stock | None = None
    prices: Prices | None = None
    precision: float = PRECISION
    progress: Callable[[float], None] | None = None


def make_plan(
    scene: Scene,
    say: Callable[[str], None] = lambda _: None,
    *,
    keep: tuple[Placement, ...] = (),
    earlier: tuple[Placement, ...] = (),
    options: Options = Options(),
) -> Plan:
    """Make a plan for a room.

    Parameters
    ----------
    scene : Scene
        The room, with at least one loudspeaker, one seat and one build.
    say : callable
        Told what is being done, a sentence at a time.
    keep : tuple of Placement
        Panels that hang already, or are locked; they stay, and their price is part of the cost.
    earlier : tuple of Placement
        The other panels of an earlier plan: their places are preferred, so that little changes.
    options : Options
        Rays, stock and prices.

    Returns
    -------
    Plan
        Kept panels, then new ones in the order of their benefit; cost within the budget.

    Raises
    ------
    PlanError
        When there is nothing to choose from, or a kept panel cannot stay where it is.
    """
    problem = state_plan(scene, say, keep=keep, earlier=earlier, options=options)
    say(f"choosing among {len(problem.sites)} sites and {len(problem.builds)} builds")
    return finish_plan(problem, choose_all(problem), say, options=options)


def state_plan(
    scene: Scene,
    say: Callable[[str], None] = lambda _: None,
    *,
    keep: tuple[Placement, ...] = (),
    earlier: tuple[Placement, ...] = (),
    options: Options = Options(),
) -> Problem:
    """State what is to be chosen.

    Parameters
    ----------
    scene, say, keep, earlier, options
        As for `make_plan`.

    Returns
    -------
    Problem
        At the prices of one's own, where there are any.

    Raises
    ------
    PlanError
        When there is nothing to choose from, or a kept panel cannot stay where it is.
    """
    if options.prices or scene.prices:
        scene = with_own_prices(scene, options)
        keep, earlier = _priced(scene, keep), _priced(scene, earlier)
    say("tracing reflections and listing legal sites")
    refused = [f for f in review_placements(scene, keep) if f.severity == "error"]
    if refused:
        raise PlanError(refused[0].message, where=refused[0].where, hint=refused[0].hint)
    return state_problem(scene, keep, earlier)


def finish_plan(
    problem: Problem,
    selection: Selection,
    say: Callable[[str], None] = lambda _: None,
    *,
    options: Options = Options(),
) -> Plan:
    """Make the plan of a choice.

    Parameters
    ----------
    problem : Problem
        What was to be chosen.
    selection : Selection
        What was chosen.
    say, options
        As for `make_plan`.

    Returns
    -------
    Plan
        Kept panels, then new ones in the order of their benefit, lined up.
    """
    problem, selection = tidied(problem, selection)
    placements = selected(problem, selection)
    standing = placements[len(placements) - len(selection.standing) :]
    progress = _progress(problem, selection, problem.hanging)
    hung = placements[: len(placements) - len(standing)]
    progress += standing_steps(problem, hung, standing, progress[-1])
    say("evaluating before and after")
    plan = assemble(
        problem.room,
        placements,
        said=(
            *selection.limits,
            *score_words(selection),
            *bound_words(selection),
            *tidy_words(problem, selection),
        ),
        progress=progress,
        field=None if problem.hanging else problem.early,
        options=options,
        say=say,
    )
    return replace(plan, changes=changes_of(placements, problem.hanging, problem.earlier))


def with_own_prices(scene: Scene, options: Options = Options()) -> Scene:
    """Put the prices of one's own into the builds of a scene.

    Parameters
    ----------
    scene : Scene
        Any scene.
    options : Options
        Their prices and stock go before those of the scene.

    Returns
    -------
    Scene
        The same one when there are no prices.
    """
    prices = options.prices or scene.prices
    if prices is None:
        return scene
    stock = options.stock or scene.stock or stock_for(scene.units)
    return replace(scene, builds=priced_builds(scene.builds, prices, stock))


def _priced(scene: Scene, panels: tuple[Placement, ...]) -> tuple[Placement, ...]:
    """Panels of an earlier plan at the prices of now."""
    builds = {b.id: b for b in scene.builds}
    return tuple(
        replace(p, build=replace(p.build, price=builds[p.build.id].price)) if p.build.id in builds else p
        for p in panels
    )


def _progress(problem: Problem, selection: Selection, keep: tuple[Placement, ...]) -> tuple[Step, ...]:
    """What each panel bought: money, early excess left, reverberation time."""
    cost = sum(p.build.price for p in keep)
    left = problem.early.total(problem.early.bare)
    steps = [Step(len(keep), cost, left, frozen(problem.times(problem.absorption_area)))]
    for n, choice in enumerate(selection.choices):
        cost += problem.builds[choice.build].price
        left -= choice.gain if choice.purpose == "early" else 0.0
        steps.append(Step(len(keep) + n + 1, cost, max(left, 0.0), frozen(choice.after)))
    return tuple(steps)


def assemble(
    scene: Scene,
    placements: tuple[Placement, ...],
    *,
    said: tuple[str, ...] = (),
    progress: tuple[Step, ...] = (),
    field: EarlyField | None = None,
    options: Options = Options(),
    say: Callable[[str], None] = lambda _: None,
) -> Plan:
    """Make a plan of given placements.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : tuple of Placement
        The panels, chosen or typed in by hand.
    said : tuple of str
        Sentences on the choice: what held it back, what it is worth, how far it is from a bound.
    progress : tuple of Step
        What each panel bought, in the order of choice.
    field : EarlyField, optional
        Early arrivals of the bare room, where they are known already.
    options : Options
        Rays, stock and prices.
    say : callable
        Told what is being done.

    Returns
    -------
    Plan
        Before and after by the same function, lists, cautions.
    """
    before, after = evaluate(scene), evaluate(scene, placements)
    if options.rays:
        say(f"tracing up to {options.rays} rays, before and after")
        first, second = (_half(options.progress, k) for k in (0, 1))
        before = with_rays(
            before, trace_scene(scene, (), options.rays, precision=options.precision, progress=first)
        )
        after = with_rays(
            after, trace_scene(scene, placements, options.rays, precision=options.precision, progress=second)
        )
    bill = make_bill(
        placements, scene, stock=options.stock or scene.stock, prices=options.prices or scene.prices
    )
    return Plan(
        scene,
        placements,
        before,
        after,
        bill.shopping,
        bill.cuts,
        cautions_for(scene, placements),
        blocked_reflections(scene, after, offers=True),
        (
            *outcome_words(placements, before, after),
            *cloud_words(scene, placements),
            *weight_words(scene),
            *said,
        ),
        stock=bill.stock,
        bill_notes=bill.notes,
        progress=progress,
        extents=treatment_extents(scene, field=field),
        shifts=seat_shifts(scene, placements),
        advice=first_steps(before, after, options.prices),
    )


def _half(progress: Callable[[float], None] | None, which: int) -> Callable[[float], None] | None:
    """Progress of the first or the second of two equal parts."""
    return None if progress is None else lambda share: progress(0.5 * (which + share))
