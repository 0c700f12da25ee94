"""Whether one can still walk from every place of a room to every other, with something standing in it.

`treatment.planning.walkways` looks at what lies right before a panel. That does not see a panel that closes a
way: where too little is left on either side of it, nobody walks on either side.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from treatment.bands import Array
from treatment.planning.walkways import SHOULDERS, STEP
from treatment.scene.model import Scene

#: A place counts as reached when the free floor comes this near to it (m): from there one sits down.
REACH: Final = 1.00
#: How far before a door its place is looked for (m): half a step. Common practice.
_BEFORE: Final = 0.40
_LEAST: Final = 1e-6


def free_floor(scene: Scene, bounds: Array, width: float) -> BaseGeometry:
    """Ground on which the middle of someone of a width can be.

    Parameters
    ----------
    scene : Scene
        The room.
    bounds : numpy.ndarray
        Lowest and highest corners of what stands in it beside its surfaces, shape (n, 2, 3), m.
    width : float
        Clear width of a way, m.

    Returns
    -------
    shapely.geometry.base.BaseGeometry
        In room coordinates from above, m.
    """
    low = float(scene.hall[0, 2])
    whole = shapely.union_all(
        [
            _outline(s.polygon.to_room(s.polygon.edges[:, 0]))
            for s in scene.surfaces
            if s.kind == "floor" and (s.ground or s.obstacle)
        ]
    )
    solid: dict[str, list[Array]] = {}
    for s in scene.surfaces:
        if s.obstacle:
            solid.setdefault(s.obstacle, []).append(s.polygon.to_room(s.polygon.edges[:, 0]))
    blocks = [np.concatenate(parts) for parts in solid.values()]
    ends = np.array([(b[:, 2].min(), b[:, 2].max()) for b in blocks]).reshape(-1, 2) - low
    # Under a soffit one walks; on to a riser one steps.
    upright = (ends[:, 0] < scene.walkways.height) & (ends[:, 1] > STEP)
    stands = [_outline(blocks[k]) for k in np.flatnonzero(upright)]
    tall = (bounds[:, 0, 2] - low < scene.walkways.height) & (bounds[:, 1, 2] - low > STEP)
    stands += [shapely.box(*b[0, :2], *b[1, :2]) for b in bounds[tall]]
    return whole.difference(shapely.union_all(stands)).buffer(-width / 2.0 + _LEAST)


def _outline(points: Array) -> BaseGeometry:
    return shapely.MultiPoint(points[:, :2]).convex_hull


def cut_off(scene: Scene, there: Array, more: Array) -> bool:
    """Tell whether something more that stands in a room cuts one place off from another.

    Parameters
    ----------
    scene : Scene
        The room.
    there : numpy.ndarray
        Lowest and highest corners of what stands there already, shape (n, 2, 3), m.
    more : numpy.ndarray
        Of what comes, shape (k, 2, 3), m.

    Returns
    -------
    bool
        True when two places, seats, doors, passages or fuse boards, are joined by a way as wide as the scene
        asks for, or as wide as shoulders where it asks for none, and are not any more.
    """
    width = scene.walkways.width or SHOULDERS
    places = _places(scene)
    before = _groups(free_floor(scene, there, width), places)
    after = _groups(free_floor(scene, np.concatenate([there, more]), width), places)
    for k in range(len(places)):
        joined = np.any(before & before[k], axis=1)
        if np.any(joined & ~np.any(after & after[k], axis=1)):
            return True
    return False


def _places(scene: Scene) -> list[tuple[float, float]]:
    """Seats, and the ground before doors, passages and fuse boards."""
    found = [(float(s.position[0]), float(s.position[1])) for s in scene.seats]
    for o in scene.openings:
        if o.material.open or o.material.category in ("door", "opening"):
            x, y, _ = scene.surfaces[o.surface].polygon.to_room(np.array(o.rectangle.centre), out=_BEFORE)
            found.append((float(x), float(y)))
    for k in scene.keep_outs:
        if k.reason == "electrical":
            x, y, _ = scene.surfaces[k.surface].polygon.to_room(np.array(k.rectangle.centre), out=_BEFORE)
            found.append((float(x), float(y)))
    return found


def _groups(free: BaseGeometry, places: Sequence[tuple[float, float]]) -> NDArray[np.bool_]:
    """Which parts of the free floor each place is reached from, shape (places, parts)."""
    parts = [p for p in shapely.get_parts(free) if not p.is_empty]
    points = [shapely.Point(p) for p in places]
    return np.array([[p.distance(q) <= REACH for q in parts] for p in points], dtype=bool).reshape(
        len(points), len(parts)
    )
