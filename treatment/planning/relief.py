"""What works where no panel may hang: move the seat or the loudspeaker a little, or draw a curtain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from treatment.acoustics.image_sources import mirror
from treatment.acoustics.zones import seat_samples
from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Evaluation
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.model import Scene

#: How far the whole zone must lie from what blocks it, so that a panel can be hung over it (m).
ROOM_FOR_A_PANEL = 0.35
#: Steps and limit of a move that is still worth offering (m).
_STEP, _FARTHEST = 0.05, 1.0
#: Nothing is moved nearer to a surface than this (m).
_FROM_WALLS = 0.3
_DIRECTIONS = {
    "toward the back": (1.0, 0.0, 0.0),
    "toward the front": (-1.0, 0.0, 0.0),
    "to the right": (0.0, 1.0, 0.0),
    "to the left": (0.0, -1.0, 0.0),
}


def least_moves(scene: Scene, source: int, seat: int, surface: int, blocked: Rectangle) -> tuple[str, ...]:
    """Shortest moves of the seat and of the loudspeaker that free a first reflection.

    Parameters
    ----------
    scene : Scene
        The room.
    source, seat, surface : int
        Which reflection.
    blocked : Rectangle
        Where nothing may hang, in the surface's wall coordinates.

    Returns
    -------
    tuple of str
        One sentence part for the seat, one for the loudspeaker, where a move of at most a metre does it.
    """
    offers = []
    for who in ("seat", "loudspeaker"):
        best: tuple[float, str] | None = None
        for words, direction in _DIRECTIONS.items():
            distance = _distance(scene, source, seat, surface, blocked, who, np.array(direction))
            if distance is not None and (best is None or distance < best[0]):
                best = (distance, words)
        if best is not None:
            name = scene.seats[seat].name if who == "seat" else scene.loudspeakers[source].name
            offers.append(f"move {who} {name} {best[0]:.2f} m {best[1]}")
    return tuple(offers)


def _distance(
    scene: Scene, source: int, seat: int, surface: int, blocked: Rectangle, who: str, direction: Array
) -> float | None:
    """Least distance in one direction that frees the zone; None when a metre does not."""
    speaker, chair = scene.loudspeakers[source].position, scene.seats[seat]
    steps = np.arange(_STEP, _FARTHEST + 1e-9, _STEP)
    moves = steps[:, None] * direction
    place = chair.position if who == "seat" else speaker
    stands = scene.enclosure.contains(place + moves, margin=_FROM_WALLS)
    low_u, low_v, high_u, high_v = blocked.grown(ROOM_FOR_A_PANEL).bounds
    polygon = scene.surfaces[surface].polygon
    for step, move, inside in zip(steps, moves, stands, strict=True):
        if not inside:
            return None
        from_ = speaker + (move if who == "loudspeaker" else 0.0)
        to = seat_samples((chair.position + (move if who == "seat" else 0.0))[None], np.array([chair.spread]))
        image = mirror(from_, polygon.origin, polygon.normal)
        d0, d1 = polygon.height_above(to), float(polygon.height_above(image))
        points = polygon.to_wall(to + (d0 / (d0 - d1))[:, None] * (image - to))
        u, v = points[:, 0], points[:, 1]
        if np.all((u < low_u) | (u > high_u) | (v < low_v) | (v > high_v)):
            return float(step)
    return None


def with_curtain(scene: Scene, after: Evaluation, opening: int) -> str:
    """What a heavy curtain across an opening would do to the reflections off it.

    Parameters
    ----------
    scene : Scene
        The room.
    after : Evaluation
        With all panels.
    opening : int
        Index of the opening.

    Returns
    -------
    str
        A sentence part with the level change, or nothing when no curtain may be built.
    """
    curtains = [b for b in scene.builds if b.material.category == "curtain"]
    if not curtains:
        return ""
    curtain = max(curtains, key=lambda b: float(b.material.absorption[CRITERION_BANDS].mean()))
    name = scene.openings[opening].name
    changed = tuple(
        replace(o, material=curtain.material) if i == opening else o for i, o in enumerate(scene.openings)
    )
    drawn = evaluate(replace(scene, openings=changed), after.placements)
    on = np.array([len(n) == 1 and n[0] == name for n in after.arrivals.names], dtype=bool)
    if not on.any():
        return ""
    change = (after.arrivals.level_db[on] - drawn.arrivals.level_db[on])[:, CRITERION_BANDS]
    return (
        f"a curtain like '{curtain.id}' drawn across it takes {change.mean():.0f} dB off these reflections, "
        "mean of 1 to 8 kHz"
    )
