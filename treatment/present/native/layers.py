"""What lies over the room's picture: names, and cards on top of them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from treatment.present.native.card import Card
from treatment.present.native.labels import Placed, paint_labels
from treatment.present.native.paint import Pixels


@lru_cache(maxsize=4)
def names_picture(placed: tuple[Placed, ...], size: tuple[int, int], unit: float) -> Pixels:
    """Paint names.

    Parameters
    ----------
    placed : tuple of Placed
        From `place_labels`.
    size : tuple of int
        Of the picture, pixels.
    unit : float
        Pixels to a unit.

    Returns
    -------
    numpy.ndarray
        Shape (rows, columns, 4), uint8, first row on top, read-only; the same object for the same names.
    """
    from PIL import Image

    picture = Image.new("RGBA", size, 0)
    paint_labels(picture, placed, unit)
    pixels = np.array(picture)
    pixels.setflags(write=False)
    return pixels


def with_cards(names: Pixels, cards: Sequence[tuple[Card, tuple[int, int]]]) -> Pixels:
    """Lay cards over names.

    Parameters
    ----------
    names : numpy.ndarray
        From `names_picture`.
    cards : sequence of (Card, (int, int))
        Each with its upper left corner, pixels; later ones lie on top. What reaches out of the picture is
        cut off.

    Returns
    -------
    numpy.ndarray
        Shape (rows, columns, 4), uint8.
    """
    picture = names.copy()
    for card, (left, top) in cards:
        under = picture[top : top + card.size[1], left : left + card.size[0]]
        pixels = card.pixels()[: under.shape[0], : under.shape[1]]
        # Outside its round corners a card leaves what is there.
        np.copyto(under, pixels, where=pixels[..., 3:] > 0)
    return picture
