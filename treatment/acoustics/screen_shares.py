"""How much of a path gets by the edges that stick out into the room (see `edge_waves`).

An edge hides something where it is part of an obstacle's outline as seen from the source, or from the
receiver: one half each. Both sides of a post count, with opposite signs, so that a thin post takes next to
nothing from a wave that is long against it.
"""

from __future__ import annotations

import numpy as np

from treatment.acoustics.edge_waves import LEAST, faded, meeting_points, over_edges, smooth_step
from treatment.acoustics.fresnel import Complex
from treatment.acoustics.image_sources import Indices, Paths
from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import PLANE_TOLERANCE
from treatment.geometry.segments import segment_distances

#: Sine of the angle off a surface's plane within which that turns from seen to hidden: 6 degrees.
_SOFT = 0.1
#: So far beyond either end of a leg an edge's weight passes on to the next leg (m).
_HANDOVER = 0.25
#: Sine of an angle that is none.
_LEVEL = 1e-7
#: Pairs of a leg and an edge worked on at once, for the weights and for the waves.
_PAIRS, _CHUNK = 50_000, 1500


def screen_shares(
    enclosure: Enclosure,
    paths: Paths,
    sources: Array,
    receivers: Array,
    speed_of_sound: float,
    frequency_hz: Array,
) -> tuple[Complex, Array]:
    """Share of each path that gets by the edges that its legs pass.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    paths : Paths
        n paths that exist.
    sources, receivers : numpy.ndarray
        What they refer to, shapes (s, 3) and (r, 3), m.
    speed_of_sound : float
        m/s.
    frequency_hz : numpy.ndarray
        Shape (f,).

    Returns
    -------
    share : numpy.ndarray
        Complex, shape (n, f).
    brink : numpy.ndarray
        What is left of the energy of paths that almost touch an edge, `LEAST` there to 1,
        shape (n,).
    """
    share = np.ones((len(paths), len(frequency_hz)), dtype=np.complex128)
    brink = np.ones(len(paths))
    if len(enclosure.screens.ends) == 0:
        return share, brink
    deepest = paths.points.shape[1]
    corners = np.concatenate([sources[paths.source][:, None], paths.points], axis=1)
    wavenumber = 2.0 * np.pi * frequency_hz / speed_of_sound
    for leg in range(deepest + 1):
        of = np.flatnonzero(paths.order >= leg)
        last = (paths.order[of] == leg)[:, None]
        end = np.where(last, receivers[paths.receiver[of]], corners[of, min(leg + 1, deepest)])
        before = np.linalg.norm(np.diff(corners[of, : leg + 1], axis=1), axis=2).sum(axis=1)
        step = max(1, _PAIRS // len(enclosure.screens.ends))
        for n in range(0, len(of), step):
            part = of[n : n + step]
            ends = corners[part, leg], end[n : n + step]
            legs = _Legs(enclosure, paths, part, leg, ends, before[n : n + step])
            share[part] -= legs.lost(wavenumber)
            brink[part] = np.minimum(brink[part], legs.brink())
    return share, brink


class _Legs:
    """The same leg of several paths, with a length of path ``before`` it."""

    def __init__(
        self,
        enclosure: Enclosure,
        paths: Paths,
        of: Indices,
        leg: int,
        ends: tuple[Array, Array],
        before: Array,
    ) -> None:
        self.screens, (self.start, self.end) = enclosure.screens, ends
        length = np.linalg.norm(self.end - self.start, axis=1)
        self.going = (self.end - self.start) / np.maximum(length, 1e-12)[:, None]
        # A leg of no length lies in a corner of the room: nothing is beside it.
        self.real = length > 1e-6
        # Both ends of the whole path, on the straight line through this leg.
        self.a = self.start - before[:, None] * self.going
        self.b = self.end + (paths.length[of] - before - length)[:, None] * self.going
        self.before, self.after = before, before + length
        # Edges in the plane of a wall where the leg is reflected are part of that reflection.
        apart = np.full((len(of), len(self.screens.ends)), np.inf)
        for rank in (leg - 1, leg):
            if 0 <= rank < paths.surfaces.shape[1]:
                wall = paths.surfaces[of, rank]
                away = self.screens.ends[None] - paths.points[of, rank][:, None, None]
                off = np.abs(np.einsum("pkei,pi->pke", away, enclosure.normals[wall])).max(axis=-1)
                apart = np.where((wall >= 0)[:, None], np.minimum(apart, off), apart)
        self.own = apart < PLANE_TOLERANCE
        self._weigh()

    def _weigh(self) -> None:
        """Weights of all edges beside all legs, and where ways over them meet them."""
        s = self.screens
        n, k = len(self.start), len(s.ends)
        p, e = np.repeat(np.arange(n), k), np.tile(np.arange(k), n)
        self.met, self.beside = (x.reshape(n, k, 3) for x in meeting_points(self.a[p], self.b[p], s.reach[e]))
        from_source, from_receiver = (
            _seen(point[:, None] - self.met, s.normals) for point in (self.a, self.b)
        )
        source_side, source_front = _outlined(from_source, from_receiver)
        receiver_side, receiver_front = _outlined(from_receiver, from_source)
        # Walls mirror edges: what lies beside a place beyond the end of this leg counts on the next one.
        place = np.linalg.norm(self.beside - self.a[:, None], axis=-1)
        along = smooth_step((place - self.before[:, None]) / (2.0 * _HANDOVER) + 0.5)
        along *= smooth_step((self.after[:, None] - place) / (2.0 * _HANDOVER) + 0.5)
        self.weight = np.where(
            self.own | ~self.real[:, None], 0.0, along * (source_side + receiver_side) / 2.0
        )
        self.front = np.where(source_side >= receiver_side, source_front, receiver_front)

    def lost(self, wavenumber: Array) -> Complex:
        """What edges take of each leg's wave, shape (n, f)."""
        s = self.screens
        p, k = np.nonzero(self.weight > 1e-3)
        off = self.beside[p, k] - self.met[p, k]
        front = self.front[p, k]
        sign = self._side(p, s.reach[k], s.inward[k, front], s.inward[k, 1 - front], off)
        weight = self.weight[p, k]
        # The far side of a body matters as far as its near side hides something.
        near = np.zeros((len(self.start), int(s.body.max()) + 1))
        np.add.at(near, (p, s.body[k]), np.where(sign > 0.0, weight, 0.0))
        weight = np.where(sign > 0.0, weight, weight * np.minimum(near[p, s.body[k]], 1.0))
        wave = np.zeros((len(self.start), len(wavenumber)), dtype=np.complex128)
        self._add(wave, p, sign * weight, s.reach[k], wavenumber)
        pair, i = np.nonzero(k[:, None] == s.image_of)
        p, weight = p[pair], weight[pair]
        met, beside = meeting_points(self.a[p], self.b[p], s.image_reach[i])
        closed, other = s.image_inward[i, 0], s.image_inward[i, 1]
        sign = self._side(p, s.image_reach[i], closed, other, beside - met)
        self._add(wave, p, sign * weight, s.image_reach[i], wavenumber)
        return wave

    def _add(self, wave: Complex, p: Indices, weight: Array, reach: Array, wavenumber: Array) -> None:
        for n in range(0, len(p), _CHUNK):
            q = slice(n, n + _CHUNK)
            taken = over_edges(self.a[p[q]], self.b[p[q]], reach[q], wavenumber)
            np.add.at(wave, p[q], weight[q][:, None] * taken)

    def _side(self, p: Indices, reach: Array, inward: Array, other: Array, off: Array) -> Array:
        """1 where what hides lies beyond its edge as seen from the line, -1 where it lies this side of it.

        Where the line runs along one surface, and noise alone would decide, the other one tells.
        """
        along = reach[:, 1] - reach[:, 0]
        along = along / np.maximum(np.linalg.norm(along, axis=1), 1e-12)[:, None]
        # Across the edge everything happens in a plane.
        flat = self.going[p] - (self.going[p] * along).sum(axis=1)[:, None] * along
        flat = flat / np.maximum(np.linalg.norm(flat, axis=1), 1e-12)[:, None]
        off = off - (off * flat).sum(axis=1)[:, None] * flat
        first, second = ((off * x).sum(axis=1) for x in (inward, other))
        told = np.where(np.abs(first) > _LEVEL * np.linalg.norm(off, axis=1), first, second)
        return np.asarray(np.where(told > 0.0, -1.0, 1.0))

    def brink(self) -> Array:
        """What is left of the energy of legs that almost touch an edge, shape (n,)."""
        gap = segment_distances(self.start, self.end, self.screens.ends)
        gone = (self.weight * (1.0 - faded(gap))).sum(axis=1)
        return np.asarray(np.maximum(1.0 - gone, LEAST))


def _seen(away: Array, normals: Array) -> Array:
    """Whether a point that lies so far from edges sees their surfaces: 1, 0, or between near their planes."""
    distance = np.maximum(np.linalg.norm(away, axis=-1), 1e-9)
    sine = np.einsum("pki,kei->pke", away, normals) / distance[..., None]
    return np.asarray(smooth_step(sine / (2.0 * _SOFT) + 0.5))


def _outlined(seen: Array, from_beyond: Array) -> tuple[Array, Indices]:
    """How far an edge is outline as seen from one end of a path, and which surface is in front, shape (p, k).

    One of the surfaces is seen, the other is not; and what both ends see does not stand between them.
    """
    one, two = seen[..., 0], seen[..., 1]
    first = np.minimum(np.minimum(one, 1.0 - two), 1.0 - from_beyond[..., 0])
    second = np.minimum(np.minimum(two, 1.0 - one), 1.0 - from_beyond[..., 1])
    return np.maximum(first, second), np.where(first >= second, 0, 1)
