"""Where single bounces to whole seating areas land on the walls, and how far a panel should reach beyond."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from treatment import bands
from treatment.acoustics.fresnel import zone_radius
from treatment.acoustics.zones import reflection_zones, seat_samples
from treatment.bands import Array, frozen
from treatment.planning.seen import seen_paths
from treatment.scene.model import Scene


@dataclass(frozen=True, eq=False)
class WallZone:
    """Where one loudspeaker's single bounces to one seating area land on one surface.

    Parameters
    ----------
    source, seat, surface : int
        Indices.
    outline : shapely geometry
        Convex hull of the reflection points in wall coordinates, m: a polygon for a seating area, a point
        for a seat without spread.
    radius : numpy.ndarray
        Largest radius of the first Fresnel zone about these points at the middle of each octave, shape
        (8,), m: as far beyond the outline a panel should reach to act on that octave.
    delay_ms : float
        Shortest delay behind the direct sound in the zone.
    """

    source: int
    seat: int
    surface: int
    outline: Any
    radius: Array
    delay_ms: float


def wall_zones(scene: Scene) -> tuple[WallZone, ...]:
    """Find the zones of all single bounces that exist.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    tuple of WallZone
        One for each loudspeaker, seat and surface between which there is a path to some point of the
        seating area.
    """
    if not scene.loudspeakers or not scene.seats:
        return ()
    seats = np.array([s.position for s in scene.seats])
    spreads = np.array([s.spread for s in scene.seats])
    paths, bounces = seen_paths(scene, seat_samples(seats, spreads), 1)
    c = scene.air.speed_of_sound
    radius = zone_radius(bounces.before, bounces.after, c, np.asarray(bands.EXACT_HZ))
    # A path of one bounce has just one entry among the bounces.
    of_path = np.zeros((len(paths), bands.COUNT))
    of_path[bounces.path] = radius
    return tuple(
        WallZone(z.source, z.seat, z.surface, z.outline, frozen(of_path[z.paths].max(axis=0)), z.delay_ms)
        for z in reflection_zones(paths, bounces, c)
    )
