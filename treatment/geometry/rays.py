"""First hits of many rays at once on planar polygons.

The embree engine finds which triangle a ray meets; the distance comes from the polygon's own plane in
double precision, so that a ray that bounces hundreds of times stays on the walls. What the engine
loses (it works in single precision, and a ray may slip through the seam of two triangles) is found by
an exact search over all triangles; without the engine that search does everything, slowly.
"""

from __future__ import annotations

from collections.abc import Sequence
from importlib import import_module
from typing import Any

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.polygon import Polygon

Indices = NDArray[np.intp]

#: How far the start of a ray is lifted off its surface for the engine (m); single precision resolves
#: a quarter of it 10 m from the middle of the room.
_LIFT = 4e-6
#: How far behind a plane a ray may start and still meet it (m): a hit beside an edge may lie behind the
#: next plane by the engine's rounding.
_BEHIND = 1e-4
#: Ray-triangle pairs worked on at once by the exact search; bounds the memory.
_PAIRS = 2_000_000


class Caster:
    """Finds the first polygon that rays meet, seen from the side its normal points to.

    Parameters
    ----------
    polygons : sequence of Polygon
        Together they must close, normals into the air.
    engine : bool
        Whether to use embree where it is installed.

    Attributes
    ----------
    normals : numpy.ndarray
        Of the polygons, shape (n, 3).
    """

    def __init__(self, polygons: Sequence[Polygon], *, engine: bool = True) -> None:
        self.normals = frozen([p.normal for p in polygons])
        pieces = [p.triangles() for p in polygons]
        triangles = np.concatenate(pieces)
        # Near the origin single precision is finest.
        self._centre = (triangles.min(axis=(0, 1)) + triangles.max(axis=(0, 1))) / 2.0
        self._triangles = triangles - self._centre
        self._owner = np.repeat(np.arange(len(pieces)), [len(t) for t in pieces])
        origins = np.array([p.origin for p in polygons]) - self._centre
        self._offset = np.einsum("ni,ni->n", self.normals, origins)
        self._scene: Any
        self._mesh: Any
        self._scene, self._mesh = _embree_scene(self._triangles) if engine else (None, None)

    @property
    def uses_engine(self) -> bool:
        """Whether embree is at work."""
        return self._scene is not None

    def first_hit(
        self, points: Array, directions: Array, start: Indices | None = None
    ) -> tuple[Indices, Array]:
        """Find the first polygon that each ray meets.

        Parameters
        ----------
        points : numpy.ndarray
            Where the rays start, shape (k, 3), m.
        directions : numpy.ndarray
            Unit vectors, shape (k, 3).
        start : numpy.ndarray, optional
            Polygon that each ray starts on, shape (k,); -1 or None: it starts in the air.

        Returns
        -------
        polygon : numpy.ndarray
            Index, shape (k,); -1 where a ray meets nothing.
        distance : numpy.ndarray
            Shape (k,), m; infinite where a ray meets nothing.
        """
        at = points - self._centre
        if self._scene is None:
            hit = np.full(len(at), -1, dtype=np.intp)
        else:
            lifted = at if start is None else at + _LIFT * self.normals[start]
            found = self._scene.run(lifted.astype(np.float32), directions.astype(np.float32))
            hit = np.where(found >= 0, self._owner[found], -1)
        n = self.normals[hit]
        closing = dots(n, directions)
        with np.errstate(divide="ignore", invalid="ignore"):
            height = dots(n, at) - self._offset[hit]
            distance = -height / closing
        lost = np.flatnonzero((hit < 0) | ~(closing < 0.0) | (height < -_BEHIND))
        if len(lost):
            hit[lost], distance[lost] = self._search(at[lost], directions[lost])
        return hit, np.maximum(distance, 0.0)

    def _search(self, at: Array, directions: Array) -> tuple[Indices, Array]:
        """Exact first hits by comparing each ray with each triangle."""
        hit = np.full(len(at), -1, dtype=np.intp)
        distance = np.full(len(at), np.inf)
        step = max(1, _PAIRS // len(self._triangles))
        for first in range(0, len(at), step):
            part = slice(first, first + step)
            hit[part], distance[part] = self._compare(at[part], directions[part])
        return hit, distance

    def _compare(self, at: Array, directions: Array) -> tuple[Indices, Array]:
        # Moller & Trumbore, J. Graphics Tools 2 (1997) 21: distance and barycentric coordinates.
        a, b, c = (self._triangles[:, i] for i in range(3))
        e1, e2 = b - a, c - a
        face = np.cross(e1, e2)
        squared = (face * face).sum(axis=-1)
        closing = directions @ face.T
        arm = at[:, None] - a
        height = (arm * face).sum(axis=-1)
        front = (closing < 0.0) & (height > -_BEHIND * np.sqrt(squared))
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.where(front, np.maximum(-height / closing, 0.0), np.inf)
            arm = arm + np.where(front, t, 0.0)[..., None] * directions[:, None]
        u = (np.cross(arm, e2) * face).sum(axis=-1) / squared
        v = (np.cross(e1, arm) * face).sum(axis=-1) / squared
        outside = np.maximum(np.maximum(-u, -v), u + v - 1.0)
        rows = np.arange(len(at))
        hit = np.full(len(at), -1, dtype=np.intp)
        distance = np.full(len(at), np.inf)
        # A looser look catches rays on a seam that rounding opens.
        for slack in (1e-9, 1e-5, 1e-3):
            reach = np.where(outside <= slack, t, np.inf)
            best = reach.argmin(axis=1)
            near = reach[rows, best]
            new = (hit < 0) & np.isfinite(near)
            hit[new], distance[new] = self._owner[best[new]], near[new]
        return hit, distance


def dots(a: Array, b: Array) -> Array:
    """Scalar products of rows, column by column: faster than einsum on arrays this narrow.

    Parameters
    ----------
    a, b : numpy.ndarray
        Shape (k, 3).

    Returns
    -------
    numpy.ndarray
        Shape (k,).
    """
    return np.asarray(a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1] + a[:, 2] * b[:, 2])


def _embree_scene(triangles: Array) -> tuple[Any, Any]:
    """Scene of the engine and its mesh, or (None, None) where it is not installed."""
    try:
        scenes = import_module("embreex.rtcore_scene")
        meshes = import_module("embreex.mesh_construction")
    except ImportError:
        return None, None
    scene = scenes.EmbreeScene(robust=True)
    # The scene does not hold its mesh; whoever holds the one must hold the other.
    return scene, meshes.TriangleMesh(scene, np.ascontiguousarray(triangles, dtype=np.float32))
