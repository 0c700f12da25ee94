"""What edges leave of the energy of paths: corners, posts, and rims of surfaces and open passages."""

from __future__ import annotations

import numpy as np

from treatment.acoustics.edge_waves import faded
from treatment.acoustics.fresnel import SAMPLE_HZ
from treatment.acoustics.image_sources import Paths
from treatment.acoustics.rim_shares import rim_brink
from treatment.acoustics.screen_shares import screen_shares
from treatment.bands import Array
from treatment.scene.model import Scene


def passing_energy(scene: Scene, paths: Paths, receivers: Array) -> Array:
    """Share of the energy of paths that gets by the edges beside their legs.

    Parameters
    ----------
    scene : Scene
        The room.
    paths : Paths
        n paths from its loudspeakers.
    receivers : numpy.ndarray
        Where they end, shape (r, 3), m.

    Returns
    -------
    numpy.ndarray
        Means over the octaves, shape (n, 8): 1 far from all edges, with a fade in the last
        two centimetres before one. Rims of reflecting surfaces are part of the reflection factors; here
        only that fade counts.
    """
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    c = scene.air.speed_of_sound
    share, brink = screen_shares(scene.enclosure, paths, sources, receivers, c, SAMPLE_HZ.ravel())
    energy = np.square(np.abs(share)).reshape(len(paths), *SAMPLE_HZ.shape).mean(axis=-1)
    brink = np.minimum(brink, rim_brink(scene.enclosure, paths))
    return np.asarray(energy * np.minimum(brink, _beside_passages(scene, paths))[:, None])


def _beside_passages(scene: Scene, paths: Paths) -> Array:
    """What is left of the energy of paths whose points lie almost in an open passage, shape (n,)."""
    left = np.ones(len(paths))
    for opening in scene.openings:
        if not opening.material.open:
            continue
        path, rank = np.nonzero(paths.surfaces == opening.surface)
        wall = scene.surfaces[opening.surface].polygon.to_wall(paths.points[path, rank])
        low_u, low_v, high_u, high_v = opening.rectangle.bounds
        gap = np.hypot(
            np.maximum(np.maximum(low_u - wall[:, 0], wall[:, 0] - high_u), 0.0),
            np.maximum(np.maximum(low_v - wall[:, 1], wall[:, 1] - high_v), 0.0),
        )
        np.minimum.at(left, path, faded(gap))
    flush = scene.enclosure.flush
    for i, surface in enumerate(scene.surfaces):
        # A wall that is a passage as a whole: what touches it in its own plane ends there.
        if not surface.material.open or len(flush.members(i)) == 1:
            continue
        path, rank = np.nonzero(np.isin(paths.surfaces, flush.members(i)))
        wall = surface.polygon.to_wall(paths.points[path, rank])
        inside, gap = scene.enclosure.outline_distance(np.full(len(path), i), wall)
        np.minimum.at(left, path, faded(np.where(inside, 0.0, gap)))
    return left
