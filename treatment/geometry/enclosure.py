"""A closed room of planar surfaces.

The surfaces of obstacles (posts, soffits, counters) belong to it as well: where an obstacle touches
a wall, or another obstacle, the patch of contact is taken out of both, so that what remains is the
boundary of the air in the room. Volume and area follow from that boundary alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.errors import GeometryError
from treatment.geometry.flush import Flush, find_flush
from treatment.geometry.joints import Joints, find_joints
from treatment.geometry.outlines import Outlines
from treatment.geometry.polygon import AREA_TOLERANCE, POINT_TOLERANCE, Polygon, triangulated
from treatment.geometry.screens import Screens, find_screens
from treatment.geometry.sharp_edges import Rims, reflecting_rims

#: Pairs of a point and a surface worked on at once; bounds the memory.
_PAIRS = 2_000_000


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
        return frozen(shapely.area([p.region for p in self.polygons]))

    @property
    def area(self) -> float:
        """Total surface area in m2."""
        return float(self.areas.sum())

    @cached_property
    def volume(self) -> float:
        """Volume of the air in m3, by the divergence theorem."""
        flat = shapely.get_coordinates(shapely.centroid([p.region for p in self.polygons]))
        centroids = self.origins + np.einsum("ki,kij->kj", flat, self.frames)
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
        surface = self.outlines.owner
        points = self.origins[surface] + np.einsum("ki,kij->kj", self.outlines.start, self.frames[surface])
        return frozen([points.min(axis=0), points.max(axis=0)])

    @cached_property
    def outlines(self) -> Outlines:
        """Edges of all surfaces in their own wall coordinates."""
        return Outlines.of(self.polygons)

    @cached_property
    def _wall_boxes(self) -> Array:
        """Bounding rectangles in wall coordinates, shape (n, 4), m."""
        return frozen(shapely.bounds([p.region for p in self.polygons]))

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
            Distance to the nearest edge of the outline, shape (k,), m; infinite for points outside
            the bounding rectangle, which are not looked at any further.
        """
        inside = np.zeros(len(surface), dtype=bool)
        clearance = np.full(len(surface), np.inf)
        box = self._wall_boxes[surface]
        low = np.all(wall >= box[:, :2] - POINT_TOLERANCE, axis=1)
        near = np.flatnonzero(low & np.all(wall <= box[:, 2:] + POINT_TOLERANCE, axis=1))
        inside[near], clearance[near] = self.outlines.locate(surface[near], wall[near])
        return inside, clearance

    def outline_distance(self, surface: NDArray[np.intp], wall: Array) -> tuple[NDArray[np.bool_], Array]:
        """As `on_surface`, with the true distance for all points.

        Parameters
        ----------
        surface : numpy.ndarray
            Surface indices, shape (k,).
        wall : numpy.ndarray
            Wall coordinates, shape (k, 2), m.

        Returns
        -------
        inside, clearance : numpy.ndarray
            Shape (k,), bool and m.
        """
        return self.outlines.locate(surface, wall)

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
        step = max(1, _PAIRS // len(self.polygons))
        if len(start) > step:
            parts = [slice(k, k + step) for k in range(0, len(start), step)]
            return np.concatenate([self.blocked(start[k], end[k], slack) for k in parts])
        # Taken from the room's middle, products lose no digits to a far origin.
        offset = np.einsum("ni,ni->n", self.origins - self._middle, self.normals)
        d0 = (start - self._middle) @ self.normals.T - offset
        d1 = (end - self._middle) @ self.normals.T - offset
        # Both ends must lie clearly on opposite sides.
        crossing = ((d0 > slack) & (d1 < -slack)) | ((d0 < -slack) & (d1 > slack))
        leg, surface = np.nonzero(crossing)
        if len(leg) == 0:
            return hit
        near, far = d0[leg, surface], d1[leg, surface]
        t = near / (near - far)
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
        triangles, _ = self.triangles
        solid = np.zeros(len(p))
        step = max(1, _PAIRS // (8 * max(1, len(p))))
        for k in range(0, len(triangles), step):
            solid += _solid_angles(p, triangles[k : k + step]).sum(axis=1)
        within: NDArray[np.bool_] = np.abs(solid) > 2.0 * np.pi
        if margin != 0.0:
            doubtful = np.flatnonzero(within if margin > 0.0 else ~within)
            nearest = np.array([self.distance_to_surfaces(q).min() for q in p[doubtful]])
            within[doubtful] = nearest >= margin if margin > 0.0 else nearest <= -margin
        return within

    @cached_property
    def triangles(self) -> tuple[Array, NDArray[np.intp]]:
        """Triangles that fill the surfaces, normals into the air.

        Returns
        -------
        corners : numpy.ndarray
            Shape (t, 3, 3), m.
        surface : numpy.ndarray
            Surface index of each, shape (t,).
        """
        return triangulated(self.polygons)

    @cached_property
    def _middle(self) -> Array:
        return frozen(self.origins.mean(axis=0))

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
        surface = np.arange(len(self.polygons))
        there = np.broadcast_to(np.asarray(point, dtype=np.float64), (len(surface), 3))
        inside, edge = self.outline_distance(surface, self.wall_coordinates(surface, there))
        off = np.abs(np.einsum("ni,ni->n", there - self.origins, self.normals))
        return np.asarray(np.where(inside, off, np.hypot(off, edge)))

    @cached_property
    def joints(self) -> Joints:
        """Where the surfaces meet."""
        return find_joints(self.polygons, self.outlines)

    @cached_property
    def rims(self) -> Rims:
        """Edges at which reflections end in open air."""
        return reflecting_rims(self.joints, self.outlines.owner)

    @cached_property
    def flush(self) -> Flush:
        """Surfaces that lie in one plane and touch."""
        return find_flush(self.joints, self.outlines.owner, self.frames, self.origins)

    @cached_property
    def screens(self) -> Screens:
        """Edges that stick out into the room and can hide something."""
        return find_screens(self.joints, self.outlines.owner, self.normals)

    @property
    def reflex_edges(self) -> Array:
        """Ends of the edges that stick out into the room, shape (k, 2, 3), m.

        A leg that passes one of these closely is marginal: a tape error decides whether it exists.
        """
        return self.screens.ends


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
