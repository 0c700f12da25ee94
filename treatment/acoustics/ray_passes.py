"""The two kinds of rays: those that scatter from one end of a path, and those that look from the other.

Every path of sound from a source to a seat has either no diffuse bounce, or a last one. *Scattered*
rays leave one end, bounce specularly or diffusely, and leave word of the energy that falls on each
cell of the boundary at each time. *Looking* rays leave the other end and bounce specularly only; what
they see at each bounce is the diffuse sound of that cell. The two together hold every path with a
diffuse bounce once: the scattered rays make it up to the last diffuse bounce, the looking rays after
it. Paths without one are image sources up to an order; beyond it the looking rays meet small spheres
around the far ends.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from treatment.acoustics.scatter import (
    Branching,
    diffuse_directions,
    lattice_directions,
    mirrored_directions,
    random_rotation,
)
from treatment.acoustics.tiles import Tiles
from treatment.bands import Array
from treatment.geometry.rays import Caster, Indices, dots

#: A ray whose energy has fallen to this share of its start, in every band, goes on only by chance, and
#: with as much more energy: nothing is lost on the average.
FAINT = 1e-5
_SURVIVAL = 0.25
#: Rays are looked at for that only now and then.
_LOOK_EVERY = 3
#: Rays that are moved together; their arrays stay in the processor's cache.
CHUNK = 4000
#: Deposits that are kept before they are summed.
_BUFFER = 250_000


@dataclass(frozen=True, eq=False)
class Stage:
    """What rays move through.

    Parameters
    ----------
    caster : Caster
        Over the tiles' polygons.
    tiles : Tiles
        The boundary.
    bins : int
        Time steps.
    bin_length : float
        Length of path of one time step, m.
    """

    caster: Caster
    tiles: Tiles
    bins: int
    bin_length: float

    @property
    def slots(self) -> int:
        """Cells times time steps."""
        return len(self.tiles.cell_areas) * self.bins

    @property
    def paths(self) -> Array:
        """Length of path in the middle of each time step, shape (bins,), m."""
        return np.asarray((np.arange(self.bins) + 0.5) * self.bin_length)

    @property
    def limit(self) -> float:
        """Longest path that is followed, m."""
        return self.bins * self.bin_length

    def shaped(self, sums: Array, ends: int) -> Array:
        """Sums (b, ends * slots) as (b, ends, cells, bins).

        Parameters
        ----------
        sums : numpy.ndarray
            By slot.
        ends : int
            Points that rays start from.

        Returns
        -------
        numpy.ndarray
            Shape (b, ends, cells, bins).
        """
        return sums.reshape(len(sums), ends, -1, self.bins)

    def slot(self, tile: Indices, path: Array) -> Indices:
        """Slot of each hit, shape (k,).

        Parameters
        ----------
        tile : numpy.ndarray
            Shape (k,).
        path : numpy.ndarray
            Length of path so far, shape (k,), m; within the time steps.
        """
        return self.tiles.cell[tile] * self.bins + (path / self.bin_length).astype(np.intp)


class _Sums:
    """Sums deposits by slot and band; holds some back, because one big sum is cheaper than many."""

    def __init__(self, bands: int, slots: int) -> None:
        self.total = np.zeros((bands, slots))
        self._slot: list[Indices] = []
        self._energy: list[Array] = []
        self._held = 0

    def add(self, slot: Indices, energy: Array) -> None:
        """Take deposits: slots (k,), energy (k, b)."""
        self._slot.append(slot)
        self._energy.append(energy)
        self._held += len(slot)
        if self._held > _BUFFER:
            self.flush()

    def flush(self) -> None:
        """Sum what is held."""
        if self._held:
            slot = np.concatenate(self._slot)
            energy = np.concatenate(self._energy)
            for b in range(len(self.total)):
                self.total[b] += np.bincount(slot, weights=energy[:, b], minlength=self.total.shape[1])
        self._slot, self._energy, self._held = [], [], 0


def scattered(
    stage: Stage, branching: Branching, starts: Array, count: int, rng: np.random.Generator
) -> tuple[Array, int]:
    """Send scattered rays from points.

    Parameters
    ----------
    stage : Stage
        The room.
    branching : Branching
        Bands that these rays carry, and how they choose.
    starts : numpy.ndarray
        Shape (e, 3), m.
    count : int
        Rays from each point.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    fallen : numpy.ndarray
        Share of the emitted energy that falls on each cell in each time step, summed over all bounces,
        without the loss in the air, shape (g, e, cells, bins).
    lost : int
        Rays that left the room through a gap.
    """
    sums = _Sums(len(branching.members), len(starts) * stage.slots)
    lost = 0
    for owner, d in _launches(len(starts), count, rng):
        lost += _scatter_chunk(stage, branching, starts, owner, d, rng, sums)
    sums.flush()
    return stage.shaped(sums.total / count, len(starts)), lost


def _launches(ends: int, count: int, rng: np.random.Generator) -> Iterator[tuple[Indices, Array]]:
    """Ends and directions of rays, chunk by chunk; the directions of each end are even."""
    rotation = np.array([random_rotation(rng) for _ in range(ends)])
    # Only their order is drawn for all at once: directions are made when their turn comes.
    order = rng.permutation(ends * count)
    for first in range(0, len(order), CHUNK):
        owner, which = np.divmod(order[first : first + CHUNK], count)
        yield owner, np.einsum("ki,kji->kj", lattice_directions(which, count), rotation[owner])


def _scatter_chunk(
    stage: Stage,
    branching: Branching,
    starts: Array,
    owner: Indices,
    d: Array,
    rng: np.random.Generator,
    sums: _Sums,
) -> int:
    # Bands side by side: a row of a table is then one piece of memory, and fetched several times faster.
    factors = np.concatenate([branching.specular.T, branching.diffuse.T])
    chance = branching.chance
    at = starts[owner]
    base = owner * stage.slots
    energy = np.ones((len(d), factors.shape[1]))
    path = np.zeros(len(d))
    tile: Indices | None = None
    lost, bounces = 0, 0
    while len(d):
        tile, distance = stage.caster.first_hit(at, d, tile)
        path = path + distance
        keep = (path < stage.limit) & (tile >= 0)
        if not keep.all():
            lost += int(np.count_nonzero(tile < 0))
            at, d, path, distance, tile = at[keep], d[keep], path[keep], distance[keep], tile[keep]
            energy, base = energy[keep], base[keep]
        at = at + distance[:, None] * d
        sums.add(base + stage.slot(tile, path), energy)
        scatter = rng.random(len(d)) < chance[tile]
        normals = stage.caster.normals[tile]
        d = mirrored_directions(d, normals)
        which = np.flatnonzero(scatter)
        d[which] = diffuse_directions(normals[which], rng)
        energy = energy * factors[tile + len(chance) * scatter]
        bounces += 1
        stays, energy = _thinned(energy, bounces, rng)
        if stays is not None:
            at, d, path, tile, base = at[stays], d[stays], path[stays], tile[stays], base[stays]
    return lost


def _thinned(energy: Array, bounces: int, rng: np.random.Generator) -> tuple[Indices | None, Array]:
    """Let most of the faint rays go, and give the others their energy; None where all stay."""
    if (bounces - 1) % _LOOK_EVERY:
        return None, energy
    loudest = energy.max(axis=1)
    faint = loudest < FAINT
    if not faint.any():
        return None, energy
    stays = np.flatnonzero((~faint | (rng.random(len(faint)) < _SURVIVAL)) & (loudest > 0.0))
    return stays, energy[stays] / np.where(faint, _SURVIVAL, 1.0)[stays, None]


def looking(
    stage: Stage,
    starts: Array,
    count: int,
    spheres: Array,
    radii: Array,
    beyond: int,
    rng: np.random.Generator,
) -> tuple[Array, Array, int]:
    """Send looking rays from points.

    Parameters
    ----------
    stage : Stage
        The room.
    starts : numpy.ndarray
        Shape (e, 3), m.
    count : int
        Rays from each point.
    spheres : numpy.ndarray
        Far ends, shape (f, 3), m.
    radii : numpy.ndarray
        Of the spheres around them, shape (f,), m.
    beyond : int
        Order up to which image sources hold the specular paths; spheres count paths of more bounces.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    seen : numpy.ndarray
        Sum over bounces of ``4 s (1 - alpha)`` times what the way back leaves, by cell and time step,
        over the number of rays, shape (b, e, cells, bins). Times the energy that falls on a cell over
        the cell's area it is the sound at the point (intensity as if from one direction).
    met : numpy.ndarray
        Specular sound from the far ends, shape (b, e, f, bins), relative to the free field at 1 m.
    lost : int
        Rays that left the room through a gap.

    Notes
    -----
    A surface on which the energy E falls per area sends the radiance ``s (1 - alpha) E / pi`` back in all
    directions; a looking ray stands for the solid angle ``4 pi / count``. A source of the intensity
    ``1/d^2`` has the power 4 pi.
    """
    tiles = stage.tiles
    returned = 1.0 - tiles.absorption[tiles.material]
    scatter = tiles.scattering[tiles.material]
    mirrors = np.ascontiguousarray(returned * (1.0 - scatter))
    shines = np.ascontiguousarray(4.0 * returned * scatter)
    targets = _Targets(spheres, radii, stage)
    sums = _Sums(mirrors.shape[1], len(starts) * stage.slots)
    met = _Sums(mirrors.shape[1], len(starts) * len(spheres) * stage.bins)
    lost = 0
    for owner, d in _launches(len(starts), count, rng):
        at = starts[owner]
        energy = np.ones((len(d), mirrors.shape[1]))
        path = np.zeros(len(d))
        tile: Indices | None = None
        bounces = 0
        while len(d):
            tile, distance = stage.caster.first_hit(at, d, tile)
            if bounces > beyond:
                targets.meet(at, d, path, np.where(tile < 0, 0.0, distance), energy, owner, met)
            path = path + distance
            keep = (path < stage.limit) & (tile >= 0)
            if not keep.all():
                lost += int(np.count_nonzero(tile < 0))
                at, d, path, distance, tile = at[keep], d[keep], path[keep], distance[keep], tile[keep]
                energy, owner = energy[keep], owner[keep]
            at = at + distance[:, None] * d
            sums.add(owner * stage.slots + stage.slot(tile, path), energy * shines[tile])
            d = mirrored_directions(d, stage.caster.normals[tile])
            energy = energy * mirrors[tile]
            bounces += 1
            stays, energy = _thinned(energy, bounces, rng)
            if stays is not None:
                at, d, path, tile, owner = at[stays], d[stays], path[stays], tile[stays], owner[stays]
    sums.flush()
    met.flush()
    specular = met.total.reshape(-1, len(starts), len(spheres), stage.bins) / count
    return stage.shaped(sums.total / count, len(starts)), specular, lost


class _Targets:
    """Spheres that legs of rays meet: energy density by chord over volume (track-length estimate)."""

    def __init__(self, centres: Array, radii: Array, stage: Stage) -> None:
        self._radii, self._squared, self._stage = radii, radii**2, stage
        # Products with these rows give the distances to all spheres at once.
        one, own = np.ones((1, len(centres))), (centres * centres).sum(axis=1)[None]
        self._along = np.concatenate([centres.T, -one])
        self._off = np.concatenate([-2.0 * centres.T, one, own])

    def meet(
        self, at: Array, d: Array, path: Array, distance: Array, energy: Array, owner: Indices, met: _Sums
    ) -> None:
        """Add what legs bring: starts (k, 3), directions, paths before, lengths, energy (k, b), ends."""
        middle = np.column_stack([d, dots(at, d)]) @ self._along
        off2 = np.column_stack([at, dots(at, at), np.ones(len(at))]) @ self._off - middle * middle
        ray, sphere = np.nonzero(off2 < self._squared)
        if not len(ray):
            return
        half = np.sqrt(np.maximum(self._squared[sphere] - off2[ray, sphere], 0.0))
        centre = middle[ray, sphere]
        low = np.maximum(centre - half, 0.0)
        high = np.minimum(centre + half, distance[ray])
        time = ((path[ray] + 0.5 * (low + high)) / self._stage.bin_length).astype(np.intp)
        inside = (time < self._stage.bins) & (high > low)
        ray, sphere = ray[inside], sphere[inside]
        share = (high - low)[inside] * 3.0 / self._radii[sphere] ** 3
        slot = (owner[ray] * len(self._radii) + sphere) * self._stage.bins + time[inside]
        met.add(slot, energy[ray] * share[:, None])
