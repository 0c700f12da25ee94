"""Where something of a usual size may go into a room: on a surface or its floor, off everything else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.scene.model import Loudspeaker, Scene, Seat, Subwoofer

#: Steps in which a place is looked for (m).
_STEP: Final = 0.1
#: So many places are held against the ceiling together: mostly the nearest one is free.
_AT_ONCE: Final = 64
#: Kept between two things on one surface (m).
_APART: Final = 0.05
#: Kept round the places of ears and loudspeakers (m).
_ROUND: Final = 0.2
#: Kept free in front of a way through a wall, where its keep-out does not tell (m).
_BEFORE_DOOR: Final = 0.9
#: A recess that begins higher than this above the floor has a sill (m).
_SILL: Final = 0.05
_LOOKS: Final = {"front": (1.0, 0.0), "back": (-1.0, 0.0), "left": (0.0, 1.0), "right": (0.0, -1.0)}


@dataclass(frozen=True)
class Wanted:
    """Something flat of a usual size.

    Parameters
    ----------
    sides : tuple of str
        Of ``front``, ``back``, ``left``, ``right`` and ``ceiling``, the best first.
    size : tuple of float
        Width and height, m.
    bottom : float or None
        Height above the lowest edge of the surface, m; None for its middle.
    smaller : bool
        Whether a smaller one is tried where nothing so large fits; space for work on electricity never is.
    """

    sides: tuple[str, ...]
    size: tuple[float, float]
    bottom: float | None = None
    smaller: bool = True


def vacant_place(
    scene: Scene, wanted: Wanted, surface: int | None = None, also: Sequence[tuple[int, Rectangle]] = ()
) -> tuple[int, Rectangle] | None:
    """Find a place on a surface, near the middle of it, and off openings, keep-outs and the picture.

    Parameters
    ----------
    scene : Scene
        The room.
    wanted : Wanted
        What shall go there. Where nothing so large fits, something smaller is tried if that will do.
    surface : int, optional
        Index of the only surface to look at; default those of its sides.
    also : sequence of tuple of int and Rectangle
        What is better left alone, such as panels: surface and place of each.

    Returns
    -------
    tuple of int and Rectangle, or None
        Surface and place; None when there is none.
    """
    order = [surface] if surface is not None else _in_order(scene, wanted)
    for share in (1.0, 0.75, 0.5, 0.3) if wanted.smaller else (1.0,):
        for spare in ((*also,), ()) if also else ((),):
            for index in order:
                taken = [*_taken(scene, index), *(r for s, r in spare if s == index)]
                found = _place_on(scene, index, wanted, share, taken)
                if found is not None:
                    return index, found
    return None


def vacant_block(
    scene: Scene,
    sizes: Sequence[tuple[float, float, float]],
    target: tuple[float, float],
    *,
    hung: bool = False,
    also: Sequence[tuple[Array, Array]] = (),
) -> tuple[Array, Array] | None:
    """Find a place for a block that stands on the floor, or hangs below the ceiling.

    Parameters
    ----------
    scene : Scene
        The room.
    sizes : sequence of tuple of float
        Extent along x, y and z, m; the first that fits is taken.
    target : tuple of float
        Where it should be from above, as shares of the room along x and y: 0 at the front and the left.
    hung : bool
        Whether it hangs below the ceiling.
    also : sequence of tuple of numpy.ndarray
        What is better left alone, such as panels: lowest and highest corner of each, shape (3,), m.

    Returns
    -------
    tuple of numpy.ndarray, or None
        Lowest corner and size, each of shape (3,), m; None when there is no place.
    """
    low, high = scene.hall
    floor = _floor(scene)
    boxes, points = _blocks(scene), _points(scene)
    grown = [(below - _APART, above + _APART) for below, above in also]
    for size, spare in ((np.asarray(s), b) for s in sizes for b in ((grown, []) if also else ([],))):
        if np.any(size > high - low + 1e-6):
            continue
        z = float(high[2] - size[2]) if hung else float(low[2])
        at = _grid(low[:2], high[:2] - size[:2])
        shapes = shapely.box(at[:, 0], at[:, 1], at[:, 0] + size[0], at[:, 1] + size[1])
        fits = shapely.covers(floor.buffer(1e-6, join_style="mitre"), shapes)
        first = np.column_stack([at, np.full(len(at), z)])
        last = first + size
        for below, above in (*boxes, *spare):
            fits &= ~np.all((first < above - 1e-6) & (last > below + 1e-6), axis=1)
        for p in points:
            fits &= ~np.all((first < p + _ROUND) & (last > p - _ROUND), axis=1)
        if not fits.any():
            continue
        goal = low[:2] + np.asarray(target) * (high - low)[:2]
        # The nearest edge counts, so that what belongs to a wall touches it.
        free = (high - low)[:2] - size[:2]
        goal = np.minimum(np.maximum(goal - size[:2] / 2.0, low[:2]), low[:2] + np.maximum(free, 0.0))
        near = np.flatnonzero(fits)
        near = near[np.argsort(np.hypot(*(at[near] - goal).T), kind="stable")]
        for some in np.split(near, range(_AT_ONCE, len(near), _AT_ONCE)):
            under = some[_in_the_air(scene, first[some], size, hung)]
            if len(under):
                return first[under[0]], size
    return None


def _in_the_air(scene: Scene, first: Array, size: Array, hung: bool) -> NDArray[np.bool_]:
    """Whether blocks lie below the ceiling: hanging ones whole, of others a slope may cut the top."""
    inset = 1e-3
    z = inset if hung else size[2] - inset
    corners = [
        first + np.array([a, b, z]) for a in (inset, size[0] - inset) for b in (inset, size[1] - inset)
    ]
    inside = scene.enclosure.contains(np.concatenate(corners)).reshape(4, -1)
    return np.asarray(inside.all(axis=0) if hung else inside.any(axis=0))


def _in_order(scene: Scene, wanted: Wanted) -> list[int]:
    """Surfaces on the wanted sides: side by side as wished, on each side the largest first."""
    floor, found = float(scene.hall[0, 2]), []
    for side in wanted.sides:
        here = [i for i, s in enumerate(scene.surfaces) if not s.obstacle and _is_on(s, side)]
        if wanted.bottom == 0.0:
            # What begins at the floor does not begin at the sill of a niche.
            here = [i for i in here if not scene.surfaces[i].recess or _foot(scene, i) < floor + _SILL]
        found += sorted(here, key=lambda i: -scene.surfaces[i].polygon.area)
    return found


def _foot(scene: Scene, surface: int) -> float:
    """Height of a surface's lowest edge, m."""
    polygon = scene.surfaces[surface].polygon
    return float(polygon.to_room(polygon.edges[:, 0])[:, 2].min())


def _is_on(surface: Any, side: str) -> bool:
    if side == "ceiling":
        return bool(surface.kind == "ceiling")
    inward = surface.polygon.normal[:2]
    return surface.kind == "wall" and float(inward @ np.asarray(_LOOKS[side])) > 0.7


def _taken(scene: Scene, index: int) -> list[Rectangle]:
    found = [o.rectangle for o in scene.openings if o.surface == index]
    found += [k.rectangle for k in scene.keep_outs if k.surface == index]
    if scene.screen is not None and scene.screen.surface == index:
        found.append(scene.screen.rectangle)
    return found


def _place_on(
    scene: Scene, index: int, wanted: Wanted, share: float, taken: Sequence[Rectangle]
) -> Rectangle | None:
    polygon = scene.surfaces[index].polygon
    low, high = np.reshape(polygon.bounds, (2, 2))
    size = np.asarray(wanted.size) * share
    if np.any(size > high - low):
        return None
    at = _grid(low, high - size)
    middle = (low + high - size) / 2.0
    if wanted.bottom is not None:
        middle[1] = min(low[1] + wanted.bottom, high[1] - size[1])
        row = np.column_stack([np.unique(at[:, 0]), np.full(len(np.unique(at[:, 0])), middle[1])])
        # At its own height first; a window below a slope may have to come down.
        at = row if wanted.bottom == 0.0 else np.vstack([row, at])
    shapes = shapely.box(at[:, 0], at[:, 1], at[:, 0] + size[0], at[:, 1] + size[1])
    fits = shapely.covers(polygon.region.buffer(1e-6, join_style="mitre"), shapes)
    if taken:
        fits &= ~shapely.intersects(shapely.union_all([r.grown(_APART).shape() for r in taken]), shapes)
    if not fits.any():
        return None
    # Off its height counts more than along the wall.
    away = np.where(fits, np.hypot(at[:, 0] - middle[0], 3.0 * (at[:, 1] - middle[1])), np.inf)
    u, v = at[int(np.argmin(away))]
    return Rectangle(float(u), float(v), float(size[0]), float(size[1]))


def _grid(low: Any, high: Any) -> Array:
    """Places between two corners in steps, both ends included, shape (n, 2)."""
    axes = [np.append(np.arange(a, b - 1e-9, _STEP), b) for a, b in zip(low, high, strict=True)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 2)


def _floor(scene: Scene) -> Any:
    """Outline of the floor from above, below what stands on it too."""
    parts = []
    for s in scene.surfaces:
        p = s.polygon
        if s.ground or (s.obstacle and s.kind == "floor"):
            parts += [
                shapely.Polygon(p.to_room(np.asarray(x.exterior.coords))[:, :2])
                for x in shapely.get_parts(p.region)
            ]
    return shapely.union_all(parts)


def _blocks(scene: Scene) -> list[tuple[Array, Array]]:
    """What a block must not share space with: obstacles, kept-free spaces, ways to openings and recesses."""
    found = []
    for name in dict.fromkeys(s.obstacle for s in scene.surfaces if s.obstacle):
        faces = [s.polygon for s in scene.surfaces if s.obstacle == name]
        corners = np.concatenate([p.to_room(p.edges[:, 0]) for p in faces])
        found.append((corners.min(axis=0), corners.max(axis=0)))
    spaces = [(k.surface, k.rectangle, k.depth) for k in scene.keep_outs]
    spaces += [(o.surface, o.rectangle, _BEFORE_DOOR) for o in scene.openings]
    spaces += [(i, m.rectangle, _BEFORE_DOOR) for i in range(len(scene.surfaces)) for m in scene.mouths_in(i)]
    if scene.screen is not None:
        spaces.append((scene.screen.surface, scene.screen.rectangle, scene.screen.distance + _BEFORE_DOOR))
    for surface, r, depth in spaces:
        p = scene.surfaces[surface].polygon
        ring = np.asarray(r.shape().exterior.coords)
        corners = np.concatenate([p.to_room(ring), p.to_room(ring, depth)])
        found.append((corners.min(axis=0), corners.max(axis=0)))
    return found


def _points(scene: Scene) -> list[Array]:
    standing: tuple[Seat | Loudspeaker | Subwoofer, ...] = (
        *scene.seats,
        *scene.loudspeakers,
        *scene.subwoofers,
    )
    return [x.position for x in standing]
