"""Triangles that lie in one plane, to one planar surface: image sources multiply with every surface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.errors import GeometryError
from treatment.geometry.chains import bends
from treatment.geometry.faces import area_vectors, edges_of, place_text
from treatment.geometry.frames import wall_axes
from treatment.geometry.mend import Skin
from treatment.geometry.polygon import AREA_TOLERANCE, Polygon, triangulated

Indices = NDArray[np.intp]

#: Faces belong to one plane when their corners lie within this of it (m) ...
FLATNESS = 5e-4
#: ... and their normals within this of each other (cosine of one degree).
ALIKE = float(np.cos(np.radians(1.0)))
#: Triangles compared with all others at once.
_PART = 2000
#: Planes that meet at less than this are most likely pieces of a curve (cosine of 30 degrees).
CURVE = float(np.cos(np.radians(30.0)))


@dataclass(frozen=True, eq=False)
class Merged:
    """Planar surfaces of a mesh.

    Parameters
    ----------
    polygons : tuple of Polygon
        The surfaces.
    groups : tuple of int
        Group of each.
    curved : int
        How many surfaces meet a neighbour at a small angle: facets of something curved.
    """

    polygons: tuple[Polygon, ...]
    groups: tuple[int, ...]
    curved: int


def merge(skin: Skin) -> Merged:
    """Merge the faces of a closed mesh to planar surfaces.

    Parameters
    ----------
    skin : Skin
        Without faults.

    Returns
    -------
    Merged
        Faces of one group that hang together in one plane are one surface, with holes where others
        stand out of it.

    Raises
    ------
    GeometryError
        When faces lie on each other in one plane.
    """
    vectors = area_vectors(skin.vertices, skin.faces)
    directed, ids = edges_of(skin.faces)
    halves = np.argsort(ids, kind="stable").reshape(-1, 2)
    pairs = halves // 3
    region = _regions(skin, vectors, pairs)
    across = region[pairs]
    rim = halves[across[:, 0] != across[:, 1]].ravel()
    rim = rim[np.argsort(region[rim // 3], kind="stable")]
    count = int(region.max()) + 1
    ways = np.split(directed[rim], np.searchsorted(region[rim // 3], np.arange(1, count)))
    polygons = _surfaces(skin, vectors, region, ways)
    normals = np.array([p.normal for p in polygons])
    groups = np.zeros(count, dtype=np.intp)
    groups[region] = skin.groups
    across = across[across[:, 0] != across[:, 1]]
    cosine = np.einsum("ij,ij->i", normals[across[:, 0]], normals[across[:, 1]])
    # Neighbours in one plane differ by their group only.
    bent = across[(cosine > CURVE) & (cosine < ALIKE)]
    return Merged(polygons, tuple(groups.tolist()), len(np.unique(bent)))


def _regions(skin: Skin, vectors: Array, pairs: Indices) -> Indices:
    """Number of the plane of each face: grown from the largest face outwards, shape (m,)."""
    count = len(skin.faces)
    area = np.linalg.norm(vectors, axis=1)
    normals = (vectors / area[:, None]).tolist()
    corners = skin.vertices[skin.faces].tolist()
    groups = skin.groups.tolist()
    beside: list[list[int]] = [[] for _ in range(count)]
    for a, b in pairs.tolist():
        beside[a].append(b)
        beside[b].append(a)
    edges = skin.vertices[skin.faces] - skin.vertices[np.roll(skin.faces, 1, axis=1)]
    # The normal of a sliver says nothing.
    sliver = (2.0 * area < 2.0 * FLATNESS * np.linalg.norm(edges, axis=2).max(axis=1)).tolist()
    region = [-1] * count
    number = 0
    for seed in np.argsort(-area, kind="stable").tolist():
        if region[seed] >= 0:
            continue
        nx, ny, nz = normals[seed]
        x, y, z = corners[seed][0]
        offset = nx * x + ny * y + nz * z
        group = groups[seed]
        region[seed] = number
        front = [seed]
        while front:
            for face in beside[front.pop()]:
                if region[face] >= 0 or groups[face] != group:
                    continue
                mx, my, mz = normals[face]
                if not sliver[face] and nx * mx + ny * my + nz * mz < ALIKE:
                    continue
                if all(abs(nx * p + ny * q + nz * r - offset) <= FLATNESS for p, q, r in corners[face]):
                    region[face] = number
                    front.append(face)
        number += 1
    return np.array(region, dtype=np.intp)


def _surfaces(skin: Skin, vectors: Array, region: Indices, ways: list[Indices]) -> tuple[Polygon, ...]:
    """Surfaces inside their directed rims; each has the area vector of its faces: the room stays closed."""
    total = np.stack([np.bincount(region, vectors[:, k]) for k in range(3)], axis=1)
    areas = np.linalg.norm(total, axis=1)
    normals = total / areas[:, None]
    weights = np.linalg.norm(vectors, axis=1)
    moments = weights[:, None] * skin.vertices[skin.faces].mean(axis=1)
    sums = np.stack([np.bincount(region, moments[:, k]) for k in range(3)], axis=1)
    origins: Array = sums / np.bincount(region, weights)[:, None]
    axes = wall_axes(normals)
    rings = [(k, ring) for k, way in enumerate(ways) for ring in _rings(way)]
    owner = np.array([k for k, _ in rings])
    sizes = np.array([len(ring) for _, ring in rings])
    corner = np.concatenate([ring for _, ring in rings])
    which = np.repeat(np.arange(len(rings)), sizes)
    surface = owner[which]
    flat = np.einsum("ki,kji->kj", skin.vertices[corner] - origins[surface], axes[surface])
    bent = bends(flat, sizes)
    flat, which, surface = flat[bent], which[bent], surface[bent]
    low = np.full((len(normals), 2), np.inf)
    np.minimum.at(low, surface, flat)
    flat = flat - low[surface]
    origins = origins + np.einsum("ki,kij->kj", low, axes)
    lines = shapely.linearrings(flat, indices=which)
    # Of rings in one plane, the largest is the outline and the others are holes.
    span = shapely.area(shapely.polygons(lines))
    order = np.lexsort((-span, owner))
    outer = order[np.flatnonzero(np.diff(owner[order], prepend=-1))]
    hole = np.ones(len(rings), dtype=bool)
    hole[outer] = False
    regions = shapely.polygons(lines[outer])
    for k in np.unique(owner[hole]).tolist():
        regions[k] = shapely.polygons(lines[outer[k]], holes=list(lines[hole & (owner == k)]))
    wrong = ~shapely.is_valid(regions) | (np.abs(shapely.area(regions) - areas) > 1e-6 * areas + 1e-5)
    if wrong.any():
        at = skin.vertices[skin.faces[region == int(np.flatnonzero(wrong)[0])]].reshape(-1, 3)
        raise GeometryError(
            f"faces lie on each other in one plane at {place_text(at)}",
            hint="delete the faces that cover others",
        )
    regions = shapely.normalize(regions)
    held = [frozen(x) for x in (origins, axes[:, 0], axes[:, 1], normals)]
    return tuple(Polygon(o, u, v, n, r) for o, u, v, n, r in zip(*held, regions, strict=True))


def _rings(rim: Indices) -> list[Indices]:
    """Closed ways of directed edges; where a way passes a corner twice, the loop between is cut off."""
    following: dict[int, list[int]] = {}
    for a, b in rim.tolist():
        following.setdefault(a, []).append(b)
    rings = []
    for start in list(following):
        while following[start]:
            way, place = [start], {start: 0}
            while True:
                here = following[way[-1]].pop()
                if here in place:
                    k = place[here]
                    rings.append(np.array(way[k:], dtype=np.intp))
                    for corner in way[k + 1 :]:
                        del place[corner]
                    del way[k + 1 :]
                    if k == 0 and not following[here]:
                        break
                    if not following[way[-1]]:
                        break
                else:
                    place[here] = len(way)
                    way.append(here)
    return rings


def crossings(polygons: Sequence[Polygon], most: int = 5) -> tuple[list[Array], list[Array]]:
    """Find places where surfaces cut through each other or lie on each other.

    Parameters
    ----------
    polygons : sequence of Polygon
        The surfaces.
    most : int
        How many places to tell.

    Returns
    -------
    cut, stacked : list of numpy.ndarray
        Points, shape (3,), m.
    """
    triangles, owner = triangulated(polygons)
    low, high = triangles.min(axis=1) - FLATNESS, triangles.max(axis=1) + FLATNESS
    tree = shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))
    cut: list[Array] = []
    stacked: list[Array] = []
    for first in range(0, len(triangles), _PART):
        part = slice(first, first + _PART)
        i, j = tree.query(shapely.box(low[part, 0], low[part, 1], high[part, 0], high[part, 1]))
        i = i + first
        meet = (owner[i] != owner[j]) & (low[i, 2] <= high[j, 2]) & (low[j, 2] <= high[i, 2])
        a, b = triangles[i[meet]], triangles[j[meet]]
        cut += list(_pierced(a, b)[: most - len(cut)])
        stacked += list(_stacked(a, b)[: most - len(stacked)])
    return cut, stacked


def _stacked(a: Array, b: Array) -> Array:
    """Points where triangles in one plane share area, shape (k, 3)."""
    normal = np.cross(b[:, 1] - b[:, 0], b[:, 2] - b[:, 0])
    normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    off = np.abs(np.einsum("kij,kj->ki", a - b[:, :1], normal)).max(axis=1)
    near = off < FLATNESS
    a, b, normal = a[near], b[near], normal[near]
    if len(a) == 0:
        return np.zeros((0, 3))
    axes = wall_axes(normal)
    flat_a, flat_b = (np.einsum("kmi,kji->kmj", t - b[:, :1], axes) for t in (a, b))
    shared = shapely.intersection(shapely.polygons(flat_a), shapely.polygons(flat_b))
    wide = shapely.area(shared) > FLATNESS * shapely.length(shared) + AREA_TOLERANCE
    middle = shapely.get_coordinates(shapely.centroid(shared[wide]))
    return np.asarray(b[wide, 0] + np.einsum("ki,kij->kj", middle, axes[wide]))


def _pierced(a: Array, b: Array) -> Array:
    """Points where an edge of triangle a goes through the inside of triangle b, shape (k, 3)."""
    normal = np.cross(b[:, 1] - b[:, 0], b[:, 2] - b[:, 0])
    normal = normal / np.linalg.norm(normal, axis=1, keepdims=True)
    points = []
    for k in range(3):
        p, q = a[:, k], a[:, (k + 1) % 3]
        dp = np.einsum("ij,ij->i", p - b[:, 0], normal)
        dq = np.einsum("ij,ij->i", q - b[:, 0], normal)
        through = (np.minimum(dp, dq) < -FLATNESS) & (np.maximum(dp, dq) > FLATNESS)
        p, q, dp, dq, n, t = p[through], q[through], dp[through], dq[through], normal[through], b[through]
        hit = p + (dp / (dp - dq))[:, None] * (q - p)
        within = np.ones(len(hit), dtype=bool)
        for m in range(3):
            along = t[:, (m + 1) % 3] - t[:, m]
            inwards = np.cross(n, along) / np.linalg.norm(along, axis=1, keepdims=True)
            within &= np.einsum("ij,ij->i", hit - t[:, m], inwards) > 2.0 * FLATNESS
        points.append(hit[within])
    return np.concatenate(points)
