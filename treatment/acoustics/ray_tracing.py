"""Energy decays at seats by rays, all octave bands at once.

Direct sound and low orders of specular reflection come from image sources, exactly; the rest from rays
(`ray_passes`). The error is estimated from independent parts of the rays, and tracing stops when the
asked precision of T30 is reached.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np

from treatment.acoustics.decay import EnergyDecay, backward_curve, decay_figures, figure_errors
from treatment.acoustics.ray_images import Ends, from_direct, specular_part
from treatment.acoustics.ray_passes import Stage, looking, scattered
from treatment.acoustics.scatter import Branching, branchings
from treatment.acoustics.tiles import CELLS, RayPatch, Tiles, cut_tiles
from treatment.air import Air
from treatment.bands import Array, frozen
from treatment.errors import TreatmentError
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.rays import Caster
from treatment.materials.material import CAP

#: Independent parts from which errors are estimated.
PARTS: Final = 10
#: What a run that stops by itself must add to the error it states: it tends to stop when ten parts happen
#: to lie close together. Student's t with nine degrees over the normal quantile, at 95 %.
WIDENING: Final = 2.262 / 1.960
#: A decay has about so many time steps, none shorter or longer than these (s).
_STEPS: Final = 250
SHORTEST_STEP_S: Final = 0.001
LONGEST_STEP_S: Final = 0.004
#: Longest decay that is traced, s.
LONGEST_S: Final = 10.0
#: How far the decay is followed, dB below its start. T30 needs 35, and what is cut off behind must not
#: bend the curve there.
_DEPTH_DB: Final = 55.0
#: What the decay must reach at nine tenths of its length, in every band, or it is followed for longer.
_LEAST_REACH_DB: Final = 46.0
_PILOT_RAYS: Final = 1000
#: Images of higher order are made only while there are no more of them than this.
_MOST_IMAGES: Final = 40_000
#: Rays of each end and part in the first round.
_FIRST_RAYS: Final = 300
#: Looking rays per scattered ray: measured, the less the walls scatter the more of the sound is left to
#: them (scattering 0.1: error lowest for a given time at 3; 0.3: at 0.5).
_FEWEST_LOOKING, _MOST_LOOKING, _LOOKING_SCALE = 0.5, 4.0, 0.02
#: Radius of the spheres that high specular orders meet, m; smaller beside a wall.
_SPHERE_M: Final = 0.8


@dataclass(frozen=True, eq=False)
class TracedDecay:
    """What rays found.

    Parameters
    ----------
    decay : EnergyDecay
        Parts of shape (p, sources, receivers, b, t).
    rays : int
        Scattered rays sent, all ends together.
    lost : int
        Rays that slipped through a gap; none in a room that closes.
    error : numpy.ndarray
        Relative standard error of T30 at one place (root mean square over the places), shape (b,),
        widened where the run stopped by itself; NaN where no place supports T30.
    reached : bool
        Whether the asked precision was reached before the rays ran out.
    widening : float
        Factor for standard errors that are taken from the parts: `WIDENING` for a run that stopped by
        itself, 1 for one that used up its rays.
    """

    decay: EnergyDecay
    rays: int
    lost: int
    error: Array
    reached: bool
    widening: float = 1.0


def trace_decay(
    enclosure: Enclosure,
    air: Air,
    absorption: Array,
    scattering: Array,
    sources: Array,
    receivers: Array,
    rng: np.random.Generator,
    *,
    patches: Sequence[RayPatch] = (),
    precision: float = 0.02,
    max_rays: int = 200_000,
    bands_that_count: Sequence[int] | None = None,
    image_order: int = 2,
    cells: int = CELLS,
    clutter: Array | None = None,
    progress: Callable[[float], None] | None = None,
) -> TracedDecay:
    """Trace the decays from all sources to all receivers.

    Parameters
    ----------
    enclosure : Enclosure
        The room, obstacles included.
    air : Air
        Its air.
    absorption, scattering : numpy.ndarray
        Of its surfaces, shape (s, b) with b the eight bands; absorption above 1 counts as `CAP`, and
        at exactly 1 in all bands (an opening) as 1.
    sources, receivers : numpy.ndarray
        Shapes (e, 3) and (q, 3), m. Sources send evenly in all directions.
    rng : numpy.random.Generator
        Source of chance; the same state gives the same result.
    patches : sequence of RayPatch
        Openings and panels.
    precision : float
        Relative standard error of T30 at one place at which to stop.
    max_rays : int
        Scattered rays at most, all ends together; looking rays come on top.
    bands_that_count : sequence of int, optional
        Indices of the bands whose precision decides. Default: all.
    image_order : int
        Highest order that image sources hold, 0 to 3; lowered in rooms of many surfaces.
    cells : int
        About how many cells to cut the boundary into.
    clutter : numpy.ndarray, optional
        Attenuation by objects that stand anywhere in the room, shape (b,), 1/m. It takes effect from the
        arrival of the direct sound on, which it leaves alone.
    progress : callable, optional
        Called with the share done, 0 to 1, now and then.

    Returns
    -------
    TracedDecay
        With time zero at the arrival of the direct sound.

    Raises
    ------
    TreatmentError
        When there is no source or no receiver, or one lies outside the room, or a number is no
        sensible one.
    """
    ends = Ends(np.atleast_2d(sources), np.atleast_2d(receivers))
    _check(enclosure, ends, precision, max_rays)
    bounded = [
        np.where(np.all(a >= 1.0, axis=-1, keepdims=True), 1.0, np.minimum(a, CAP))
        for a in (np.asarray(absorption, dtype=np.float64), *(p.absorption for p in patches))
    ]
    patches = [
        RayPatch(p.surface, p.rectangle, a, p.scattering) for p, a in zip(patches, bounded[1:], strict=True)
    ]
    tiles = cut_tiles(enclosure, bounded[0], scattering, patches, cells)
    caster = Caster(tiles.polygons)
    while image_order > 0 and len(enclosure.polygons) ** image_order > _MOST_IMAGES:
        image_order -= 1
    speed = air.speed_of_sound
    thickets = np.zeros(tiles.absorption.shape[1]) if clutter is None else np.asarray(clutter)
    groups = branchings(tiles.absorption[tiles.material], tiles.scattering[tiles.material], tiles.areas)
    duration = _duration(caster, tiles, air, thickets, groups, ends.near[:1], rng)
    budget = max_rays // (PARTS * len(ends.near))
    while True:
        step = float(np.clip(duration / _STEPS, SHORTEST_STEP_S, LONGEST_STEP_S))
        stage = Stage(caster, tiles, int(np.ceil(duration / step)), speed * step)
        task = _Task(
            stage, air, groups, ends, np.array([_sphere(enclosure, p) for p in ends.near]), image_order
        )
        fixed = specular_part(enclosure, air, tiles, patches, ends, image_order, stage)
        run = _Run(task, fixed, np.exp(-thickets[:, None] * stage.paths), rng, progress)
        run.go_on(min(_FIRST_RAYS, budget), budget)
        if duration >= LONGEST_S or _reach_db(run.decay) >= _LEAST_REACH_DB:
            break
        # Few rays had missed a late, slow part of the decay.
        duration = min(1.6 * duration, LONGEST_S)
    counted = list(range(fixed.shape[-2])) if bands_that_count is None else list(bands_that_count)
    while True:
        error = _relative_error(run.decay)
        known = error[counted]
        worst = float(np.nanmax(known)) if np.isfinite(known).any() else np.inf
        coming = rays_to_come(worst, precision, run.per_part)
        if not coming or run.per_part >= budget:
            if progress is not None:
                progress(1.0)
            sent = run.per_part * PARTS * len(ends.near)
            widening = 1.0 if coming else WIDENING
            return TracedDecay(run.decay, sent, run.lost, frozen(widening * error), not coming, widening)
        run.go_on(min(coming, budget - run.per_part), budget)


def rays_to_come(error: float, precision: float, sent: int) -> int:
    """Decide whether to stop, or how many rays to send before the next look.

    Parameters
    ----------
    error : float
        Relative standard error as `PARTS` parts tell it; infinite where it is not known.
    precision : float
        What is asked.
    sent : int
        Rays of each part so far.

    Returns
    -------
    int
        0 when the error, widened by `WIDENING`, is as small as asked.
    """
    widened = WIDENING * error
    if widened <= precision:
        return 0
    # The error falls with the square root of the rays; a little more than needed saves a round.
    wanted = sent * (1.1 * (min(widened, 1.0) / precision) ** 2 - 1.0)
    return max(1, int(np.clip(wanted, 0.2 * sent, 30 * sent)))


def _check(enclosure: Enclosure, ends: Ends, precision: float, max_rays: int) -> None:
    for name, points in (("loudspeaker", ends.sources), ("seat", ends.receivers)):
        if not len(points) or points.shape[1:] != (3,):
            raise TreatmentError(f"rays need at least one {name}")
        outside = np.flatnonzero(~enclosure.contains(points))
        if len(outside):
            raise TreatmentError(
                f"{name} {outside[0] + 1} is not in the air of the room", hint="move it into the room"
            )
    if not precision > 0.0:
        raise TreatmentError(f"precision {precision:g} is not above 0")
    if max_rays < PARTS * len(ends.near):
        raise TreatmentError(
            f"{max_rays} rays are too few", hint=f"at least {PARTS * len(ends.near)}, better 20000"
        )


def _duration(
    caster: Caster,
    tiles: Tiles,
    air: Air,
    clutter: Array,
    groups: Sequence[Branching],
    start: Array,
    rng: np.random.Generator,
) -> float:
    """Time in which the whole room's energy falls by `_DEPTH_DB` in the slowest band, from few rays, s."""
    coarse = 0.005
    bins = int(LONGEST_S / coarse)
    whole = Tiles(
        tiles.polygons,
        tiles.material,
        tiles.absorption,
        tiles.scattering,
        tiles.areas,
        np.zeros_like(tiles.cell),
        frozen([tiles.areas.sum()]),
    )
    stage = Stage(caster, whole, bins, air.speed_of_sound * coarse)
    loss = (air.power_attenuation() + clutter) * air.speed_of_sound
    times = np.arange(bins) * coarse
    longest = 0.05
    for group in groups:
        fallen, _ = scattered(stage, group, start, _PILOT_RAYS, rng)
        fallen = fallen[:, 0, 0] * np.exp(-loss[group.members, None] * times)
        left = np.cumsum(fallen[:, ::-1], axis=1)[:, ::-1]
        below = left < left[:, :1] * 10.0 ** (-_DEPTH_DB / 10.0)
        below[:, -1] = True
        longest = max(longest, float(times[below.argmax(axis=1).max()]))
    return longest


def _sphere(enclosure: Enclosure, point: Array) -> float:
    return float(np.clip(enclosure.distance_to_surfaces(point).min(), 0.05, _SPHERE_M))


@dataclass(frozen=True, eq=False)
class _Task:
    """What every part traces."""

    stage: Stage
    air: Air
    groups: Sequence[Branching]
    ends: Ends
    radii: Array
    image_order: int

    @cached_property
    def looking(self) -> float:
        """Looking rays per scattered ray."""
        tiles = self.stage.tiles
        mean = float(tiles.areas @ tiles.scattering[tiles.material].mean(axis=1) / tiles.areas.sum())
        return float(np.clip(_LOOKING_SCALE / max(mean, 1e-3) ** 2, _FEWEST_LOOKING, _MOST_LOOKING))

    def part(self, count: int, rng: np.random.Generator) -> tuple[Array, int]:
        """One independent estimate of all that is not image sources, (sources, receivers, b, bins)."""
        stage, ends = self.stage, self.ends
        shape = (stage.tiles.absorption.shape[1], len(ends.near), len(stage.tiles.cell_areas), stage.bins)
        fallen = np.zeros(shape)
        lost = 0
        for group in self.groups:
            if group.chance.any():
                fallen[group.members], gone = scattered(stage, group, ends.near, count, rng)
                lost += gone
        looks = max(1, round(count * self.looking))
        seen, met, gone = looking(stage, ends.far, looks, ends.near, self.radii, self.image_order, rng)
        total = met.swapaxes(1, 2)
        if fallen.any():
            total = total + _joined(fallen, seen / stage.tiles.cell_areas[:, None])
        total = total.transpose(1, 2, 0, 3)
        total = total * np.exp(-self.air.power_attenuation()[:, None] * stage.paths)
        return from_direct(ends.by_source(total), ends, stage.bin_length), lost + gone


class _Run:
    """Parts that grow round by round."""

    def __init__(
        self,
        task: _Task,
        fixed: Array,
        left: Array,
        rng: np.random.Generator,
        progress: Callable[[float], None] | None,
    ) -> None:
        self._task, self._fixed, self._rng, self._progress = task, fixed, rng, progress
        # What objects leave at each time, (b, bins); nothing has met one when the direct sound arrives.
        self._left = left / left[:, :1]
        self._parts = np.zeros((PARTS, *fixed.shape))
        self._step = task.stage.bin_length / task.air.speed_of_sound
        self.per_part, self.lost = 0, 0

    @property
    def decay(self) -> EnergyDecay:
        """What is known by now."""
        return EnergyDecay(frozen((self._parts + self._fixed) * self._left), self._step)

    def go_on(self, count: int, budget: int) -> None:
        """Add rays to each part."""
        for i in range(PARTS):
            # Batches bound the memory that rays take; `ray_passes.CHUNK` does.
            new, gone = self._task.part(count, self._rng)
            self._parts[i] += (new - self._parts[i]) * (count / (self.per_part + count))
            self.lost += gone
            if self._progress is not None:
                self._progress(min(0.99, (self.per_part + count * (i + 1) / PARTS) / budget))
        self.per_part += count


def _joined(fallen: Array, seen: Array) -> Array:
    """Sum over cells and times of what fell and what is seen there, (b, near, far, bins)."""
    bins = fallen.shape[-1]
    length = _smooth(2 * bins)
    joined = np.empty((*fallen.shape[:2], seen.shape[1], bins))
    for b in range(len(fallen)):
        first, second = np.fft.rfft(fallen[b], length), np.fft.rfft(seen[b], length)
        # By frequency (near, cells) times (cells, far): the sum over cells is a product of matrices.
        both = first.transpose(2, 0, 1) @ second.transpose(2, 1, 0)
        product = 4.0 * np.pi * np.fft.irfft(both.transpose(1, 2, 0), length)[..., :bins]
        # Two steps that lie anywhere within themselves sum to the border of two steps: half to each.
        joined[b] = 0.5 * product
        joined[b, ..., 1:] += 0.5 * product[..., :-1]
    return np.maximum(joined, 0.0)


def _smooth(least: int) -> int:
    """Smallest even number of at least that size with factors 2, 3 and 5 only: quick to transform."""
    number = least + least % 2
    while True:
        rest = number
        for factor in (2, 3, 5):
            while rest % factor == 0:
                rest //= factor
        if rest == 1:
            return number
        number += 2


def _reach_db(decay: EnergyDecay) -> float:
    """How far the mean decay of all places has fallen at nine tenths of its length, slowest band, dB."""
    energy = decay.energy.mean(axis=(0, 1))
    curve = backward_curve(energy)[:, int(0.9 * energy.shape[-1])]
    return float(-np.nan_to_num(curve, nan=-np.inf).max())


def _relative_error(decay: EnergyDecay) -> Array:
    """Relative standard error of T30 at one place, root mean square over places, shape (b,)."""
    ratio = figure_errors(decay).t30 / decay_figures(decay).t30
    flat = ratio.reshape(-1, ratio.shape[-1])
    known = np.isfinite(flat)
    count = known.sum(axis=0)
    squares = np.where(known, flat, 0.0) ** 2
    return np.where(count > 0, np.sqrt(squares.sum(axis=0) / np.maximum(count, 1)), np.nan)
