"""Lengths, areas and volumes in words: what the person measures in first, the other system second.

A metric scene is told in metric units alone where a sentence or a table has no room for both.

References
----------
The foot is 0.3048 m exactly (see `treatment.units`); a square foot is its square and a cubic foot its cube.
A sabin is the absorption of one square foot of open window (W. C. Sabine's unit), a metric sabin that of one
square metre.
"""

from __future__ import annotations

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


def length_words(metres: float, units: str = "m") -> str:
    """Write a length for a sentence: ``2.21 m``, or ``7 ft 3 in (2.21 m)``.

    Parameters
    ----------
    metres : float
        In m.
    units : str
        As the scene says.

    Returns
    -------
    str
        Metres to 10 mm; feet and inches to 1/8 in.
    """
    metric = f"{metres:.2f} m"
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


def area_words(square_metres: float, units: str = "m") -> str:
    """Write an area: ``76.2 m2``, or ``820 sq ft (76.2 m2)``.

    Parameters
    ----------
    square_metres : float
        In m2.
    units : str
        As the scene says.
    """
    metric = f"{square_metres:.1f} m2"
    return f"{square_metres / SQUARE_FOOT:.0f} sq ft ({metric})" if in_feet(units) else metric


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
