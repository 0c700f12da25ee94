"""The part of each surface that sends a loudspeaker's sound to a seating area.

A seat is an area: the head may be anywhere in a level square. Seen from the image of the
loudspeaker, the square is projected onto the surface, and the projection of a convex area is
convex: the zone is the convex hull of the points that belong to the square's corners.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.acoustics.bounces import Bounces
from treatment.acoustics.fresnel import octave_samples, zone_radius
from treatment.acoustics.image_sources import Paths
from treatment.bands import Array, frozen

#: Centre of the square first, then its corners.
_CORNERS = np.array([[0, 0, 0], [-1, -1, 0], [-1, 1, 0], [1, -1, 0], [1, 1, 0]], dtype=np.float64)
SAMPLES = len(_CORNERS)
#: Centre of the square first, then the points of Gauss's rule of two by two.
_NODES = np.array([[0, 0, 0], [-1, -1, 0], [-1, 1, 0], [1, -1, 0], [1, 1, 0]]) / np.sqrt(3.0)
#: Frequencies that go with these four points in every band, shape (4, 8, 2), Hz. Points left and right of
#: each other have the same ones: what the mirror image of a room does is the mirror image.
AREA_HZ = frozen(octave_samples(4).reshape(8, 2, 2)[:, :, [0, 0, 1, 1]].transpose(2, 0, 1))


def seat_samples(positions: Array, spreads: Array) -> Array:
    """Points that stand for seating areas.

    Parameters
    ----------
    positions : numpy.ndarray
        Ears, shape (s, 3), m.
    spreads : numpy.ndarray
        Half-widths of the level squares, shape (s,), m.

    Returns
    -------
    numpy.ndarray
        Centre and four corners of each, shape (s * 5, 3), m.
    """
    moved = positions[:, None] + spreads[:, None, None] * _CORNERS
    return np.asarray(moved.reshape(-1, 3))


def area_nodes(positions: Array, spreads: Array) -> Array:
    """Points over which levels in seating areas are averaged.

    Four points of Gauss's rule integrate products of cubics over the square exactly: against an average over
    25 points and 15 frequencies, levels behind panels err by half of what centre and corners gave.

    Parameters
    ----------
    positions : numpy.ndarray
        Ears, shape (s, 3), m.
    spreads : numpy.ndarray
        Half-widths of the level squares, shape (s,), m.

    Returns
    -------
    numpy.ndarray
        Centre of each square, then its four points, shape (s, 5, 3), m; `AREA_HZ` goes with the four.
    """
    return np.asarray(positions[:, None] + spreads[:, None, None] * _NODES)


@dataclass(frozen=True, eq=False)
class Zone:
    """Where one loudspeaker's sound is sent to one seating area by one surface.

    Parameters
    ----------
    source, seat, surface : int
        Indices.
    route : tuple of int
        All surfaces of the path, from the source.
    outline : shapely geometry
        Convex hull of the reflection points in wall coordinates, m.
    radius : float
        Radius of the first Fresnel zone at the frequency asked for, m; the treatment should
        reach this far beyond the outline.
    delay_ms : float
        Shortest delay in the zone.
    paths : numpy.ndarray
        Indices of the paths, shape (p,).
    """

    source: int
    seat: int
    surface: int
    route: tuple[int, ...]
    outline: Any
    radius: float
    delay_ms: float
    paths: NDArray[np.intp]

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """``(u_low, v_low, u_high, v_high)`` of the outline, m."""
        return tuple(self.outline.bounds)


def reflection_zones(
    paths: Paths, bounces: Bounces, speed_of_sound: float, frequency_hz: float = 1000.0
) -> tuple[Zone, ...]:
    """Zones of paths whose receivers are seat samples.

    Parameters
    ----------
    paths : Paths
        To receivers made by `seat_samples`, in their order.
    bounces : Bounces
        Of these paths.
    speed_of_sound : float
        m/s.
    frequency_hz : float
        Lowest frequency at which the treatment should act, Hz.

    Returns
    -------
    tuple of Zone
        One for each loudspeaker, seat, route and bounce.
    """
    seat = paths.receiver // SAMPLES
    groups: dict[tuple[int, int, int, tuple[int, ...]], list[int]] = {}
    for b in range(len(bounces.path)):
        p = int(bounces.path[b])
        route = tuple(int(s) for s in paths.surfaces[p] if s >= 0)
        key = (int(paths.source[p]), int(seat[p]), int(bounces.rank[b]), route)
        groups.setdefault(key, []).append(b)
    radius = zone_radius(bounces.before, bounces.after, speed_of_sound, np.array([frequency_hz]))[:, 0]
    made = []
    for (source, at, rank, route), members in groups.items():
        index = np.array(members)
        p = bounces.path[index]
        made.append(
            Zone(
                source,
                at,
                route[rank],
                route,
                shapely.MultiPoint(bounces.wall[index]).convex_hull,
                float(radius[index].max()),
                float(((paths.length[p] - paths.direct[p]) / speed_of_sound * 1e3).min()),
                p,
            )
        )
    return tuple(made)
