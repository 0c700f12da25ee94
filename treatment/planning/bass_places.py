"""Where a subwoofer can stand, and which places together serve the seats best."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment import measures
from treatment.acoustics.modal_response import level_db, mean_spatial_variance, unevenness
from treatment.bands import Array, frozen
from treatment.geometry.boxes import box_on
from treatment.planning.bass import Bass
from treatment.scene.model import Scene

#: From walls to the middle of the box, m; distance between places; from a seat; height of the driver. A box
#: of 0.4 to 0.5 m that one can walk around is meant (common practice).
FROM_WALLS: Final = 0.3
_APART: Final = 0.45
_FROM_SEATS: Final = 0.6
_HEIGHT: Final = 0.25
#: Free depth before a door or passage, m.
_BEFORE_DOORS: Final = 0.8
#: Two boxes nearer than this are one place, m.
_TOGETHER: Final = 0.9
#: Numbers of subwoofers that are looked at.
NUMBERS: Final = (1, 2, 4)


@dataclass(frozen=True, eq=False)
class PlaceChoice:
    """Places for a number of subwoofers.

    Parameters
    ----------
    positions : numpy.ndarray
        Centres of the drivers, shape (n, 3), m.
    words : tuple of str
        Where each is.
    spatial_variance : float or None
        Mean spatial variance, dB^2; None with a single seat.
    unevenness : float
        Standard deviation over seats and frequencies, dB.
    output_db : float
        Mean level at the seats re one subwoofer at 1 m in the open, dB.
    """

    positions: Array
    words: tuple[str, ...]
    spatial_variance: float | None
    unevenness: float
    output_db: float


def standing_places(scene: Scene) -> Array:
    """Places on the floor where a subwoofer can stand.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    numpy.ndarray
        Along the walls, corners and middles first, shape (p, 3), m: free of obstacles, seats, kept-free
        spaces, doors and passages.
    """
    floors = [
        shapely.force_2d(shapely.Polygon(s.polygon.to_room(np.asarray(part.exterior.coords))[:, :2]))
        for s in scene.surfaces
        if s.ground
        for part in shapely.get_parts(s.polygon.region)
    ]
    inner = shapely.union_all(floors).buffer(-FROM_WALLS, join_style="mitre")
    found: list[tuple[float, float]] = []
    for part in shapely.get_parts(inner):
        ring = np.asarray(part.exterior.coords)
        for a, b in itertools.pairwise(ring):
            number = max(2, 2 * round(math.dist(a, b) / _APART / 2.0))
            found += [tuple(a + (b - a) * k / number) for k in range(number)]
    if not found:
        return frozen(np.empty((0, 3)))
    base = float(scene.hall[0, 2])
    height = float(scene.subwoofers[0].position[2]) if scene.subwoofers else base + _HEIGHT
    places = np.column_stack([np.array(found), np.full(len(found), height)])
    free = scene.enclosure.contains(places, margin=0.2)
    for seat in scene.seats:
        free &= np.hypot(*(places - seat.position)[:, :2].T) >= _FROM_SEATS
    spaces = [
        box_on(scene.surfaces[k.surface].polygon, k.rectangle, max(k.depth, 0.05)).bounds[0]
        for k in scene.keep_outs
    ]
    spaces += [
        box_on(scene.surfaces[o.surface].polygon, o.rectangle, _BEFORE_DOORS).bounds[0]
        for o in scene.openings
        if scene.surfaces[o.surface].kind == "wall"
        and scene.surfaces[o.surface].polygon.to_room([[o.rectangle.u, o.rectangle.v]])[0, 2] < base + 0.3
    ]
    for low, high in spaces:
        free &= ~np.all((places > low - 0.2) & (places < high + 0.2), axis=1)
    return frozen(places[free])


def best_places(bass: Bass, places: Array, number: int) -> PlaceChoice | None:
    """Choose places that give every seat the same bass.

    Parameters
    ----------
    bass : Bass
        The room.
    places : numpy.ndarray
        To choose from, shape (p, 3), m.
    number : int
        How many subwoofers, equally loud and in phase.

    Returns
    -------
    PlaceChoice or None
        With the least unevenness: of all choices for one or two; for more, the two best ones added to and
        exchanged one by one until no exchange helps. None when there are fewer places.
    """
    if len(places) < number:
        return None
    frequency = bass.response.frequency_hz[bass.response.compared]
    pressure = bass.pressure(places, bass.seats, frequency)
    far = np.linalg.norm(places[:, None] - places[None], axis=-1) >= _TOGETHER
    if number <= 2:
        groups = np.array(list(itertools.combinations(range(len(places)), number)))
        groups = groups[far[groups[:, 0], groups[:, -1]]] if number == 2 else groups
        if not len(groups):
            return None
        scores = np.concatenate(
            [
                unevenness(level_db(pressure[part].sum(axis=1)))
                for part in np.array_split(groups, max(1, len(groups) // 200))
            ]
        )
        chosen = [int(i) for i in groups[int(np.argmin(scores))]]
    else:
        chosen = _exchanged(pressure, number, far)
        if len(chosen) < number:
            return None
    return _choice(bass, places[chosen], pressure[chosen])


def _exchanged(pressure: NDArray[np.complex128], number: int, far: NDArray[np.bool_]) -> list[int]:
    """Add the place that helps most, then exchange places while that helps."""
    chosen: list[int] = []

    def best_addition(kept: list[int]) -> tuple[float, int]:
        total = pressure[kept].sum(axis=0) if kept else np.zeros_like(pressure[0])
        scores = unevenness(level_db(total[None] + pressure))
        scores[~far[:, kept].all(axis=1)] = np.inf
        k = int(np.argmin(scores))
        return float(scores[k]), k

    score = math.inf
    while len(chosen) < number:
        score, k = best_addition(chosen)
        if math.isinf(score):
            return chosen
        chosen.append(k)
    for _ in range(20):
        better = False
        for slot in range(len(chosen)):
            kept = chosen[:slot] + chosen[slot + 1 :]
            new, k = best_addition(kept)
            if new < score - 1e-9:
                chosen, score, better = [*kept, k], new, True
        if not better:
            break
    return sorted(chosen)


def _choice(bass: Bass, positions: Array, pressure: NDArray[np.complex128]) -> PlaceChoice:
    level = level_db(pressure.sum(axis=0))
    energy = np.mean(10.0 ** (level / 10.0))
    return PlaceChoice(
        frozen(positions),
        tuple(place_words(bass.scene, p) for p in positions),
        float(mean_spatial_variance(level)) if len(level) > 1 else None,
        float(unevenness(level)),
        10.0 * math.log10(float(energy)),
    )


def place_words(scene: Scene, position: Array) -> str:
    """Say where a place is: the walls that it is at, and its tape readings.

    Parameters
    ----------
    scene : Scene
        The room.
    position : numpy.ndarray
        Shape (3,), m.

    Returns
    -------
    str
        ``front and left (x 0.30, y 0.30 m)``.
    """
    near = []
    for s in scene.surfaces:
        if s.kind == "wall" and not s.obstacle:
            height = float(s.polygon.height_above(position[None])[0])
            u, v = s.polygon.to_wall(position[None])[0]
            if 0.0 < height < FROM_WALLS + 0.1 and s.polygon.region.distance(shapely.Point(u, v)) < 0.05:
                near.append((height, s.name))
    walls = " and ".join(name for _, name in sorted(near)[:2])
    return f"{walls or 'free'} ({measures.place_words(position[:2], scene.units)})"
