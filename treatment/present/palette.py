"""The colours of every drawing, in one place.

Hues keep apart for the common kinds of colour blindness (the set of Okabe and Ito, "Color universal
design", 2008, was the starting point; the tones here are calmer). Nothing is told by colour alone:
before and after also differ in dash and marker, keep-outs are hatched, panels carry their id.
"""

from __future__ import annotations

from itertools import pairwise
from typing import Final

INK: Final = "#22303a"
MUTED: Final = "#66757f"
RULE: Final = "#c9d0d3"
PAPER: Final = "#fcfbf8"
WALL: Final = "#f1eee6"
FLOOR: Final = "#e4ded1"
BEFORE: Final = "#b4532a"
AFTER: Final = "#1f6f8f"
TARGET: Final = "#7f9a6a"
PANEL: Final = "#e3b04b"
PANEL_EDGE: Final = "#8a6414"
KEEP_OUT: Final = "#8d5b86"
OPENING: Final = "#a9c9d8"
OBSTACLE: Final = "#a7a59d"
LOUDSPEAKER: Final = "#35444f"
SUBWOOFER: Final = "#59564f"
SEAT: Final = "#2f8f78"
ZONE: Final = "#3c6fa8"
SCREEN: Final = "#dfe3e6"

#: Level of a reflection re the direct sound, dB, and its colour: weak is cool, strong is warm.
LEVEL_SCALE: Final[tuple[tuple[float, str], ...]] = (
    (-20.0, "#7fb0c8"),
    (-15.0, "#5b8fb0"),
    (-10.0, "#d9a13a"),
    (-5.0, "#cf6a2c"),
    (0.0, "#a3271d"),
)

#: Delay of a reflection behind the direct sound, ms, and its colour: early is dark, late is light, so that
#: the order also holds without hues.
DELAY_SCALE: Final[tuple[tuple[float, str], ...]] = (
    (0.0, "#43286b"),
    (5.0, "#3d5f9c"),
    (10.0, "#2f8f91"),
    (15.0, "#7fb069"),
    (20.0, "#cdb93f"),
)


def rgb(colour: str) -> tuple[int, int, int]:
    """Components of a colour.

    Parameters
    ----------
    colour : str
        ``#rrggbb``.

    Returns
    -------
    tuple of int
        Red, green, blue, 0 to 255.
    """
    return (int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16))


def level_colour(level_db: float) -> str:
    """Colour of a reflection's level on the common scale.

    Parameters
    ----------
    level_db : float
        Re the direct sound, dB. Beyond the scale its end colour is given.

    Returns
    -------
    str
        ``#rrggbb``.
    """
    return scale_colour(LEVEL_SCALE, level_db)


def scale_colour(scale: tuple[tuple[float, str], ...], value: float) -> str:
    """Colour of a value on a scale.

    Parameters
    ----------
    scale : tuple of (float, str)
        Values, ascending, and their colours; `LEVEL_SCALE` or `DELAY_SCALE`.
    value : float
        Beyond the scale its end colour is given.

    Returns
    -------
    str
        ``#rrggbb``.
    """
    if value <= scale[0][0]:
        return scale[0][1]
    for (low, a), (high, b) in pairwise(scale):
        if value <= high:
            return mixed(b, a, (value - low) / (high - low))
    return scale[-1][1]


def mixed(colour: str, ground: str, part: float) -> str:
    """Mix two colours.

    Parameters
    ----------
    colour, ground : str
        ``#rrggbb``.
    part : float
        Share of the first, 0 to 1.

    Returns
    -------
    str
        ``#rrggbb``.
    """
    parts = (round(g + part * (c - g)) for c, g in zip(rgb(colour), rgb(ground), strict=True))
    return "#" + "".join(f"{c:02x}" for c in parts)
