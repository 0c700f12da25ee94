"""What becomes of strong reflections, in words: which stay, which are new, which get louder."""

from __future__ import annotations

from typing import Final

import numpy as np

from treatment.planning.fate import LOUDER_DB, fate_of
from treatment.planning.plan import Evaluation, Plan
from treatment.planning.targets import CRITERION_DB, CRITERION_MS
from treatment.present.wording import counted, listed, loudest

#: As many reflections that get louder are named.
_NAMED: Final = 2
_WHY: Final = (
    "A panel that covers only part of where a sound is mirrored may take away what cancelled the rest."
)
#: A verdict of the criterion on a room that has its panels.
_WITH_PANELS: Final = {"treat": "still strong"}


def fate_words(plan: Plan) -> tuple[str, ...]:
    """Tell what becomes of the single bounces that are early and strong.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of str
        Sentences: how many stay and how much weaker they are together; which are new or louder.
    """
    if not plan.scene.loudspeakers or not plan.scene.seats:
        return ()
    fate = fate_of(plan.before, plan.after, 1)
    limit = f"within {CRITERION_MS:g} ms, above {CRITERION_DB:g} dB re the direct sound"
    if fate.before == 0:
        first = f"No single bounce is early and strong enough to need a panel ({limit})."
    else:
        first = (
            f"Of {counted(fate.before, 'single bounce')} between loudspeakers and seats that "
            f"{'is' if fate.before == 1 else 'are'} early and strong ({limit}) "
            f"{'none stays' if fate.stay == 0 else f'{fate.stay} stay{_s(fate.stay)}'} so in at least one "
            f"octave; {_weaker(fate.weaker_db, fate.before)}."
        )
    new = ""
    if fate.new:
        new = f"{fate.new} more {'is' if fate.new == 1 else 'are'} strong only with the panels. "
    louder = _louder(plan, fate.louder)
    why = _WHY if new or louder else ""
    return tuple(x for x in (first, f"{new}{louder}{why}") if x)


def _s(number: int) -> str:
    return "s" if number == 1 else ""


def _weaker(change: float, number: int) -> str:
    if np.isinf(change):
        return "no energy of them arrives any more"
    they = "it carries" if number == 1 else "together they carry"
    if abs(change) < 0.05:
        return f"{they} as much energy as before from 1 to 8 kHz"
    more = "less" if change > 0.0 else "more"
    return f"{they} {abs(change):.1f} dB {more} energy from 1 to 8 kHz"


def _louder(plan: Plan, louder: tuple[tuple[int, int], ...]) -> str:
    """Name the reflections that the panels make louder."""
    if not louder:
        return ""
    scene, a = plan.scene, plan.before.arrivals
    single = [x for x in louder if a.order[x[0]] == 1]
    if not single:
        return ""
    named = [
        f"{scene.loudspeakers[int(a.source[i])].name} to {scene.seats[int(a.seat[i])].name} by "
        f"{a.names[i][0]} ({_peak(plan.before, i):.1f} dB, {_peak(plan.after, j):.1f} dB with the panels)"
        for i, j in single[:_NAMED]
    ]
    rest = len(single) - len(named)
    named += [f"{rest} more"] if rest else []
    return (
        f"The panels make {counted(len(single), 'strong single bounce')} louder by {LOUDER_DB:g} dB or more: "
        f"{listed(named)}. "
    )


def _peak(evaluation: Evaluation, index: int) -> float:
    return float(loudest(evaluation.arrivals.level_db[index]))


def verdict_words(verdict: str, *, panels: bool) -> str:
    """Word a verdict of the early-reflection criterion.

    Parameters
    ----------
    verdict : str
        As in `Arrivals.verdict`.
    panels : bool
        Whether the room has its panels: what is strong then is not to be treated, but stays.

    Returns
    -------
    str
        ``still strong`` for ``treat`` with panels; else the same word.
    """
    return _WITH_PANELS.get(verdict, verdict) if panels else verdict
