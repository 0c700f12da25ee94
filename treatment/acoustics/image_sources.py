"""Image sources in any room of planar surfaces.

An image is made by mirroring the source, or an image of lower order, in the plane of a surface.
A path exists when four things hold (Borish, JASA 75 (1984) 1827; obstruction for rooms that are
not convex): the mirrored point lies on the reflecting side of the plane (*validity*), the receiver
does too, every reflection point lies in the real polygon of its surface (*visibility*), and no leg of
the unfolded path is cut by a surface (*obstruction*).

A point on the outline counts as on the surface. Where that would count one path twice (a hit on the
common edge of two surfaces), the one with the lower surface index is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.segments import segment_distances

Indices = NDArray[np.intp]

#: A source or receiver nearer to a plane than this is not on its reflecting side (m).
SIDE_TOLERANCE = 1e-7
#: So many surfaces may meet in one point of a path; repeats are looked for that far.
_REPEATS = 6
#: Candidates worked on at once; bounds the memory.
_CHUNK = 200_000


@dataclass(frozen=True, eq=False)
class Paths:
    """Specular paths between sources and receivers; n paths, k the highest order asked for.

    Parameters
    ----------
    source, receiver : numpy.ndarray
        Indices, shape (n,).
    order : numpy.ndarray
        Number of reflections, shape (n,).
    surfaces : numpy.ndarray
        Surface indices from source to receiver, shape (n, k); -1 beyond the order.
    points : numpy.ndarray
        Reflection points from source to receiver, shape (n, k, 3), m; NaN beyond the order.
    length : numpy.ndarray
        Path length, shape (n,), m.
    direct : numpy.ndarray
        Length of the straight line, shape (n,), m, blocked or not.
    clearance : numpy.ndarray
        Least distance of the reflection points from their outlines, and of the legs from edges that
        stick out into the room, shape (n,), m.
    """

    source: Indices
    receiver: Indices
    order: Indices
    surfaces: Indices
    points: Array
    length: Array
    direct: Array
    clearance: Array

    def __len__(self) -> int:
        return len(self.source)

    def taken(self, index: Indices) -> Paths:
        """Return some of the paths.

        Parameters
        ----------
        index : numpy.ndarray
            Indices of the paths to keep, shape (m,).

        Returns
        -------
        Paths
            m paths.
        """
        return Paths(*(getattr(self, f.name)[index] for f in fields(self)))


def joined(parts: Sequence[Paths]) -> Paths:
    """Put several sets of paths one after the other.

    Parameters
    ----------
    parts : sequence of Paths
        One or more, to the same order.

    Returns
    -------
    Paths
        All of them.
    """
    return Paths(*(np.concatenate([getattr(p, f.name) for p in parts]) for f in fields(Paths)))


@dataclass(frozen=True, eq=False)
class _Images:
    """Images of one source up to an order: position, surface, parent (-1: the source itself)."""

    position: Array
    surface: Indices
    parent: Indices
    order: Indices


def mirror(points: Array, origins: Array, normals: Array) -> Array:
    """Mirror points in planes.

    Parameters
    ----------
    points, origins, normals : numpy.ndarray
        Broadcastable to shape (..., 3), m; normals are unit vectors.

    Returns
    -------
    numpy.ndarray
        ``s - 2 ((s - p0) . n) n``, shape (..., 3), m.
    """
    off = ((points - origins) * normals).sum(axis=-1, keepdims=True)
    return np.asarray(points - 2.0 * off * normals)


def find_paths(enclosure: Enclosure, sources: Array, receivers: Array, order: int = 2) -> Paths:
    """Find every specular path up to an order, the direct sound included.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    sources : numpy.ndarray
        Shape (s, 3), m.
    receivers : numpy.ndarray
        Shape (r, 3), m.
    order : int
        Highest number of reflections, 0 to 3.

    Returns
    -------
    Paths
        Sorted by source, receiver, order, then length.

    Raises
    ------
    ValueError
        When the order is not 0 to 3.
    """
    if not 0 <= order <= 3:
        raise ValueError(f"order {order} is not 0 to 3")
    # Which surfaces see each other matters from the second bounce on; the table grows with their square.
    facing = _facing(enclosure) if order > 1 else np.zeros((0, 0), dtype=bool)
    parts = [_direct(enclosure, sources, receivers, order)]
    for s, source in enumerate(sources):
        images = _images(enclosure, source, order, facing)
        for rank in range(1, order + 1):
            chosen = np.flatnonzero(images.order == rank)
            step = max(1, _CHUNK // max(1, len(receivers)))
            for first in range(0, len(chosen), step):
                part = chosen[first : first + step]
                parts.append(_trace_back(enclosure, s, source, images, part, receivers, rank, order))
    return _sorted(_without_doubles(_joined(parts)))


def retrace(enclosure: Enclosure, paths: Paths, sources: Array, receivers: Array) -> Paths:
    """Follow the routes of paths to receivers that have moved, whether or not the paths exist there.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    paths : Paths
        n paths.
    sources : numpy.ndarray
        Source positions that the paths refer to, shape (s, 3), m.
    receivers : numpy.ndarray
        One for each path, shape (n, 3), m.

    Returns
    -------
    Paths
        The same routes with points, lengths and direct lengths for the new receivers. Points may lie
        outside their outlines; `clearance` is kept.
    """
    start = sources[paths.source]
    images = [start]
    for k in range(paths.surfaces.shape[1]):
        plane = paths.surfaces[:, k]
        moved = mirror(images[-1], enclosure.origins[plane], enclosure.normals[plane])
        images.append(np.where((plane >= 0)[:, None], moved, images[-1]))
    points = np.full_like(paths.points, np.nan)
    here = receivers
    for k in range(paths.surfaces.shape[1] - 1, -1, -1):
        plane = paths.surfaces[:, k]
        n, o = enclosure.normals[plane], enclosure.origins[plane]
        d0, d1 = ((here - o) * n).sum(axis=1), ((images[k + 1] - o) * n).sum(axis=1)
        t = d0 / np.where(np.abs(d0 - d1) < 1e-12, 1.0, d0 - d1)
        hit = here + t[:, None] * (images[k + 1] - here)
        real = (plane >= 0)[:, None]
        points[:, k] = np.where(real, hit, np.nan)
        here = np.where(real, hit, here)
    return replace(
        paths,
        points=points,
        length=np.linalg.norm(images[-1] - receivers, axis=1),
        direct=np.linalg.norm(receivers - start, axis=1),
    )


def _facing(enclosure: Enclosure) -> NDArray[np.bool_]:
    """Whether sound can go from surface i to surface j: each has a corner before the other's plane."""
    n = len(enclosure.polygons)
    before = np.zeros((n, n), dtype=bool)
    for j, q in enumerate(enclosure.polygons):
        corners = q.to_room(q.edges[:, 0])
        d = np.einsum("kni,ni->kn", corners[:, None] - enclosure.origins, enclosure.normals)
        before[:, j] = d.max(axis=0) > SIDE_TOLERANCE
    return before & before.T


def _images(enclosure: Enclosure, source: Array, order: int, facing: NDArray[np.bool_]) -> _Images:
    """All valid images of one source."""
    n = len(enclosure.polygons)
    position, surface = [source[None]], [np.array([-1])]
    parent, rank = [np.array([-1])], [np.array([0])]
    last_position, last_surface, last_index = source[None], np.array([-1]), np.array([0])
    count = 1
    for k in range(1, order + 1):
        d = np.einsum("mni,ni->mn", last_position[:, None] - enclosure.origins, enclosure.normals)
        allowed = d > SIDE_TOLERANCE
        if k > 1:
            allowed &= facing[last_surface]
            allowed[np.arange(len(last_surface)), last_surface] = False
        which, plane = np.nonzero(allowed)
        made = last_position[which] - 2.0 * d[which, plane][:, None] * enclosure.normals[plane]
        position.append(made)
        surface.append(plane)
        parent.append(last_index[which])
        rank.append(np.full(len(plane), k))
        last_position, last_surface = made, plane
        last_index = count + np.arange(len(plane))
        count += len(plane)
        if n == 0 or len(plane) == 0:
            break
    return _Images(
        np.concatenate(position), np.concatenate(surface), np.concatenate(parent), np.concatenate(rank)
    )


def _trace_back(
    enclosure: Enclosure,
    source_index: int,
    source: Array,
    images: _Images,
    chosen: Indices,
    receivers: Array,
    rank: int,
    order: int,
) -> Paths:
    """Follow images of one order back from all receivers; keep the paths that exist."""
    image = np.repeat(chosen, len(receivers))
    receiver = np.tile(np.arange(len(receivers)), len(chosen))
    length = np.linalg.norm(images.position[image] - receivers[receiver], axis=1)
    from_point = receivers[receiver]
    current = image
    surfaces = np.full((len(image), order), -1, dtype=np.intp)
    points = np.full((len(image), order, 3), np.nan)
    clearance = np.full(len(image), np.inf)
    for bounce in range(rank - 1, -1, -1):
        plane = images.surface[current]
        n, o = enclosure.normals[plane], enclosure.origins[plane]
        d0 = ((from_point - o) * n).sum(axis=1)
        d1 = ((images.position[current] - o) * n).sum(axis=1)
        # A hit exactly on the edge of two surfaces lies in both planes: it is the bounce before, too.
        keep = np.flatnonzero(d0 > (SIDE_TOLERANCE if bounce == rank - 1 else -SIDE_TOLERANCE))
        t = d0[keep] / (d0[keep] - d1[keep])
        hit = from_point[keep] + t[:, None] * (images.position[current[keep]] - from_point[keep])
        plane = plane[keep]
        inside, edge = enclosure.on_surface(plane, enclosure.wall_coordinates(plane, hit))
        keep, hit, plane, edge = keep[inside], hit[inside], plane[inside], edge[inside]
        surfaces, points, clearance = surfaces[keep], points[keep], clearance[keep]
        surfaces[:, bounce] = plane
        points[:, bounce] = hit
        clearance = np.minimum(clearance, edge)
        receiver, length = receiver[keep], length[keep]
        from_point = hit
        current = images.parent[current[keep]]
    # Obstruction, leg by leg from the source: whatever is cut is dropped before the next leg.
    start = np.broadcast_to(source, (len(receiver), 3))
    alive = np.arange(len(receiver))
    edges = enclosure.reflex_edges
    for leg in range(rank + 1):
        a = start[alive]
        b = points[alive, leg] if leg < rank else receivers[receiver[alive]]
        free = ~enclosure.blocked(a, b)
        alive, a, b = alive[free], a[free], b[free]
        if len(edges) and len(alive):
            clearance[alive] = np.minimum(clearance[alive], segment_distances(a, b, edges).min(axis=1))
        if leg < rank:
            start = points[:, leg]
    receiver = receiver[alive]
    return Paths(
        np.full(len(alive), source_index, dtype=np.intp),
        receiver.astype(np.intp),
        np.full(len(alive), rank, dtype=np.intp),
        surfaces[alive],
        points[alive],
        length[alive],
        np.linalg.norm(receivers[receiver] - source, axis=1),
        clearance[alive],
    )


def _direct(enclosure: Enclosure, sources: Array, receivers: Array, order: int) -> Paths:
    """Direct sound, where it is not blocked."""
    s = np.repeat(np.arange(len(sources)), len(receivers))
    r = np.tile(np.arange(len(receivers)), len(sources))
    free = ~enclosure.blocked(sources[s], receivers[r])
    s, r = s[free], r[free]
    length = np.linalg.norm(sources[s] - receivers[r], axis=1)
    edges = enclosure.reflex_edges
    clearance = np.full(len(s), np.inf)
    if len(edges) and len(s):
        clearance = segment_distances(sources[s], receivers[r], edges).min(axis=1)
    return Paths(
        s.astype(np.intp),
        r.astype(np.intp),
        np.zeros(len(s), dtype=np.intp),
        np.full((len(s), order), -1, dtype=np.intp),
        np.full((len(s), order, 3), np.nan),
        length,
        length,
        clearance,
    )


def _joined(parts: list[Paths]) -> Paths:
    return joined(parts)


def _sorted(paths: Paths) -> Paths:
    return paths.taken(np.lexsort((paths.length, paths.order, paths.receiver, paths.source)))


def _without_doubles(paths: Paths) -> Paths:
    """Drop paths that another one repeats point by point (hits on an edge that two surfaces share)."""
    if len(paths) < 2 or paths.points.shape[1] == 0:
        return paths
    # Repeats have the same length, so they are neighbours when sorted by it; ties by surface index.
    ranked = np.lexsort(
        (*paths.surfaces.T[::-1], np.round(paths.length, 7), paths.order, paths.receiver, paths.source)
    )
    p = paths.taken(ranked)
    points = np.nan_to_num(p.points, nan=0.0)
    keep = np.ones(len(p), dtype=bool)
    for shift in range(1, min(_REPEATS, len(p) - 1) + 1):
        same = (p.source[shift:] == p.source[:-shift]) & (p.receiver[shift:] == p.receiver[:-shift])
        same &= p.order[shift:] == p.order[:-shift]
        same &= np.abs(points[shift:] - points[:-shift]).max(axis=(1, 2)) < 1e-5
        keep[shift:] &= ~(same & keep[:-shift])
    return p.taken(np.flatnonzero(keep))
