"""How much of a reflection is left near the rim of the surface that sends it (see `edge_waves`).

Only rims in open air count: edges of obstacles, corners that stick out into the room, folds. Where a surface
ends at the corner of the room the next order of reflections takes over, and nothing fades.
"""

from __future__ import annotations

import numpy as np

from treatment.acoustics.bounces import Bounces
from treatment.acoustics.edge_waves import faded, over_edges
from treatment.acoustics.fresnel import Complex
from treatment.acoustics.image_sources import Indices, Paths
from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.segments import segment_distances

#: Pairs of a bounce and an edge worked on at once: arrays that fit the processor's cache are faster.
_CHUNK = 1500


def rim_shares(enclosure: Enclosure, bounces: Bounces, speed_of_sound: float, frequency_hz: Array) -> Complex:
    """Share of each reflection that the rims of its surface leave.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    bounces : Bounces
        m bounces; points may lie outside their surfaces.
    speed_of_sound : float
        m/s.
    frequency_hz : numpy.ndarray
        Shape (f,).

    Returns
    -------
    numpy.ndarray
        Complex, shape (m, f): 1 well inside and wherever the surface ends at a corner of the room, 1/2
        on a rim in open air, 0 well beyond it.
    """
    share = np.ones((len(bounces.path), len(frequency_hz)), dtype=np.complex128)
    rims = enclosure.rims
    wavenumber = 2.0 * np.pi * frequency_hz / speed_of_sound
    for surface in np.unique(rims.surface):
        here = np.flatnonzero(bounces.surface == surface)
        own = np.flatnonzero(rims.surface == surface)
        k, r = np.repeat(here, len(own)), np.tile(own, len(here))
        hit, a, b = straightened(enclosure, bounces, k)
        inner = ((hit - rims.ends[r, 0]) * rims.inward[r]).sum(axis=1)
        share[here] = _on_surface(enclosure, bounces, here, own, hit, inner)[:, None]
        for n in range(0, len(k), _CHUNK):
            part = slice(n, n + _CHUNK)
            wave = over_edges(a[part], b[part], rims.reach[r[part]], wavenumber)
            np.subtract.at(share, k[part], np.copysign(1.0, inner[part])[:, None] * wave)
    return share


def straightened(enclosure: Enclosure, bounces: Bounces, k: Indices) -> tuple[Array, Array, Array]:
    """Unfold paths at a bounce.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    bounces : Bounces
        m bounces.
    k : numpy.ndarray
        Which of them, shape (p,).

    Returns
    -------
    hit, start, end : numpy.ndarray
        Specular points, and both ends of the paths on a straight line through them, shape (p, 3), m.
    """
    surface = bounces.surface[k]
    frame = enclosure.frames[surface]
    hit = enclosure.origins[surface] + np.einsum("ki,kij->kj", bounces.wall[k], frame)
    cosine = bounces.cosine[k][:, None]
    flat = np.einsum("ki,kij->kj", bounces.along[k], frame)
    going = np.sqrt(np.maximum(1.0 - cosine * cosine, 0.0)) * flat - cosine * enclosure.normals[surface]
    return hit, hit - bounces.before[k][:, None] * going, hit + bounces.after[k][:, None] * going


def _on_surface(
    enclosure: Enclosure, bounces: Bounces, here: Indices, own: Indices, hit: Array, inner: Array
) -> Array:
    """1 for points on a surface or on its continuation behind a wall that closes it, 0 beyond a rim."""
    on, _ = enclosure.on_surface(bounces.surface[here], bounces.wall[here])
    ends = np.tile(enclosure.rims.reach[own], (len(here), 1, 1))
    along = ends[:, 1] - ends[:, 0]
    part = ((hit - ends[:, 0]) * along).sum(axis=1) / np.maximum((along * along).sum(axis=1), 1e-30)
    beyond = ((part >= 0.0) & (part <= 1.0) & (inner < 0.0)).reshape(len(here), len(own))
    return np.where(~on & beyond.any(axis=1), 0.0, 1.0)


def rim_brink(enclosure: Enclosure, paths: Paths) -> Array:
    """What is left of the energy of paths whose points lie almost on a rim.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    paths : Paths
        n paths that exist.

    Returns
    -------
    numpy.ndarray
        From `LEAST` on a rim to 1, shape (n,).
    """
    left = np.ones(len(paths))
    rims = enclosure.rims
    real = np.flatnonzero(~rims.mirrored)
    for surface in np.unique(rims.surface[real]):
        path, rank = np.nonzero(paths.surfaces == surface)
        points = paths.points[path, rank]
        gap = segment_distances(points, points, rims.ends[real[rims.surface[real] == surface]])
        np.minimum.at(left, path, faded(gap.min(axis=1)))
    return left
