"""(Scene, placements) -> what the room does. Before and after are made here, and only here."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics import reverberation
from treatment.acoustics.bounces import Bounces, path_levels
from treatment.acoustics.directions import arrivals_from
from treatment.acoustics.reverberation_axes import (
    arau_puchades,
    axis_groups,
    facing_shares,
    fitzroy,
)
from treatment.bands import Array, frozen
from treatment.planning.boundary import absorption_rows, as_panels
from treatment.planning.caveats import caveats, face_caveats
from treatment.planning.furnishing import attenuation, free_volume
from treatment.planning.memory import Memory
from treatment.planning.patches import Patch, patches_of
from treatment.planning.plan import Arrivals, Evaluation, Placement
from treatment.planning.radiation import radiation_db
from treatment.planning.reflected import passed_energy, reflected_energy
from treatment.planning.reflectors import obstacle_limits
from treatment.planning.seen import limited, seen_paths, within
from treatment.planning.standing import furnished
from treatment.planning.targets import target_range, verdicts
from treatment.planning.wishes import is_lateral, kept_paths
from treatment.scene.model import Scene


def reverberation_times(
    scene: Scene, areas: Array, absorption: Array, surface: NDArray[np.intp]
) -> dict[str, Array | None]:
    """Reverberation time by every formula that applies, objects and the air they displace included.

    Parameters
    ----------
    scene : Scene
        The room.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Shape (n, 8).
    surface : numpy.ndarray
        Surface that each piece lies on, shape (n,).

    Returns
    -------
    dict of str to numpy.ndarray or None
        Times by formula, shape (8,), s; None for those that do not apply: Fitzroy's and Arau-Puchades'
        in a room without three axes, traced ones until rays are traced.
    """
    volume, c, m = free_volume(scene), scene.air.speed_of_sound, attenuation(scene)
    real = areas > 0.0
    areas, absorption, surface = areas[real], absorption[real], surface[real]
    axis = axis_groups(scene.enclosure.normals)
    by_axis: tuple[Array | None, Array | None] = (None, None)
    if axis is not None:
        along = axis[surface]
        by_axis = (
            frozen(fitzroy(volume, areas, absorption, along, c, m)),
            frozen(arau_puchades(volume, areas, absorption, along, c, m)),
        )
    return {
        "sabine": frozen(reverberation.sabine(volume, areas, absorption, c, m)),
        "eyring": frozen(reverberation.eyring(volume, areas, absorption, c, m)),
        "millington": frozen(reverberation.millington(volume, areas, absorption, c, m)),
        "fitzroy": by_axis[0],
        "arau-puchades": by_axis[1],
        "kuttruff": frozen(reverberation.kuttruff_nonuniform(volume, areas, absorption, c, m, surface)),
        "traced": None,
    }


def extended_times(
    scene: Scene, areas: Array, absorption: Array, surface: NDArray[np.intp]
) -> dict[str, Array]:
    """Fitzroy's and Arau-Puchades' times by direction, in a room without three axes.

    Parameters
    ----------
    scene, areas, absorption, surface
        As for `reverberation_times`.

    Returns
    -------
    dict of str to numpy.ndarray
        ``fitzroy`` and ``arau-puchades``, shape (8,), s: this project's own extension; empty where the
        formulas hold as published.
    """
    normals = scene.enclosure.normals
    if axis_groups(normals) is not None:
        return {}
    real = areas > 0.0
    facing = facing_shares(normals, scene.enclosure.areas)[surface[real]]
    rest = free_volume(scene), areas[real], absorption[real], facing, scene.air.speed_of_sound
    return {
        "fitzroy": frozen(fitzroy(*rest, attenuation(scene))),
        "arau-puchades": frozen(arau_puchades(*rest, attenuation(scene))),
    }


def formula_times(
    scene: Scene, areas: Array, absorption: Array, surface: NDArray[np.intp]
) -> dict[str, Array]:
    """Times by the formulas that an interval is made of.

    Parameters
    ----------
    scene, areas, absorption, surface
        As for `reverberation_times`.

    Returns
    -------
    dict of str to numpy.ndarray
        All that apply, shape (8,), s, extended ones where the published form does not hold; without
        Millington's, which a single good absorber rules (see docs/method/reverberation.md).
    """
    times = reverberation_times(scene, areas, absorption, surface)
    known = {k: t for k, t in times.items() if t is not None and k != "millington"}
    return {**known, **extended_times(scene, areas, absorption, surface)}


def middle_time(times: dict[str, Array | None]) -> float:
    """Reverberation time that the Schroeder frequency is stated for.

    Parameters
    ----------
    times : dict
        As from `reverberation_times`.

    Returns
    -------
    float
        Mean of Sabine's and Eyring's times in the 500 Hz and 1 kHz bands, s.
    """
    middle = bands.band_slice(500, 1000)
    return float(
        np.mean([t[middle] for name, t in times.items() if name in ("sabine", "eyring") and t is not None])
    )


def evaluate(
    scene: Scene, placements: Sequence[Placement] = (), *, order: int = 2, memory: Memory | None = None
) -> Evaluation:
    """Work out what the room does with these panels in it.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels; none for the room as it is.
    order : int
        Highest number of reflections that are traced to the seats' centres, 1 to 3.
    memory : Memory, optional
        Of earlier evaluations: saves time where little has changed, and changes no number.

    Returns
    -------
    Evaluation
        Reverberation, arrivals at the seats' centres, and where the numbers do not hold. Its scene holds
        the standing panels and those across corners as solids.
    """
    scene = furnished(scene, placements)
    patches = patches_of(scene, placements)
    rows = as_panels(absorption_rows(scene, patches), placements)
    areas = np.array([r.area for r in rows])
    surface = np.array([r.surface for r in rows], dtype=np.intp)
    absorption = np.array([r.absorption for r in rows])
    times = reverberation_times(scene, areas, absorption, surface)
    schroeder = reverberation.schroeder_frequency(middle_time(times), free_volume(scene))
    target = target_range(scene.target_use, scene.enclosure.volume, scene.units)
    arrivals = _arrivals(scene, patches, order, memory)
    return Evaluation(
        scene,
        tuple(placements),
        scene.enclosure.volume,
        scene.enclosure.area,
        scene.enclosure.mean_free_path,
        scene.air.speed_of_sound,
        schroeder,
        rows,
        times,
        extended_times(scene, areas, absorption, surface),
        target,
        arrivals,
        (
            *caveats(scene, rows, schroeder, target.note, arrivals),
            *face_caveats(placements),
            *obstacle_limits(scene, arrivals),
            *limited(scene, order),
        ),
    )


def _arrivals(scene: Scene, patches: Sequence[Patch], order: int, memory: Memory | None) -> Arrivals:
    receivers = np.array([s.position for s in scene.seats]).reshape(-1, 3)
    paths, bounces = seen_paths(scene, receivers, order, memory)
    energy = reflected_energy(scene, paths, patches, memory)
    energy *= passed_energy(scene, paths, receivers, memory)
    level = path_levels(paths, energy, scene.air.attenuation_db_per_m())
    level += radiation_db(scene, paths, receivers)
    delay = (paths.length - paths.direct) / scene.air.speed_of_sound * 1e3
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    direction = arrivals_from(paths, sources, receivers)
    said = verdicts(paths.order, delay, level)
    kept = kept_paths(scene, paths, receivers)
    return Arrivals(
        paths.source,
        paths.receiver,
        paths.order,
        paths.surfaces,
        _names(scene, len(paths), bounces, patches),
        frozen(paths.points),
        frozen(paths.length),
        frozen(delay),
        frozen(level),
        frozen(paths.clearance),
        tuple("keep" if k and v != "leave" else v for k, v in zip(kept, said, strict=True)),
        frozen(direction),
        is_lateral(paths.order, direction),
    )


def _names(
    scene: Scene, count: int, bounces: Bounces, patches: Sequence[Patch]
) -> tuple[tuple[str, ...], ...]:
    """What each path bounces off: a patch where its point lies in one, otherwise the surface."""
    label = [*(s.name for s in scene.surfaces), *(p.name for p in patches)]
    on = bounces.surface.copy()
    for k, patch in enumerate(patches):
        here = np.flatnonzero(bounces.surface == patch.surface)
        on[here[within(bounces.wall[here], patch.rectangle)]] = len(scene.surfaces) + k
    names: list[list[str]] = [[] for _ in range(count)]
    for path, which in zip(bounces.path.tolist(), on.tolist(), strict=True):
        names[path].append(label[which])
    return tuple(tuple(n) for n in names)
