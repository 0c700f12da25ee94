"""The colours of every drawing and page, in one place.

Hues keep apart for the three kinds of colour blindness (the set of Okabe and Ito, "Color universal design",
2008, was the starting point; the tones here are calmer and were then moved apart by measure, see
tests/present/test_colours.py). Nothing is told by colour alone: before and after also differ in dash and
marker, keep-outs are hatched, panels carry their id.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from typing import Final

INK: Final = "#22303a"
MUTED: Final = "#5c6a74"
RULE: Final = "#c9d0d3"
PAPER: Final = "#fcfbf8"
WALL: Final = "#f1eee6"
FLOOR: Final = "#e4ded1"
BEFORE: Final = "#a24006"
AFTER: Final = "#246985"
TARGET: Final = "#7e8d71"
PANEL: Final = "#e3b04b"
PANEL_EDGE: Final = "#7a5810"
KEEP_OUT: Final = "#8e5a8d"
OPENING: Final = "#a9c9d8"
OBSTACLE: Final = "#aaa9a1"
LOUDSPEAKER: Final = "#37444f"
SUBWOOFER: Final = "#5b5548"
SEAT: Final = "#348a75"
ZONE: Final = "#3c6fa8"
SCREEN: Final = "#dfe3e6"

#: Level of a reflection re the direct sound, dB, and its colour: weak is cool, strong is warm.
LEVEL_SCALE: Final[tuple[tuple[float, str], ...]] = (
    (-20.0, "#5190af"),
    (-15.0, "#417295"),
    (-10.0, "#b57e02"),
    (-5.0, "#b14e1b"),
    (0.0, "#8c1d18"),
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


#: Colours of pages by the names of their style sheets, on light paper; print is always light.
LIGHT: Final[Mapping[str, str]] = {
    "ink": INK,
    "muted": MUTED,
    "rule": RULE,
    "edge": "#7d8a92",
    "paper": PAPER,
    "card": WALL,
    "field": "#ffffff",
    "wall": WALL,
    "floor": FLOOR,
    "accent": AFTER,
    "on-accent": "#ffffff",
    "caution": "#f8ece5",
    "before": BEFORE,
    "after": AFTER,
    "target": TARGET,
    "target-text": "#47632f",
    "panel": PANEL,
    "panel-edge": PANEL_EDGE,
    "keep-out": KEEP_OUT,
    "keep-out-text": "#7a4a73",
    "opening": OPENING,
    "obstacle": OBSTACLE,
    "loudspeaker": LOUDSPEAKER,
    "subwoofer": SUBWOOFER,
    "seat": SEAT,
    "wrong": "#a3271d",
    "warn": "#8a5a00",
}
#: The same on dark paper.
DARK: Final[Mapping[str, str]] = {
    "ink": "#e3e8ea",
    "muted": "#a9b5bc",
    "rule": "#3d4a53",
    "edge": "#82919b",
    "paper": "#1b2227",
    "card": "#242d33",
    "field": "#161c20",
    "wall": "#2c363d",
    "floor": "#333d42",
    "accent": "#76c0de",
    "on-accent": "#10202a",
    "caution": "#3a2c24",
    "before": "#e99a59",
    "after": "#76c0de",
    "target": "#82928a",
    "target-text": "#a9cb8c",
    "panel": "#daa93e",
    "panel-edge": "#f0cf86",
    "keep-out": "#b898bb",
    "keep-out-text": "#d2a9cb",
    "opening": "#5083b4",
    "obstacle": "#8b8a84",
    "loudspeaker": "#e3edf5",
    "subwoofer": "#c0c4cc",
    "seat": "#60c29b",
    "wrong": "#ff9c8f",
    "warn": "#e8b95a",
}


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
