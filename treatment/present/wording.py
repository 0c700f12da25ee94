"""Words that several outputs share: names of surfaces, the answer in sentences.

Nothing here computes physics; it words numbers that a plan already holds.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from treatment import bands
from treatment.bands import Array
from treatment.materials.prices import EXAMPLE
from treatment.planning.doubt import doubt_of
from treatment.planning.pairing import same_paths
from treatment.planning.plan import Evaluation, Plan
from treatment.planning.targets import CRITERION_BANDS, CRITERION_DB, CRITERION_MS, outside
from treatment.present.seconds import seconds_interval, seconds_range
from treatment.scene.model import Surface
from treatment.units import format_pair


def lengths(metres: float, unit: str = "m") -> str:
    """Write a length in both systems: ``1.25 m (4 ft 1 1/4 in)``.

    Parameters
    ----------
    metres : float
        Length in m.
    unit : {"m", "cm", "mm", "ft", "in"}
        What the person measures in: its system comes first.

    Returns
    -------
    str
        Metres to the millimetre, inches to the eighth.
    """
    first, second = format_pair(metres, unit)
    return f"{first} ({second})"


def surface_words(surface: Surface) -> str:
    """Name a surface inside a sentence: ``front wall``, ``ceiling``, ``wall-3``.

    Parameters
    ----------
    surface : Surface
        Any surface.

    Returns
    -------
    str
        Its name, with ``wall`` where it would else be an adjective.
    """
    bare = surface.kind == "wall" and not surface.obstacle and "wall" not in surface.name.lower()
    return f"{surface.name} wall" if bare else surface.name


def surface_title(surface: Surface) -> str:
    """Name of a surface as a heading.

    Parameters
    ----------
    surface : Surface
        Any surface.

    Returns
    -------
    str
        As `surface_words`, with a capital.
    """
    words = surface_words(surface)
    return words[:1].upper() + words[1:]


def is_level(surface: Surface) -> bool:
    """Whether a surface lies level: a floor or a flat ceiling.

    Parameters
    ----------
    surface : Surface
        Any surface.

    Returns
    -------
    bool
        True within about two degrees.
    """
    return abs(float(surface.polygon.normal[2])) > 0.9994


def is_sloped(surface: Surface) -> bool:
    """Whether a surface climbs, but not straight up: distances along it are not level ones.

    Parameters
    ----------
    surface : Surface
        Any surface.

    Returns
    -------
    bool
        True from about two degrees off level and off upright.
    """
    return not is_level(surface) and abs(float(surface.polygon.normal[2])) >= 0.035


def viewed(surface: Surface) -> str:
    """How a drawing of a surface is to be looked at.

    Parameters
    ----------
    surface : Surface
        Any surface.

    Returns
    -------
    str
        A phrase after the surface's name.
    """
    if is_level(surface):
        return "seen from above" if surface.polygon.normal[2] > 0.0 else "seen from below"
    return "seen from inside, laid flat along its slope" if is_sloped(surface) else "seen from inside"


def counted(number: int, noun: str) -> str:
    """Count things: ``1 panel``, ``8 panels``, ``no panels``.

    Parameters
    ----------
    number : int
        How many.
    noun : str
        In the singular.

    Returns
    -------
    str
        Number and noun.
    """
    return f"{number or 'no'} {noun}{'' if number == 1 else 's'}"


def listed(items: Sequence[str]) -> str:
    """Join words: ``a``, ``a and b``, ``a, b and c``.

    Parameters
    ----------
    items : sequence of str
        Words.

    Returns
    -------
    str
        One phrase.
    """
    return " and ".join([", ".join(items[:-1]), items[-1]] if len(items) > 1 else items)


def money(plan: Plan, amount: float) -> str:
    """Write an amount in the plan's currency.

    Parameters
    ----------
    plan : Plan
        Names the currency.
    amount : float
        How much.

    Returns
    -------
    str
        ``264.00 EUR``.
    """
    return f"{amount:.2f} {plan.currency}".rstrip()


def loudest(level_db: Array) -> Array:
    """Level that the early-reflection criterion looks at.

    Parameters
    ----------
    level_db : numpy.ndarray
        Re direct, shape (..., 8).

    Returns
    -------
    numpy.ndarray
        Loudest octave band from 1 to 8 kHz, shape (...), dB.
    """
    return np.asarray(level_db[..., bands.band_slice(1000, 8000)].max(axis=-1))


def where_panels_go(plan: Plan) -> str:
    """Count the panels by surface: ``4 on the left wall and 4 on the right wall``.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    str
        A phrase; empty without panels.
    """
    counts: dict[str, int] = {}
    for p in plan.placements:
        words = surface_words(plan.scene.surfaces[p.surface])
        counts[words] = counts.get(words, 0) + 1
    return listed([f"{n} on the {words}" for words, n in counts.items()])


def answer(plan: Plan) -> tuple[str, ...]:
    """Word the answer of a plan, most important first.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of str
        Sentences: how many panels, where and for how much; what reverberation does; what early
        reflections do.
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
    return (first, _reverberation_words(plan), *_reflection_words(plan))


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


def _reflection_words(plan: Plan) -> tuple[str, ...]:
    if not plan.scene.loudspeakers or not plan.scene.seats:
        return ()
    before, after = strong_firsts(plan.before), strong_firsts(plan.after)
    limit = f"within {CRITERION_MS:g} ms, above {CRITERION_DB:g} dB re the direct sound"
    if before == 0:
        return (f"No single bounce is early and strong enough to need a panel ({limit}).",)
    return (
        f"Of {counted(before, 'single bounce')} between loudspeakers and seats that "
        f"{'is' if before == 1 else 'are'} early and strong ({limit}) "
        f"{'none stays' if after == 0 else f'{after} stay'} so in at least one octave; on average "
        f"they become {weakening(plan):.0f} dB weaker from 1 to 8 kHz.",
    )


def weakening(plan: Plan) -> float:
    """How much the panels weaken the single bounces that the criterion would treat.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    float
        Mean over these bounces and over the bands from 1 to 8 kHz, dB.
    """
    a, b = plan.before.arrivals, plan.after.arrivals
    strong = np.array([word == "treat" for word in a.verdict], dtype=bool) & (a.order == 1)
    again = same_paths(a, b)
    chosen = np.flatnonzero(strong & (again >= 0))
    change = a.level_db[chosen][:, CRITERION_BANDS] - b.level_db[again[chosen]][:, CRITERION_BANDS]
    return float(change.mean()) if len(chosen) else 0.0


def strong_firsts(evaluation: Evaluation) -> int:
    """Count the first-order reflections that the criterion would treat.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.

    Returns
    -------
    int
        How many paths of one bounce.
    """
    a = evaluation.arrivals
    return sum(1 for order, word in zip(a.order, a.verdict, strict=True) if order == 1 and word == "treat")
