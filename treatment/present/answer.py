"""The answer of a plan in sentences, the most important first.

Nothing here computes physics; it words numbers that a plan already holds.
"""

from __future__ import annotations

import numpy as np

from treatment import bands
from treatment.materials.prices import EXAMPLE
from treatment.planning.doubt import doubt_of
from treatment.planning.plan import Plan
from treatment.planning.targets import outside
from treatment.present.fate_words import fate_words
from treatment.present.seconds import seconds_interval, seconds_range
from treatment.present.wording import counted, listed, money, where_panels_go


def answer(plan: Plan) -> tuple[str, ...]:
    """Word the answer of a plan, most important first.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of str
        Sentences: how many panels, where and for how much; whether that is weak and what to do first;
        what reverberation does; what early reflections do.
    """
    if plan.placements:
        builds: dict[str, int] = {}
        for p in plan.placements:
            builds[p.build.id] = builds.get(p.build.id, 0) + 1
        kinds = listed([f"{n} of {build}" for build, n in builds.items()])
        number = len(plan.placements)
        they = (
            f"They are {kinds} and cost" if number > 1 else f"It is {plan.placements[0].build.id} and costs"
        )
        verb = "Put up" if any(p.solid for p in plan.placements) else "Hang"
        first = f"{verb} {counted(number, 'panel')}: {where_panels_go(plan)}. {they} {money(plan, plan.cost)}"
        limit = plan.scene.budget
        first += f" of the {money(plan, limit.amount)} that you set" if limit else ""
        first += f"{_price_words(plan)}."
    else:
        first = "No panel is planned: nothing that may be built helps within the limits you set."
    return (first, *plan.advice, _reverberation_words(plan), *fate_words(plan))


def _price_words(plan: Plan) -> str:
    """Say so where a cost is no shop's: examples come with the program until a person types prices."""
    examples = [EXAMPLE in p.build.price_note for p in plan.placements]
    if not any(examples):
        return ""
    pure = all(p.build.price_note.startswith(EXAMPLE) for p in plan.placements)
    partly = "" if pure else "partly "
    return f", {partly}by example prices: type your own with --prices FILE, or price = ... in a build"


def _reverberation_words(plan: Plan) -> str:
    band = bands.band_index(1000)
    before, after = seconds_interval(plan.before, band), seconds_interval(plan.after, band)
    formulas = [_span(seconds_range(e, band)) for e in (plan.before, plan.after)]
    target = plan.after.target
    words = (
        f"At 1 kHz the sound dies away in {_span(before)} as the room is and in {_span(after)} with the "
        f"panels (what {doubt_of(plan.after).holds} leave open; the formulas alone say {formulas[0]} and "
        f"{formulas[1]})"
    )
    low, high = float(target.lower[band]), float(target.upper[band])
    if np.isfinite(low) and np.isfinite(high):
        words += f"; the target there is {_span((low, high))}"
    words += "."
    eyring = plan.after.reverberation.get("eyring")
    if eyring is not None:
        off = outside(eyring, target)
        above = [bands.band_label(f) for f, d in zip(bands.NOMINAL_HZ, off, strict=True) if d > 0.0]
        below = [bands.band_label(f) for f, d in zip(bands.NOMINAL_HZ, off, strict=True) if d < 0.0]
        if above:
            words += f" By Eyring's formula it is still too live at {listed(above)}."
        if below:
            words += f" By Eyring's formula it is too dead at {listed(below)}."
        if not above and not below:
            words += " By Eyring's formula every band lies in the target range."
    return words


def _span(values: tuple[float, float]) -> str:
    low, high = (f"{v:.2f}" for v in values)
    return f"{low} s" if low == high else f"{low} to {high} s"
