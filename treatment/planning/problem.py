"""A scene as arrays for the choice of panels: legal sites, what each does, what is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics import reverberation
from treatment.bands import Array, band_slice
from treatment.errors import PlanError
from treatment.materials.build import PanelBuild
from treatment.planning.boundary import absorption_rows
from treatment.planning.candidates import Sites, find_sites, may_hang
from treatment.planning.corner_choice import with_corners
from treatment.planning.early import Coverage, EarlyField, coverage, early_field
from treatment.planning.furnishing import attenuation, free_volume
from treatment.planning.kept import depth_on
from treatment.planning.patches import patches_of
from treatment.planning.plan import Placement, TargetRange
from treatment.planning.standing import furnished
from treatment.planning.targets import CRITERION_BANDS, outside, target_range
from treatment.scene.model import Scene

#: Bands in which early panels may not make the room too dead.
DEAD_BANDS = band_slice(500, 2000)
#: Worth of each band in the reverberation objective: 63 Hz is a guess, 8 kHz is the air's.
BAND_WORTH = np.array([0.0, 0.5, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0])


@dataclass(frozen=True, eq=False)
class Problem:
    """Everything that the choice needs, as arrays; g sites, k builds.

    Parameters
    ----------
    scene : Scene
        The room.
    early : EarlyField
        Arrivals that break the criterion.
    sites : Sites
        Legal places.
    cover : Coverage
        Shares of sites in bounces.
    builds : tuple of PanelBuild
        Panels to choose from.
    allowed : numpy.ndarray
        Which build fits which site, shape (g, k), bool.
    target : TargetRange
        For the reverberation.
    volume, surface_area : float
        Of the air that objects leave, m3; of the boundary, m2.
    absorption_area : numpy.ndarray
        Of the room before the choice, shape (8,), m2.
    added_area : numpy.ndarray
        Absorption area that each build adds at each site, shape (g, k, 8), m2.
    wall_factor : numpy.ndarray
        Pressure reflection factor of each bare surface, shape (surfaces, 4).
    apart : numpy.ndarray
        Whether a site and its mirrored one can both be used, shape (g,), bool.
    known : numpy.ndarray
        Whether a site is that of a panel of an earlier plan, shape (g,), bool.
    hanging : tuple of Placement
        Panels that already hang.
    room : Scene
        The scene without the panels that stand in it, as `evaluate` wants it.
    earlier : tuple of Placement
        Panels of an earlier plan, which is changed as little as it can be.
    """

    scene: Scene
    early: EarlyField
    sites: Sites
    cover: Coverage
    builds: tuple[PanelBuild, ...]
    allowed: NDArray[np.bool_]
    target: TargetRange
    volume: float
    surface_area: float
    absorption_area: Array
    added_area: Array
    wall_factor: Array
    apart: NDArray[np.bool_]
    known: NDArray[np.bool_]
    hanging: tuple[Placement, ...]
    room: Scene
    earlier: tuple[Placement, ...] = ()

    @cached_property
    def blocked(self) -> dict[int, NDArray[np.bool_]]:
        """Sites that a panel at each site takes, as far as they were asked for: see `blocked_by`."""
        return {}

    def times(self, absorption_area: Array) -> Array:
        """Return Eyring's times for absorption areas, shape (..., 8) -> (..., 8), s.

        Parameters
        ----------
        absorption_area : numpy.ndarray
            m2.
        """
        mean = np.minimum(absorption_area / self.surface_area, 0.9999)
        air = 4.0 * attenuation(self.scene) * self.volume
        k = reverberation.DECAY_CONSTANT / self.scene.air.speed_of_sound * self.volume
        return np.asarray(k / (air - self.surface_area * np.log1p(-mean)))

    @property
    def most_area(self) -> Array:
        """Absorption area at which the room is too dead even by Sabine's formula, shape (8,), m2.

        The longest of the plain formulas has the say, so that early panels stop only where all agree;
        infinite outside `DEAD_BANDS` and where the target says nothing.
        """
        air = 4.0 * attenuation(self.scene) * self.volume
        k = reverberation.DECAY_CONSTANT / self.scene.air.speed_of_sound * self.volume
        area = k / np.where(self.target.lower > 0.0, self.target.lower, np.nan) - air
        counted = np.zeros(area.shape, dtype=bool)
        counted[DEAD_BANDS] = True
        return np.asarray(np.where(counted & np.isfinite(area), area, np.inf))

    def misfit(self, absorption_area: Array) -> Array:
        """Return how far the reverberation is from what is wanted, shape (..., 8) -> (...).

        The squared relative distance from the range, and a tenth of that from its centre, so that a
        plan does not stop at the very edge; both sides count, too dead as well as too live.

        Parameters
        ----------
        absorption_area : numpy.ndarray
            m2.
        """
        return self.misfit_of_times(self.times(absorption_area))

    def misfit_of_times(self, times: Array) -> Array:
        """Return the same for reverberation times, shape (..., 8) -> (...).

        Parameters
        ----------
        times : numpy.ndarray
            s.
        """
        t = times
        off = outside(t, self.target) / self.target.centre
        middle = t / self.target.centre - 1.0
        return np.asarray(((off**2 + 0.1 * middle**2) * BAND_WORTH).sum(axis=-1))


def worth_trying(builds: Sequence[PanelBuild], *, light: bool = False) -> tuple[PanelBuild, ...]:
    """Leave out builds that another one of the same size and place beats in every band for no more money.

    Parameters
    ----------
    builds : sequence of PanelBuild
        Any builds.
    light : bool
        Whether mass is limited: a lighter build is then kept.

    Returns
    -------
    tuple of PanelBuild
        Those that remain, in their order.
    """

    def beaten(b: PanelBuild, by: PanelBuild) -> bool:
        same = {b.width, b.height} == {by.width, by.height} and set(b.on) <= set(by.on)
        no_worse = by.price <= b.price and by.depth <= b.depth + 1e-9
        no_worse &= not light or by.mass <= b.mass
        better = bool(np.all(by.material.absorption >= b.material.absorption))
        return same and no_worse and better and by is not b

    kept: list[PanelBuild] = []
    for i, b in enumerate(builds):
        rivals = [*kept, *builds[i + 1 :]]
        if not any(beaten(b, r) for r in rivals):
            kept.append(b)
    return tuple(kept)


def state_problem(
    scene: Scene, hanging: tuple[Placement, ...] = (), earlier: tuple[Placement, ...] = ()
) -> Problem:
    """Turn a scene into arrays for the choice.

    Parameters
    ----------
    scene : Scene
        The room; it needs a loudspeaker, a seat and a build.
    hanging : tuple of Placement
        Panels that already hang and stay.
    earlier : tuple of Placement
        Panels of an earlier plan, which is changed as little as it can be.

    Returns
    -------
    Problem
        With all legal sites.

    Raises
    ------
    PlanError
        When there is nothing to choose from.
    """
    if not scene.seats or not scene.loudspeakers:
        raise PlanError(
            "a plan needs at least one loudspeaker and one seat", hint="add [[loudspeakers]] and [[seats]]"
        )
    room, scene = scene, furnished(scene, hanging)
    if not scene.builds:
        raise PlanError("no panel may be built", where="panels", hint="name at least one build")
    fitting = [b for b in scene.builds if scene.limits.suit(b)]
    builds = worth_trying(fitting, light=scene.limits.mass is not None)
    if not builds:
        hint = "allow more depth or mass, or name a build that fits"
        raise PlanError("no panel is within the limits of depth and mass", where="limits", hint=hint)
    field_ = early_field(scene, hanging)
    sites = find_sites(scene, field_.zones, builds, hanging, earlier)
    surfaces = range(len(scene.surfaces))
    sizes = np.round(sites.rectangle[:, 2:] - sites.rectangle[:, :2], 6)
    allowed = np.zeros((len(sites), len(builds)), dtype=bool)
    for k, b in enumerate(builds):
        upright = np.all(np.isclose(sizes, [b.outer_width, b.outer_height]), axis=1)
        turned = np.all(np.isclose(sizes, [b.outer_height, b.outer_width]), axis=1)
        suited = np.array([may_hang(scene, i, b) for i in surfaces], dtype=bool)[sites.surface]
        depth = np.array([depth_on(scene, i, b) for i in surfaces])[sites.surface]
        allowed[:, k] = (upright | turned) & suited & (sites.depth >= depth - 1e-9)
    if scene.limits.surfaces is not None:
        of_room = np.array([s.name in scene.limits.surfaces and not s.obstacle for s in scene.surfaces])
        allowed &= of_room[sites.surface, None]
    rows = absorption_rows(scene, patches_of(scene, hanging))
    area = np.array([r.area for r in rows])
    added = _added_area(scene, sites, builds)
    sites, allowed, added = with_corners(scene, sites, builds, hanging, allowed, added)
    return Problem(
        scene,
        field_,
        sites,
        coverage(scene, field_, sites),
        builds,
        allowed,
        target_range(scene.target_use, scene.enclosure.volume, scene.units),
        free_volume(scene),
        scene.enclosure.area,
        reverberation.absorption_area(area, np.array([r.absorption for r in rows])),
        added,
        np.sqrt(1.0 - np.array([s.material.capped for s in scene.surfaces])[:, CRITERION_BANDS]),
        clear_of_twins(sites, np.arange(len(sites))),
        _known(sites, earlier),
        hanging,
        room,
        earlier,
    )


def _added_area(scene: Scene, sites: Sites, builds: Sequence[PanelBuild]) -> Array:
    wall = np.array([s.material.absorption for s in scene.surfaces])[sites.surface]
    face = np.array([b.face_area for b in builds])
    alpha = np.array([b.material.absorption for b in builds])
    # What is behind a panel goes on absorbing where the panel does not (see evaluate.patches_of).
    return np.asarray(face[None, :, None] * np.maximum(alpha[None] - wall[:, None], 0.0))


def clear_of_twins(sites: Sites, asked: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Tell which places can be used together with their twins on the other side.

    Parameters
    ----------
    sites : Sites
        All places.
    asked : numpy.ndarray
        Indices, with each twin among them or not, shape (k,).

    Returns
    -------
    numpy.ndarray
        Shape (k,), bool; False where there is no twin.
    """
    known: dict[int, bool] = {}
    for k in asked.tolist():
        twin = int(sites.mirror[k])
        if twin in known:
            known[k] = known[twin]
        else:
            known[k] = twin >= 0 and not sites.clashing(k, np.array([twin]))[0]
    return np.array([known[k] for k in asked.tolist()], dtype=bool)


def _known(sites: Sites, earlier: Sequence[Placement]) -> NDArray[np.bool_]:
    known = np.zeros(len(sites), dtype=bool)
    for p in earlier:
        same = np.all(np.abs(sites.rectangle - np.array(p.rectangle.bounds)) < 1e-3, axis=1)
        known |= same & (sites.surface == p.surface)
    return known
