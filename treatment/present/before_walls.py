"""Obstacles that touch a surface or stand right before it, as its drawing shows them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.scene.model import Scene

#: What stands no farther off than this hides part of a wall from one who hangs panels, m. Common practice.
NEAR: Final = 0.6
_TOUCHING: Final = 1e-3


@dataclass(frozen=True)
class Before:
    """An obstacle before a surface.

    Parameters
    ----------
    name : str
        Of the obstacle.
    rectangle : Rectangle
        Round its outline as one faces the surface, in wall coordinates, m.
    distance : float
        From the surface, m; 0 where it touches.
    """

    name: str
    rectangle: Rectangle
    distance: float


def obstacles_before(scene: Scene, index: int) -> tuple[Before, ...]:
    """Obstacles that touch a surface or stand within `NEAR` before it.

    Parameters
    ----------
    scene : Scene
        The room.
    index : int
        Index of the surface.

    Returns
    -------
    tuple of Before
        In the order of the scene. A soffit that runs along a wall lies above what is left of that wall.
    """
    own = scene.surfaces[index]
    corners: dict[str, list[Array]] = {}
    for s in scene.surfaces:
        if s.obstacle and s.obstacle != own.obstacle:
            corners.setdefault(s.obstacle, []).append(s.polygon.to_room(s.polygon.edges[:, 0]))
    found = []
    for name, parts in corners.items():
        points = np.concatenate(parts)
        heights = own.polygon.height_above(points)
        nearest = float(heights.min())
        if not -_TOUCHING < nearest < NEAR or heights.max() < _TOUCHING:
            continue
        flat = own.polygon.to_wall(points)
        low, high = flat.min(axis=0), flat.max(axis=0)
        if own.polygon.region.distance(shapely.box(*low, *high)) < _TOUCHING:
            rectangle = Rectangle(float(low[0]), float(low[1]), *(float(x) for x in high - low))
            found.append(Before(name, rectangle, nearest if nearest > _TOUCHING else 0.0))
    return tuple(found)


def drawn_bounds(scene: Scene, index: int) -> tuple[float, float, float, float]:
    """Bounds of a surface with the obstacles that touch it: what its drawing has to hold.

    Parameters
    ----------
    scene : Scene
        The room.
    index : int
        Index of the surface.

    Returns
    -------
    tuple of float
        ``(u_low, v_low, u_high, v_high)`` in m.
    """
    all_bounds = [scene.surfaces[index].polygon.bounds]
    all_bounds += [b.rectangle.bounds for b in obstacles_before(scene, index) if b.distance == 0.0]
    low, high = np.min(all_bounds, axis=0), np.max(all_bounds, axis=0)
    return float(low[0]), float(low[1]), float(high[2]), float(high[3])
