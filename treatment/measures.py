"""Lengths, areas and volumes in words: what the person measures in first, the other system second.

A sentence takes its numbers from here, with the units that its scene says, wherever it is composed: in a
finding, a plan, a table or a drawing. So a person who measures in feet is answered in feet everywhere, and a
person who measures in metres in metres. Units of physics (Pa s/m2, kg/m3, dB) stay as they are.

References
----------
The foot is 0.3048 m exactly (see `treatment.units`); a square foot is its square and a cubic foot its cube.
A sabin is the absorption of one square foot of open window (W. C. Sabine's unit), a metric sabin that of one
square metre.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from treatment.units import UNITS, format_imperial, format_metric

#: Square metres in a square foot, cubic metres in a cubic foot.
SQUARE_FOOT: Final = UNITS["ft"] ** 2
CUBIC_FOOT: Final = UNITS["ft"] ** 3


def in_feet(units: str) -> bool:
    """Whether a person measures in feet and inches.

    Parameters
    ----------
    units : {"m", "cm", "mm", "ft", "in"}
        As the scene says.
    """
    return units in {"ft", "in"}


def length_words(metres: float, units: str = "m", decimals: int = 2) -> str:
    """Write a length for a sentence: ``2.21 m``, or ``7 ft 3 in (2.21 m)``.

    Parameters
    ----------
    metres : float
        In m.
    units : str
        As the scene says.
    decimals : int
        Of the metres; feet and inches to 1/8 in.
    """
    metric = f"{metres:.{decimals}f} m"
    return f"{format_imperial(metres)} ({metric})" if in_feet(units) else metric


def cell(metres: float, units: str = "m", step: float = 0.01) -> str:
    """Write a length for a cell of a table: ``2.21`` under a head in m, or ``7 ft 3 in``.

    Parameters
    ----------
    metres : float
        In m.
    units : str
        As the scene says.
    step : float
        Metres are rounded to a multiple of this, m.

    Returns
    -------
    str
        Without a unit where the head of the table names it: see `head`.
    """
    return format_imperial(metres) if in_feet(units) else format_metric(metres, step)[:-2]


def head(words: str, units: str = "m") -> str:
    """Write the head of a column of lengths: ``distance m``, or ``distance``.

    Parameters
    ----------
    words : str
        What the column holds.
    units : str
        As the scene says.
    """
    return words if in_feet(units) else f"{words} m"


def small_words(metres: float, units: str = "m", decimals: int = 0) -> str:
    """Write a thickness, a depth or a gap for a sentence: ``50 mm``, or ``2 in (50 mm)``.

    Parameters
    ----------
    metres : float
        In m.
    units : str
        As the scene says.
    decimals : int
        Of the millimetres; feet and inches to 1/8 in.
    """
    metric = f"{1000.0 * metres:.{decimals}f} mm"
    return f"{format_imperial(metres)} ({metric})" if in_feet(units) else metric


def joined_words(metres: Sequence[float], units: str = "m", joint: str = " x ", decimals: int = 2) -> str:
    """Write lengths that belong together: ``1.20 x 0.60 m``, or ``3 ft 11 1/4 in x 1 ft 11 5/8 in (...)``.

    Parameters
    ----------
    metres : sequence of float
        In m.
    units : str
        As the scene says.
    joint : str
        What stands between two of them.
    decimals : int
        Of the metres; feet and inches to 1/8 in.

    Returns
    -------
    str
        With one unit at the end of the metres.
    """
    metric = f"{joint.join(f'{x:.{decimals}f}' for x in metres)} m"
    return f"{joint.join(format_imperial(x) for x in metres)} ({metric})" if in_feet(units) else metric


def place_words(position: Iterable[float], units: str = "m", *, signed: bool = False) -> str:
    """Write a place in the room, or a way to go: ``x 1.65, y 3.90 m``, or ``x 5 ft 5 in, y 12 ft 9 1/2 in``.

    Parameters
    ----------
    position : iterable of float
        x, y and, where it is told, z, in m.
    units : str
        As the scene says.
    signed : bool
        Whether a way to go is told: with a plus where it is one.

    Returns
    -------
    str
        Metres to 10 mm; feet and inches to 1/8 in.
    """
    feet = in_feet(units)
    told = [
        f"{axis} {'+' if signed and p >= 0.0 else ''}{format_imperial(float(p)) if feet else f'{p:.2f}'}"
        for axis, p in zip("xyz", position, strict=False)
    ]
    return ", ".join(told) + ("" if feet else " m")


def area_words(square_metres: float, units: str = "m", decimals: int = 1) -> str:
    """Write an area: ``76.2 m2``, or ``820 sq ft (76.2 m2)``.

    Parameters
    ----------
    square_metres : float
        In m2.
    units : str
        As the scene says.
    decimals : int
        Of the square metres; feet have one fewer.
    """
    metric = f"{square_metres:.{decimals}f} m2"
    feet = f"{square_metres / SQUARE_FOOT:.{max(decimals - 1, 0)}f} sq ft"
    return f"{feet} ({metric})" if in_feet(units) else metric


def volume_words(cubic_metres: float, units: str = "m") -> str:
    """Write a volume: ``45.3 m3``, or ``1600 cu ft (45.3 m3)``.

    Parameters
    ----------
    cubic_metres : float
        In m3.
    units : str
        As the scene says.
    """
    metric = f"{cubic_metres:.1f} m3"
    return f"{cubic_metres / CUBIC_FOOT:.0f} cu ft ({metric})" if in_feet(units) else metric


def absorption_words(square_metres: float, units: str = "m", decimals: int = 1) -> str:
    """Write an absorption area: ``17.7 m2``, or ``191 sq ft sabins (17.7 m2)``.

    Parameters
    ----------
    square_metres : float
        In m2.
    units : str
        As the scene says.
    decimals : int
        Of the square metres; feet have one fewer.
    """
    metric = f"{square_metres:.{decimals}f} m2"
    feet = f"{square_metres / SQUARE_FOOT:.{max(decimals - 1, 0)}f} sq ft sabins"
    return f"{feet} ({metric})" if in_feet(units) else metric


def area_unit(units: str = "m") -> str:
    """Unit of an area for the head of a table: ``m2``, or ``sq ft``.

    Parameters
    ----------
    units : str
        As the scene says.
    """
    return "sq ft" if in_feet(units) else "m2"


def area_cell(square_metres: float, units: str = "m") -> str:
    """Write an area for a cell under a head with its unit: square metres, or square feet.

    Parameters
    ----------
    square_metres : float
        In m2.
    units : str
        As the scene says.
    """
    return f"{square_metres / SQUARE_FOOT:.1f}" if in_feet(units) else f"{square_metres:.2f}"


def speed_words(metres_per_second: float, units: str = "m") -> str:
    """Write a speed: ``343.2 m/s``, or ``1126 ft/s (343.2 m/s)``.

    Parameters
    ----------
    metres_per_second : float
        In m/s.
    units : str
        As the scene says.
    """
    metric = f"{metres_per_second:.1f} m/s"
    return f"{metres_per_second / UNITS['ft']:.0f} ft/s ({metric})" if in_feet(units) else metric
