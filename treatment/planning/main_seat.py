"""Which seat is the main one."""

from __future__ import annotations

import numpy as np

from treatment.scene.model import Scene


def main_seat(scene: Scene) -> int:
    """Find the seat for which published angles hold: the one nearest to the middle of all.

    Parameters
    ----------
    scene : Scene
        The room, with at least one seat.

    Returns
    -------
    int
        Its index; the first of several that are equally near.
    """
    seats = np.array([s.position for s in scene.seats])
    away = np.linalg.norm(seats - seats.mean(axis=0), axis=1)
    return int(np.argmin(np.round(away, 6)))
