"""Which studs or joists carry a panel, and which fields of a suspended ceiling it fills.

A panel needs fixing points on two members. A fixing point lies `EDGE_DISTANCE` or more inside the panel's
edge and `SCREW_DISTANCE` or more inside the face of the member (both common practice; EN 1995-1-1, table 8.2,
asks for three to four diameters from the edge of the timber, from memory). On a ceiling the rails of a
panel with a gap lie below these two members, see `carriers.py`.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.measures import joined_words
from treatment.scene.model import Scene
from treatment.scene.structure import Framing, TileGrid

Bounds = tuple[float, float, float, float]

#: A screw stays this far inside the panel's edge (m). Common practice.
EDGE_DISTANCE: Final = 0.025
#: A screw stays this far inside the edge of the timber (m). Common practice.
SCREW_DISTANCE: Final = 0.012
#: A tile may be this much smaller than its field (m). Common practice.
TILE_PLAY: Final = 0.012
_STEP: Final = 0.005


def framing_of(scene: Scene, surface: int) -> Framing | None:
    """Framing behind a surface.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.

    Returns
    -------
    Framing or None
        None where the scene names none.
    """
    return next((f for f in scene.framing if f.surface == surface), None)


def grid_of(scene: Scene, surface: int) -> TileGrid | None:
    """Grid of the suspended ceiling that a surface is.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.

    Returns
    -------
    TileGrid or None
        None where the scene names none.
    """
    return next((g for g in scene.tile_grids if g.surface == surface), None)


def _play(framing: Framing) -> float:
    """How far from a member's middle a screw may go, m."""
    return max(framing.width / 2.0 - SCREW_DISTANCE, 0.0)


def carried(framing: Framing, table: Array) -> NDArray[np.bool_]:
    """Tell which rectangles find two members.

    Parameters
    ----------
    framing : Framing
        Of their surface.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    k, play = framing.axis, _play(framing)
    low = (table[:, k] + EDGE_DISTANCE - play - framing.first) / framing.spacing
    high = (table[:, k + 2] - EDGE_DISTANCE + play - framing.first) / framing.spacing
    first = np.maximum(np.ceil(low - 1e-6), 0.0)
    return np.asarray(np.floor(high + 1e-6) - first >= 1.0, dtype=bool)


def snapped(framing: Framing, low: float, high: float, size: float) -> Array:
    """Positions at which a panel sits evenly on two members or more.

    Parameters
    ----------
    framing : Framing
        Of the surface.
    low, high : float
        Where the panel's lower edge may lie, m.
    size : float
        Of the panel along the direction in which members repeat, m.

    Returns
    -------
    numpy.ndarray
        Of its lower edge, on steps of 5 mm, m.
    """
    play = _play(framing)
    count = int((size - 2.0 * EDGE_DISTANCE + 2.0 * play) / framing.spacing + 1e-9) + 1
    if count < 2:
        return np.zeros(0)
    reach = (count - 1) * framing.spacing
    firsts = framing.middles(low - framing.spacing, high + framing.spacing)
    wished = np.round((firsts + (reach - size) / 2.0) / _STEP) * _STEP
    return np.asarray(wished[(wished >= low - 1e-9) & (wished <= high + 1e-9)])


def fixing_points(framing: Framing, rectangle: Rectangle) -> tuple[tuple[int, float], ...]:
    """Members that carry a panel, and where the screws go.

    Parameters
    ----------
    framing : Framing
        Of its surface.
    rectangle : Rectangle
        Of the panel.

    Returns
    -------
    tuple of (int, float)
        Number of the member, from 1, and the wall coordinate of the screws, m; the outermost two that the
        panel reaches. Empty when it finds fewer than two.
    """
    bounds, k, play = rectangle.bounds, framing.axis, _play(framing)
    low, high = bounds[k] + EDGE_DISTANCE, bounds[k + 2] - EDGE_DISTANCE
    middles = framing.middles(low - play, high + play)
    if len(middles) < 2:
        return ()
    return tuple((framing.number(m), float(np.clip(m, low, high))) for m in (middles[0], middles[-1]))


def tiles_of(grid: TileGrid, width: float, height: float) -> tuple[int, int] | None:
    """Fields that a panel of this size fills.

    Parameters
    ----------
    grid : TileGrid
        Of the ceiling.
    width, height : float
        Of the panel along u and v, m.

    Returns
    -------
    tuple of int, or None
        Number along u and along v; None when the size is no whole number of tiles.
    """
    counts = []
    for size, tile in ((width, grid.tile[0]), (height, grid.tile[1])):
        n = max(1, int(np.ceil(size / tile - 1e-3 / tile)))
        if not -1e-3 <= n * tile - size <= TILE_PLAY:
            return None
        counts.append(n)
    return counts[0], counts[1]


def tile_refusal(grid: TileGrid, build: PanelBuild, units: str = "m") -> str:
    """Why a build cannot lie in a suspended ceiling.

    Parameters
    ----------
    grid : TileGrid
        Of the ceiling.
    build : PanelBuild
        The panel.
    units : str
        As the scene says.

    Returns
    -------
    str
        In words; empty when it can.
    """
    width, height = build.outer_width, build.outer_height
    tiles = tiles_of(grid, width, height) or tiles_of(grid, height, width)
    if tiles is None:
        # A panel a few millimetres too large would be told to be as large as a tile.
        return (
            f"{joined_words((width, height), units, decimals=3)} is no whole number of tiles of "
            f"{joined_words(grid.tile, units, decimals=3)}"
        )
    if not build.mass > 0.0:
        return "its mass is not known"
    each = build.mass / (tiles[0] * tiles[1])
    if each > grid.mass_per_tile + 1e-9:
        return f"it weighs {each:.1f} kg a tile, the grid carries {grid.mass_per_tile:.1f} kg"
    return ""


def tile_places(grid: TileGrid, bounds: Bounds, width: float, height: float) -> Array:
    """Places of a panel in the grid, its play shared out evenly.

    Parameters
    ----------
    grid : TileGrid
        Of the ceiling.
    bounds : tuple of float
        ``(u_low, v_low, u_high, v_high)`` of the ceiling, m.
    width, height : float
        Of the panel along u and v, m.

    Returns
    -------
    numpy.ndarray
        ``(u_low, v_low, u_high, v_high)`` of the panel, shape (n, 4), m.
    """
    tiles = tiles_of(grid, width, height)
    if tiles is None:
        return np.zeros((0, 4))
    field = tiles[0] * grid.tile[0], tiles[1] * grid.tile[1]
    us = grid.lines(0, bounds[0], bounds[2] - field[0])
    vs = grid.lines(1, bounds[1], bounds[3] - field[1])
    u, v = (x.ravel() for x in np.meshgrid(us, vs, indexing="ij"))
    u, v = u + (field[0] - width) / 2.0, v + (field[1] - height) / 2.0
    return np.column_stack([u, v, u + width, v + height])


def in_fields(grid: TileGrid, rectangle: Rectangle) -> bool:
    """Tell whether a panel fills whole fields of the grid.

    Parameters
    ----------
    grid : TileGrid
        Of the ceiling.
    rectangle : Rectangle
        Of the panel.
    """
    tiles = tiles_of(grid, rectangle.width, rectangle.height)
    if tiles is None:
        return False
    field = fields_of(grid, rectangle)
    low = (rectangle.u - field.u, rectangle.v - field.v)
    high = (field.bounds[2] - rectangle.bounds[2], field.bounds[3] - rectangle.bounds[3])
    whole = (tiles[0] * grid.tile[0], tiles[1] * grid.tile[1])
    return min(*low, *high) > -2e-3 and bool(np.allclose((field.width, field.height), whole, atol=1e-6))


def fields_of(grid: TileGrid, rectangle: Rectangle) -> Rectangle:
    """Fields that a panel lies in, from rail to rail.

    Parameters
    ----------
    grid : TileGrid
        Of the ceiling.
    rectangle : Rectangle
        Of the panel.

    Returns
    -------
    Rectangle
        In wall coordinates.
    """
    (u0, v0, u1, v1), (tu, tv), (fu, fv) = rectangle.bounds, grid.tile, grid.first
    low = np.floor([(u0 - fu + 2e-3) / tu, (v0 - fv + 2e-3) / tv])
    high = np.ceil([(u1 - fu - 2e-3) / tu, (v1 - fv - 2e-3) / tv])
    size = (high - low) * np.array(grid.tile)
    return Rectangle(float(fu + low[0] * tu), float(fv + low[1] * tv), float(size[0]), float(size[1]))


def tile_numbers(grid: TileGrid, bounds: Bounds, rectangle: Rectangle) -> tuple[int, int, int, int]:
    """Rows and columns of the fields that a panel lies in.

    Parameters
    ----------
    grid : TileGrid
        Of the ceiling.
    bounds : tuple of float
        ``(u_low, v_low, u_high, v_high)`` of the ceiling, m.
    rectangle : Rectangle
        Of the panel.

    Returns
    -------
    tuple of int
        First and last column (along u), first and last row (along v), whole tiles counted from 1.
    """
    field = fields_of(grid, rectangle)
    start = [float(grid.lines(k, bounds[k], bounds[k + 2])[0]) for k in (0, 1)]
    column = 1 + round((field.u - start[0]) / grid.tile[0])
    row = 1 + round((field.v - start[1]) / grid.tile[1])
    wide, high = round(field.width / grid.tile[0]), round(field.height / grid.tile[1])
    return column, column + wide - 1, row, row + high - 1
