"""Several budgets at once: what each buys, and at which one to stop.

The problem is stated once; only the choice differs. Each budget is worked on by a process of its own, with
the same code and input as a single run, so the results are the same, however many processes there are.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from typing import Final

import numpy as np

from treatment.bands import band_slice
from treatment.errors import PlanError
from treatment.planning.evaluate import evaluate
from treatment.planning.fate import fate_of
from treatment.planning.lists import BudgetStep
from treatment.planning.make import Options, finish_plan, state_plan
from treatment.planning.optimise import Selection
from treatment.planning.plan import Placement, Plan
from treatment.planning.problem import Problem
from treatment.planning.targets import outside
from treatment.planning.tidy import tidied
from treatment.planning.whole_choice import choose_all, selected
from treatment.planning.worth_curve import Point, turning, worth_curve
from treatment.scene.model import Budget, Scene

#: One stops where a panel gains less per money than this share of what the first ones gain.
STOP_SHARE: Final = 0.25
#: Where a change of `STOP_SHARE` by this part of it leads to another budget, that is said.
HAIR: Final = 0.1
#: More budgets than this are no choice any more.
MOST_BUDGETS: Final = 12
_PLAIN: Final = Options()
_MIDDLE: Final = band_slice(500, 1000)
_RANGE: Final = band_slice(250, 4000)


def plan_budgets(
    scene: Scene,
    amounts: Sequence[float],
    say: Callable[[str], None] = lambda _: None,
    *,
    keep: tuple[Placement, ...] = (),
    earlier: tuple[Placement, ...] = (),
    options: Options = _PLAIN,
    workers: int = 1,
) -> Plan:
    """Work out several budgets, and make the plan of the one to stop at.

    Parameters
    ----------
    scene : Scene
        The room; its own budget is set aside, its currency is kept.
    amounts : sequence of float
        Budgets, above zero, in any order.
    say : callable
        Told what is being done.
    keep, earlier, options
        As for `make_plan`.
    workers : int
        Processes; 1 works in this one. With more, a script needs the usual guard of its main module.

    Returns
    -------
    Plan
        Of the budget to stop at, the same as `make_plan` makes with that budget alone; `Plan.budgets` has
        a line for each budget.

    Raises
    ------
    PlanError
        When there is nothing to choose from, or the amounts are no budgets.
    """
    wanted = sorted(set(amounts))
    if not wanted or len(wanted) > MOST_BUDGETS or not all(0.0 < a < np.inf for a in wanted):
        raise PlanError(
            f"budgets are 1 to {MOST_BUDGETS} amounts above zero", where="budgets", hint="write 150,300,450"
        )
    currency = scene.budget.currency if scene.budget else ""
    # With a budget for a start: a problem without one would be another problem.
    start = replace(scene, budget=Budget(wanted[-1], currency))
    problem = state_plan(start, say, keep=keep, earlier=earlier, options=options)
    say(f"choosing for {len(wanted)} budgets among {len(problem.sites)} sites")
    work = partial(_one, problem)
    if workers > 1 and len(wanted) > 1:
        with ProcessPoolExecutor(min(workers, len(wanted)), get_context("spawn")) as pool:
            # The largest takes longest, so it comes first.
            found = list(pool.map(work, wanted[::-1]))[::-1]
    else:
        found = [work(a) for a in wanted]
    curve = worth_curve(problem, found[-1][0])
    steps = where_to_stop([step for _, step in found], curve)
    chosen = next(i for i, step in enumerate(steps) if step.stop)
    plan = finish_plan(_with_budget(problem, wanted[chosen]), found[chosen][0], say, options=options)
    return replace(plan, budgets=steps, turn=turning(curve, STOP_SHARE))


def _with_budget(problem: Problem, amount: float) -> Problem:
    budget = Budget(amount, problem.room.budget.currency if problem.room.budget else "")
    scene, room = (replace(s, budget=budget) for s in (problem.scene, problem.room))
    return replace(problem, scene=scene, room=room)


def _one(problem: Problem, amount: float) -> tuple[Selection, BudgetStep]:
    """Choice for one budget, and what it buys."""
    problem = _with_budget(problem, amount)
    selection = choose_all(problem)
    placements = selected(*tidied(problem, selection))
    before, after = evaluate(problem.room, problem.hanging), evaluate(problem.room, placements)
    off = outside(after.eyring, after.target)[_RANGE]
    fate = fate_of(before, after, 1)
    return selection, BudgetStep(
        budget=amount,
        cost=sum(p.build.price for p in placements),
        panels=len(placements),
        early_before=fate.before,
        early_after=fate.stay,
        early_new=fate.new,
        gone=selection.score.early if selection.score else 0.0,
        seconds_before=float(before.eyring[_MIDDLE].mean()),
        seconds=float(after.eyring[_MIDDLE].mean()),
        state="inside" if not off.any() else "too live" if off.max() > 0.0 else "too dead",
        missing=float(off.max() if off.max() > 0.0 else off.min()),
        worth=selection.score.total if selection.score else 0.0,
    )


def where_to_stop(steps: Sequence[BudgetStep], curve: Sequence[Point]) -> tuple[BudgetStep, ...]:
    """Mark the budget to stop at, by one curve for all of them.

    Parameters
    ----------
    steps : sequence of BudgetStep
        The smallest budget first.
    curve : sequence of (float, float)
        Of the largest budget, from `worth_curve`.

    Returns
    -------
    tuple of BudgetStep
        One of them is marked: the smallest that pays for the panels before the `turning` of the curve by
        `STOP_SHARE`. Marked as near are those that would be, were that share a tenth more or less.
    """
    last = len(steps) - 1

    def at(share: float) -> int:
        money = turning(curve, share)
        return next((i for i, s in enumerate(steps) if s.budget >= money - 1e-9), last)

    here = at(STOP_SHARE)
    near = {at(STOP_SHARE * (1.0 - HAIR)), at(STOP_SHARE * (1.0 + HAIR))} - {here}
    return tuple(replace(s, stop=i == here, near=i in near) for i, s in enumerate(steps))
