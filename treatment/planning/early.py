"""What panels do to the early arrivals of a seating area, as arrays: thousands of sites can be tried.

An *arrival* is one route from one loudspeaker to one seating area. It is sampled by *members*: first
reflections at four points of the area with two frequencies each in every band; second reflections, which are
weaker, at the centre. Panels change the complex reflection factor of the members' bounces by their
share (`patch_shares`); the arrival's level is the mean energy of its members. Levels are not additive in dB
over panels, so the gain of a site is worked out anew after every choice.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.bounces import Bounces, bounces_of, path_energy, path_levels
from treatment.acoustics.fresnel import Complex, octave_samples, patch_shares, zone_radius
from treatment.acoustics.image_sources import Paths
from treatment.acoustics.zones import AREA_HZ, SAMPLES, Zone, area_nodes, reflection_zones
from treatment.bands import Array, frozen
from treatment.planning.candidates import Sites
from treatment.planning.edges import passing_energy
from treatment.planning.patches import patches_of
from treatment.planning.plan import Placement
from treatment.planning.radiation import radiation_db
from treatment.planning.reflected import reflection_factors
from treatment.planning.seen import seen_paths
from treatment.planning.targets import CRITERION_BANDS, CRITERION_DB, CRITERION_MS
from treatment.planning.wishes import kept_paths
from treatment.scene.model import Scene

Indices = NDArray[np.intp]

#: A smaller share than this changes a reflection by less than half a decibel; it is left to `evaluate`.
LEAST_SHARE = 0.05
#: Sites further from a specular point than this many radii of its first Fresnel zone at 1 kHz are left
#: out of the choice (not out of the evaluation).
REACH = 0.8
#: Where on the area (see `area_nodes`), and with which frequencies, shape (8, n), Hz, members are: those of
#: first-order arrivals, then those of second-order ones, at the centre of the seat.
_NODE = np.array([*np.repeat(np.arange(1, 5), AREA_HZ.shape[2]), 0, 0])
_HZ = np.concatenate([*AREA_HZ, octave_samples(2)], axis=1)
_FIRST, _SECOND = np.flatnonzero(_NODE > 0), np.flatnonzero(_NODE == 0)


@dataclass(frozen=True, eq=False)
class EarlyField:
    """Arrivals that break the criterion: a arrivals, n members, m bounces of members, four bands.

    Parameters
    ----------
    paths : Paths
        One for each member, to seat samples.
    bounces : Bounces
        Of the members.
    frequency : numpy.ndarray
        Frequency of each member in each band, shape (n, 4), Hz.
    arrival : numpy.ndarray
        Which arrival each member belongs to, shape (n,).
    gain : numpy.ndarray
        Energy of each member without any loss at its bounces, over the number of members that a
        whole area has, shape (n, 4): the arrival's level is the sum over its members. What corners that
        it passes take is off already.
    bare : numpy.ndarray
        Reflection factors of the bounces as the room is, complex, shape (m, 4).
    zones : tuple of Zone
        Of the members.
    weight : numpy.ndarray
        How much each arrival counts, that of its loudspeaker times that of its seat, shape (a,).
    """

    paths: Paths
    bounces: Bounces
    frequency: Array
    arrival: Indices
    gain: Array
    bare: Complex
    zones: tuple[Zone, ...]
    weight: Array

    @property
    def count(self) -> int:
        """Number of arrivals."""
        return int(self.arrival.max()) + 1 if len(self.arrival) else 0

    def member_energy(self, factor: Complex) -> Array:
        """Energy of every member, shape (n, 4).

        Parameters
        ----------
        factor : numpy.ndarray
            Reflection factor of each bounce, complex, shape (m, 4).
        """
        return self.gain * path_energy(self.paths, self.bounces, factor)

    def arrival_energy(self, members: Array) -> Array:
        """Energy of every arrival re direct, shape (a, 4).

        Parameters
        ----------
        members : numpy.ndarray
            As from `member_energy`, shape (n, 4).
        """
        total = np.zeros((self.count, members.shape[1]))
        np.add.at(total, self.arrival, members)
        return total

    def total(self, factor: Complex) -> float:
        """Early objective: weighted sum over arrivals of their excess, dB.

        Parameters
        ----------
        factor : numpy.ndarray
            Reflection factor of each bounce, complex, shape (m, 4).
        """
        return float(self.weight @ excess(self.arrival_energy(self.member_energy(factor))))


def excess(energy: Array) -> Array:
    """How far arrivals lie above the criterion, mean over the bands from 1 to 8 kHz.

    Parameters
    ----------
    energy : numpy.ndarray
        Re direct, shape (..., 4).

    Returns
    -------
    numpy.ndarray
        Shape (...), dB.
    """
    above = np.maximum(bands.decibels(energy) - CRITERION_DB, 0.0)
    return np.asarray(above.mean(axis=-1))


def early_field(scene: Scene, hanging: tuple[Placement, ...] = ()) -> EarlyField:
    """Find the arrivals that break the criterion anywhere in the seating areas.

    Parameters
    ----------
    scene : Scene
        The room.
    hanging : tuple of Placement
        Panels that already hang.

    Returns
    -------
    EarlyField
        Orders 1 and 2.
    """
    positions = np.array([s.position for s in scene.seats]).reshape(-1, 3)
    receivers = area_nodes(positions, np.array([s.spread for s in scene.seats])).reshape(-1, 3)
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    paths, _ = seen_paths(scene, receivers)
    wanted = ~kept_paths(scene, paths, receivers)
    node = paths.receiver % SAMPLES
    delay = (paths.length - paths.direct) / scene.air.speed_of_sound * 1e3
    loud, seats = (np.array([x.weight for x in xs]) for xs in (scene.loudspeakers, scene.seats))
    weight = loud[paths.source] * seats[paths.receiver // SAMPLES]
    # What counts for nothing is left out: a plan is then made faster, too.
    early = wanted & (delay <= CRITERION_MS) & (weight > 0.0)
    order = np.where(early, paths.order, -1)
    parts = [np.flatnonzero((order == 1) & (node == _NODE[k])) for k in _FIRST]
    parts += [np.flatnonzero((order == 2) & (node == 0))] * len(_SECOND)
    chosen = np.concatenate(parts)
    slot = np.repeat(np.concatenate([_FIRST, _SECOND]), [len(p) for p in parts])
    whole = np.where(slot < len(_FIRST), len(_FIRST), len(_SECOND))
    members = paths.taken(chosen)
    bounces = bounces_of(scene.enclosure, members, sources)
    heard = _HZ[CRITERION_BANDS]
    bare = np.zeros((len(bounces.path), len(heard)), dtype=np.complex128)
    patches = patches_of(scene, hanging)
    for k in range(len(_NODE)):
        of_slot = np.flatnonzero(slot[bounces.path] == k)
        factor = reflection_factors(scene, bounces.taken(of_slot), patches, _HZ[:, k])
        bare[of_slot] = factor[:, CRITERION_BANDS]
    passing = passing_energy(scene, members, receivers)
    lossless = path_levels(members, passing, scene.air.attenuation_db_per_m())
    lossless += radiation_db(scene, members, receivers)
    gain = bands.energy_ratio(lossless[:, CRITERION_BANDS]) / whole[:, None]
    # Parts of one wall are one route: a head before their joint hears one reflection, not two weaker ones.
    group = np.append(scene.enclosure.flush.group, -1)
    route = np.column_stack([members.source, members.receiver // SAMPLES, group[members.surfaces]])
    _, first_member, arrival = np.unique(route, axis=0, return_index=True, return_inverse=True)
    counted = weight[chosen][first_member]
    field = EarlyField(members, bounces, heard[:, slot].T, arrival.ravel(), gain, bare, (), counted)
    return _above_criterion(scene, field)


def _above_criterion(scene: Scene, field: EarlyField) -> EarlyField:
    """Keep the arrivals of which any band lies above the criterion."""
    if field.count == 0:
        return field
    level = bands.decibels(field.arrival_energy(field.member_energy(field.bare)))
    loud = level.max(axis=1) >= CRITERION_DB
    keep = np.flatnonzero(loud[field.arrival])
    position = np.full(len(field.paths), -1)
    position[keep] = np.arange(len(keep))
    inner = np.flatnonzero(position[field.bounces.path] >= 0)
    kept = field.bounces.taken(inner, position)
    members = field.paths.taken(keep)
    left, arrival = np.unique(field.arrival[keep], return_inverse=True)
    zones = reflection_zones(members, kept, scene.air.speed_of_sound)
    return EarlyField(
        members,
        kept,
        field.frequency[keep],
        arrival.ravel(),
        field.gain[keep],
        field.bare[inner],
        zones,
        field.weight[left],
    )


@dataclass(frozen=True, eq=False)
class Coverage:
    """Which site takes part in which bounce, and by how much; q pairs in z groups.

    A group holds the pairs of one site with the members of one arrival: its gain is worked out together.

    Parameters
    ----------
    site, bounce : numpy.ndarray
        Indices, shape (q,), in the order of the groups.
    share : numpy.ndarray
        Complex, shape (q, 4).
    group : numpy.ndarray
        Group of each pair, shape (q,), ascending.
    group_site, group_arrival : numpy.ndarray
        Shape (z,).
    """

    site: Indices
    bounce: Indices
    share: Complex
    group: Indices
    group_site: Indices
    group_arrival: Indices

    @cached_property
    def strength(self) -> Array:
        """Squared magnitude of the shares, shape (q, 4)."""
        return frozen(np.square(self.share.real) + np.square(self.share.imag))


def coverage(scene: Scene, field: EarlyField, sites: Sites) -> Coverage:
    """Work out the shares of all sites in all bounces that they can touch.

    Parameters
    ----------
    scene : Scene
        The room.
    field : EarlyField
        The arrivals that count.
    sites : Sites
        Legal places.

    Returns
    -------
    Coverage
        Pairs whose share is worth counting (`LEAST_SHARE`).
    """
    site, bounce = _near_pairs(scene, field, sites)
    b = field.bounces
    parts = [np.zeros((0, 4), dtype=np.complex128)]
    c = scene.air.speed_of_sound
    # Members with the same frequencies are worked on together.
    code = field.frequency[b.path[bounce], 0]
    order = np.lexsort((bounce, site, code))
    site, bounce, code = site[order], bounce[order], code[order]
    cuts = np.concatenate([[0], np.flatnonzero(np.diff(code)) + 1, [len(code)]])

    shift = scene.enclosure.flush.shift

    def shares(part: slice) -> Complex:
        s, j = site[part], bounce[part]
        return patch_shares(
            b.wall[j] + shift[b.surface[j]] - shift[sites.surface[s]],
            b.along[j],
            b.cosine[j],
            b.before[j],
            b.after[j],
            sites.face[s],
            c,
            field.frequency[b.path[j[0]]],
        )

    pieces = [slice(k, min(k + 1000, high)) for low, high in pairwise(cuts) for k in range(low, high, 1000)]
    # Numpy lets other threads work meanwhile; the parts come back in their order.
    with ThreadPoolExecutor(max_workers=4) as pool:
        parts += pool.map(shares, pieces)
    share = np.concatenate(parts)
    real = np.abs(share).max(axis=1) > LEAST_SHARE
    site, bounce, share = site[real], bounce[real], share[real]
    arrival = field.arrival[b.path[bounce]]
    order = np.lexsort((bounce, arrival, site))
    site, bounce, share, arrival = site[order], bounce[order], share[order], arrival[order]
    if len(site) == 0:
        nothing = np.zeros(0, dtype=np.intp)
        return Coverage(site, bounce, share, nothing, nothing, nothing)
    fresh = np.concatenate([[True], (np.diff(site) != 0) | (np.diff(arrival) != 0)])
    return Coverage(site, bounce, share, np.cumsum(fresh) - 1, site[fresh], arrival[fresh])


def _near_pairs(scene: Scene, field: EarlyField, sites: Sites) -> tuple[Indices, Indices]:
    """Pairs of sites and bounces on the same surface, or flush with it, that are near enough to matter."""
    b, flush = field.bounces, scene.enclosure.flush
    lowest = np.asarray(bands.EXACT_HZ)[CRITERION_BANDS][:1]
    reach = REACH * zone_radius(b.before, b.after, scene.air.speed_of_sound, lowest)[:, 0] / b.cosine
    found_site, found_bounce = [np.zeros(0, dtype=np.intp)], [np.zeros(0, dtype=np.intp)]
    for i in np.unique(sites.surface):
        g = np.flatnonzero(sites.surface == i)
        k = np.flatnonzero(flush.group[b.surface] == flush.group[i])
        point = b.wall[k] + flush.shift[b.surface[k]] - flush.shift[i]
        low, high = sites.face[g, :2], sites.face[g, 2:]
        gap = np.maximum(np.maximum(low[:, None] - point, point - high[:, None]), 0.0)
        gg, kk = np.nonzero(np.hypot(gap[..., 0], gap[..., 1]) < reach[k])
        found_site.append(g[gg])
        found_bounce.append(k[kk])
    return np.concatenate(found_site), np.concatenate(found_bounce)
