"""Moves of seats and loudspeakers that free a reflection from what blocks its point, and spoil nothing."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from treatment.acoustics.image_sources import mirror
from treatment.acoustics.layout import AZIMUTH_SLACK
from treatment.acoustics.zones import seat_samples
from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.planning.arrangement import arrangement_of
from treatment.planning.kept import HEAD_SPACE, SPEAKER_SPACE, kept_free
from treatment.planning.setup_distances import EQUAL_PATHS, twins
from treatment.scene.model import Scene
from treatment.units import format_length

#: How far the whole zone must lie from what blocks it, so that a panel can be hung over it (m).
ROOM_FOR_A_PANEL = 0.35
#: Steps and limit of a move that is still worth offering (m).
_STEP, _FARTHEST = 0.05, 1.0
#: Nothing is moved nearer to a surface than this (m), or than it stands already.
_FROM_WALLS = 0.3
#: Seats whose x differ by less stand in one row and move together (m).
_ROW: Final = 0.35
#: Heads keep this far from each other (m): a seat's width. Common practice.
_SEAT_WIDTH: Final = 0.6
#: Labels of what stays where it is, between left and right.
_IN_THE_MIDDLE: Final = ("M+000", "M+180", "U+000", "B+000", "T+000")


@dataclass(frozen=True)
class _Way:
    """What moves together, and where to: unit steps of each, shape (k, 3)."""

    words: str
    indices: tuple[int, ...]
    steps: tuple[tuple[float, float, float], ...]


def least_moves(scene: Scene, source: int, seat: int, surface: int, blocked: Rectangle) -> tuple[str, ...]:
    """Shortest moves of the seats and of the loudspeakers that free a first reflection.

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
        One sentence part for the seats, one for the loudspeakers, where a move of at most a metre does it.
        Seats of one row move as one, and so do left and right loudspeakers. A move is offered only where
        everything still stands inside the room and clear of what is kept free, no loudspeaker leaves the
        range of its label (ITU-R BS.2051), and fewer points than before lie in what is blocked.
    """
    offers = []
    at_first = _points_in(scene, surface, blocked)
    for who, ways in (("seat", _seat_ways(scene, seat)), ("loudspeaker", _speaker_ways(scene, source))):
        best: tuple[float, _Way] | None = None
        for way in ways:
            for distance in np.arange(_STEP, _FARTHEST + 1e-9, _STEP):
                if best is not None and distance >= best[0]:
                    break
                moved = _moved(scene, who, way, float(distance))
                # What is cheap to tell comes first.
                if _points_in(moved, surface, blocked, ((source, seat),)).any():
                    continue
                points = _points_in(moved, surface, blocked)
                fewer = (points > 0).sum() < (at_first > 0).sum()
                if fewer and _stands(scene, moved, who, way.indices) and _as_published(scene, moved):
                    best = (float(distance), way)
                break
        if best is not None:
            things = scene.seats if who == "seat" else scene.loudspeakers
            names = [f"'{things[i].name}'" for i in best[1].indices]
            far = format_length(best[0], scene.units)
            offers.append(f"move {_listed(who, names)} {far} {best[1].words}")
    return tuple(offers)


def _listed(who: str, names: Sequence[str]) -> str:
    """Name one or several things."""
    if len(names) == 1:
        return f"{who} {names[0]}"
    return f"{who}s {', '.join(names[:-1])} and {names[-1]}"


def _seat_ways(scene: Scene, seat: int) -> Iterator[_Way]:
    """Ways to move a seat with its row."""
    x = scene.seats[seat].position[0]
    row = tuple(i for i, s in enumerate(scene.seats) if abs(s.position[0] - x) < _ROW)
    for words, step in (
        ("toward the back", (1.0, 0.0, 0.0)),
        ("toward the front", (-1.0, 0.0, 0.0)),
        ("to the right", (0.0, 1.0, 0.0)),
        ("to the left", (0.0, -1.0, 0.0)),
    ):
        yield _Way(words, row, (step,) * len(row))


def _speaker_ways(scene: Scene, source: int) -> Iterator[_Way]:
    """Ways to move a loudspeaker, with its twin on the other side."""
    if scene.loudspeakers[source].channel in _IN_THE_MIDDLE:
        return
    pair = next((p for p in twins(scene) if source in p), None)
    if pair is None:
        one = (source,)
        yield _Way("toward the back", one, ((1.0, 0.0, 0.0),))
        yield _Way("toward the front", one, ((-1.0, 0.0, 0.0),))
        yield _Way("to the right", one, ((0.0, 1.0, 0.0),))
        yield _Way("to the left", one, ((0.0, -1.0, 0.0),))
        return
    left, right = sorted(pair, key=lambda i: float(scene.loudspeakers[i].position[1]))
    yield _Way("toward the back", (left, right), ((1.0, 0.0, 0.0),) * 2)
    yield _Way("toward the front", (left, right), ((-1.0, 0.0, 0.0),) * 2)
    yield _Way("outward each", (left, right), ((0.0, -1.0, 0.0), (0.0, 1.0, 0.0)))
    yield _Way("inward each", (left, right), ((0.0, 1.0, 0.0), (0.0, -1.0, 0.0)))


def _moved(scene: Scene, who: str, way: _Way, distance: float) -> Scene:
    """The room with some things moved."""
    offset = {i: distance * np.array(step) for i, step in zip(way.indices, way.steps, strict=True)}
    if who == "seat":
        seats = tuple(
            replace(s, position=s.position + offset[i]) if i in offset else s
            for i, s in enumerate(scene.seats)
        )
        return replace(scene, seats=seats)
    speakers = tuple(
        replace(s, position=s.position + offset[i]) if i in offset else s
        for i, s in enumerate(scene.loudspeakers)
    )
    return replace(scene, loudspeakers=speakers)


def _stands(scene: Scene, moved: Scene, who: str, which: Sequence[int]) -> bool:
    """Whether what was moved stands in the room, not too near to walls (or as before), clear of the rest."""
    before, after = (s.seats if who == "seat" else s.loudspeakers for s in (scene, moved))
    walls = [i for i, s in enumerate(scene.surfaces) if s.kind != "floor"]
    own = {after[k].name for k in which}
    taken = [k.box.bounds[0] for k in kept_free(moved) if k.reason != "seat" and k.name not in own | {""}]
    for i in which:
        place = after[i].position
        gaps = [
            float(scene.enclosure.distance_to_surfaces(s[i].position)[walls].min()) for s in (before, after)
        ]
        if not scene.enclosure.contains(place[None])[0] or gaps[1] < min(_FROM_WALLS, gaps[0]) - 1e-9:
            return False
        if any(np.all((place > low) & (place < high)) for low, high in taken):
            return False
        others = [s.position for k, s in enumerate(moved.seats) if who != "seat" or k not in which]
        least = _SEAT_WIDTH if who == "seat" else HEAD_SPACE + SPEAKER_SPACE
        if any(float(np.linalg.norm(place - o)) < least for o in others):
            return False
    return True


def _as_published(scene: Scene, moved: Scene) -> bool:
    """Whether the move takes no loudspeaker further from its range, and no pair out of balance."""
    before, after = arrangement_of(scene), arrangement_of(moved)
    if before is None or after is None:
        return True
    seat = after.seat
    for left, right in twins(scene):
        was, now = (
            abs(float(x.layout.distance[seat, left] - x.layout.distance[seat, right]))
            for x in (before, after)
        )
        if now > max(was, EQUAL_PATHS) + 1e-9:
            return False
    for miss in ("azimuth_miss", "elevation_miss"):
        was, now = (np.nan_to_num(np.abs(getattr(x.layout, miss)[x.seat])) for x in (before, after))
        slack = AZIMUTH_SLACK if miss == "azimuth_miss" else after.layout.elevation_slack
        if np.any(now > np.maximum(was, slack) + 1e-9):
            return False
    return True


def _points_in(
    scene: Scene, surface: int, blocked: Rectangle, pairs: Sequence[tuple[int, int]] | None = None
) -> Array:
    """How many points of each seating area each loudspeaker reaches by what is blocked, shape (s, r).

    Of some pairs only, where these are given.
    """
    polygon = scene.surfaces[surface].polygon
    low_u, low_v, high_u, high_v = blocked.grown(ROOM_FOR_A_PANEL).bounds
    count = np.zeros((len(scene.loudspeakers), len(scene.seats)))
    for i, j in np.ndindex(count.shape) if pairs is None else pairs:
        chair, speaker = scene.seats[j], scene.loudspeakers[i]
        heads = seat_samples(chair.position[None], np.array([chair.spread]))
        out = polygon.height_above(heads)
        image = mirror(speaker.position, polygon.origin, polygon.normal)
        behind = float(polygon.height_above(image))
        points = polygon.to_wall(heads + (out / (out - behind))[:, None] * (image - heads))
        u, v = points[:, 0], points[:, 1]
        count[i, j] = ((u >= low_u) & (u <= high_u) & (v >= low_v) & (v <= high_v)).sum()
    return count
