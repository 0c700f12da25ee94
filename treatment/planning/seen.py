"""Paths from the loudspeakers of a scene that exist in its room, doors and passages considered."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.bounces import Bounces, bounces_of
from treatment.acoustics.image_sources import Paths, find_paths
from treatment.bands import Array
from treatment.errors import Finding
from treatment.geometry.polygon import Rectangle
from treatment.planning.memory import Memory
from treatment.scene.model import Scene

#: Paths from images to points that are still worth trying; about a microsecond each.
MOST_CANDIDATES = 5_000_000


def affordable_order(scene: Scene, order: int) -> int:
    """Limit the number of reflections in a room of very many surfaces.

    Parameters
    ----------
    scene : Scene
        The room.
    order : int
        What is asked for.

    Returns
    -------
    int
        The same, or less where images times loudspeakers times seats would be more than
        `MOST_CANDIDATES`.
    """
    ends = max(1, len(scene.loudspeakers)) * max(1, len(scene.seats))
    while order > 1 and len(scene.surfaces) ** order * ends > MOST_CANDIDATES:
        order -= 1
    return order


def seen_paths(
    scene: Scene, receivers: Array, order: int = 2, memory: Memory | None = None
) -> tuple[Paths, Bounces]:
    """Paths from the loudspeakers that do not vanish in an open passage.

    Parameters
    ----------
    scene : Scene
        The room.
    receivers : numpy.ndarray
        Shape (r, 3), m.
    order : int
        Highest number of reflections.
    memory : Memory, optional
        Of earlier evaluations.

    Returns
    -------
    paths : Paths
        A path whose point lies in an open passage, its rim included, does not exist.
    bounces : Bounces
        Their bounces.
    """
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    find = find_paths if memory is None else memory.paths
    paths = find(scene.enclosure, sources, receivers, affordable_order(scene, order))
    bounces = bounces_of(scene.enclosure, paths, sources)
    lost = np.zeros(len(paths), dtype=bool)
    for opening in scene.openings:
        if opening.material.open:
            on = (bounces.surface == opening.surface) & within(bounces.wall, opening.rectangle.grown(1e-6))
            lost[bounces.path[on]] = True
    gone = np.array([s.material.open for s in scene.surfaces], dtype=bool)
    lost[bounces.path[gone[bounces.surface]]] = True
    if lost.any():
        keep = np.flatnonzero(~lost)
        paths = paths.taken(keep)
        bounces = bounces_of(scene.enclosure, paths, sources)
    return paths, bounces


def within(wall: Array, rectangle: Rectangle) -> NDArray[np.bool_]:
    """Tell which points lie in a rectangle, its rim included.

    Parameters
    ----------
    wall : numpy.ndarray
        Wall coordinates, shape (n, 2), m.
    rectangle : Rectangle
        In the same coordinates.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    low_u, low_v, high_u, high_v = rectangle.bounds
    return (wall[:, 0] >= low_u) & (wall[:, 0] <= high_u) & (wall[:, 1] >= low_v) & (wall[:, 1] <= high_v)


def limited(scene: Scene, order: int) -> tuple[Finding, ...]:
    """Say so where fewer reflections are traced than asked for.

    Parameters
    ----------
    scene : Scene
        The room.
    order : int
        What is asked for.

    Returns
    -------
    tuple of Finding
        One note, or nothing.
    """
    limit = affordable_order(scene, order)
    if limit == order:
        return ()
    text = f"{len(scene.surfaces)} surfaces: reflections are traced to order {limit} only, not {order}"
    return (Finding("order-limited", "note", "arrivals", text, "draw the room with fewer, larger surfaces"),)
