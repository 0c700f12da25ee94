"""A card: texts, areas, lines and dots on a small picture, and the places on it that can be clicked.

It keeps what it was asked to draw; `paint` makes pixels of it, strip by strip, so that what has not
changed is not painted again.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from treatment.present.native.letters import font, plain, text_pixels
from treatment.present.native.paint import Area, Chain, Ink, Letters, Mark, Marks, Patch, Pixels, painted
from treatment.present.palette import INK, rgb
from treatment.present.svg import Box


class Card:
    """A picture that is drawn on and looked up.

    Parameters
    ----------
    size : tuple of int
        Width and height in pixels.
    unit : float
        Pixels to a unit of length: all lengths below are in units.
    paper : str
        Colour of the ground; empty for none.
    """

    def __init__(self, size: tuple[int, int], unit: float, paper: str = "") -> None:
        self.size, self.unit, self.paper = size, unit, paper
        #: Texts in the order of writing, and where things can be clicked: box in units, action.
        self.texts: list[str] = []
        self.spots: list[tuple[Box, str]] = []
        self._painted: Pixels | None = None
        self._strips: list[tuple[int, list[Mark], list[Letters]]] = [(0, [], [])]

    @property
    def width(self) -> float:
        """Width in units."""
        return self.size[0] / self.unit

    @property
    def height(self) -> float:
        """Height in units."""
        return self.size[1] / self.unit

    def strip(self, y: float) -> None:
        """Begin a strip: what is drawn from now on lies below this height and above the next strip.

        Parameters
        ----------
        y : float
            In units.
        """
        top = min(round(y * self.unit), self.size[1])
        if top > self._strips[-1][0]:
            self._strips.append((top, [], []))

    def _draw(self, mark: Mark) -> None:
        self._strips[-1][1].append(mark)

    def _pixels(self, points: Sequence[tuple[float, float]]) -> tuple[float, ...]:
        return tuple(c * self.unit for p in points for c in p)

    def measure(self, text: str, size: float, bold: bool = False) -> float:
        """Width of a text in units.

        Parameters
        ----------
        text : str
            One line.
        size : float
            Of the letters, in units.
        bold : bool
            Strong letters.

        Returns
        -------
        float
            In units.
        """
        return text_pixels(text, self._letter(size), bold) / self.unit

    def _letter(self, size: float) -> int:
        return max(round(size * self.unit), 6)

    def fitted(self, text: str, width: float, size: float, bold: bool = False) -> str:
        """Cut a text to a width.

        Parameters
        ----------
        text : str
            One line.
        width, size : float
            Room for it, and size of the letters, in units.
        bold : bool
            Strong letters.

        Returns
        -------
        str
            The text, or its beginning with an ellipsis.
        """
        text = plain(text)
        if self.measure(text, size, bold) <= width:
            return text
        while text and self.measure(text + "…", size, bold) > width:
            text = text[:-1]
        return text.rstrip() + "…"

    def wrapped(self, text: str, width: float, size: float, most: int = 9) -> list[str]:
        """Break a text into lines.

        Parameters
        ----------
        text : str
            Words.
        width, size : float
            Room for a line, and size of the letters, in units.
        most : int
            Lines to keep; the last is cut.

        Returns
        -------
        list of str
            One or more lines, none wider than the room for it and at most `most`.
        """
        lines = [""]
        for word in plain(text, 400).split():
            longer = f"{lines[-1]} {word}".strip()
            if lines[-1] and self.measure(longer, size) > width:
                lines.append(word)
            else:
                lines[-1] = longer
        if len(lines) > most:
            lines[most - 1 :] = [" ".join(lines[most - 1 :])]
        return [self.fitted(line, width, size) for line in lines]

    def text(
        self,
        x: float,
        y: float,
        text: str,
        size: float = 12.5,
        *,
        bold: bool = False,
        colour: str = INK,
        anchor: str = "la",
    ) -> None:
        """Write one line.

        Parameters
        ----------
        x, y : float
            Place of the anchor, in units.
        text : str
            What to write.
        size : float
            Of the letters, in units.
        bold : bool
            Strong letters.
        colour : str
            ``#rrggbb``.
        anchor : str
            Two letters as in Pillow: ``la`` is the upper left corner, ``mm`` the middle.
        """
        text = plain(text)
        self.texts.append(text)
        at = (x * self.unit, y * self.unit)
        self._strips[-1][2].append(Letters(*at, text, self._letter(size), bold, colour, anchor))

    def area(
        self,
        box: Box,
        fill: str = "",
        *,
        line: str = "",
        alpha: float = 1.0,
        radius: float = 0.0,
        width: float = 1.0,
    ) -> None:
        """Draw a rectangle.

        Parameters
        ----------
        box : tuple of float
            Left, top, right, bottom, in units.
        fill, line : str
            ``#rrggbb``; empty for none.
        alpha : float
            Opacity of the filling.
        radius, width : float
            Of the corners and of the line, in units.
        """
        left, top, right, bottom = (self.unit * c for c in box)
        edge = _ink(line) if line else None
        inside = _ink(fill, alpha) if fill else None
        self._draw(Area((left, top, right, bottom), inside, edge, self.unit * radius, self.unit * width))

    def line(
        self, points: Sequence[tuple[float, float]], colour: str = INK, width: float = 1.0, alpha: float = 1.0
    ) -> None:
        """Draw a line through points.

        Parameters
        ----------
        points : sequence of (float, float)
            In units.
        colour : str
            ``#rrggbb``.
        width : float
            In units.
        alpha : float
            Opacity.
        """
        self._draw(Chain(self._pixels(points), _ink(colour, alpha), self.unit * width))

    def shape(self, points: Sequence[tuple[float, float]], fill: str, alpha: float = 1.0) -> None:
        """Fill the inside of an outline.

        Parameters
        ----------
        points : sequence of (float, float)
            In units.
        fill : str
            ``#rrggbb``.
        alpha : float
            Opacity.
        """
        self._draw(Patch(self._pixels(points), _ink(fill, alpha)))

    def dot(
        self, x: float, y: float, radius: float, fill: str = "", line: str = "", width: float = 1.2
    ) -> None:
        """Draw a dot or a ring.

        Parameters
        ----------
        x, y, radius : float
            In units.
        fill, line : str
            ``#rrggbb``; empty for none.
        width : float
            Of the line, in units.
        """
        self.marks([(x, y)], radius, fill, line, width)

    def marks(
        self,
        points: Sequence[tuple[float, float]],
        radius: float,
        fill: str = "",
        line: str = "",
        width: float = 1.2,
        *,
        square: bool = False,
    ) -> None:
        """Draw many equal dots, rings or squares.

        Parameters
        ----------
        points : sequence of (float, float)
            Their middles, in units.
        radius : float
            Half of their width, in units.
        fill, line : str
            ``#rrggbb``; empty for none.
        width : float
            Of the line, in units.
        square : bool
            Squares instead of dots.
        """
        inks = _ink(fill) if fill else None, _ink(line) if line else None
        at, unit = self._pixels(points), self.unit
        self._draw(Marks(at, radius * unit, not square, *inks, width * unit))

    def spot(self, box: Box, action: str) -> None:
        """Let a click on a place mean an action.

        Parameters
        ----------
        box : tuple of float
            Left, top, right, bottom, in units.
        action : str
            See `state`.
        """
        self.spots.append((box, action))

    def letter_boxes(self) -> list[tuple[str, Box]]:
        """Texts and the boxes that they fill, in units: to see whether they keep out of each other's way.

        Returns
        -------
        list of (str, tuple of float)
            Text; left, top, right and bottom, in units.
        """
        found = []
        k = 1.0 / self.unit
        for x in (x for _, _, letters in self._strips for x in letters):
            left, top, right, bottom = font(x.size, x.bold).getbbox(x.text, anchor=x.anchor)
            found.append((x.text, (k * (x.x + left), k * (x.y + top), k * (x.x + right), k * (x.y + bottom))))
        return found

    def action_at(self, x: float, y: float) -> str:
        """What a click means.

        Parameters
        ----------
        x, y : float
            In pixels from the upper left corner.

        Returns
        -------
        str
            Action; empty where nothing can be clicked. What was added last lies on top.
        """
        x, y = x / self.unit, y / self.unit
        for (left, top, right, bottom), action in reversed(self.spots):
            if left <= x < right and top <= y < bottom:
                return action
        return ""

    def pixels(self) -> Pixels:
        """The picture, shape (rows, columns, 4), uint8, first row on top; drawing is over then."""
        if self._painted is None:
            tops = [top for top, *_ in self._strips] + [self.size[1]]
            parts = [
                painted(self.size[0], top, end - top, self.paper, tuple(marks), tuple(letters))
                for (top, marks, letters), end in zip(self._strips, tops[1:], strict=True)
                if end > top
            ]
            self._painted = parts[0] if len(parts) == 1 else np.concatenate(parts)
        return self._painted


def _ink(colour: str, alpha: float = 1.0) -> Ink:
    return (*rgb(colour), round(255 * alpha))
