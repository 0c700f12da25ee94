"""Standing panels as placements with reasons, worked out by evaluations; what each bought; what is said."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from treatment import bands
from treatment.bands import frozen
from treatment.planning.early import early_field
from treatment.planning.evaluate import evaluate
from treatment.planning.lists import Step
from treatment.planning.objective import Score
from treatment.planning.pairing import same_paths
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.problem import Problem
from treatment.planning.standing import furnished
from treatment.planning.standing_places import Place
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.model import Scene


def standing_placements(
    problem: Problem, hung: Sequence[Placement], places: Sequence[Place]
) -> tuple[Placement, ...]:
    """Turn places into placements with their reasons.

    Parameters
    ----------
    problem : Problem
        The choice.
    hung : sequence of Placement
        All panels that hang, kept ones too.
    places : sequence of Place
        Where panels stand, in the order of choice.

    Returns
    -------
    tuple of Placement
        Numbered after the others, in the same order. Each reason is the difference of two evaluations, one
        without and one with this panel, those before it standing in both.
    """
    if not places:
        return ()
    numbers = ("".join(c for c in p.id if c.isdigit()) for p in hung)
    first = 1 + max((int(n) for n in numbers if n), default=0)
    made: list[Placement] = []
    before = evaluate(problem.room, hung)
    for n, place in enumerate(places):
        panel = place.placement(problem.builds, f"P{first + n}")
        after = evaluate(problem.room, (*hung, *made, panel))
        made.append(replace(panel, reasons=_reasons(problem.room, panel, before, after)))
        before = after
    return tuple(made)


def _reasons(scene: Scene, panel: Placement, before: Evaluation, after: Evaluation) -> tuple[str, ...]:
    words = [*_stopped(scene, before, after), _own(panel, after)]
    times = before.eyring - after.eyring
    audible = slice(bands.band_index(125), bands.band_index(4000) + 1)
    best = bands.band_index(125) + int(np.argmax(times[audible]))
    words.append(
        f"both its faces absorb: brings the {bands.band_label(bands.NOMINAL_HZ[best])} band from "
        f"{before.eyring[best]:.2f} s to {after.eyring[best]:.2f} s (Eyring)"
    )
    bends = 50.0 * round(2.0 * after.speed_of_sound / panel.build.outer_width / 50.0)
    words.append(f"below about {bends:.0f} Hz sound bends round it, which is not counted")
    return tuple(words)


def _stopped(scene: Scene, before: Evaluation, after: Evaluation) -> list[str]:
    """Reflections above the criterion in which it stands, the two strongest routes in full."""
    a, again = before.arrivals, same_paths(before.arrivals, after.arrivals)
    routes: dict[tuple[int, tuple[str, ...]], list[int]] = {}
    for i in np.flatnonzero(again < 0):
        if a.verdict[i] == "treat":
            routes.setdefault((int(a.source[i]), a.names[i]), []).append(int(i))
    if not routes:
        return ["stops no reflection above the criterion: it stands for the reverberation"]
    level = a.level_db[:, CRITERION_BANDS].mean(axis=1)
    ranked = sorted(routes.items(), key=lambda r: (-float(np.sum(10.0 ** (level[r[1]] / 10.0))), r[0]))
    words = []
    for (source, names), members in ranked[:2]:
        seats = ", ".join(scene.seats[int(a.seat[i])].name for i in members)
        words.append(
            f"stops what {scene.loudspeakers[source].name} sends by {' and '.join(names)} "
            f"({min(a.delay_ms[i] for i in members):.1f} ms late, {max(level[i] for i in members):.0f} dB re "
            f"direct) at {seats}"
        )
    more = sum(len(m) for _, m in ranked[2:])
    if more:
        words.append(f"stops {more} more early reflections above the criterion")
    return words


def _own(panel: Placement, after: Evaluation) -> str:
    """What it sends back itself."""
    a = after.arrivals
    mine = [i for i in range(len(a.order)) if panel.id in a.names[i]]
    loud = [i for i in mine if a.verdict[i] == "treat"]
    if not loud:
        return "of what it sends back itself nothing is above the criterion"
    strongest = max(float(a.level_db[i, CRITERION_BANDS].mean()) for i in loud)
    return (
        f"sends back {len(loud)} early reflections of its own above the criterion in some band, at "
        f"{strongest:.0f} dB re direct or less"
    )


def standing_steps(
    problem: Problem, hung: Sequence[Placement], standing: Sequence[Placement], last: Step
) -> tuple[Step, ...]:
    """What each standing panel bought: money, early excess left, reverberation time.

    Parameters
    ----------
    problem : Problem
        The choice.
    hung, standing : sequence of Placement
        All panels, kept ones among the first.
    last : Step
        With all that hangs.

    Returns
    -------
    tuple of Step
        One for each, in their order.
    """
    steps = []
    for n in range(1, len(standing) + 1):
        there = (*hung, *standing[:n])
        early = early_field(furnished(problem.room, there), there)
        cost = last.cost + sum(p.build.price for p in standing[:n])
        time = evaluate(problem.room, there).eyring
        steps.append(Step(last.panels + n, cost, early.total(early.bare), frozen(time)))
    return tuple(steps)


def standing_words(before: Score, after: Score, count: int, gone: int) -> tuple[str, ...]:
    """What the standing panels changed by the one objective.

    Parameters
    ----------
    before, after : Score
        Of the hung panels alone, as they were chosen, and of all, worked out in the same way.
    count : int
        Standing panels that were chosen.
    gone : int
        Hung panels that gave way to them.

    Returns
    -------
    tuple of str
        One sentence.
    """
    if not count:
        return (
            "Standing panels: no place was found where one brings more than it costs, by the same objective "
            "in the room with it.",
        )
    way = f", in exchange for {gone} hung panels that were worth least for their money" if gone else ""
    return (
        f"Standing panels: {count} chosen{way}; the objective goes from {before.total:.3f} to "
        f"{after.total:.3f}, worked out anew in the room with them.",
    )
