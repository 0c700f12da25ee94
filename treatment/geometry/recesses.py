"""Makers of recesses: pockets and dormers behind a hole in a planar surface.

A recess is a convex body of air whose *mouth* is a rectangle in a surface of the room, its *host*. The host
keeps its frame and loses the mouth; the other faces of the body join the room's surfaces. Where the mouth
touches an edge of the host, as an alcove that begins at the floor, a face lies in one plane with the surface
beyond that edge and continues it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely

from treatment.bands import Array, frozen
from treatment.errors import GeometryError
from treatment.geometry.convex import bodies_meet
from treatment.geometry.polygon import PLANE_TOLERANCE, SLIVER, Polygon, Rectangle
from treatment.geometry.shapes import PARALLEL_TOLERANCE, surface_part

#: Side of a rectangle's corners: the order in which mouths are walked round.
_ROUND: Final = ((0, 0), (1, 0), (1, 1), (0, 1))
#: A body begins this far behind its mouth where it is looked at what it runs into (m).
_BEHIND: Final = 1e-3
#: Surfaces that share a longer piece of an edge than this touch (m).
_SHARED: Final = 1e-3
#: A normal that climbs more than this belongs to a level surface.
_LEVEL: Final = 0.9994
#: A front lower than this is none (m).
_LEAST_FRONT: Final = 1e-3


@dataclass(frozen=True, eq=False)
class Recess:
    """Air behind a hole in a surface.

    Parameters
    ----------
    mouth : Rectangle
        Where the hole is, in wall coordinates of the host.
    faces : tuple of Polygon
        The sides of its body but for the mouth, normals into its air.
    sides : tuple of str
        What each face is called: ``back``, ``left``, ``right``, ``top``, ``bottom``, ``front``.
    corners : numpy.ndarray
        Of its convex body, those of the mouth first, shape (k, 3), m.
    """

    mouth: Rectangle
    faces: tuple[Polygon, ...]
    sides: tuple[str, ...]
    corners: Array

    def body(self, host: Polygon, wall: float) -> Array:
        """Corners of the body with the wall that it needs round it, but for its mouth.

        Parameters
        ----------
        host : Polygon
            The surface of its mouth.
        wall : float
            Thickness of that wall, m.

        Returns
        -------
        numpy.ndarray
            Shape (k, 3), m.
        """
        normals = np.array([f.normal for f in self.faces])
        origins = np.array([f.origin for f in self.faces])
        made = []
        for corner in self.corners:
            on = np.abs(np.einsum("fi,fi->f", corner - origins, normals)) < PLANE_TOLERANCE
            depth = float(host.height_above(corner))
            planes, offset = -normals[on], np.full(int(on.sum()), wall)
            if depth > -PLANE_TOLERANCE:
                deepest = float(host.height_above(self.corners).min())
                planes = np.vstack([planes, host.normal])
                offset = np.append(offset, -min(_BEHIND, -0.25 * deepest))
            # Each corner moves so that all planes through it move by what they need.
            made.append(corner + np.linalg.lstsq(planes, offset, rcond=None)[0])
        return frozen(made)


def pocket(host: Polygon, mouth: Rectangle, depth: float) -> Recess:
    """Pocket with straight sides, perpendicular to its surface.

    Parameters
    ----------
    host : Polygon
        The surface, normal into the room.
    mouth : Rectangle
        In its wall coordinates.
    depth : float
        How far it reaches out of the room, m.

    Returns
    -------
    Recess
        Five faces: the one across the mouth, then those at low u, high u, low v, high v of the mouth. They
        are called as one sees them from before the surface, on a level one by the sides of the room.
    """
    near = _corners(host, mouth)
    far = near - depth * host.normal
    rings = [
        far,
        *(np.array([near[i], near[j], far[j], far[i]]) for i, j in ((0, 3), (1, 2), (0, 1), (3, 2))),
    ]
    climb = float(host.normal[2])
    if abs(climb) > _LEVEL:
        along = host.u_axis[0] > 0.5
        first, second = ("front", "back"), ("left", "right")
        sides = ("bottom" if climb > 0.0 else "top", *(first + second if along else second + first))
    else:
        across = ("right", "left") if host.mirrored else ("left", "right")
        sides = ("back", *across, "bottom", "top")
    return _made(mouth, rings, sides, np.vstack([near, far]))


def dormer(host: Polygon, mouth: Rectangle, roof_slope: float = 0.0) -> Recess:
    """Dormer: an upright front over the lower edge of a rectangle in a slope, a roof from its upper edge.

    Parameters
    ----------
    host : Polygon
        A sloping ceiling; v climbs along it.
    mouth : Rectangle
        In its wall coordinates.
    roof_slope : float
        Fall per run of the dormer's roof towards its front; 0 for a level one.

    Returns
    -------
    Recess
        Four faces: ``front``, ``left`` and ``right`` (cheeks, as one sees them from inside), ``top``.

    Raises
    ------
    GeometryError
        When the surface is no slope, or the roof falls as steeply as it.
    """
    near = _corners(host, mouth)
    away = near[3] - near[0]
    run, rise = float(np.hypot(*away[:2])), float(away[2])
    front = rise - roof_slope * run
    if host.normal[2] > -1.0 + PARALLEL_TOLERANCE and host.normal[2] < -1e-3 and front > _LEAST_FRONT:
        up = np.array([0.0, 0.0, front])
        low, high = near[:2], near[:2] + up
        rings = [
            np.array([low[0], low[1], high[1], high[0]]),
            np.array([near[0], high[0], near[3]]),
            np.array([near[1], high[1], near[2]]),
            np.array([near[3], near[2], high[1], high[0]]),
        ]
        across = ("right", "left") if host.mirrored else ("left", "right")
        return _made(mouth, rings, ("front", *across, "top"), np.vstack([near, high]))
    raise GeometryError(
        f"its front would be {max(front, 0.0):.3f} m high",
        hint="a dormer needs a slope steeper than its roof",
    )


def _corners(host: Polygon, mouth: Rectangle) -> Array:
    low_u, low_v, high_u, high_v = mouth.bounds
    return host.to_room([[(low_u, high_u)[i], (low_v, high_v)[j]] for i, j in _ROUND])


def _made(mouth: Rectangle, rings: Sequence[Array], sides: tuple[str, ...], corners: Array) -> Recess:
    middle = corners.mean(axis=0)
    faces = tuple(Polygon.from_corners(ring, inside=middle - ring.mean(axis=0)) for ring in rings)
    return Recess(mouth, faces, sides, frozen(corners))


@dataclass(frozen=True, eq=False)
class Joined:
    """A room with one recess more.

    Parameters
    ----------
    polygons : tuple of Polygon or None
        The surfaces that were there, in their order, None for a host of which nothing is left; then the
        recess's faces.
    continued : tuple of int or None
        For each face, the surface that it continues in one plane.
    """

    polygons: tuple[Polygon | None, ...]
    continued: tuple[int | None, ...]


def join_recess(polygons: Sequence[Polygon], host: int, recess: Recess) -> Joined:
    """Open a surface to a recess.

    Parameters
    ----------
    polygons : sequence of Polygon
        Surfaces of a room, n of them.
    host : int
        Index of the surface of its mouth.
    recess : Recess
        The recess; it must not run into any surface.

    Returns
    -------
    Joined
        n + f surfaces; together they are closed. A face that continues a surface counts as that does.
    """
    made: list[Any] = list(polygons)
    rest = surface_part(shapely.difference(made[host].region, recess.mouth.shape()))
    made[host] = None if rest.area < SLIVER else made[host].with_region(rest)
    continued = [_continued(face, polygons, host) for face in recess.faces]
    for face, of in zip(recess.faces, continued, strict=True):
        made.append(face if of is None else _turned(face, polygons[of]))
    corners = np.concatenate([recess.corners, *(p.to_room(p.edges[:, 0]) for p in polygons)])
    count, old = len(recess.corners), len(polygons)
    # An edge is to have its corners wherever another surface begins: what holds at its middle holds for all.
    return Joined(
        tuple(
            None if p is None else _with_corners(p, corners[:count] if k < old else corners)
            for k, p in enumerate(made)
        ),
        tuple(continued),
    )


def _continued(face: Polygon, polygons: Sequence[Polygon], host: int) -> int | None:
    """Surface that a face lies in one plane with and touches."""
    rim = shapely.boundary(face.region)
    for k, p in enumerate(polygons):
        if k == host or face.normal @ p.normal < 1.0 - PARALLEL_TOLERANCE:
            continue
        if np.abs(p.height_above(face.to_room(face.edges[:, 0]))).max() > PLANE_TOLERANCE:
            continue
        other = shapely.boundary(p.in_frame_of(face)).buffer(10.0 * PLANE_TOLERANCE)
        if rim.intersection(other).length > _SHARED + 40.0 * PLANE_TOLERANCE:
            return k
    return None


def _turned(face: Polygon, like: Polygon) -> Polygon:
    """The same face with the axes of a surface in the same plane."""
    corners = face.to_room(face.edges[:, 0])
    return Polygon.from_corners(corners, inside=face.normal, u_axis=like.u_axis)


def _with_corners(polygon: Polygon, points: Array) -> Polygon:
    """The same surface; its outline has a corner at every given point that lies on it."""
    near = points[np.abs(polygon.height_above(points)) < PLANE_TOLERANCE]
    flat = polygon.to_wall(near)
    rim = shapely.boundary(polygon.region)
    flat = flat[shapely.distance(rim, shapely.points(flat)) < PLANE_TOLERANCE]
    parts = []
    for part in shapely.get_parts(polygon.region):
        rings = [_ring_with(np.asarray(r.coords)[:-1], flat) for r in (part.exterior, *part.interiors)]
        parts.append(shapely.Polygon(rings[0], rings[1:]))
    return polygon.with_region(parts[0] if len(parts) == 1 else shapely.MultiPolygon(parts))


def _ring_with(ring: Array, points: Array) -> Array:
    """Corners of a ring with those points between them that lie on its edges."""
    made: list[Array] = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        size = float(np.linalg.norm(b - a))
        along = (points - a) @ (b - a) / size
        off = np.abs((points - a) @ np.array([a[1] - b[1], b[0] - a[0]])) / size
        on = (off < PLANE_TOLERANCE) & (along > 10.0 * PLANE_TOLERANCE)
        marks = np.unique(np.round(along[on & (along < size - 10.0 * PLANE_TOLERANCE)], 6))
        marks = marks[np.diff(marks, prepend=-1.0) > 10.0 * PLANE_TOLERANCE]
        made += [a, *(a + t / size * (b - a) for t in marks)]
    return np.array(made)


def runs_into(body: Array, polygons: Sequence[Polygon], triangles: tuple[Array, Any]) -> list[int]:
    """Surfaces that reach into a body.

    Parameters
    ----------
    body : numpy.ndarray
        Corners of a convex body, shape (k, 3), m.
    polygons : sequence of Polygon
        Surfaces, n of them.
    triangles : tuple
        Of the surfaces, shape (t, 3, 3), m, and the surface of each, shape (t,).

    Returns
    -------
    list of int
        Indices of surfaces, ascending.
    """
    corners, owner = triangles
    low, high = body.min(axis=0), body.max(axis=0)
    near = np.all((corners.max(axis=1) > low) & (corners.min(axis=1) < high), axis=1)
    found = {int(owner[k]) for k in np.flatnonzero(near) if bodies_meet(body, corners[k])}
    return sorted(found & set(range(len(polygons))))
