"""What there is to choose from in a room."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from treatment.planning.plan import Placement
from treatment.present.native.state import ALL, Choices
from treatment.scene.model import Scene


def choices_of(scene: Scene, placements: Sequence[Placement]) -> Choices:
    """What there is to choose from.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels.

    Returns
    -------
    Choices
        By name.
    """
    return Choices(
        tuple(s.name for s in scene.loudspeakers),
        tuple(s.name for s in scene.seats),
        tuple(p.id for p in placements),
    )


def middle_seat(scene: Scene) -> int:
    """Index of the seat nearest to the middle of all seats.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    int
        `ALL` without seats.
    """
    if not scene.seats:
        return ALL
    places = np.array([s.position for s in scene.seats])
    return int(np.argmin(np.linalg.norm(places - places.mean(axis=0), axis=1)))
