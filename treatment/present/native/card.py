"""A card: texts, areas, lines and dots on a small picture, and the places on it that can be clicked.

Areas and lines are drawn at twice the size and brought down, so that they are smooth; letters are drawn
at their size, so that they are sharp.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from treatment.present.native.letters import font, plain, text_pixels, write
from treatment.present.palette import INK, rgb
from treatment.present.svg import Box

Pixels = NDArray[np.uint8]
_FINE = 2


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
        from PIL import Image, ImageDraw

        self.size, self.unit = size, unit
        #: Texts in the order of writing, and where things can be clicked: box in units, action.
        self.texts: list[str] = []
        self.spots: list[tuple[Box, str]] = []
        self._painted: Pixels | None = None
        self._letters: list[tuple[float, float, str, int, bool, str, str]] = []
        # On paper colours are blended now; without it they keep their opacity for the scene behind.
        mode, ground = ("RGB", rgb(paper)) if paper else ("RGBA", 0)
        self._ground = Image.new(mode, (_FINE * size[0], _FINE * size[1]), ground)
        self._pen = ImageDraw.Draw(self._ground, "RGBA")

    @property
    def width(self) -> float:
        """Width in units."""
        return self.size[0] / self.unit

    @property
    def height(self) -> float:
        """Height in units."""
        return self.size[1] / self.unit

    def _fine(self, *lengths: float) -> list[float]:
        return [_FINE * self.unit * x for x in lengths]

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
        self._letters.append((x, y, text, self._letter(size), bold, colour, anchor))

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
        corners = self._fine(*box)
        inside = (*rgb(fill), round(255 * alpha)) if fill else None
        edge = (*rgb(line), 255) if line else None
        pixels = max(1, round(_FINE * self.unit * width))
        if radius:
            round_by = _FINE * self.unit * radius
            self._pen.rounded_rectangle(corners, radius=round_by, fill=inside, outline=edge, width=pixels)
        else:
            self._pen.rectangle(corners, fill=inside, outline=edge, width=pixels)

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
        self._pen.line(
            [c for p in points for c in self._fine(*p)],
            fill=(*rgb(colour), round(255 * alpha)),
            width=max(1, round(_FINE * self.unit * width)),
            joint="curve",
        )

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
        self._pen.polygon([c for p in points for c in self._fine(*p)], fill=(*rgb(fill), round(255 * alpha)))

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
        self._pen.ellipse(
            self._fine(x - radius, y - radius, x + radius, y + radius),
            fill=fill or None,
            outline=line or None,
            width=max(1, round(_FINE * self.unit * width)),
        )

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
        """Texts and the boxes that they fill, in units: to see whether they keep out of each other's way."""
        found = []
        for x, y, text, size, bold, _, anchor in self._letters:
            left, top, right, bottom = font(size, bold).getbbox(text, anchor=anchor)
            k = 1.0 / self.unit
            found.append((text, (x + k * left, y + k * top, x + k * right, y + k * bottom)))
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
        if self._painted is not None:
            return self._painted
        picture = self._ground.reduce(_FINE)
        for x, y, text, size, bold, colour, anchor in self._letters:
            at = (x * self.unit, y * self.unit)
            write(picture, at, text, size, bold=bold, colour=colour, anchor=anchor)
        self._painted = np.asarray(picture.convert("RGBA"))
        return self._painted
