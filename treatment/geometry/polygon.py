"""A planar piece of the room: its frame, its outline, and the way between tape and space.

A polygon lies in a plane. Its *frame* turns wall coordinates ``(u, v)``, what a person measures with
a tape, into room coordinates ``(x, y, z)``. Its *normal* points into the room. Its *region* is a
shapely geometry in wall coordinates: one outline or several, with or without holes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.errors import GeometryError
from treatment.geometry.frames import axes_in_plane

#: Two points nearer than this are one point (m). A tape is good to a millimetre, a saw cut to two.
POINT_TOLERANCE = 1e-6
#: A point this near to a plane lies in it (m): a tenth of a millimetre is far below any building work.
PLANE_TOLERANCE = 1e-4
#: A piece smaller than this is no surface (m2): a square centimetre.
AREA_TOLERANCE = 1e-4
#: What cutting one surface by another leaves over is dropped below this (m2): a square millimetre.
SLIVER = 1e-6


@dataclass(frozen=True)
class Rectangle:
    """An upright rectangle in wall coordinates.

    Parameters
    ----------
    u, v : float
        Lower corner in m.
    width, height : float
        Extent along u and v in m.
    """

    u: float
    v: float
    width: float
    height: float

    @property
    def area(self) -> float:
        """Area in m2."""
        return self.width * self.height

    @property
    def centre(self) -> tuple[float, float]:
        """Centre ``(u, v)`` in m."""
        return (self.u + self.width / 2.0, self.v + self.height / 2.0)

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """``(u_low, v_low, u_high, v_high)`` in m."""
        return (self.u, self.v, self.u + self.width, self.v + self.height)

    def grown(self, margin: float) -> Rectangle:
        """Return the rectangle with every edge moved outwards.

        Parameters
        ----------
        margin : float
            Distance in m; negative moves inwards.

        Returns
        -------
        Rectangle
            The grown rectangle.
        """
        return Rectangle(
            self.u - margin, self.v - margin, self.width + 2.0 * margin, self.height + 2.0 * margin
        )

    def moved(self, along_u: float, along_v: float) -> Rectangle:
        """Return the same rectangle elsewhere.

        Parameters
        ----------
        along_u, along_v : float
            How far it moves, m.
        """
        return Rectangle(self.u + along_u, self.v + along_v, self.width, self.height)

    def overlaps(self, other: Rectangle, slack: float = POINT_TOLERANCE) -> bool:
        """Tell whether the interiors of two rectangles meet.

        Parameters
        ----------
        other : Rectangle
            In the same wall coordinates.
        slack : float
            Overlap in m that does not count.

        Returns
        -------
        bool
            True when they overlap by more than the slack in both directions.
        """
        a, b = self.bounds, other.bounds
        return min(a[2], b[2]) - max(a[0], b[0]) > slack and min(a[3], b[3]) - max(a[1], b[1]) > slack

    def shape(self) -> Any:
        """Return the rectangle as a shapely polygon.

        Returns
        -------
        shapely.Polygon
            In wall coordinates, m.
        """
        return shapely.box(*self.bounds)


@dataclass(frozen=True, eq=False)
class Polygon:
    """A planar surface with a frame.

    Parameters
    ----------
    origin : numpy.ndarray
        Point with wall coordinates (0, 0), shape (3,), m.
    u_axis, v_axis : numpy.ndarray
        Unit vectors of the wall coordinates, shape (3,), perpendicular.
    normal : numpy.ndarray
        Unit normal that points into the room, shape (3,).
    region : shapely.Polygon or shapely.MultiPolygon
        The surface in wall coordinates.
    """

    origin: Array
    u_axis: Array
    v_axis: Array
    normal: Array
    region: Any

    @classmethod
    def from_corners(
        cls,
        corners: Sequence[Sequence[float]] | Array,
        *,
        inside: Sequence[float] | Array,
        u_axis: Sequence[float] | Array | None = None,
        origin: Sequence[float] | Array | None = None,
        holes: Sequence[Array] = (),
    ) -> Polygon:
        """Make a polygon from corners in space.

        Parameters
        ----------
        corners : array_like
            Shape (n, 3), n >= 3, in order, either winding, m.
        inside : array_like
            Shape (3,): a direction that points into the room; it need not be normal.
        u_axis : array_like, optional
            Direction of u. Default: the horizontal direction in the surface, so that v climbs; on a
            level surface u = x, v = y.
        origin : array_like, optional
            Where wall coordinates are (0, 0). Default: the lowest corner of the bounding rectangle.
        holes : sequence of array_like
            Outlines of holes, shape (m, 3) each.

        Returns
        -------
        Polygon
            The surface.

        Raises
        ------
        GeometryError
            When the corners are not planar, or enclose no area, or the outline crosses itself.
        """
        points = np.asarray(corners, dtype=np.float64)
        rolled = np.roll(points, -1, axis=0)
        area_vector = 0.5 * np.cross(points - points[0], rolled - points[0]).sum(axis=0)
        area = float(np.linalg.norm(area_vector))
        if area < SLIVER:
            raise GeometryError("a surface encloses no area", hint="check its corners and their order")
        normal = area_vector / area
        off_plane = float(np.max(np.abs((points - points.mean(axis=0)) @ normal)))
        if off_plane > 10.0 * PLANE_TOLERANCE:
            raise GeometryError(
                f"a surface is not flat: a corner lies {1000.0 * off_plane:.1f} mm off its plane",
                hint="give it as two surfaces with a fold",
            )
        if normal @ np.asarray(inside, dtype=np.float64) < 0.0:
            normal = -normal
        return cls.in_plane(normal, [(points, holes)], u_axis=u_axis, origin=origin)

    @classmethod
    def in_plane(
        cls,
        normal: Sequence[float] | Array,
        parts: Sequence[tuple[Array, Sequence[Array]]],
        *,
        u_axis: Sequence[float] | Array | None = None,
        origin: Sequence[float] | Array | None = None,
    ) -> Polygon:
        """Make a polygon of one part or several, with or without holes, on a plane that is known.

        Parameters
        ----------
        normal : array_like
            Unit normal that points into the room, shape (3,).
        parts : sequence of tuple
            Outline, shape (n, 3), and outlines of its holes, shape (m, 3) each, m. What lies off the
            plane through the first corner is moved onto it.
        u_axis, origin : array_like, optional
            As for `from_corners`.

        Returns
        -------
        Polygon
            The surface.

        Raises
        ------
        GeometryError
            When an outline crosses itself.
        """
        facing = np.asarray(normal, dtype=np.float64)
        start = parts[0][0][0] if origin is None else np.asarray(origin, dtype=np.float64)
        u, v = axes_in_plane(facing, u_axis)
        axes = np.stack([u, v], axis=1)
        flat = [((outline - start) @ axes, [(h - start) @ axes for h in holes]) for outline, holes in parts]
        if origin is None:
            low = np.min([outline.min(axis=0) for outline, _ in flat], axis=0)
            start = start + axes @ low
            flat = [(outline - low, [h - low for h in holes]) for outline, holes in flat]
        shapes = [shapely.Polygon(outline, holes) for outline, holes in flat]
        region = shapes[0] if len(shapes) == 1 else shapely.MultiPolygon(shapes)
        if not region.is_valid:
            raise GeometryError(
                f"the outline of a surface is not simple: {shapely.is_valid_reason(region)}",
                hint="its edges must not cross or touch each other",
            )
        return cls(frozen(start), frozen(u), frozen(v), frozen(facing), shapely.normalize(region))

    @property
    def area(self) -> float:
        """Area in m2."""
        return float(self.region.area)

    @property
    def mirrored(self) -> bool:
        """Whether u runs to the left when the surface is seen from inside the room."""
        return bool(np.cross(self.u_axis, self.v_axis) @ self.normal < 0.0)

    @cached_property
    def edges(self) -> Array:
        """Edges of all outlines and holes in wall coordinates, shape (n, 2, 2), m."""
        segments = []
        for part in shapely.get_parts(self.region):
            for ring in (part.exterior, *part.interiors):
                xy = np.asarray(ring.coords)
                segments.append(np.stack([xy[:-1], xy[1:]], axis=1))
        return frozen(np.concatenate(segments))

    @cached_property
    def centroid(self) -> Array:
        """Centre of area in room coordinates, shape (3,), m."""
        c = self.region.centroid
        return frozen(self.to_room(np.array([c.x, c.y])))

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """``(u_low, v_low, u_high, v_high)`` in m."""
        return tuple(self.region.bounds)

    def to_wall(self, points: Any) -> Array:
        """Room coordinates to wall coordinates; the distance from the plane is dropped.

        Parameters
        ----------
        points : array_like
            Shape (..., 3), m.

        Returns
        -------
        numpy.ndarray
            Shape (..., 2), m.
        """
        d = np.asarray(points, dtype=np.float64) - self.origin
        return np.stack([d @ self.u_axis, d @ self.v_axis], axis=-1)

    def to_room(self, wall: Any, out: float = 0.0) -> Array:
        """Wall coordinates to room coordinates.

        Parameters
        ----------
        wall : array_like
            Shape (..., 2), m.
        out : float
            Distance from the surface into the room, m.

        Returns
        -------
        numpy.ndarray
            Shape (..., 3), m.
        """
        w = np.asarray(wall, dtype=np.float64)
        return np.asarray(
            self.origin + w[..., :1] * self.u_axis + w[..., 1:] * self.v_axis + out * self.normal
        )

    def height_above(self, points: Any) -> Array:
        """Signed distance from the plane, positive on the room's side.

        Parameters
        ----------
        points : array_like
            Shape (..., 3), m.

        Returns
        -------
        numpy.ndarray
            Shape (...), m.
        """
        return np.asarray((np.asarray(points, dtype=np.float64) - self.origin) @ self.normal)

    def with_region(self, region: Any) -> Polygon:
        """Return the same plane and frame with another region.

        Parameters
        ----------
        region : shapely geometry
            In wall coordinates.

        Returns
        -------
        Polygon
            The changed surface.
        """
        return Polygon(self.origin, self.u_axis, self.v_axis, self.normal, region)

    def in_frame_of(self, other: Polygon) -> Any:
        """Region of this polygon in the wall coordinates of another one in the same plane.

        Parameters
        ----------
        other : Polygon
            Must lie in the same plane.

        Returns
        -------
        shapely geometry
            In the other's wall coordinates.
        """

        def moved(xy: NDArray[np.float64]) -> Array:
            return other.to_wall(self.to_room(xy))

        return shapely.transform(self.region, moved)

    def triangles(self) -> Array:
        """Triangles that fill the region, in room coordinates, shape (n, 3, 3), m.

        Their normals point into the room. Constrained Delaunay, so that holes and notches stay open.
        """
        return triangulated([self])[0]


def triangulated(polygons: Sequence[Polygon]) -> tuple[Array, NDArray[np.intp]]:
    """Triangles that fill surfaces, in room coordinates.

    Parameters
    ----------
    polygons : sequence of Polygon
        The surfaces.

    Returns
    -------
    corners : numpy.ndarray
        Shape (t, 3, 3), m; their normals point into the room.
    surface : numpy.ndarray
        Index of the surface of each, shape (t,).
    """
    filled = shapely.constrained_delaunay_triangles([p.region for p in polygons])
    parts, surface = shapely.get_parts(filled, return_index=True)
    # A part of several parts comes as a collection of its own.
    parts, inner = shapely.get_parts(parts, return_index=True)
    surface = surface[inner]
    flat = shapely.get_coordinates(parts).reshape(-1, 4, 2)[:, :3]
    frames = np.array([[p.u_axis, p.v_axis] for p in polygons])
    space = np.array([p.origin for p in polygons])[surface][:, None] + np.einsum(
        "tki,tij->tkj", flat, frames[surface]
    )
    normals = np.array([p.normal for p in polygons])[surface]
    turn = np.einsum("ti,ti->t", np.cross(space[:, 1] - space[:, 0], space[:, 2] - space[:, 0]), normals)
    space[turn < 0.0] = space[turn < 0.0][:, ::-1]
    return frozen(space), np.asarray(surface, dtype=np.intp)
