"""(Scene, placements) -> what the room does. Before and after are made here, and only here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics import reverberation
from treatment.acoustics.bounces import Bounces, bounces_of, path_energy, path_levels
from treatment.acoustics.directions import arrivals_from
from treatment.acoustics.fresnel import SAMPLE_HZ, patch_shares
from treatment.acoustics.image_sources import Paths, retrace
from treatment.acoustics.reverberation_axes import arau_puchades, axis_groups, fitzroy
from treatment.acoustics.rim_shares import rim_shares
from treatment.acoustics.zones import SAMPLES, seat_samples
from treatment.bands import Array, frozen
from treatment.geometry.polygon import Rectangle
from treatment.materials.material import Material
from treatment.planning.caveats import caveats
from treatment.planning.edges import passing_energy
from treatment.planning.furnishing import attenuation, free_volume
from treatment.planning.plan import AbsorptionRow, Arrivals, Evaluation, Placement
from treatment.planning.radiation import radiation_db
from treatment.planning.reflectors import obstacle_limits
from treatment.planning.seen import limited, seen_paths, within
from treatment.planning.standing import furnished
from treatment.planning.targets import target_range, verdict
from treatment.planning.wishes import is_lateral, kept_paths
from treatment.scene.model import Scene

#: Bounces worked on at once: arrays that fit the processor's cache are three times faster.
_CHUNK = 1000


@dataclass(frozen=True, eq=False)
class Patch:
    """A rectangle of a surface with its own absorption: an opening or a panel.

    Parameters
    ----------
    name : str
        What a reflection off it is called.
    kind : str
        ``opening`` or ``panel``.
    surface : int
        Index of the surface.
    rectangle : Rectangle
        Where, in wall coordinates.
    material : Material
        What it is made of.
    label : str
        Material or build id.
    """

    name: str
    kind: str
    surface: int
    rectangle: Rectangle
    material: Material
    label: str


def patches_of(scene: Scene, placements: Sequence[Placement]) -> tuple[Patch, ...]:
    """Openings and panels as patches.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    tuple of Patch
        Openings first. What stands on the floor is no patch but part of the room: see `furnished`.
    """
    openings = [
        Patch(o.name, "opening", o.surface, o.rectangle, o.material, o.material.id) for o in scene.openings
    ]
    hung = [p for p in placements if not p.standing]
    panels = [Patch(p.id, "panel", p.surface, p.face, _in_front_of(scene, p), p.build.id) for p in hung]
    return (*openings, *panels)


def _in_front_of(scene: Scene, placement: Placement) -> Material:
    """Panel's material with the wall behind it: it is open to the bass, where boards go on absorbing.

    So in no band does it absorb less than what it covers.
    """
    panel, wall = placement.build.material, scene.surfaces[placement.surface].material
    if np.all(panel.absorption >= wall.absorption):
        return panel
    return replace(panel, absorption=frozen(np.maximum(panel.absorption, wall.absorption)))


def _hidden(patches: Sequence[Patch]) -> list[tuple[int, Rectangle]]:
    """Pieces of openings that panels cover: index of the opening's patch, and the piece."""
    found = []
    for i, opening in enumerate(patches):
        for panel in patches if opening.kind == "opening" else ():
            if panel.kind == "panel" and panel.surface == opening.surface:
                low = np.maximum(opening.rectangle.bounds[:2], panel.rectangle.bounds[:2])
                size = np.minimum(opening.rectangle.bounds[2:], panel.rectangle.bounds[2:]) - low
                if np.all(size > 0.0):
                    found.append((i, Rectangle(*(float(x) for x in (*low, *size)))))
    return found


def reflection_factors(
    scene: Scene, bounces: Bounces, patches: Sequence[Patch], frequency_hz: Array
) -> NDArray[np.complex128]:
    """Pressure reflection factor of each bounce.

    Parameters
    ----------
    scene : Scene
        The room.
    bounces : Bounces
        m bounces.
    patches : sequence of Patch
        Openings and panels.
    frequency_hz : numpy.ndarray
        One frequency in each octave band, shape (8,).

    Returns
    -------
    numpy.ndarray
        ``R_wall F_wall + sum F (R_patch - R_wall)`` with ``R = sqrt(1 - alpha)`` and F the complex
        shares of the surface (1 but near a rim in open air) and of each patch, shape (m, 8).
    """
    wall = np.sqrt(1.0 - np.array([s.material.capped for s in scene.surfaces]))
    factor = wall[bounces.surface] * rim_shares(
        scene.enclosure, bounces, scene.air.speed_of_sound, frequency_hz
    )
    pieces = [(p.surface, p.rectangle, p.material, 1.0) for p in patches]
    # Where a panel hangs before an opening, the panel alone sends sound back.
    pieces += [(patches[i].surface, r, patches[i].material, -1.0) for i, r in _hidden(patches)]
    for where, rectangle, material, sign in pieces:
        change = sign * (np.sqrt(1.0 - material.capped) - wall[where])
        here = np.flatnonzero(bounces.surface == where)
        for part in (here[k : k + _CHUNK] for k in range(0, len(here), _CHUNK)):
            share = patch_shares(
                bounces.wall[part],
                bounces.along[part],
                bounces.cosine[part],
                bounces.before[part],
                bounces.after[part],
                np.broadcast_to(np.array(rectangle.bounds), (len(part), 4)),
                scene.air.speed_of_sound,
                frequency_hz,
            )
            factor[part] += share * change
    return factor


def reflected_energy(scene: Scene, paths: Paths, patches: Sequence[Patch]) -> Array:
    """Energy that the bounces leave of each path, averaged over each octave and each seating area.

    Parameters
    ----------
    scene : Scene
        The room.
    paths : Paths
        From the scene's loudspeakers to the centres of its seats.
    patches : sequence of Patch
        Openings and panels.

    Returns
    -------
    numpy.ndarray
        Shape (n, 8). Each point of the seating area goes with a frequency of its own in every band.
    """
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    seats = np.array([s.position for s in scene.seats]).reshape(-1, 3)
    spreads = np.array([s.spread for s in scene.seats])
    heads = seat_samples(seats, spreads).reshape(len(seats), SAMPLES, 3)
    total = np.zeros((len(paths), bands.COUNT))
    for k in range(SAMPLES):
        moved = retrace(scene.enclosure, paths, sources, heads[paths.receiver, k])
        bounces = bounces_of(scene.enclosure, moved, sources)
        factor = reflection_factors(scene, bounces, patches, SAMPLE_HZ[:, k])
        total += path_energy(moved, bounces, factor) / SAMPLES
    return total


def absorption_rows(scene: Scene, patches: Sequence[Patch]) -> tuple[AbsorptionRow, ...]:
    """The room's boundary by piece.

    Parameters
    ----------
    scene : Scene
        The room.
    patches : sequence of Patch
        Openings and panels: each takes its area from its surface, and panels theirs from the openings
        that they cover.

    Returns
    -------
    tuple of AbsorptionRow
        Surfaces, then patches; the areas sum to the enclosure's.
    """
    covered = np.zeros(len(scene.surfaces))
    for patch in patches:
        covered[patch.surface] += patch.rectangle.area
    hidden = np.zeros(len(patches))
    for under, shared in _hidden(patches):
        # What lies behind a panel is neither wall nor opening any more; it counts once.
        hidden[under] += shared.area
        covered[patches[under].surface] -= shared.area
    rows = [
        AbsorptionRow(
            s.name,
            "surface",
            s.polygon.area - float(covered[i]),
            s.material.id,
            s.material.absorption,
            s.material.assumed,
            s.material.uncertainty,
        )
        for i, s in enumerate(scene.surfaces)
    ]
    rows += [
        AbsorptionRow(
            p.name,
            p.kind,
            p.rectangle.area - float(hidden[i]),
            p.label,
            p.material.absorption,
            p.material.assumed,
            p.material.uncertainty,
        )
        for i, p in enumerate(patches)
    ]
    return tuple(rows)


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


def evaluate(scene: Scene, placements: Sequence[Placement] = (), *, order: int = 2) -> Evaluation:
    """Work out what the room does with these panels in it.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels; none for the room as it is.
    order : int
        Highest number of reflections that are traced to the seats' centres, 1 to 3.

    Returns
    -------
    Evaluation
        Reverberation, arrivals at the seats' centres, and where the numbers do not hold. Its scene holds
        the standing panels as solids.
    """
    scene = furnished(scene, placements)
    patches = patches_of(scene, placements)
    rows = absorption_rows(scene, patches)
    standing = {p.id for p in placements if p.standing}
    rows = tuple(replace(r, kind="panel") if r.name in standing else r for r in rows)
    areas = np.array([r.area for r in rows])
    surface = np.array([*range(len(scene.surfaces)), *(p.surface for p in patches)], dtype=np.intp)
    times = reverberation_times(scene, areas, np.array([r.absorption for r in rows]), surface)
    schroeder = reverberation.schroeder_frequency(middle_time(times), scene.enclosure.volume)
    target = target_range(scene.target_use, scene.enclosure.volume)
    arrivals = _arrivals(scene, patches, order)
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
        target,
        arrivals,
        (
            *caveats(scene, rows, schroeder, target.note, arrivals),
            *obstacle_limits(scene, arrivals),
            *limited(scene, order),
        ),
    )


def _arrivals(scene: Scene, patches: Sequence[Patch], order: int) -> Arrivals:
    receivers = np.array([s.position for s in scene.seats]).reshape(-1, 3)
    paths, bounces = seen_paths(scene, receivers, order)
    energy = reflected_energy(scene, paths, patches) * passing_energy(scene, paths, receivers)
    level = path_levels(paths, energy, scene.air.attenuation_db_per_m())
    level += radiation_db(scene, paths, receivers)
    delay = (paths.length - paths.direct) / scene.air.speed_of_sound * 1e3
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    direction = arrivals_from(paths, sources, receivers)
    verdicts = [verdict(int(o), float(d), v) for o, d, v in zip(paths.order, delay, level, strict=True)]
    kept = kept_paths(scene, paths, receivers)
    names: list[list[str]] = [[] for _ in range(len(paths))]
    for b in range(len(bounces.path)):
        surface = int(bounces.surface[b])
        name = scene.surfaces[surface].name
        for patch in patches:
            if patch.surface == surface and within(bounces.wall[b : b + 1], patch.rectangle)[0]:
                name = patch.name
        names[int(bounces.path[b])].append(name)
    return Arrivals(
        paths.source,
        paths.receiver,
        paths.order,
        paths.surfaces,
        tuple(tuple(n) for n in names),
        frozen(paths.points),
        frozen(paths.length),
        frozen(delay),
        frozen(level),
        frozen(paths.clearance),
        tuple("keep" if k and v != "leave" else v for k, v in zip(kept, verdicts, strict=True)),
        frozen(direction),
        is_lateral(paths.order, direction),
    )
