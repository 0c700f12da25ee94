"""Small cards over the room: the legend, the numbers of what was clicked, the list of keys, a message."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Final

from treatment import bands
from treatment.present.native.card import Card
from treatment.present.native.keys import KEYS, MOUSE
from treatment.present.native.paths import SCALES
from treatment.present.native.reading import Reading
from treatment.present.native.state import LOUDEST, ORDERS, ViewState
from treatment.present.native.times import SHORT
from treatment.present.palette import (
    INK,
    KEEP_OUT,
    LOUDSPEAKER,
    MUTED,
    OPENING,
    PANEL,
    PAPER,
    RULE,
    SCREEN,
    SEAT,
    SUBWOOFER,
    ZONE,
    mixed,
    scale_colour,
)

_TEXT: Final = 12.0
#: Swatches of the legend: group, words, colour, opacity.
_SWATCHES: Final = (
    ("panel", "panel", PANEL, 1.0),
    ("loudspeaker", "loudspeaker", LOUDSPEAKER, 1.0),
    ("subwoofer", "subwoofer", SUBWOOFER, 1.0),
    ("screen", "screen", SCREEN, 1.0),
    ("seat", "seat (head)", SEAT, 1.0),
    ("opening", "opening", OPENING, 1.0),
    ("keep-out", "keep free", KEEP_OUT, 0.35),
    ("zone", "where bounces land", ZONE, 0.62),
    ("reach", "reach of a panel", ZONE, 0.25),
)
#: Values at which the criterion draws its line.
_CRITERION: Final = {"level": -10.0, "delay": 15.0}


def _paper(size: tuple[float, float], unit: float) -> Card:
    card = Card((round(size[0] * unit), round(size[1] * unit)), unit)
    card.area((1.0, 1.0, size[0] - 1.0, size[1] - 1.0), PAPER, line=RULE, alpha=0.95, radius=8.0)
    return card


def legend_card(unit: float, groups: Sequence[str], state: ViewState, paths: int, zone_band: int) -> Card:
    """Say what the colours mean.

    Parameters
    ----------
    unit : float
        Pixels to a unit.
    groups : sequence of str
        What is seen: groups, ``loudspeaker`` and ``subwoofer`` apart.
    state : ViewState
        What the colours of the paths tell.
    paths : int
        How many paths are seen; without any the scale is left out.
    zone_band : int
        Octave for which the reach is painted.

    Returns
    -------
    Card
        Swatches at the left, the scale of the paths at the right.
    """
    shown = [x for x in _SWATCHES if x[0] in groups]
    rows = 3
    probe = Card((1, 1), unit)
    named = [
        (
            f"{words} at {bands.band_label(bands.NOMINAL_HZ[zone_band])}" if group == "reach" else words,
            colour,
            alpha,
        )
        for group, words, colour, alpha in shown
    ]
    columns = [named[k : k + rows] for k in range(0, len(named), rows)]
    widths = [max(probe.measure(words, _TEXT) for words, *_ in column) + 43.0 for column in columns]
    wide = sum(widths)
    card = _paper((wide + (334.0 if paths else 16.0), 88.0), unit)
    x = 14.0
    for column, width in zip(columns, widths, strict=True):
        for k, (words, colour, alpha) in enumerate(column):
            y = 12.0 + 24.0 * k
            card.area((x, y, x + 18.0, y + 15.0), mixed(colour, PAPER, alpha), line=INK, width=0.8)
            card.text(x + 25.0, y + 7.5, words, _TEXT, anchor="lm")
        x += width
    if paths:
        _scale(card, wide + 26.0, state, paths)
    return card


@cache
def _ramp(colouring: str) -> tuple[str, ...]:
    scale = SCALES[colouring][1]
    low, high = scale[0][0], scale[-1][0]
    return tuple(scale_colour(scale, low + (high - low) * (k + 0.5) / 71.0) for k in range(71))


def _scale(card: Card, left: float, state: ViewState, paths: int) -> None:
    unit, scale = SCALES[state.colouring]
    low, high = scale[0][0], scale[-1][0]
    span = 284.0
    where = "1 to 8 kHz" if state.band == LOUDEST else bands.band_label(bands.NOMINAL_HZ[state.band])
    what = f"level, {where}" if state.colouring == "level" else "delay"
    card.text(left, 12.0, card.fitted(f"{paths} paths, {ORDERS[state.order][0]}: {what}", span, _TEXT), _TEXT)
    colours = _ramp(state.colouring)
    for k, colour in enumerate(colours):
        x = left + span * k / len(colours)
        card.area((x, 33.0, x + span / len(colours) + 0.5, 47.0), colour)
    criterion = left + span * (_CRITERION[state.colouring] - low) / (high - low)
    card.line([(criterion, 29.0), (criterion, 51.0)], INK, 1.6)
    for value in (v for v, _ in scale):
        x = left + span * (value - low) / (high - low)
        words = f"{value:.0f}".replace("-", "\N{MINUS SIGN}")
        anchor = "la" if value == low else "ra" if value == high else "ma"
        card.text(x, 52.0, words, 11.0, anchor=anchor, colour=MUTED)
    loud = (
        "the line: louder than this is treated"
        if state.colouring == "level"
        else "the line: later than this is left"
    )
    card.text(left, 68.0, f"{unit}; {loud}", 11.0, colour=MUTED)


def reading_card(unit: float, reading: Reading, most_height: float) -> Card:
    """Show the numbers of a thing.

    Parameters
    ----------
    unit : float
        Pixels to a unit.
    reading : Reading
        Words and numbers.
    most_height : float
        Room for it, in units.

    Returns
    -------
    Card
        With a cross that closes it.
    """
    wide = 430.0 if reading.table else 360.0
    inner = wide - 28.0
    probe = Card((1, 1), unit)
    title = probe.wrapped(reading.title, inner - 40.0, 14.0, most=2)
    lines = [line for text in reading.lines for line in probe.wrapped(text, inner, _TEXT, most=2)]
    table = 20.0 * (len(reading.table) + 1) + 6.0 if reading.table else 0.0
    room = int((most_height - 24.0 - 20.0 * len(title) - table) / 17.0)
    if len(lines) > max(room, 1):
        lines = [*lines[: max(room, 1) - 1], "…"]
    card = _paper((wide, 24.0 + 20.0 * len(title) + 17.0 * len(lines) + table), unit)
    card.line([(wide - 24.0, 12.0), (wide - 14.0, 22.0)], MUTED, 1.5)
    card.line([(wide - 14.0, 12.0), (wide - 24.0, 22.0)], MUTED, 1.5)
    card.spot((wide - 32.0, 4.0, wide - 6.0, 30.0), "pick:")
    y = 12.0
    for line in title:
        card.text(14.0, y, line, 14.0, bold=True)
        y += 20.0
    for line in lines:
        card.text(14.0, y, line, _TEXT)
        y += 17.0
    if reading.table:
        first = 96.0
        column = (inner - first) / bands.COUNT
        for k, words in enumerate(SHORT):
            card.text(14.0 + first + (k + 1) * column, y + 6.0, words, 11.0, anchor="ra", colour=MUTED)
        card.text(14.0, y + 6.0, "octave, Hz", 11.0, colour=MUTED)
        for name, values in reading.table:
            y += 20.0
            card.line([(14.0, y + 3.0), (wide - 14.0, y + 3.0)], RULE, 0.8)
            card.text(14.0, y + 7.0, name, 11.0)
            for k, value in enumerate(values):
                card.text(14.0 + first + (k + 1) * column, y + 7.0, value, 11.0, anchor="ra")
    return card


def help_card(unit: float) -> Card:
    """List keys and what the mouse does.

    Parameters
    ----------
    unit : float
        Pixels to a unit.

    Returns
    -------
    Card
        Any click on it closes it.
    """
    wide, line = 720.0, 21.0
    columns = ((KEYS[0], KEYS[1]), (KEYS[2], KEYS[3]))
    mouse = 30.0 + line * ((len(MOUSE) + 1) // 2)
    tall = max(sum(34.0 + line * len(keys) for _, keys in column) for column in columns)
    card = _paper((wide, 60.0 + tall + mouse), unit)
    card.text(20.0, 16.0, "Keys and mouse", 16.0, bold=True)
    card.text(wide - 20.0, 19.0, "H closes this", _TEXT, colour=MUTED, anchor="ra")
    for x, column in zip((20.0, 376.0), columns, strict=True):
        y = 50.0
        for heading, keys in column:
            card.text(x, y, heading, _TEXT, bold=True)
            y += 22.0
            for key in keys:
                card.text(x, y, key.shown, _TEXT, colour=INK)
                card.text(x + (126.0 if len(key.shown) > 9 else 64.0), y, key.words, _TEXT, colour=MUTED)
                y += line
            y += 12.0
    y = 52.0 + tall
    card.line([(20.0, y - 8.0), (wide - 20.0, y - 8.0)], RULE)
    card.text(20.0, y, "Mouse", _TEXT, bold=True)
    for k, (what, does) in enumerate(MOUSE):
        x, at = 20.0 + 356.0 * (k % 2), y + 22.0 + line * (k // 2)
        card.text(x, at, what, _TEXT)
        card.text(x + 8.0 + card.measure(what, _TEXT), at, does, _TEXT, colour=MUTED)
    card.spot((0.0, 0.0, wide, card.height), "help")
    return card


def note_card(unit: float, words: str) -> Card:
    """Show a message.

    Parameters
    ----------
    unit : float
        Pixels to a unit.
    words : str
        One line.

    Returns
    -------
    Card
        As wide as it needs.
    """
    probe = Card((1, 1), unit)
    words = probe.fitted(words, 620.0, _TEXT)
    card = _paper((probe.measure(words, _TEXT) + 32.0, 32.0), unit)
    card.text(16.0, 16.0, words, _TEXT, anchor="lm")
    return card
