"""What lies behind a surface, or carries it: studs and joists, the grid of a suspended ceiling."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from treatment.bands import Array


@dataclass(frozen=True)
class Framing:
    """Studs, joists or battens that fixings have to meet.

    Parameters
    ----------
    surface : int
        Index of the surface.
    spacing : float
        From the middle of one member to the middle of the next, m.
    first : float
        Middle of the first one, in wall coordinates, m.
    along : {"u", "v"}
        Direction in which they repeat: ``u`` for upright studs.
    width : float
        Of the face that a screw can go into, m.
    """

    surface: int
    spacing: float
    first: float
    along: str
    width: float

    @property
    def axis(self) -> int:
        """0 where they repeat along u, 1 along v."""
        return "uv".index(self.along)

    def middles(self, low: float, high: float) -> Array:
        """Middles of the members between two places.

        Parameters
        ----------
        low, high : float
            Wall coordinates along the direction in which they repeat, m.

        Returns
        -------
        numpy.ndarray
            Ascending, shape (k,), m; the member at `first` has the number 1.
        """
        start = max(0, int(np.ceil((low - self.first) / self.spacing - 1e-9)))
        end = int(np.floor((high - self.first) / self.spacing + 1e-9))
        return np.asarray(self.first + self.spacing * np.arange(start, end + 1))

    def number(self, middle: float) -> int:
        """Number of the member at a place, counted from 1.

        Parameters
        ----------
        middle : float
            Wall coordinate, m.
        """
        return 1 + round((middle - self.first) / self.spacing)


@dataclass(frozen=True)
class TileGrid:
    """Grid of a suspended ceiling: only whole tiles go into it.

    Parameters
    ----------
    surface : int
        Index of the surface.
    tile : tuple of float
        Size of one field along u and v, from rail to rail, m.
    first : tuple of float
        Where a field begins, in wall coordinates, m.
    mass_per_tile : float
        What a field may carry, kg.
    """

    surface: int
    tile: tuple[float, float]
    first: tuple[float, float]
    mass_per_tile: float

    def lines(self, axis: int, low: float, high: float) -> Array:
        """Rails between two places.

        Parameters
        ----------
        axis : int
            0 for those that repeat along u, 1 along v.
        low, high : float
            Wall coordinates, m.

        Returns
        -------
        numpy.ndarray
            Ascending, m.
        """
        step, first = self.tile[axis], self.first[axis]
        start, end = np.ceil((low - first) / step - 1e-6), np.floor((high - first) / step + 1e-6)
        return np.asarray(first + step * np.arange(start, end + 1.0))


@dataclass(frozen=True)
class Walkways:
    """What stays free to walk through.

    Parameters
    ----------
    width : float
        Least clear width, m; 0 where none is asked for.
    height : float
        Up to which it counts, m above the floor.
    """

    width: float = 0.0
    height: float = 2.0
