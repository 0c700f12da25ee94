"""What panels do to the early arrivals of a seating area, as arrays: thousands of sites can be tried.

The arrivals that count are those to any point of any seat that break the criterion in the untreated
room. A site takes part in a bounce by its share (`patch_shares`); the level of a path follows from what
each of its bounces sends back. Levels are not additive in dB over panels, so the gain of a site is worked
out anew after every choice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.bounces import Bounces, path_levels
from treatment.acoustics.fresnel import patch_shares, zone_radius
from treatment.acoustics.image_sources import Paths
from treatment.acoustics.zones import SAMPLES, Zone, reflection_zones, seat_samples
from treatment.bands import Array
from treatment.planning.candidates import Sites
from treatment.planning.evaluate import patches_of, returned_energy, seen_paths
from treatment.planning.plan import Placement
from treatment.planning.targets import CRITERION_BANDS, CRITERION_DB, CRITERION_MS
from treatment.scene.model import Scene

#: A smaller share than this changes a reflection by less than a tenth of a decibel.
LEAST_SHARE = 0.02


@dataclass(frozen=True, eq=False)
class EarlyField:
    """Arrivals that break the criterion, and their bounces; n paths, m bounces, four bands.

    Parameters
    ----------
    paths : Paths
        The paths, to seat samples.
    bounces : Bounces
        Their bounces.
    wall : numpy.ndarray
        Energy that the bare surface sends back at each bounce, shape (m, 4).
    base : numpy.ndarray
        Levels without any loss at the bounces, shape (n, 4), dB.
    weight : numpy.ndarray
        Of each path, shape (n,): over a seating area they add up to one for each route.
    zones : tuple of Zone
        Of these paths.
    """

    paths: Paths
    bounces: Bounces
    wall: Array
    base: Array
    weight: Array
    zones: tuple[Zone, ...]

    def excess(self, back: Array) -> Array:
        """Return how far each path lies above the criterion, mean over 1 to 8 kHz, dB, shape (n,).

        Parameters
        ----------
        back : numpy.ndarray
            Energy sent back at each bounce, shape (m, 4).
        """
        return self.excess_of(self.levels(back))

    @staticmethod
    def excess_of(levels: Array) -> Array:
        """Return the mean over bands of the part above the criterion, dB.

        Parameters
        ----------
        levels : numpy.ndarray
            Shape (..., 4), dB re direct.
        """
        return np.asarray(np.maximum(levels - CRITERION_DB, 0.0).mean(axis=-1))

    def levels(self, back: Array) -> Array:
        """Return the level of each path, shape (n, 4), dB re direct.

        Parameters
        ----------
        back : numpy.ndarray
            Energy sent back at each bounce, shape (m, 4).
        """
        loss = np.zeros_like(self.base)
        np.add.at(loss, self.bounces.path, bands.decibels(back))
        return np.asarray(self.base + loss)

    def total(self, back: Array) -> float:
        """Return the early objective: weighted sum of the excess over all paths, dB.

        Parameters
        ----------
        back : numpy.ndarray
            Energy sent back at each bounce, shape (m, 4).
        """
        return float(self.weight @ self.excess(back))


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
    spreads = np.array([s.spread for s in scene.seats])
    receivers = seat_samples(positions, spreads)
    paths, bounces = seen_paths(scene, receivers)
    back = returned_energy(scene, bounces, patches_of(scene, hanging))
    air = scene.air.attenuation_db_per_m()
    level = path_levels(paths, bounces, back, air)[:, CRITERION_BANDS]
    delay = (paths.length - paths.direct) / scene.air.speed_of_sound * 1e3
    # A second-order path is weaker, and its zone much like that of its neighbours: the seat's centre
    # stands for the whole area there. First reflections count at every point of it.
    centre = paths.receiver % SAMPLES == 0
    counts = (
        ((paths.order == 1) | ((paths.order > 1) & centre))
        & (delay <= CRITERION_MS)
        & (level.max(axis=1) >= CRITERION_DB)
    )
    keep = np.flatnonzero(counts)
    position = np.full(len(paths), -1)
    position[keep] = np.arange(len(keep))
    inner = np.flatnonzero(counts[bounces.path])
    kept = Bounces(
        position[bounces.path[inner]],
        *(
            getattr(bounces, name)[inner]
            for name in ("rank", "surface", "wall", "along", "cosine", "before", "after")
        ),
    )
    chosen = paths.taken(keep)
    wall = back[inner][:, CRITERION_BANDS]
    loss = np.zeros((len(keep), wall.shape[1]))
    np.add.at(loss, kept.path, bands.decibels(wall))
    return EarlyField(
        chosen,
        kept,
        wall,
        level[keep] - loss,
        np.where(chosen.order == 1, 1.0 / SAMPLES, 1.0),
        reflection_zones(chosen, kept, scene.air.speed_of_sound),
    )


@dataclass(frozen=True, eq=False)
class Coverage:
    """Which site takes part in which bounce, and by how much; q pairs.

    Parameters
    ----------
    site, bounce : numpy.ndarray
        Indices, shape (q,), sorted by site.
    share : numpy.ndarray
        Shape (q, 4).
    """

    site: NDArray[np.intp]
    bounce: NDArray[np.intp]
    share: Array


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
        Pairs whose share is worth counting (`LEAST_SHARE`), sorted by site.
    """
    c = scene.air.speed_of_sound
    lowest = bands.EXACT_HZ[CRITERION_BANDS][:1]
    b = field.bounces
    reach = zone_radius(b.before, b.after, c, lowest)[:, 0] / b.cosine
    pairs_site, pairs_bounce = [], []
    for i in np.unique(sites.surface):
        g = np.flatnonzero(sites.surface == i)
        k = np.flatnonzero(b.surface == i)
        if len(k) == 0:
            continue
        low, high = sites.face[g, :2], sites.face[g, 2:]
        gap = np.maximum(np.maximum(low[:, None] - b.wall[k], b.wall[k] - high[:, None]), 0.0)
        near = np.hypot(gap[..., 0], gap[..., 1]) < reach[k]
        gg, kk = np.nonzero(near)
        pairs_site.append(g[gg])
        pairs_bounce.append(k[kk])
    if not pairs_site:
        nothing = np.zeros(0, dtype=np.intp)
        return Coverage(nothing, nothing, np.zeros((0, 4)))
    site, bounce = np.concatenate(pairs_site), np.concatenate(pairs_bounce)
    share = np.concatenate(
        [
            patch_shares(
                b.wall[k],
                b.along[k],
                b.cosine[k],
                b.before[k],
                b.after[k],
                sites.face[s],
                c,
                bands.EXACT_HZ[CRITERION_BANDS],
            )
            for s, k in zip(_parts(site), _parts(bounce), strict=True)
        ]
    )
    real = np.flatnonzero(share.max(axis=1) > LEAST_SHARE)
    real = real[np.argsort(site[real], kind="stable")]
    return Coverage(site[real], bounce[real], share[real])


def _parts(index: NDArray[np.intp], size: int = 4_000) -> list[NDArray[np.intp]]:
    return [index[i : i + size] for i in range(0, len(index), size)] or [index]
