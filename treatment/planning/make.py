"""Scene -> Plan: choose, evaluate before and after with one function, list, warn."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from treatment.errors import PlanError
from treatment.planning.bill import cut_list, shopping_list
from treatment.planning.cautions import cautions_for
from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.planning.optimise import choose
from treatment.planning.plan import Evaluation, Placement, Plan
from treatment.planning.problem import state_problem
from treatment.planning.programme import Bound
from treatment.planning.reasons import blocked_reflections, placements_of
from treatment.planning.targets import outside
from treatment.scene.model import Scene


def make_plan(
    scene: Scene,
    say: Callable[[str], None] = lambda _: None,
    *,
    keep: tuple[Placement, ...] = (),
    earlier: tuple[Placement, ...] = (),
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
    return assemble(scene, placements, selection.bound)


def assemble(scene: Scene, placements: tuple[Placement, ...], bound: Bound | None = None) -> Plan:
    """Make a plan of given placements.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : tuple of Placement
        The panels, chosen or typed in by hand.
    bound : Bound, optional
        How far the choice is from the best possible one.

    Returns
    -------
    Plan
        Before and after by the same function, lists, cautions.
    """
    before, after = evaluate(scene), evaluate(scene, placements)
    return Plan(
        scene,
        placements,
        before,
        after,
        shopping_list(placements),
        cut_list(placements),
        cautions_for(scene, placements),
        blocked_reflections(scene, after),
        (*_steps(placements, before, after), *_bound_words(bound)),
    )


def _bound_words(bound: Bound | None) -> tuple[str, ...]:
    """How good the choice is, and what that proves."""
    if bound is None:
        return ()
    return (
        f"Choice against early arrivals: within {100.0 * bound.gap:.1f} % of a proven bound. No other choice "
        "from the same legal sites for the same money gains more than the bound on the linearised "
        "objective, in which each panel counts by what it does alone and no arrival gives more than its excess.",
    )


def _steps(placements: tuple[Placement, ...], before: Evaluation, after: Evaluation) -> tuple[str, ...]:
    """What the choice did, in words."""
    early = (
        sum(v == "treat" for v in before.arrivals.verdict),
        sum(v == "treat" for v in after.arrivals.verdict),
    )
    words = [
        f"{len(placements)} panels; early arrivals above the criterion at the seats' centres fall from "
        f"{early[0]} to {early[1]}."
    ]
    sabine, eyring = after.reverberation["sabine"], after.reverberation["eyring"]
    assert sabine is not None  # both formulas always apply
    assert eyring is not None
    middle = slice(2, 7)
    for name, times in (("Eyring", eyring), ("Sabine", sabine)):
        off = outside(times, after.target)[middle]
        if np.all(off == 0.0):
            words.append(f"By {name}'s formula the reverberation is inside the range from 250 Hz to 4 kHz.")
        elif off.min() < 0.0 and off.max() <= 0.0:
            words.append(f"By {name}'s formula the room is too dead in {int((off < 0).sum())} of five bands.")
        else:
            words.append(
                f"By {name}'s formula {int((off > 0).sum())} of the five bands from 250 Hz to 4 "
                "kHz stay above "
                f"the range, by up to {off.max():.2f} s: more budget buys more absorption."
            )
    return tuple(words)
