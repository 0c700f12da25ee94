"""Words for what holds a panel: battens, rails and straps overhead, cleat and blocks on a wall."""

from __future__ import annotations

from treatment.planning.carriers import Carrier
from treatment.present.panel_legend import short_words
from treatment.units import format_imperial, format_metric


def gap_words(carrier: Carrier | None, units: str) -> str:
    """What fills the gap of a panel on a wall.

    Parameters
    ----------
    carrier : Carrier or None
        What holds it.
    units : str
        What the person measures in.

    Returns
    -------
    str
        ``, on a batten 32 mm deep, blocks 32 mm below``; empty where nothing is left.
    """
    if carrier is None or carrier.kind != "cleat" or not carrier.spacer:
        return ""
    deep = short_words(carrier.spacer, units)
    return f", on a batten {deep} deep, blocks {deep} below"


def overhead_words(carrier: Carrier, units: str) -> str:
    """What holds a panel overhead, and where.

    Parameters
    ----------
    carrier : Carrier
        What holds it.
    units : str
        What the person measures in.

    Returns
    -------
    str
        Battens, rails and straps with their places; or brackets on the frame.
    """
    if carrier.kind != "battens":
        return "brackets on two boards of the frame, into joists or into battens across them"
    inside = sorted({round(x, 3) for x in (carrier.rails[0], carrier.along - carrier.rails[-1])})
    places = " and ".join(_tape(x, units) for x in inside)
    deep, long = short_words(carrier.spacer, units), _tape(carrier.batten, units)
    return (
        f"2 battens {deep} deep, {long} long, across the joists; {len(carrier.rails)} rails, the outer ones "
        f"{places} inside its ends; a strap at each end of each rail"
    )


def _tape(metres: float, units: str) -> str:
    return format_imperial(metres) if units in {"ft", "in"} else format_metric(metres, 0.005)
