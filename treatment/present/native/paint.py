"""What a card asks for -> pixels. A strip that asks for the same as one before is not painted again.

Areas and lines are painted at twice the size and brought down, so that they are smooth; letters are
painted at their size, so that they are sharp.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from treatment.present.native.letters import write
from treatment.present.palette import rgb

Pixels = NDArray[np.uint8]
#: Red, green, blue, opacity; None for none.
Ink = tuple[int, int, int, int] | None
_FINE: Final = 2


@dataclass(frozen=True)
class Area:
    """A rectangle: left, top, right, bottom in pixels, inks, radius of its corners and width of its line."""

    box: tuple[float, float, float, float]
    fill: Ink
    line: Ink
    radius: float
    width: float


@dataclass(frozen=True)
class Chain:
    """A line through points, x and y in turn, in pixels."""

    at: tuple[float, ...]
    ink: Ink
    width: float


@dataclass(frozen=True)
class Patch:
    """An outline that is filled, x and y in turn, in pixels."""

    at: tuple[float, ...]
    ink: Ink


@dataclass(frozen=True)
class Marks:
    """Equal marks about points, x and y in turn, in pixels: squares, or discs with a line about them."""

    at: tuple[float, ...]
    radius: float
    round: bool
    fill: Ink
    line: Ink
    width: float


@dataclass(frozen=True)
class Letters:
    """One line of text at an anchor, in pixels."""

    x: float
    y: float
    text: str
    size: int
    bold: bool
    colour: str
    anchor: str


Mark = Area | Chain | Patch | Marks


@lru_cache(maxsize=96)
def painted(
    width: int, top: int, rows: int, paper: str, marks: tuple[Mark, ...], letters: tuple[Letters, ...]
) -> Pixels:
    """Paint a strip of a card.

    Parameters
    ----------
    width : int
        Pixels.
    top, rows : int
        First row of the strip on its card, and how many it has, pixels.
    paper : str
        Colour of the ground, ``#rrggbb``; empty for none.
    marks, letters : tuple
        What is on it, in pixels of the card; letters lie over marks.

    Returns
    -------
    numpy.ndarray
        Shape (rows, width, 4), uint8, first row on top, read-only.
    """
    from PIL import Image, ImageDraw

    # On paper colours are blended now; without it they keep their opacity for the scene behind.
    mode, ground = ("RGB", rgb(paper)) if paper else ("RGBA", 0)
    fine = Image.new(mode, (_FINE * width, _FINE * rows), ground)
    pen = ImageDraw.Draw(fine, "RGBA")
    for mark in marks:
        if isinstance(mark, Area):
            _area(fine, pen, mark, top, stamped=bool(paper))
        elif isinstance(mark, Chain):
            joint = "curve" if len(mark.at) > 4 else None
            pen.line(_fine(mark.at, top), fill=mark.ink, width=_pen(mark.width), joint=joint)
        elif isinstance(mark, Patch):
            pen.polygon(_fine(mark.at, top), fill=mark.ink)
        else:
            _marks(pen, mark, top)
    picture = fine.reduce(_FINE)
    for x in letters:
        write(picture, (x.x, x.y - top), x.text, x.size, bold=x.bold, colour=x.colour, anchor=x.anchor)
    pixels = np.array(picture.convert("RGBA"))
    pixels.setflags(write=False)
    return pixels


def _fine(at: tuple[float, ...], top: int) -> list[float]:
    return [_FINE * (c - top if k % 2 else c) for k, c in enumerate(at)]


def _pen(width: float) -> int:
    return max(1, round(_FINE * width))


def _area(fine: Any, pen: Any, area: Area, top: int, *, stamped: bool) -> None:
    box, radius, width = _fine(area.box, top), _FINE * area.radius, _pen(area.width)
    if not radius:
        pen.rectangle(box, fill=area.fill, outline=area.line, width=width)
    elif stamped:
        left, high = round(box[0]), round(box[1])
        stamp = rounded(round(box[2] - box[0]), round(box[3] - box[1]), radius, area.fill, area.line, width)
        fine.paste(stamp, (left, high), stamp)
    else:
        pen.rounded_rectangle(box, radius=radius, fill=area.fill, outline=area.line, width=width)


@lru_cache(maxsize=256)
def rounded(width: int, height: int, radius: float, fill: Ink, line: Ink, pen: int) -> Any:
    """Draw a rectangle with round corners once, to be stamped often.

    Parameters
    ----------
    width, height : int
        Pixels.
    radius : float
        Of the corners, pixels.
    fill, line : tuple of int or None
        Red, green, blue and opacity, 0 to 255.
    pen : int
        Width of the line, pixels.

    Returns
    -------
    PIL.Image.Image
        RGBA, one pixel wider and higher; nothing outside the corners. Not to be drawn on.
    """
    from PIL import Image, ImageDraw

    stamp = Image.new("RGBA", (width + 1, height + 1), 0)
    ImageDraw.Draw(stamp).rounded_rectangle(
        (0, 0, width, height), radius=radius, fill=fill, outline=line, width=pen
    )
    return stamp


def _marks(pen: Any, marks: Marks, top: int) -> None:
    r, width = _FINE * marks.radius, _pen(marks.width)
    draw = pen.ellipse if marks.round else pen.rectangle
    for x, y in zip(marks.at[::2], marks.at[1::2], strict=True):
        x, y = _FINE * x, _FINE * (y - top)
        draw((x - r, y - r, x + r, y + r), fill=marks.fill, outline=marks.line, width=width)
