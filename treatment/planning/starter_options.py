"""What a starter scene is asked for, and the room that follows from it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from treatment.bands import Array
from treatment.errors import PlanError
from treatment.geometry.roof import level, plane_from_eave
from treatment.units import UNITS, format_length

SHAPES: Final = ("box", "plan", "attic")
#: Names of layouts as people say them (common practice), and the systems of ITU-R BS.2051.
LAYOUTS: Final[Mapping[str, str]] = MappingProxyType(
    {"2.0": "0+2+0", "5.1": "0+5+0", "7.1": "0+7+0", "5.1.4": "4+5+0", "7.1.4": "4+7+0"}
)
#: Decimals of numbers in the file, by unit: 10 mm. Feet and inches are written as a tape shows them.
DECIMALS: Final = MappingProxyType({"m": 2, "cm": 0, "mm": -1})
#: What a tape in feet and inches shows, m.
EIGHTH_INCH: Final = UNITS["in"] / 8.0


@dataclass(frozen=True)
class StarterOptions:
    """What a starter scene is made from; lengths in m.

    Parameters
    ----------
    title : str
        Name of the room.
    shape : {"box", "plan", "attic"}
        A box; an L, whose back right corner is missing; or a room under two slopes.
    length, width, height : float
        Along x, y and z.
    missing_length, missing_width : float
        Of the corner that an L lacks; only for ``plan``.
    knee, pitch : float
        Height of the knee walls, and pitch of the slopes in degrees; only for ``attic``.
    rows, seats : int
        Rows, and seats in each.
    layout : {"2.0", "5.1", "7.1", "5.1.4", "7.1.4"}
        Loudspeakers.
    units : {"m", "cm", "mm", "ft", "in"}
        Unit of the numbers in the file.
    budget : float or None
        What may be spent; None for no limit.
    currency : str
        Its label.
    """

    title: str = "My home cinema"
    shape: str = "box"
    length: float = 5.4
    width: float = 3.6
    height: float = 2.5
    missing_length: float = 1.8
    missing_width: float = 1.2
    knee: float = 1.0
    pitch: float = 45.0
    rows: int = 1
    seats: int = 3
    layout: str = "5.1"
    units: str = "m"
    budget: float | None = None
    currency: str = "EUR"


def check_options(o: StarterOptions) -> None:
    """Refuse answers that make no room.

    Parameters
    ----------
    o : StarterOptions
        The answers.

    Raises
    ------
    PlanError
        ``where`` names the option.
    """
    for key, value, known in (
        ("shape", o.shape, SHAPES),
        ("layout", o.layout, LAYOUTS),
        ("units", o.units, UNITS),
    ):
        if value not in known:
            raise PlanError(f'"{value[:40]}" is not known', where=key, hint=f"one of {', '.join(known)}")
    limits = [("length", o.length, 2.0, 20.0), ("width", o.width, 1.8, 20.0), ("height", o.height, 1.9, 4.5)]
    if o.shape == "plan":
        limits += [("missing_length", o.missing_length, 0.2, o.length - 1.5)]
        limits += [("missing_width", o.missing_width, 0.2, o.width - 1.5)]
    if o.shape == "attic":
        limits += [("knee", o.knee, 0.0, o.height - 0.1), ("pitch", o.pitch, 15.0, 75.0)]
    limits += [("rows", o.rows, 1, 4), ("seats", o.seats, 1, 8)]
    for key, number, low, high in limits:
        if not low <= number <= high:  # false for NaN too
            plain = key in {"pitch", "rows", "seats"} or not math.isfinite(number)
            said = [f"{n:g}" if plain else format_length(n, o.units) for n in (number, low, high)]
            message = f"{key} is {said[0]}, not {said[1]} to {said[2]}"
            raise PlanError(message, where=key, hint=f"are the units right? they are {o.units}")
    if o.budget is not None and not 0.0 < o.budget < 1e9:
        raise PlanError(
            f"a budget of {o.budget:g} buys nothing", where="budget", hint="leave it out for no limit"
        )
    for key, text in (("title", o.title), ("currency", o.currency)):
        if not text.strip() or not text.isprintable() or len(text) > 60:
            raise PlanError(f"the {key} is empty, or no plain text of 60 signs at most", where=key)


def floor_plan(o: StarterOptions) -> Array:
    """Corners of the floor, anticlockwise, shape (n, 2), m.

    Parameters
    ----------
    o : StarterOptions
        The answers.
    """
    x, y = o.length, o.width
    if o.shape != "plan":
        return np.array([[0.0, 0.0], [x, 0.0], [x, y], [0.0, y]])
    inner = (x - o.missing_length, y - o.missing_width)
    return np.array([[0.0, 0.0], [x, 0.0], [x, inner[1]], inner, [inner[0], y], [0.0, y]])


def ceiling_planes(o: StarterOptions) -> Array:
    """Planes of the ceiling, shape (k, 3): see `treatment.geometry.roof`.

    Parameters
    ----------
    o : StarterOptions
        The answers.
    """
    top = level(o.height)[None]
    if o.shape != "attic":
        return top
    slope = math.tan(math.radians(o.pitch))
    left = plane_from_eave((0.0, 0.0), (o.length, 0.0), o.knee, slope)
    right = plane_from_eave((o.length, o.width), (0.0, o.width), o.knee, slope)
    return np.vstack([top, left, right])


def rounded(point: Array, unit: str) -> Array:
    """Place as it will stand in the file.

    Parameters
    ----------
    point : numpy.ndarray
        Shape (3,), m.
    unit : str
        Unit of the file.

    Returns
    -------
    numpy.ndarray
        Shape (3,), m.
    """
    if unit in {"ft", "in"}:
        return np.array([round(float(x) / EIGHTH_INCH) * EIGHTH_INCH for x in point])
    return np.array([round(float(x) / UNITS[unit], DECIMALS[unit]) * UNITS[unit] for x in point])
