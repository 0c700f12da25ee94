"""A closed room of planar surfaces.

The surfaces of obstacles (posts, soffits, counters) belong to it as well: where an obstacle touches
a wall, or another obstacle, the patch of contact is taken out of both, so that what remains is the
boundary of the air in the room. Volume and area follow from that boundary alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.errors import GeometryError
from treatment.geometry.polygon import AREA_TOLERANCE, PLANE_TOLERANCE, POINT_TOLERANCE, Polygon


@dataclass(frozen=True, eq=False)
class Enclosure:
    """Closed set of planar surfaces around one volume of air.

    Parameters
    ----------
    polygons : tuple of Polygon
        The surfaces, normals into the air.

    Raises
    ------
    GeometryError
        When the surfaces do not close.
    """

    polygons: tuple[Polygon, ...]

    def __post_init__(self) -> None:
        # The area vectors of a closed surface sum to zero (divergence theorem on a constant field).
        rest = float(np.linalg.norm((self.areas[:, None] * self.normals).sum(axis=0)))
        if rest > 1e-6 * self.area + AREA_TOLERANCE:
            raise GeometryError(
                f"the room does not close: {rest:.3f} m2 of surface is missing or turned around",
                hint="every edge must be shared by exactly two surfaces",
            )
        if self.volume <= 0.0:
            raise GeometryError("the room has no volume", hint="are its surfaces inside out?")

    @cached_property
    def normals(self) -> Array:
        """Unit normals into the air, shape (n, 3)."""
        return frozen([p.normal for p in self.polygons])

    @cached_property
    def origins(self) -> Array:
        """A point of each plane, shape (n, 3), m."""
        return frozen([p.origin for p in self.polygons])

    @cached_property
    def areas(self) -> Array:
        """Areas, shape (n,), m2."""
        return frozen([p.area for p in self.polygons])

    @property
    def area(self) -> float:
        """Total surface area in m2."""
        return float(self.areas.sum())

    @cached_property
    def volume(self) -> float:
        """Volume of the air in m3, by the divergence theorem."""
        centroids = np.array([p.centroid for p in self.polygons])
        reference = centroids.mean(axis=0)
        flux = np.einsum("ij,ij->i", centroids - reference, self.normals) * self.areas
        return float(-flux.sum() / 3.0)

    @property
    def mean_free_path(self) -> float:
        """Mean free path in a diffuse field, ``4V/S``, in m (Kosten 1960)."""
        return 4.0 * self.volume / self.area

    @cached_property
    def bounds(self) -> Array:
        """Lowest and highest corner, shape (2, 3), m."""
        points = np.concatenate([p.to_room(p.edges[:, 0]) for p in self.polygons])
        return frozen([points.min(axis=0), points.max(axis=0)])

    @cached_property
    def edge_table(self) -> tuple[Array, Array]:
        """Edges of every surface in its own wall coordinates, padded to one length.

        Returns
        -------
        start, end : numpy.ndarray
            Shape (n, m, 2), m. Padding repeats a point, which no test counts.
        """
        most = max(len(p.edges) for p in self.polygons)
        table = np.zeros((len(self.polygons), most, 2, 2))
        for i, p in enumerate(self.polygons):
            table[i, : len(p.edges)] = p.edges
            table[i, len(p.edges) :] = p.edges[0, 0]
        return frozen(table[:, :, 0]), frozen(table[:, :, 1])

    @cached_property
    def frames(self) -> Array:
        """Wall axes of every surface, shape (n, 2, 3): rows u and v."""
        return frozen([[p.u_axis, p.v_axis] for p in self.polygons])

    def wall_coordinates(self, surface: NDArray[np.intp], points: Array) -> Array:
        """Wall coordinates of points, each on its own surface.

        Parameters
        ----------
        surface : numpy.ndarray
            Surface indices, shape (k,).
        points : numpy.ndarray
            Shape (k, 3), m.

        Returns
        -------
        numpy.ndarray
            Shape (k, 2), m.
        """
        return np.asarray(np.einsum("kij,kj->ki", self.frames[surface], points - self.origins[surface]))

    def on_surface(self, surface: NDArray[np.intp], wall: Array) -> tuple[NDArray[np.bool_], Array]:
        """Tell whether points lie in their surfaces, and how far from the outline.

        Parameters
        ----------
        surface : numpy.ndarray
            Surface indices, shape (k,).
        wall : numpy.ndarray
            Wall coordinates, shape (k, 2), m.

        Returns
        -------
        inside : numpy.ndarray
            Shape (k,), bool. A point on the outline (within `POINT_TOLERANCE`) counts as inside.
        clearance : numpy.ndarray
            Distance to the nearest edge of the outline, shape (k,), m.
        """
        starts, ends = self.edge_table
        a, b = starts[surface], ends[surface]
        p = wall[:, None, :]
        edge = b - a
        squared = np.einsum("kmi,kmi->km", edge, edge)
        real = squared > 0.0
        # Distance to every edge.
        along = np.einsum("kmi,kmi->km", p - a, edge) / np.where(real, squared, 1.0)
        foot = a + np.clip(along, 0.0, 1.0)[..., None] * edge
        gap = np.where(real, np.linalg.norm(p - foot, axis=-1), np.inf)
        clearance = gap.min(axis=1)
        # Even-odd rule; half-open in v, so that a corner is counted once.
        spans = (a[..., 1] <= p[..., 1]) != (b[..., 1] <= p[..., 1])
        rise = np.where(edge[..., 1] == 0.0, 1.0, edge[..., 1])
        crossing = a[..., 0] + (p[..., 1] - a[..., 1]) / rise * edge[..., 0]
        inside = (np.count_nonzero(spans & (p[..., 0] < crossing), axis=1) % 2).astype(bool)
        return inside | (clearance <= POINT_TOLERANCE), clearance

    def blocked(self, start: Array, end: Array, slack: float = 1e-6) -> NDArray[np.bool_]:
        """Tell whether a surface stands between two points.

        Parameters
        ----------
        start, end : numpy.ndarray
            Shape (k, 3), m. Either may lie on a surface.
        slack : float
            Crossings nearer than this to either end (m) do not count: the end lies on that surface.

        Returns
        -------
        numpy.ndarray
            Shape (k,), bool. A leg that only touches an edge from the air's side is free.
        """
        hit = np.zeros(len(start), dtype=bool)
        if len(start) == 0:
            return hit
        d0 = np.einsum("kni,ni->kn", start[:, None] - self.origins, self.normals)
        d1 = np.einsum("kni,ni->kn", end[:, None] - self.origins, self.normals)
        # Both ends must lie clearly on opposite sides.
        crossing = ((d0 > slack) & (d1 < -slack)) | ((d0 < -slack) & (d1 > slack))
        leg, surface = np.nonzero(crossing)
        if len(leg) == 0:
            return hit
        t = d0[leg, surface] / (d0[leg, surface] - d1[leg, surface])
        points = start[leg] + t[:, None] * (end[leg] - start[leg])
        inside, clearance = self.on_surface(surface, self.wall_coordinates(surface, points))
        # A crossing exactly on an outline belongs to the edge: grazing it is free unless the leg
        # also crosses a neighbour's interior or leaves the room, which `contains` of its middle says.
        np.logical_or.at(hit, leg, inside & (clearance > POINT_TOLERANCE))
        doubtful = np.unique(leg[inside & (clearance <= POINT_TOLERANCE)])
        doubtful = doubtful[~hit[doubtful]]
        if len(doubtful):
            part = np.linspace(0.0, 1.0, 34)[1:-1, None]
            for k in doubtful:
                samples = start[k] + part * (end[k] - start[k])
                hit[k] = not bool(np.all(self.contains(samples, margin=-1e-5)))
        return hit

    def contains(self, points: Array, margin: float = 0.0) -> NDArray[np.bool_]:
        """Tell whether points lie in the air of the room.

        Parameters
        ----------
        points : numpy.ndarray
            Shape (k, 3), m.
        margin : float
            Least distance from every surface, m; a negative margin also accepts points that lie
            outside by no more than its amount.

        Returns
        -------
        numpy.ndarray
            Shape (k,), bool.
        """
        p = np.atleast_2d(np.asarray(points, dtype=np.float64))
        solid = np.zeros(len(p))
        nearest = np.full(len(p), np.inf)
        for i, polygon in enumerate(self.polygons):
            solid += _solid_angles(p, self._triangles[i]).sum(axis=1)
            index = np.full(len(p), i, dtype=np.intp)
            inside, edge = self.on_surface(index, polygon.to_wall(p))
            off = np.abs(polygon.height_above(p))
            gap = np.where(inside, off, np.hypot(off, edge))
            nearest = np.minimum(nearest, gap)
        within = np.abs(solid) > 2.0 * np.pi
        if margin < 0.0:
            return within | (nearest <= -margin)
        return within & (nearest >= margin)

    @cached_property
    def _triangles(self) -> tuple[Array, ...]:
        return tuple(p.triangles() for p in self.polygons)

    def distance_to_surfaces(self, point: Array) -> Array:
        """Distance of a point from every surface.

        Parameters
        ----------
        point : numpy.ndarray
            Shape (3,), m.

        Returns
        -------
        numpy.ndarray
            Shape (n,), m.
        """
        n = len(self.polygons)
        walls = np.array([p.to_wall(point) for p in self.polygons])
        inside, edge = self.on_surface(np.arange(n), walls)
        off = np.array([abs(float(p.height_above(point))) for p in self.polygons])
        return np.asarray(np.where(inside, off, np.hypot(off, edge)))

    @cached_property
    def reflex_edges(self) -> Array:
        """Edges that stick out into the room (inner corners, posts), shape (k, 2, 3), m.

        A leg that passes one of these closely is marginal: a tape error decides whether it exists.
        """
        found: list[Array] = []
        for i, p in enumerate(self.polygons):
            ends = p.to_room(p.edges)
            for j, q in enumerate(self.polygons):
                if i == j:
                    continue
                # The edge lies in q's plane, q's outline passes there, and p's inside looks away.
                off = np.abs(q.height_above(ends)).max(axis=1)
                near = off < PLANE_TOLERANCE
                if not near.any():
                    continue
                middle = ends[near].mean(axis=1)
                index = np.full(len(middle), j, dtype=np.intp)
                _, clearance = self.on_surface(index, q.to_wall(middle))
                touching = clearance < 10.0 * PLANE_TOLERANCE
                # Inside of p beside the edge, seen from q: behind q's plane means the corner is reflex.
                flat = p.edges[near]
                along = flat[:, 1] - flat[:, 0]
                across = np.stack([-along[:, 1], along[:, 0]], axis=1)
                across /= np.linalg.norm(across, axis=1)[:, None]
                step = flat.mean(axis=1) + 1e-3 * across
                inside, _ = self.on_surface(np.full(len(step), i, dtype=np.intp), step)
                beside = p.to_room(np.where(inside[:, None], step, flat.mean(axis=1) - 1e-3 * across))
                reflex = q.height_above(beside) < -1e-5
                found.extend(ends[near][touching & reflex])
        # Both surfaces of a corner report it: keep each edge once, whichever way it runs.
        ordered = [e if tuple(e[0]) <= tuple(e[1]) else e[::-1] for e in found]
        unique = {tuple(np.round(e, 6).ravel()): e for e in ordered}
        return frozen(np.array(list(unique.values())).reshape(-1, 2, 3))


def _solid_angles(points: Array, triangles: Array) -> Array:
    """Signed solid angles of triangles seen from points, shape (k, t), sr.

    References
    ----------
    van Oosterom & Strackee, IEEE Trans. Biomed. Eng. 30 (1983) 125, eq. (8).
    """
    a, b, c = (triangles[None, :, i] - points[:, None] for i in range(3))
    la, lb, lc = (np.linalg.norm(x, axis=-1) for x in (a, b, c))
    top = np.einsum("kti,kti->kt", a, np.cross(b, c))
    bottom = (
        la * lb * lc
        + np.einsum("kti,kti->kt", a, b) * lc
        + np.einsum("kti,kti->kt", b, c) * la
        + np.einsum("kti,kti->kt", c, a) * lb
    )
    return np.asarray(2.0 * np.arctan2(top, bottom))
