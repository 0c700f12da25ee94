"""Reflection factors of walls of which parts differ: near a joint both sides send sound back.

Like a panel on a wall (see `fresnel`), a neighbour in the same plane takes part in a reflection by its share
of the surface integral. Summed over all parts of the plane only their joints remain:

    R = R_here + sum over joints of (R_far - R_near) W

with W the wave over the joint's edge (`over_edges`), 1/2 where the specular point lies on it, and near the
side of the joint that the point lies on. So nothing jumps where it passes from one part to the next.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.bounces import Bounces
from treatment.acoustics.edge_waves import over_edges
from treatment.acoustics.fresnel import Complex
from treatment.acoustics.rim_shares import straightened
from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure

Indices = NDArray[np.intp]

#: Pairs of a bounce and a joint worked on at once: arrays that fit the processor's cache are faster.
_CHUNK = 1500
#: A point so near to a joint's line lies on it (m).
_ON = 1e-6


def flush_factors(
    enclosure: Enclosure, bounces: Bounces, returned: Array, speed_of_sound: float, frequency_hz: Array
) -> Complex:
    """Pressure reflection factors of bounces off walls, with what lies flush beside them.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    bounces : Bounces
        m bounces; points may lie outside their surfaces.
    returned : numpy.ndarray
        Pressure reflection factor of each surface, shape (n, f).
    speed_of_sound : float
        m/s.
    frequency_hz : numpy.ndarray
        Shape (f,).

    Returns
    -------
    numpy.ndarray
        Complex, shape (m, f): the surface's own factor where nothing lies flush with it.
    """
    flush = enclosure.flush
    factor: Complex = returned[bounces.surface].astype(np.complex128)
    wavenumber = 2.0 * np.pi * frequency_hz / speed_of_sound
    group = flush.group[bounces.surface]
    for g in np.unique(flush.group[flush.near]):
        here = np.flatnonzero(group == g)
        on = np.full(len(group), -1)
        on[here] = _lying_on(enclosure, bounces, here, flush.members(int(g)))
        factor[here] = returned[on[here]]
        joint = np.flatnonzero(flush.group[flush.near] == g)
        k, j = np.repeat(here, len(joint)), np.tile(joint, len(here))
        for n in range(0, len(k), _CHUNK):
            i, at = k[n : n + _CHUNK], j[n : n + _CHUNK]
            hit, a, b = straightened(enclosure, bounces, i)
            inner = ((hit - flush.reach[at, 0]) * flush.inward[at]).sum(axis=1)
            # On the joint itself the side is that of the surface which the point counts to.
            inner = np.where(np.abs(inner) > _ON, inner, np.where(on[i] == flush.near[at], 1.0, -1.0))
            change = np.sign(inner)[:, None] * (returned[flush.far[at]] - returned[flush.near[at]])
            np.add.at(factor, i, change * over_edges(a, b, flush.reach[at], wavenumber))
    return factor


def _lying_on(enclosure: Enclosure, bounces: Bounces, here: Indices, members: list[int]) -> Indices:
    """Surface of a group that each point lies on, or lies nearest to, shape (k,)."""
    gap = np.empty((len(members), len(here)))
    for row, surface in enumerate(members):
        which = np.full(len(here), surface)
        wall = bounces.wall[here] + enclosure.flush.shift[bounces.surface[here]]
        wall = wall - enclosure.flush.shift[surface]
        inside, clearance = enclosure.outline_distance(which, wall)
        gap[row] = np.where(inside, -clearance, clearance)
    nearest: Indices = np.asarray(members, dtype=np.intp)[np.argmin(gap, axis=0)]
    return nearest
