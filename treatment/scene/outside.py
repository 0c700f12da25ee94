"""Words for a rectangle that reaches out of its surface: over its edge, or into a corner that is cut off."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from treatment.geometry.polygon import Polygon, Rectangle
from treatment.scene.obstacles import listed, outside_area
from treatment.units import format_length

#: Places where it would fit are looked for in steps of this (m).
_STEP: Final = 0.01
#: A normal that climbs less than this belongs to an upright wall.
_UPRIGHT: Final = 0.01


def outside_words(what: str, rectangle: Rectangle, surface: str, whole: Polygon, unit: str) -> str:
    """Say in which way a rectangle is not on its surface.

    Parameters
    ----------
    what : str
        Name of the thing, as it begins the sentence.
    rectangle : Rectangle
        Where it is said to be.
    surface : str
        Name of the surface.
    whole : Polygon
        The surface without what stands before it.
    unit : str
        Unit of plain numbers.

    Returns
    -------
    str
        The readings of both; where the surface's own corner is cut, how high the surface is there.
    """
    u0, v0, u1, v1 = rectangle.bounds
    a0, b0, a1, b1 = whole.bounds
    runs = f"{what} runs from {listed((u0, v0), unit)} to {listed((u1, v1), unit)} {unit} on"
    if not cut_off(rectangle, whole):
        ends = f"{listed((a0, b0), unit)} to {listed((a1, b1), unit)}"
        return f'{runs} "{surface}", which runs from {ends}'
    if abs(float(whole.normal[2])) > _UPRIGHT:
        return f'{runs} "{surface}", whose outline leaves out a part of that'
    high = [_reach(whole, u) for u in (u0, u1)]
    at = [
        f"{format_length(h, unit)} high at {format_length(u + 0.0, unit)} along it"
        for h, u in zip(high, (u0, u1), strict=True)
    ]
    slope = "the slope cuts that corner off" if min(high) < v1 else "its outline leaves out a part of that"
    return f'{runs} "{surface}", but {slope}: the wall is {" and ".join(at)}'


def cut_off(rectangle: Rectangle, whole: Polygon) -> bool:
    """Tell whether a rectangle lies within the outer readings of a surface, though not on it.

    Parameters
    ----------
    rectangle : Rectangle
        Any.
    whole : Polygon
        The surface.

    Returns
    -------
    bool
        True where by the readings alone it would fit.
    """
    u0, v0, u1, v1 = rectangle.bounds
    a0, b0, a1, b1 = whole.bounds
    slack = 1e-6
    within = u0 > a0 - slack and v0 > b0 - slack and u1 < a1 + slack and v1 < b1 + slack
    return within and outside_area(rectangle.shape(), whole.region)


def place_along(rectangle: Rectangle, whole: Polygon) -> Rectangle | None:
    """Nearest place along the surface, at the same height, where a rectangle lies on it.

    Parameters
    ----------
    rectangle : Rectangle
        Of any place.
    whole : Polygon
        The surface.

    Returns
    -------
    Rectangle or None
        None where it fits nowhere.
    """
    a0, _, a1, _ = whole.bounds
    starts = np.arange(a0, a1 - rectangle.width + 1e-9, _STEP)
    for u in starts[np.argsort(np.abs(starts - rectangle.u), kind="stable")]:
        moved = rectangle.moved(float(u) - rectangle.u, 0.0)
        # Stricter than what is accepted: a proposal should fit to the millimetre.
        if moved.shape().difference(whole.region).area < 1e-6:
            return moved
    return None


def _reach(whole: Polygon, u: float) -> float:
    """How high the surface reaches at one reading along it, above its lowest point, m."""
    a0, b0, a1, b1 = whole.bounds
    u = min(max(u, a0 + 1e-6), a1 - 1e-6)
    line: Any = shapely.LineString([(u, b0 - 1.0), (u, b1 + 1.0)])
    met = whole.region.intersection(line)
    return 0.0 if met.is_empty else float(met.bounds[3]) - b0
