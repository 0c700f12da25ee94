"""The room's boundary cut into tiles of one material each, for rays to fall on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import Polygon, Rectangle

#: Cells that a room is cut into, about. More of them follow the field more finely, but each gathers
#: fewer rays and the sums cost more.
CELLS = 64
#: A tile smaller than this is dropped (m2).
_LEAST_AREA = 1e-8


@dataclass(frozen=True, eq=False)
class RayPatch:
    """A rectangle of a surface that has its own material: an opening or a panel.

    Parameters
    ----------
    surface : int
        Index of the surface in the enclosure.
    rectangle : Rectangle
        In the surface's wall coordinates.
    absorption, scattering : numpy.ndarray
        Shape (b,).
    """

    surface: int
    rectangle: Rectangle
    absorption: Array
    scattering: Array


@dataclass(frozen=True, eq=False)
class Tiles:
    """Tiles, and the cells that gather the sound falling on them; n tiles, c cells.

    Parameters
    ----------
    polygons : tuple of Polygon
        The tiles; together they are the enclosure's boundary.
    material : numpy.ndarray
        Row of each tile in `absorption` and `scattering`, shape (n,).
    absorption, scattering : numpy.ndarray
        Shape (m, b): surfaces first, then patches.
    areas : numpy.ndarray
        Of the tiles, shape (n,), m2.
    cell : numpy.ndarray
        Cell of each tile, shape (n,): tiles near each other that face the same way share one.
    cell_areas : numpy.ndarray
        Shape (c,), m2.
    """

    polygons: tuple[Polygon, ...]
    material: NDArray[np.intp]
    absorption: Array
    scattering: Array
    areas: Array
    cell: NDArray[np.intp]
    cell_areas: Array


def cut_tiles(
    enclosure: Enclosure,
    absorption: Array,
    scattering: Array,
    patches: Sequence[RayPatch] = (),
    cells: int = CELLS,
) -> Tiles:
    """Cut the boundary of a room along patches and along a grid.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    absorption, scattering : numpy.ndarray
        Of its surfaces, shape (s, b).
    patches : sequence of RayPatch
        Openings and panels. Where two overlap, the later one counts.
    cells : int
        About how many cells to make.

    Returns
    -------
    Tiles
        Their areas sum to the enclosure's.
    """
    size = float(np.sqrt(enclosure.area / max(cells, 1)))
    pieces: list[tuple[Polygon, int]] = []
    for i, polygon in enumerate(enclosure.polygons):
        rest = polygon.region
        for row in range(len(patches) - 1, -1, -1):
            patch = patches[row]
            if patch.surface == i:
                covered = shapely.intersection(rest, patch.rectangle.shape())
                rest = shapely.difference(rest, patch.rectangle.shape())
                pieces += [(p, len(absorption) + row) for p in _gridded(polygon, covered, size)]
        pieces += [(p, i) for p in _gridded(polygon, rest, size)]
    polygons = tuple(p for p, _ in pieces)
    areas = np.array([p.area for p in polygons])
    middle = np.array([p.centroid for p in polygons])
    normals = np.array([p.normal for p in polygons])
    facing = np.abs(normals).argmax(axis=1) * 2 + (
        np.take_along_axis(normals, np.abs(normals).argmax(axis=1)[:, None], axis=1)[:, 0] > 0.0
    )
    voxel = np.floor((middle - enclosure.bounds[0] + 1e-6) / size).astype(np.intp)
    _, cell = np.unique(np.column_stack([voxel, facing]), axis=0, return_inverse=True)
    cell = cell.reshape(-1).astype(np.intp)
    return Tiles(
        polygons,
        np.array([m for _, m in pieces], dtype=np.intp),
        frozen(np.concatenate([absorption, *([p.absorption] for p in patches)])),
        frozen(np.concatenate([scattering, *([p.scattering] for p in patches)])),
        frozen(areas),
        cell,
        frozen(np.bincount(cell, weights=areas)),
    )


def _gridded(polygon: Polygon, region: object, size: float) -> list[Polygon]:
    """A region of a surface cut into squares of about a size."""
    if shapely.area(region) < _LEAST_AREA:
        return []
    low_u, low_v, high_u, high_v = shapely.bounds(region)
    columns = max(1, round((high_u - low_u) / size))
    rows = max(1, round((high_v - low_v) / size))
    u = np.linspace(low_u, high_u, columns + 1)
    v = np.linspace(low_v, high_v, rows + 1)
    made = []
    for i in range(columns):
        for j in range(rows):
            square = shapely.box(u[i], v[j], u[i + 1], v[j + 1])
            part = square if columns * rows == 1 else shapely.intersection(region, square)
            if columns * rows == 1:
                part = region
            kept = [
                g
                for g in shapely.get_parts(part)
                if shapely.area(g) > _LEAST_AREA and g.geom_type == "Polygon"
            ]
            if kept:
                made.append(polygon.with_region(kept[0] if len(kept) == 1 else shapely.MultiPolygon(kept)))
    return made
