"""Text on paper: what is safe in XML, how wide it is, how it is cut to fit."""

from __future__ import annotations

from typing import Final
from xml.sax.saxutils import escape

#: Mean width of a character over its size; on the wide side, so that fits are safe.
CHARACTER: Final = 0.56


def printable(text: str) -> str:
    """Drop what XML forbids: control characters, non-characters, halves of surrogate pairs.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The rest of it.
    """
    return "".join(
        c
        for c in text
        if c in "\t\n" or (c >= " " and c not in "\ufffe\uffff" and not 0xD800 <= ord(c) <= 0xDFFF)
    )


def clean(text: str) -> str:
    """Make any text safe between tags.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        Escaped, without characters that XML forbids.
    """
    return escape(printable(text))


def text_width(text: str, size: float) -> float:
    """Estimate the width of text on paper.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Font size in mm.

    Returns
    -------
    float
        Width in mm.
    """
    return CHARACTER * size * len(text)


def shortened(text: str, width: float, size: float) -> str:
    """Cut text to a width, marked by an ellipsis.

    Parameters
    ----------
    text : str
        One line.
    width : float
        Room for it in mm.
    size : float
        Font size in mm.

    Returns
    -------
    str
        The text, or its beginning.
    """
    most = int(width / (CHARACTER * size))
    return text if len(text) <= most else text[: max(most - 1, 0)].rstrip() + "…"


def broken(text: str, width: float, size: float, most: int) -> list[str]:
    """Break text between words into lines of a width; what does not fit the last one is cut.

    Parameters
    ----------
    text : str
        One line.
    width : float
        Room for each line in mm.
    size : float
        Font size in mm.
    most : int
        Number of lines at most.

    Returns
    -------
    list of str
        One line or more.
    """
    lines: list[str] = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if not lines[-1] or text_width(longer, size) <= width or len(lines) == most:
            lines[-1] = longer
        else:
            lines.append(word)
    return [shortened(line, width, size) for line in lines]
