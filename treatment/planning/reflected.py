"""What bounces and edges leave of the energy of paths, for given panels."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.bounces import Bounces, bounces_of, path_energy
from treatment.acoustics.flush_factors import flush_factors
from treatment.acoustics.image_sources import Paths, joined, retrace
from treatment.acoustics.rim_shares import rim_shares
from treatment.acoustics.zones import AREA_HZ, area_nodes
from treatment.bands import Array
from treatment.planning.edges import passing_energy
from treatment.planning.memory import Memory, bounce_rows, key_of
from treatment.planning.patches import Patch, hidden_pieces
from treatment.scene.model import Scene


def reflection_factors(
    scene: Scene,
    bounces: Bounces,
    patches: Sequence[Patch],
    frequency_hz: Array,
    memory: Memory | None = None,
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
        Frequencies in each octave band, shape (8, s) or, for one in each, (8,).
    memory : Memory, optional
        Of earlier evaluations.

    Returns
    -------
    numpy.ndarray
        ``R_wall F_wall + sum F (R_patch - R_wall)`` with ``R = sqrt(1 - alpha)`` and F the complex
        shares of the surface (1 but near a rim in open air) and of each patch, shape (m, 8, s) or (m, 8).
        Near a joint of two materials in one plane R_wall is that of both by their shares.
    """
    shape, each = frequency_hz.shape, frequency_hz[0].size
    frequency_hz = frequency_hz.ravel()

    def returned(absorption: Array) -> Array:
        return np.repeat(np.sqrt(1.0 - absorption), each, axis=-1)

    wall = returned(np.array([s.material.capped for s in scene.surfaces]))
    memory, c = memory or Memory(), scene.air.speed_of_sound
    rims = memory.rows(
        key_of("rims", scene.enclosure, c, frequency_hz),
        bounce_rows(bounces, bounces.surface),
        lambda index: rim_shares(scene.enclosure, bounces.taken(index), c, frequency_hz),
    )
    factor: NDArray[np.complex128] = _walls(scene, bounces, wall, frequency_hz, memory) * rims
    pieces = [(p.surface, p.rectangle, p.material, 1.0) for p in patches]
    # Where a panel hangs before an opening, the panel alone sends sound back.
    pieces += [(patches[i].surface, r, patches[i].material, -1.0) for i, r in hidden_pieces(patches)]
    changes = [sign * (returned(m.capped) - wall[where]) for where, _, m, sign in pieces]
    # A patch takes part in reflections off what lies flush with its wall, too.
    flush = scene.enclosure.flush
    places = [
        (k, s, rectangle.moved(*flush.between(where, s)).bounds)
        for k, (where, rectangle, _, _) in enumerate(pieces)
        for s in flush.members(where)
    ]
    for n, here, share in memory.shares(bounces, [place[1:] for place in places], c, frequency_hz):
        factor[here] += share * changes[places[n][0]]
    return factor.reshape(-1, *shape)


def _walls(
    scene: Scene, bounces: Bounces, wall: Array, frequency_hz: Array, memory: Memory
) -> NDArray[np.complex128]:
    """Pressure reflection factors of the walls without rims and patches, shape (m, f)."""
    enclosure, c = scene.enclosure, scene.air.speed_of_sound
    factor: NDArray[np.complex128] = wall[bounces.surface].astype(np.complex128)
    flush = enclosure.flush
    beside = np.flatnonzero(np.isin(flush.group[bounces.surface], flush.group[flush.near]))
    if len(beside):
        factor[beside] = memory.rows(
            key_of("flush", enclosure, wall, c, frequency_hz),
            bounce_rows(bounces, bounces.surface)[beside],
            lambda index: flush_factors(enclosure, bounces.taken(beside[index]), wall, c, frequency_hz),
        )
    return factor


def reflected_energy(
    scene: Scene, paths: Paths, patches: Sequence[Patch], memory: Memory | None = None
) -> Array:
    """Energy that the bounces leave of each path, averaged over each octave and each seating area.

    Parameters
    ----------
    scene : Scene
        The room.
    paths : Paths
        From the scene's loudspeakers to the centres of its seats.
    patches : sequence of Patch
        Openings and panels.
    memory : Memory, optional
        Of earlier evaluations.

    Returns
    -------
    numpy.ndarray
        Shape (n, 8), over the points of `area_nodes` with two frequencies of `AREA_HZ` each.
    """
    memory = memory or Memory()
    total = np.zeros((len(paths), bands.COUNT))
    if not len(paths):
        return total
    for (moved, bounces), hertz in zip(_over_the_area(scene, paths, memory), AREA_HZ[::2], strict=True):
        factor = reflection_factors(scene, bounces, patches, hertz, memory)
        energy = path_energy(moved, bounces, factor.reshape(len(factor), -1))
        total += energy.reshape(2, len(paths), *hertz.shape).mean(axis=(0, -1)) / 2.0
    return total


def _over_the_area(scene: Scene, paths: Paths, memory: Memory) -> list[tuple[Paths, Bounces]]:
    """Follow the paths to the four points of the seating areas, two with the same frequencies together."""
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    seats = np.array([s.position for s in scene.seats]).reshape(-1, 3)
    spreads = np.array([s.spread for s in scene.seats])

    def follow() -> list[tuple[Paths, Bounces]]:
        heads = area_nodes(seats, spreads)[:, 1:]
        one = [retrace(scene.enclosure, paths, sources, heads[paths.receiver, k]) for k in range(4)]
        both = [joined(one[k : k + 2]) for k in (0, 2)]
        return [(m, bounces_of(scene.enclosure, m, sources)) for m in both]

    route = (paths.source, paths.receiver, paths.surfaces)
    return memory.result(key_of("area", scene.enclosure, sources, seats, spreads, *route), follow)


def passed_energy(scene: Scene, paths: Paths, receivers: Array, memory: Memory | None = None) -> Array:
    """As `passing_energy`, with a memory.

    Parameters
    ----------
    scene : Scene
        The room.
    paths : Paths
        n paths from its loudspeakers.
    receivers : numpy.ndarray
        Where they end, shape (r, 3), m.
    memory : Memory, optional
        Of earlier evaluations.

    Returns
    -------
    numpy.ndarray
        Shape (n, 8).
    """
    if memory is None:
        return passing_energy(scene, paths, receivers)
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    passages = [(o.surface, o.rectangle.bounds) for o in scene.openings if o.material.open]
    count = len(paths)
    rows = np.column_stack(
        [
            sources[paths.source].reshape(count, 3),
            receivers[paths.receiver].reshape(count, 3),
            np.nan_to_num(paths.points).reshape(count, -1),
            paths.surfaces,
            paths.order,
            paths.length,
            paths.direct,
        ]
    )
    return memory.rows(
        key_of("passing", scene.enclosure, scene.air.speed_of_sound, passages, paths.surfaces.shape[1]),
        rows,
        lambda index: passing_energy(scene, paths.taken(index), receivers),
    )
