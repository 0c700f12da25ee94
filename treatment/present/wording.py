"""Words that several outputs share: names of surfaces, counts, amounts of money.

Nothing here computes physics; it words numbers that a plan already holds.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from treatment import bands
from treatment.bands import Array
from treatment.planning.plan import Plan
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
    own = not surface.obstacle and not surface.recess
    bare = surface.kind == "wall" and own and "wall" not in surface.name.lower()
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
