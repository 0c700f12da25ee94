"""Chairs, sofas, people: what absorbs sound in the room without being part of its boundary."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array


@dataclass(frozen=True, eq=False)
class RoomObject:
    """Equal objects in the room, each with an absorption area of its own.

    Parameters
    ----------
    name : str
        What they are.
    count : int
        How many.
    area : numpy.ndarray
        Equivalent absorption area of one, shape (8,), m2.
    uncertainty : numpy.ndarray
        Expanded uncertainty (k = 2) of the area of one, shape (8,), m2.
    volume : float
        Air that one displaces, m3.
    material : str
        Row of the library, or how the area was come by.
    assumed : numpy.ndarray
        Shape (8,), bool: bands without published data.
    """

    name: str
    count: int
    area: Array
    uncertainty: Array
    volume: float
    material: str
    assumed: NDArray[np.bool_]

    @property
    def kind(self) -> str:
        """``people`` or ``object``."""
        return "people" if self.material == PERSON else "object"


#: Row of the library for one person on a chair, and the air that a person displaces: 70 kg at about the
#: density of water, m3.
PERSON = "person-seated"
PERSON_VOLUME = 0.07
