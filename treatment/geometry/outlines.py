"""Outlines of many surfaces at once: whether points lie inside, and how far from the rim."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.polygon import POINT_TOLERANCE, Polygon

Indices = NDArray[np.intp]

#: Pairs of a point and an edge worked on at once; bounds the memory.
_PAIRS = 1_500_000


@dataclass(frozen=True, eq=False)
class Outlines:
    """Edges of n surfaces in their own wall coordinates, one surface after the other.

    Parameters
    ----------
    start, end : numpy.ndarray
        Shape (e, 2), m.
    first : numpy.ndarray
        Index of the first edge of each surface, and e at the end, shape (n + 1,).
    """

    start: Array
    end: Array
    first: Indices

    @classmethod
    def of(cls, polygons: Sequence[Polygon]) -> Outlines:
        """Collect the edges of surfaces.

        Parameters
        ----------
        polygons : sequence of Polygon
            n surfaces.

        Returns
        -------
        Outlines
            All their outlines and holes.
        """
        parts, surface = shapely.get_parts([p.region for p in polygons], return_index=True)
        rings, part = shapely.get_rings(parts, return_index=True)
        xy, ring = shapely.get_coordinates(rings, return_index=True)
        within = ring[1:] == ring[:-1]
        owner = surface[part[ring[:-1][within]]]
        first = np.searchsorted(owner, np.arange(len(polygons) + 1))
        return cls(frozen(xy[:-1][within]), frozen(xy[1:][within]), first)

    @property
    def owner(self) -> Indices:
        """Surface of each edge, shape (e,)."""
        return np.repeat(np.arange(len(self.first) - 1), np.diff(self.first))

    def locate(self, surface: Indices, wall: Array) -> tuple[NDArray[np.bool_], Array]:
        """Tell whether points lie in their surfaces, and how far from the outline.

        Parameters
        ----------
        surface : numpy.ndarray
            Surface indices, shape (k,).
        wall : numpy.ndarray
            Wall coordinates, shape (k, 2), m.

        Returns
        -------
        inside : numpy.ndarray
            Shape (k,), bool. A point on the outline (within `POINT_TOLERANCE`) counts as inside.
        clearance : numpy.ndarray
            Distance to the nearest edge of the outline, shape (k,), m.
        """
        inside, clearance = np.zeros(len(surface), dtype=bool), np.zeros(len(surface))
        counts = self.first[surface + 1] - self.first[surface]
        total = np.cumsum(counts)
        low = 0
        while low < len(surface):
            done = int(total[low - 1]) if low else 0
            high = max(low + 1, int(np.searchsorted(total, done + _PAIRS)))
            part = slice(low, high)
            inside[part], clearance[part] = self._located(surface[part], wall[part], counts[part])
            low = high
        return inside, clearance

    def _located(self, surface: Indices, wall: Array, counts: Indices) -> tuple[NDArray[np.bool_], Array]:
        heads = np.cumsum(counts) - counts
        edge = np.arange(int(counts.sum())) + np.repeat(self.first[surface] - heads, counts)
        p = np.repeat(wall, counts, axis=0)
        a, b = self.start[edge], self.end[edge]
        au, av, bu, bv, pu, pv = a[:, 0], a[:, 1], b[:, 0], b[:, 1], p[:, 0], p[:, 1]
        du, dv = bu - au, bv - av
        squared = du * du + dv * dv
        along = np.clip(((pu - au) * du + (pv - av) * dv) / np.where(squared > 0.0, squared, 1.0), 0.0, 1.0)
        away = np.square(au + along * du - pu) + np.square(av + along * dv - pv)
        clearance = np.sqrt(np.minimum.reduceat(away, heads))
        # Even-odd rule; half-open in v, so that a corner is counted once.
        spans = (av <= pv) != (bv <= pv)
        crossing = au + (pv - av) / np.where(dv == 0.0, 1.0, dv) * du
        odd = np.add.reduceat((spans & (pu < crossing)).astype(np.int64), heads) % 2 == 1
        return odd | (clearance <= POINT_TOLERANCE), clearance
