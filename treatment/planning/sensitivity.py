"""If you sit a foot further back, do the panels still cover? The main seat moved, the plan judged again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from treatment.bands import frozen
from treatment.measures import length_words
from treatment.planning.evaluate import evaluate
from treatment.planning.fate import fate_of
from treatment.planning.lists import SeatShift
from treatment.planning.main_seat import main_seat
from treatment.planning.pairing import same_paths
from treatment.planning.plan import Placement
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.model import Scene

#: Moves that are tried, with their words (m): about a foot along the room, half of it across. A choice.
MOVES: Final = (
    ("where it is", (0.0, 0.0, 0.0)),
    ("further back", (0.3, 0.0, 0.0)),
    ("further forward", (-0.3, 0.0, 0.0)),
    ("to the left", (0.0, -0.15, 0.0)),
    ("to the right", (0.0, 0.15, 0.0)),
)
#: A head stays this far (m) from every surface.
_FROM_SURFACES: Final = 0.15


def seat_shifts(scene: Scene, placements: Sequence[Placement]) -> tuple[SeatShift, ...]:
    """Judge panels for the main seat where it is and a little off.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels; they stay where they are.

    Returns
    -------
    tuple of SeatShift
        One for each of `MOVES` that leaves the head in the room; first reflections only. Empty without a
        seat or a loudspeaker.
    """
    if not scene.seats or not scene.loudspeakers:
        return ()
    seat = scene.seats[main_seat(scene)]
    middle = frozen(np.mean([s.position for s in scene.seats], axis=0))
    # Loudspeakers stay aimed where they are, whoever moves.
    speakers = tuple(replace(s, aim=middle if s.aim is None else s.aim) for s in scene.loudspeakers)
    places = np.array([seat.position + np.array(move) for _, move in MOVES])
    stays = scene.enclosure.contains(places, margin=_FROM_SURFACES)
    stays[0] = True
    made = []
    for (way, move), place, good in zip(MOVES, places, stays, strict=True):
        if good:
            far = float(np.abs(move).max())
            words = f"{length_words(far, scene.units)} {way}" if far else way
            moved = replace(seat, position=frozen(place))
            made.append(_judged(replace(scene, seats=(moved,), loudspeakers=speakers), placements, words))
    return tuple(made)


def _judged(scene: Scene, placements: Sequence[Placement], words: str) -> SeatShift:
    """Judge panels for the only seat of a scene."""
    before, after = evaluate(scene, order=1), evaluate(scene, placements, order=1)
    fate, b = fate_of(before, after, 1), after.arrivals
    strong = np.array([v == "treat" for v in before.arrivals.verdict], dtype=bool)
    # A panel that stands in the room stops some paths: these are gone.
    again = same_paths(before.arrivals, b)
    left = again[strong & (again >= 0)]
    loudest = b.level_db[:, CRITERION_BANDS].max(axis=1)
    level, which = float("nan"), tuple[int, ...]()
    if len(left):
        i = int(left[np.argmax(loudest[left])])
        level, which = float(loudest[i]), (int(b.source[i]), int(b.surfaces[i, 0]))
    return SeatShift(
        words,
        scene.seats[0].position,
        fate.before,
        fate.stay,
        fate.weaker_db,
        level,
        which,
    )
