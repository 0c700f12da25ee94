"""Integrals of cosines over the air of any room, from its surfaces alone.

A vertical line through the room enters the air where it crosses an upward-facing surface and leaves it where
it crosses a downward-facing one, so that an integral over height is a signed sum over the crossed surfaces
(the divergence theorem with a vertical field): no mesh is needed, and soffits, posts and slopes count.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely

from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import Polygon

#: Side of a cell of the floor in m, with three Gauss points along each side.
CELL: Final = 0.1
#: A surface steeper than this (its normal's vertical part) is crossed by no column.
_UPRIGHT: Final = 1e-9


def cosine_integrals(enclosure: Enclosure, counts: tuple[int, int, int], cell: float = CELL) -> Array:
    """Integrate products of cosines of the bounding box over the air.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    counts : tuple of int
        Numbers of cosines along x, y and z.
    cell : float
        Side of the floor's cells, m.

    Returns
    -------
    numpy.ndarray
        ``integral of cos(pi i x'/Lx) cos(pi j y'/Ly) cos(pi k z'/Lz) dV`` with x', y', z' measured from the
        bounding box's lowest corner, shape `counts`, m3. The entry (0, 0, 0) is the volume.
    """
    low, high = enclosure.bounds
    size = high - low
    level = [p for p in enclosure.polygons if abs(p.normal[2]) >= _UPRIGHT]
    edges = np.concatenate([p.to_room(p.edges.reshape(-1, 2)).reshape(-1, 2, 3) for p in level])[..., :2]
    x, wx = _nodes(edges[..., 0].ravel(), cell)
    rows = [_nodes(_crossings(edges, at), cell) for at in x]
    y = np.concatenate([r[0] for r in rows])
    heights = _columns(level, np.repeat(x, [len(r[0]) for r in rows]), y, low[2], size[2], counts[2])
    heights *= np.concatenate([r[1] for r in rows])[:, None]
    waves = np.cos(math.pi * np.arange(counts[1])[:, None] * (y - low[1]) / size[1])
    ends = np.cumsum([0, *(len(r[0]) for r in rows)])
    slices = np.stack([waves[:, a:b] @ heights[a:b] for a, b in itertools.pairwise(ends)])
    along = np.cos(math.pi * np.arange(counts[0])[:, None] * (x - low[0]) / size[0]) * wx
    return np.asarray(np.tensordot(along, slices, axes=1))


def _columns(
    polygons: Sequence[Polygon], x: Array, y: Array, base: float, height: float, count: int
) -> Array:
    """Integrals of cosines over the height of each column of air, shape (columns, count)."""
    kz = math.pi * np.arange(count) / height
    found = np.zeros((len(x), count))
    for polygon in polygons:
        normal, origin = polygon.normal, polygon.origin
        z = origin[2] - (normal[0] * (x - origin[0]) + normal[1] * (y - origin[1])) / normal[2]
        wall = polygon.to_wall(np.column_stack([x, y, z]))
        shapely.prepare(polygon.region)
        on = np.flatnonzero(shapely.contains_xy(polygon.region, wall[:, 0], wall[:, 1]))
        # Antiderivative of cos(kz z): z itself for kz = 0.
        part = np.empty((len(on), count))
        part[:, 0] = z[on] - base
        part[:, 1:] = np.sin(part[:, :1] * kz[1:]) / kz[1:]
        found[on] -= math.copysign(1.0, normal[2]) * part
    return found


def _crossings(edges: Array, x: float) -> Array:
    """Where a line across the floor plan meets the surfaces' edges: between two of them nothing changes."""
    (x0, y0), (x1, y1) = edges[:, 0].T, edges[:, 1].T
    meets = (np.minimum(x0, x1) <= x) & (x <= np.maximum(x0, x1)) & (x0 != x1)
    part = (x - x0[meets]) / (x1[meets] - x0[meets])
    return np.asarray(y0[meets] + part * (y1[meets] - y0[meets]))


def _nodes(places: Array, cell: float) -> tuple[Array, Array]:
    """Gauss points and weights between the room's own corners, so that the outline costs no error."""
    breaks = np.unique(np.round(places, 9))
    points, weights = np.polynomial.legendre.leggauss(3)
    nodes, parts = [np.empty(0)], [np.empty(0)]
    for a, b in itertools.pairwise(breaks):
        number = max(1, math.ceil((b - a) / cell))
        half = (b - a) / number / 2.0
        middles = a + half * (2.0 * np.arange(number) + 1.0)
        nodes.append((middles[:, None] + half * points).ravel())
        parts.append(np.tile(half * weights, number))
    return np.concatenate(nodes), np.concatenate(parts)
