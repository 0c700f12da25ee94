"""Letters for pictures: the font, how wide a text is, and texts that are drawn once and stamped often."""

from __future__ import annotations

from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any


@cache
def font_file(bold: bool = False) -> str:
    """Path of a font with many scripts, from matplotlib's data; importing matplotlib would take a second.

    Parameters
    ----------
    bold : bool
        Whether the strong cut is meant.

    Returns
    -------
    str
        Empty where there is none.
    """
    spec = find_spec("matplotlib")
    home = Path(spec.origin).parent if spec and spec.origin else Path()
    font = home / "mpl-data" / "fonts" / "ttf" / ("DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf")
    return str(font) if font.is_file() else ""


@cache
def font(pixels: int, bold: bool = False) -> Any:
    """Font of a size.

    Parameters
    ----------
    pixels : int
        Size.
    bold : bool
        Whether the strong cut is meant.

    Returns
    -------
    PIL.ImageFont.FreeTypeFont
        The built-in font where no file is found.
    """
    from PIL import ImageFont

    path = font_file(bold)
    return ImageFont.truetype(path, pixels) if path else ImageFont.load_default(pixels)


@lru_cache(maxsize=4096)
def text_pixels(text: str, pixels: int, bold: bool) -> float:
    """Width of a text.

    Parameters
    ----------
    text : str
        One line.
    pixels : int
        Size of the letters.
    bold : bool
        Strong letters.

    Returns
    -------
    float
        In pixels.
    """
    return float(font(pixels, bold).getlength(text))


@lru_cache(maxsize=4096)
def _stamp(text: str, pixels: int, bold: bool, anchor: str) -> tuple[Any, tuple[int, int]]:
    """A text as a mask, and where it lies about its anchor: letters are drawn once, then stamped."""
    from PIL import Image

    mask, (x, y) = font(pixels, bold).getmask2(text, mode="L", anchor=anchor)
    if 0 in mask.size:
        return None, (0, 0)
    return Image.frombytes("L", mask.size, bytes(mask)), (int(x), int(y))


def write(
    picture: Any, at: tuple[float, float], text: str, pixels: int, *, bold: bool, colour: str, anchor: str
) -> None:
    """Write one line on a picture.

    Parameters
    ----------
    picture : PIL.Image.Image
        RGB or RGBA.
    at : tuple of float
        Place of the anchor, pixels.
    text : str
        What to write.
    pixels : int
        Size of the letters.
    bold : bool
        Strong letters.
    colour : str
        ``#rrggbb``.
    anchor : str
        Two letters as in Pillow.
    """
    mask, (right, down) = _stamp(text, pixels, bold, anchor)
    if mask is not None:
        picture.paste(colour, (round(at[0]) + right, round(at[1]) + down), mask)


@lru_cache(maxsize=4096)
def plain(text: str, most: int = 200) -> str:
    """Text on one line, control characters and halves of characters left out.

    Parameters
    ----------
    text : str
        Any text.
    most : int
        Characters to keep.

    Returns
    -------
    str
        Cut with an ellipsis where it is longer.
    """
    line = "".join(c if c.isprintable() else " " for c in text)
    return line if len(line) <= most else line[: most - 1] + "…"
