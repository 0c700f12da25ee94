"""How large treatments must be, and which surface matters most to which seat.

Per surface the rectangle that holds all zones; per arrival the field that brings it below the criterion.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.fresnel import patch_shares, zone_radius
from treatment.acoustics.zones import SAMPLES
from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.planning.early import EarlyField, early_field
from treatment.planning.lists import ArrivalExtent, SurfaceExtent
from treatment.planning.plan import Evaluation
from treatment.planning.targets import CRITERION_BANDS, CRITERION_DB, CRITERION_MS
from treatment.planning.wall_zones import wall_zones
from treatment.scene.model import Scene

#: Absorption of the treatment that is asked for, in every band from 1 to 8 kHz.
REFERENCE_ABSORPTION = 0.95
#: Sizes tried, in radii of the first Fresnel zone beyond the specular points.
_STEPS = np.linspace(0.1, 3.0, 30)


def treatment_extents(
    scene: Scene, lowest_hz: int = 1000, field: EarlyField | None = None
) -> tuple[SurfaceExtent, ...]:
    """Work out how large treatments must be on every surface.

    Parameters
    ----------
    scene : Scene
        The room.
    lowest_hz : int
        Octave band down to which arrivals shall be brought to the criterion, 1000 to 8000 Hz.
    field : EarlyField, optional
        Of this room, when it is at hand.

    Returns
    -------
    tuple of SurfaceExtent
        Surfaces with first reflections above the criterion, the most concerned first.
    """
    e = early_field(scene) if field is None else field
    found: dict[int, list[ArrivalExtent]] = {}
    first = np.flatnonzero(e.paths.order[e.bounces.path] == 1)
    if len(first) == 0:
        return ()
    arrival = e.arrival[e.bounces.path[first]]
    ids, group = np.unique(arrival, return_inverse=True)
    zone = np.full((len(ids), 4), np.inf) * np.array([1.0, 1.0, -1.0, -1.0])
    # A head before a joint of two surfaces has points on both: all in the coordinates of the one with more.
    on = e.bounces.surface[first]
    _, which, count = np.unique(np.column_stack([group, on]), axis=0, return_inverse=True, return_counts=True)
    ranked = np.lexsort((on, -count[which.ravel()], group))
    once = ranked[np.searchsorted(group[ranked], np.arange(len(ids)))]
    shift = scene.enclosure.flush.shift
    point = e.bounces.wall[first] + shift[on] - shift[on[once][group]]
    low = np.array([[0], [1]])
    np.minimum.at(zone, (group, low), point.T)
    np.maximum.at(zone, (group, low + 2), point.T)
    _widen(scene, e, first[once], zone)
    fields = _least_fields(scene, e, first, point, group, zone, lowest_hz)
    for k, a in enumerate(ids):
        member = int(np.flatnonzero(e.arrival == a)[0])
        surface = int(on[once[k]])
        extent = ArrivalExtent(
            int(e.paths.source[member]),
            int(e.paths.receiver[member]) // SAMPLES,
            surface,
            _rectangle(zone[k, :2], zone[k, 2:]),
            None if np.isnan(fields[k, 0]) else _rectangle(fields[k, :2], fields[k, 2:]),
        )
        found.setdefault(surface, []).append(extent)
    made = []
    for surface, arrivals in found.items():
        rectangles = np.array([x.zone.bounds for x in arrivals])
        together = _rectangle(rectangles[:, :2].min(axis=0), rectangles[:, 2:].max(axis=0))
        outline = scene.surfaces[surface].polygon.bounds
        made.append(SurfaceExtent(surface, together, tuple(arrivals), _all_of(arrivals, outline), lowest_hz))
    return tuple(sorted(made, key=lambda x: -len(x.arrivals)))


def _widen(scene: Scene, e: EarlyField, one: NDArray[np.intp], zone: Array) -> None:
    """Widen zones, shape (a, 4), to the whole seating areas; ``one`` is a bounce of each arrival, (a,)."""
    flush, path = scene.enclosure.flush, e.bounces.path[one]
    ends = zip(e.paths.source[path].tolist(), (e.paths.receiver[path] // SAMPLES).tolist(), strict=True)
    on = e.bounces.surface[one].tolist()
    row = {(*pair, int(flush.group[s])): k for k, (pair, s) in enumerate(zip(ends, on, strict=True))}
    for z in wall_zones(scene):
        k = row.get((z.source, z.seat, int(flush.group[z.surface])))
        if k is not None:
            shift = np.tile(flush.between(z.surface, on[k]), 2)
            bounds = np.array(z.outline.bounds) + shift
            zone[k, :2], zone[k, 2:] = (
                np.minimum(zone[k, :2], bounds[:2]),
                np.maximum(zone[k, 2:], bounds[2:]),
            )


def _all_of(arrivals: list[ArrivalExtent], outline: tuple[float, float, float, float]) -> Rectangle | None:
    """Rectangle that holds the fields of all arrivals, no larger than the surface's own."""
    fields = np.array([a.field.bounds for a in arrivals if a.field is not None]).reshape(-1, 4)
    if len(fields) == 0:
        return None
    low = np.maximum(fields[:, :2].min(axis=0), outline[:2])
    return _rectangle(low, np.minimum(fields[:, 2:].max(axis=0), outline[2:]))


def _rectangle(low: Array, high: Array) -> Rectangle:
    return Rectangle(float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))


def _least_fields(
    scene: Scene,
    e: EarlyField,
    first: np.ndarray,
    point: Array,
    group: np.ndarray,
    zone: Array,
    lowest_hz: int,
) -> Array:
    """Smallest rectangles about the zones that bring the arrivals to the criterion, NaN where none does."""
    b = e.bounces
    c = scene.air.speed_of_sound
    frequency = np.asarray(bands.EXACT_HZ)[bands.band_index(lowest_hz)]
    radius = zone_radius(b.before[first], b.after[first], c, np.array([frequency]))[:, 0]
    along, cosine = np.abs(b.along[first]), b.cosine[first]
    # Half-extent of the zone's ellipse along u and v.
    half = radius[:, None] * np.sqrt((along / cosine[:, None]) ** 2 + (1.0 - along**2))
    reach = np.zeros((len(zone), 2))
    np.maximum.at(reach, group, half)
    bands_asked = bands.band_index(lowest_hz) - bands.band_index(1000)
    wall = np.sqrt(1.0 - np.array([s.material.capped for s in scene.surfaces])[:, CRITERION_BANDS])
    change = np.minimum(np.sqrt(1.0 - REFERENCE_ABSORPTION) - wall[b.surface[first]], 0.0)
    gain = e.gain[b.path[first]]
    best = np.full((len(zone), 4), np.nan)
    for step in _STEPS:
        open_ = np.flatnonzero(np.isnan(best[group, 0]))
        if len(open_) == 0:
            break
        grown = zone + step * np.concatenate([-reach, reach], axis=1)
        share = np.zeros((len(open_), change.shape[1]), dtype=np.complex128)
        code = e.frequency[b.path[first[open_]], 0]
        for f in np.unique(code):
            k = np.flatnonzero(code == f)
            j = first[open_[k]]
            share[k] = patch_shares(
                point[open_[k]], b.along[j], b.cosine[j], b.before[j], b.after[j], grown[group[open_[k]]], c,
                e.frequency[b.path[j[0]]],
            )  # fmt: skip
        factor = e.bare[first[open_]] + share * change[open_]
        energy = np.zeros((len(zone), change.shape[1]))
        np.add.at(energy, group[open_], gain[open_] * np.square(np.abs(factor)))
        done = np.all(bands.decibels(energy[:, bands_asked:]) <= CRITERION_DB, axis=1)
        fresh = done & np.isnan(best[:, 0])
        best[fresh] = grown[fresh]
    return best


@dataclass(frozen=True, eq=False)
class SeatRanking:
    """Which surfaces send how much early sound to a seat.

    Parameters
    ----------
    seat : int
        Index of the seat.
    surfaces : tuple of str
        Names, the strongest first.
    level_db : numpy.ndarray
        Sum of all early reflections (orders 1 and 2, within 15 ms) that touch the surface, over all
        loudspeakers, re the sum of the direct sounds, mean of 1 to 8 kHz, shape (n,), dB.
    """

    seat: int
    surfaces: tuple[str, ...]
    level_db: Array

    def level_of(self, surface: str) -> float | None:
        """Level of one surface, dB; None when it sends nothing early to the seat.

        Parameters
        ----------
        surface : str
            Its name.
        """
        return float(self.level_db[self.surfaces.index(surface)]) if surface in self.surfaces else None


def rank_surfaces(evaluation: Evaluation) -> tuple[SeatRanking, ...]:
    """Rank surfaces by how much early sound they send to each seat.

    Parameters
    ----------
    evaluation : Evaluation
        With or without panels.

    Returns
    -------
    tuple of SeatRanking
        One for each seat. A path of second order counts for both of its surfaces.
    """
    a, scene = evaluation.arrivals, evaluation.scene
    energy = bands.energy_ratio(a.level_db[:, CRITERION_BANDS]).mean(axis=1)
    made = []
    for seat in range(len(scene.seats)):
        sums: dict[str, float] = {}
        for i in np.flatnonzero((a.seat == seat) & (a.order > 0) & (a.delay_ms <= CRITERION_MS)):
            for name in {scene.surfaces[int(s)].name for s in a.surfaces[i] if s >= 0}:
                sums[name] = sums.get(name, 0.0) + float(energy[i])
        ranked = sorted(sums.items(), key=lambda x: -x[1])
        direct = float(len(scene.loudspeakers))
        levels = bands.decibels(np.array([v for _, v in ranked]) / direct) if ranked else np.zeros(0)
        made.append(SeatRanking(seat, tuple(k for k, _ in ranked), levels))
    return tuple(made)
