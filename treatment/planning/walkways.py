"""Whether a panel makes a way too narrow to walk through.

The figure is the scene's own: local building rules rule. 0.70 m is common practice for a way past seats at
home. A gap narrower than a person's shoulders is no way, with or without a panel.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.geometry.boxes import Boxes, boxes_on, cut_by, meets
from treatment.scene.model import Scene
from treatment.scene.structure import Walkways

#: Way past what stands free, where the scene asks for no width (m). Common practice.
USUAL_WAY: Final = 0.70
#: Nobody walks through a gap narrower than this (m): the width of shoulders. Common practice.
SHOULDERS: Final = 0.45
#: What is lower than this is stepped on or over (m): a riser, a base. Common practice.
STEP: Final = 0.30
#: A panel is looked at in strips of at most this width (m): a way may run past a part of it.
_STRIP: Final = 0.20


def narrows(
    scene: Scene,
    surface: int,
    table: Array,
    depth: float,
    things: Boxes,
) -> NDArray[np.bool_]:
    """Tell which panels on a wall leave less than the scene's least clear width where people walk.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    depth : float
        From the wall to the face, m.
    things : Boxes
        Loudspeakers, seats, panels on walls across.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool; all False where the scene asks for no width, and off walls.
    """
    strips, owner = _strips(scene, surface, table)
    narrow = np.zeros(len(table), dtype=bool)
    if len(strips) == 0:
        return narrow
    polygon = scene.surfaces[surface].polygon
    triangles, _ = scene.enclosure.triangles
    things = _upright(things, scene)

    def something(out: float, far: float) -> NDArray[np.bool_]:
        boxes = boxes_on(polygon, strips, far, out)
        return cut_by(polygon, strips, far, triangles, out) | meets(boxes, things).any(axis=1)

    tight = something(depth, scene.walkways.width) & ~something(0.0, SHOULDERS)
    narrow[owner[tight]] = True
    return narrow


def at_least_a_way(scene: Scene) -> Scene:
    """Ask for the usual width of ways where a scene asks for none.

    Parameters
    ----------
    scene : Scene
        Any room.

    Returns
    -------
    Scene
        The same where it names a width.
    """
    if scene.walkways.width:
        return scene
    return replace(scene, walkways=Walkways(USUAL_WAY, scene.walkways.height))


def passages(scene: Scene, surface: int, table: Array, depth: float) -> Boxes:
    """Space in front of panels that another panel may not enter from across.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    depth : float
        From the surface to the face, m.

    Returns
    -------
    Boxes
        n boxes; those of panels that stand in no way have negative extents and meet nothing.
    """
    polygon, ways = scene.surfaces[surface].polygon, scene.walkways
    low, high, counted = _heights(scene, surface, table)
    column = np.column_stack([table[:, 0], low, table[:, 2], high])
    boxes = boxes_on(polygon, column, ways.width, depth)
    return Boxes(boxes.centre, boxes.axes, np.where(counted[:, None], boxes.half, -10.0))


def _heights(scene: Scene, surface: int, table: Array) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Range of v in which people walk, and which panels reach into it."""
    s = scene.surfaces[surface]
    floor = float(scene.hall[0, 2]) - float(s.polygon.origin[2])
    low, high = np.full(len(table), floor + STEP), np.full(len(table), floor + scene.walkways.height)
    counted = np.full(len(table), scene.walkways.width > 0.0 and s.kind == "wall")
    return low, high, counted & (table[:, 1] < high)


def _strips(scene: Scene, surface: int, table: Array) -> tuple[Array, NDArray[np.intp]]:
    """Strips of the panels that reach into a way, from a step to the top of the way."""
    low, high, counted = _heights(scene, surface, table)
    parts, owner = [np.zeros((0, 4))], [np.zeros(0, dtype=np.intp)]
    for k in np.flatnonzero(counted):
        edges = np.linspace(table[k, 0], table[k, 2], 1 + int(np.ceil((table[k, 2] - table[k, 0]) / _STRIP)))
        own = np.full(len(edges) - 1, k)
        parts.append(np.column_stack([edges[:-1], low[own], edges[1:], high[own]]))
        owner.append(own)
    return np.concatenate(parts), np.concatenate(owner)


def faces(scene: Scene, a: int, b: int) -> bool:
    """Tell whether two surfaces look at each other.

    Parameters
    ----------
    scene : Scene
        The room.
    a, b : int
        Indices of the surfaces.
    """
    return float(scene.surfaces[a].polygon.normal @ scene.surfaces[b].polygon.normal) < -0.5


def _upright(things: Boxes, scene: Scene) -> Boxes:
    """Seats and loudspeakers down to the floor: what a head sits on, what a box stands on."""
    bounds = things.bounds.copy()
    # What hangs above heads has nothing below it.
    low = bounds[:, 0, 2] < float(scene.hall[0, 2]) + scene.walkways.height
    bounds[low, 0, 2] = float(scene.hall[0, 2])
    return Boxes.between(bounds)
