"""Scene -> Plan: choose, evaluate before and after with one function, list, warn."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from treatment.bands import frozen
from treatment.errors import PlanError
from treatment.materials.stock import Stock
from treatment.planning.bill import make_bill
from treatment.planning.cautions import cautions_for
from treatment.planning.evaluate import evaluate
from treatment.planning.extent import treatment_extents
from treatment.planning.legal import review_placements
from treatment.planning.lists import Step
from treatment.planning.optimise import Selection, choose
from treatment.planning.pairing import same_paths
from treatment.planning.plan import Evaluation, Placement, Plan
from treatment.planning.prices import Prices
from treatment.planning.problem import Problem, state_problem
from treatment.planning.programme import Bound
from treatment.planning.reasons import blocked_reflections, placements_of
from treatment.planning.sensitivity import seat_shifts
from treatment.planning.targets import CRITERION_BANDS, outside
from treatment.planning.trace import PRECISION, trace_scene, with_rays
from treatment.scene.model import Scene


@dataclass(frozen=True)
class Options:
    """What a plan is made with, beside the room.

    Parameters
    ----------
    rays : int
        Rays that check the reverberation before and after; none by default.
    stock : Stock or None
        What the timber merchant sells; by default what is usual in the scene's units.
    prices : Prices or None
        Prices of one's own for the shopping list.
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
    say("tracing reflections and listing legal sites")
    refused = [f for f in review_placements(scene, keep) if f.severity == "error"]
    if refused:
        raise PlanError(refused[0].message, where=refused[0].where, hint=refused[0].hint)
    problem = state_problem(scene, keep, earlier)
    say(f"choosing among {len(problem.sites)} sites and {len(problem.builds)} builds")
    selection = choose(problem)
    placements = (*keep, *placements_of(problem, selection.choices))
    say("evaluating before and after")
    return assemble(
        scene,
        placements,
        bound=selection.bound,
        progress=_progress(problem, selection, keep),
        options=options,
        say=say,
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
    bound: Bound | None = None,
    progress: tuple[Step, ...] = (),
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
    bound : Bound, optional
        How far the choice is from the best possible one.
    progress : tuple of Step
        What each panel bought, in the order of choice.
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
    bill = make_bill(placements, scene, stock=options.stock, prices=options.prices)
    return Plan(
        scene,
        placements,
        before,
        after,
        bill.shopping,
        bill.cuts,
        cautions_for(scene, placements),
        blocked_reflections(scene, after, offers=True),
        (*_steps(placements, before, after), *_bound_words(bound)),
        stock=bill.stock,
        bill_notes=bill.notes,
        progress=progress,
        extents=treatment_extents(scene),
        shifts=seat_shifts(scene, placements),
    )


def _half(progress: Callable[[float], None] | None, which: int) -> Callable[[float], None] | None:
    """Progress of the first or the second of two equal parts."""
    return None if progress is None else lambda share: progress(0.5 * (which + share))


def _bound_words(bound: Bound | None) -> tuple[str, ...]:
    """How good the choice is, and what that proves."""
    if bound is None:
        return ()
    return (
        f"Choice against early arrivals: within {100.0 * bound.gap:.1f} % of a proven bound. For the "
        "same money no other choice of the two builds with most gain per money, on sites that alone gain "
        "a twentieth of the best or more, gains more than the bound on the linearised objective: each "
        "panel counts by what it does alone, and no arrival gives more than its excess.",
    )


def _steps(placements: tuple[Placement, ...], before: Evaluation, after: Evaluation) -> tuple[str, ...]:
    """What the choice did, in words."""
    was = np.array([v == "treat" for v in before.arrivals.verdict], dtype=bool)
    left = sum(v == "treat" for v in after.arrivals.verdict)
    again = same_paths(before.arrivals, after.arrivals)
    both = np.flatnonzero(was & (again >= 0))
    change = before.arrivals.level_db[both] - after.arrivals.level_db[again[both]]
    weaker = float(change[:, CRITERION_BANDS].mean()) if len(both) else 0.0
    gone = int((was & (again < 0)).sum())
    stopped = f" {gone} of them are stopped by panels that stand in the room." if gone else ""
    words = [
        f"{len(placements)} panels; of {int(was.sum())} early arrivals of first and second order above the "
        f"criterion at the seats' centres {left} stay above it in at least one octave; on average they "
        f"become {weaker:.1f} dB weaker from 1 to 8 kHz.{stopped}"
    ]
    middle = slice(2, 7)
    for name, times in (("Eyring", after.eyring), ("Sabine", after.sabine)):
        off = outside(times, after.target)[middle]
        if np.all(off == 0.0):
            words.append(f"By {name}'s formula the reverberation is inside the range from 250 Hz to 4 kHz.")
        elif off.min() < 0.0 and off.max() <= 0.0:
            words.append(f"By {name}'s formula the room is too dead in {int((off < 0).sum())} of five bands.")
        else:
            words.append(
                f"By {name}'s formula {int((off > 0).sum())} of the five bands from 250 Hz to 4 kHz stay "
                "above "
                f"the range, by up to {off.max():.2f} s: more budget buys more absorption."
            )
    return tuple(words)
