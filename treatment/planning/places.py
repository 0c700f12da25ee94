"""Where on one surface a panel of one size may lie: inside the legal region, on steps that a tape finds."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.planning.kept import EDGE_MARGIN, strip_round
from treatment.planning.members import carried, framing_of, grid_of, in_fields, snapped, tile_places
from treatment.planning.plan import Placement
from treatment.scene.model import Scene

#: Panels start this far above the floor: skirting, sockets, feet (m). Common practice.
FLOOR_MARGIN = 0.15
#: Grid of positions along a row, and between rows (m).
STEP_U, STEP_V = 0.15, 0.30
#: Tape step (m).
TAPE_STEP = 0.05


def legal_region(scene: Scene, surface: int) -> Any:
    """Part of a surface on which a panel may lie.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.

    Returns
    -------
    shapely geometry
        In wall coordinates: the surface without its margins, openings and keep-outs. Tiles of a suspended
        ceiling reach to its edge and up to a lamp.
    """
    tiles = grid_of(scene, surface) is not None
    margin = 0.0 if tiles else EDGE_MARGIN
    region = scene.surfaces[surface].polygon.region.buffer(-margin, join_style="mitre")
    if scene.surfaces[surface].kind == "wall":
        low_u, low_v, high_u, high_v = scene.surfaces[surface].polygon.bounds
        polygon = scene.surfaces[surface].polygon
        foot = float(polygon.to_room(np.array([0.0, low_v]))[2]) - float(scene.hall[0, 2])
        if foot < FLOOR_MARGIN:
            region = region.intersection(shapely.box(low_u, low_v + FLOOR_MARGIN - foot, high_u, high_v))
    taken = [(o.surface, o.rectangle, margin) for o in scene.openings]
    taken += [(k.surface, k.rectangle, strip_round(k.reason) - EDGE_MARGIN + margin) for k in scene.keep_outs]
    for where, rectangle, strip in taken:
        if where == surface:
            region = region.difference(rectangle.grown(strip).shape())
    return region


def places_on(
    scene: Scene,
    surface: int,
    region: Any,
    size: tuple[float, float],
    centres: Sequence[Any] = (),
    earlier: Sequence[Placement] = (),
) -> Array:
    """Rectangles of one size on one surface, inside the legal region, where structure can carry them.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.
    region : shapely geometry
        From `legal_region`.
    size : tuple of float
        Along u and v, m.
    centres : sequence of shapely Point
        Middles of the zones that rows of panels are centred on.
    earlier : sequence of Placement
        Panels of an earlier plan: their places are tried as well.

    Returns
    -------
    numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    """
    framing, grid = framing_of(scene, surface), grid_of(scene, surface)
    if grid is not None:
        table = tile_places(grid, scene.surfaces[surface].polygon.bounds, *size)
        return _inside(region, table)
    table = np.concatenate(
        [_grid(scene, surface, region, size, centres), _places(earlier, surface, region, size)]
    )
    return table if framing is None else table[carried(framing, table)]


def may_lie(scene: Scene, surface: int, region: Any, table: Array) -> NDArray[np.bool_]:
    """Tell which rectangles lie inside the legal region where structure can carry them.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface; not one of tiles, which say themselves where panels lie.
    region : shapely geometry
        From `legal_region`.
    table : numpy.ndarray
        Rectangles, shape (n, 4), m.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    framing = framing_of(scene, surface)
    inside = _within(region, table)
    return inside if framing is None else inside & carried(framing, table)


def stays(scene: Scene, placement: Placement) -> str:
    """Why structure cannot carry a panel where it is.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        A hanging panel.

    Returns
    -------
    str
        In words; empty when it can.
    """
    framing, grid = framing_of(scene, placement.surface), grid_of(scene, placement.surface)
    if framing is not None and not carried(framing, np.array([placement.rectangle.bounds]))[0]:
        return "its width reaches fewer than two studs or joists"
    if grid is not None and not in_fields(grid, placement.rectangle):
        return "it does not fill whole tiles of the suspended ceiling"
    return ""


def _inside(region: Any, table: Array) -> Array:
    """Those rectangles that lie in the legal region."""
    return np.asarray(table[_within(region, table)])


def _within(region: Any, table: Array) -> NDArray[np.bool_]:
    slack = region.buffer(1e-6, join_style="mitre")
    shapely.prepare(slack)
    return np.asarray(shapely.contains(slack, shapely.box(*table.T)), dtype=bool)


def _grid(
    scene: Scene, surface: int, region: Any, size: tuple[float, float], centres: Sequence[Any]
) -> Array:
    """Rectangles of one size on one surface, on tape steps, inside the legal region, shape (n, 4), m."""
    width, height = size
    if region.is_empty:
        return np.zeros((0, 4))
    low_u, low_v, high_u, high_v = (float(x) for x in region.bounds)
    if high_u - low_u < width - 1e-9 or high_v - low_v < height - 1e-9:
        return np.zeros((0, 4))
    middle_u = float(np.median([c.x for c in centres])) if centres else (low_u + high_u) / 2.0
    middle_v = float(np.median([c.y for c in centres])) if centres else (low_v + high_v) / 2.0
    even_u, even_v = _symmetric(scene, surface)
    us = _positions(
        low_u, high_u - width, (middle_u if even_u is None else even_u) - width / 2.0, STEP_U, even_u
    )
    vs = _positions(
        low_v, high_v - height, (middle_v if even_v is None else even_v) - height / 2.0, STEP_V, even_v
    )
    framing = framing_of(scene, surface)
    if framing is not None and framing.axis == 0:
        us = np.unique(np.concatenate([us, snapped(framing, low_u, high_u - width, width)]))
    elif framing is not None:
        vs = np.unique(np.concatenate([vs, snapped(framing, low_v, high_v - height, height)]))
    u, v = (x.ravel() for x in np.meshgrid(us, vs, indexing="ij"))
    return _inside(region, np.column_stack([u, v, u + width, v + height]))


def _places(earlier: Sequence[Placement], surface: int, region: Any, size: tuple[float, float]) -> Array:
    """Places of an earlier plan that are still legal for this size, shape (n, 4), m."""
    slack = region.buffer(1e-4, join_style="mitre")
    kept = [
        p.rectangle.bounds
        for p in earlier
        if p.surface == surface
        and not p.solid
        and abs(p.rectangle.width - size[0]) < 1e-3
        and abs(p.rectangle.height - size[1]) < 1e-3
        and slack.contains(p.rectangle.shape())
    ]
    return np.array(kept).reshape(-1, 4)


def _symmetric(scene: Scene, surface: int) -> tuple[float | None, float | None]:
    """Wall coordinate of the room's middle along u and v, where the surface runs from left to right.

    Positions there are counted from the middle, so that each has its twin on the other side.
    """
    polygon = scene.surfaces[surface].polygon
    low, high = scene.hall
    middle = float(low[1] + high[1]) / 2.0
    along = [float(axis[1]) for axis in (polygon.u_axis, polygon.v_axis)]
    found: list[float | None] = [None, None]
    for k, share in enumerate(along):
        if abs(share) > 1.0 - 1e-9:
            found[k] = float((middle - polygon.origin[1]) / share)
    return found[0], found[1]


def _positions(low: float, high: float, through: float, step: float, middle: float | None) -> Array:
    """Positions from low to high that pass through a wished one; on tape steps unless symmetry asks."""
    if middle is None:
        first, last = np.ceil(low / TAPE_STEP - 1e-9), np.floor(high / TAPE_STEP + 1e-9)
        if last < first:
            return np.array([low])
        through = float(np.clip(round(through / TAPE_STEP), first, last) * TAPE_STEP)
    count_below = max(0, int((through - low) / step + 1e-9))
    count_above = max(0, int((high - through) / step + 1e-9))
    places = through + step * np.arange(-count_below, count_above + 1)
    return np.asarray(np.round(places[(places >= low - 1e-9) & (places <= high + 1e-9)], 6))
