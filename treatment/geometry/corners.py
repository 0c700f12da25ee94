"""Upright inner corners of a room, and the body of a panel that stands across one.

The back of the panel touches both walls at equal distances from the corner, its *legs*; its faces are at
right angles to the line that halves the corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from treatment.bands import Array, frozen
from treatment.geometry.boxes import Boxes, boxes_on
from treatment.geometry.bunches import bunches
from treatment.geometry.polygon import Polygon

#: Edges of two walls nearer to each other than this are one corner (m): a tape is no better.
_SAME: float = 2e-3
#: A wall whose normal rises or falls more than this leans: no upright panel lies against it.
_LEANS: float = 2e-3
#: An edge shorter than this is no corner to stand in (m).
_SHORT: float = 0.05


@dataclass(frozen=True, eq=False)
class Corner:
    """An upright inner corner between two walls.

    Parameters
    ----------
    walls : tuple of int
        Indices of the two walls.
    foot : numpy.ndarray
        Its lowest point, shape (3,), m.
    along : numpy.ndarray
        Unit vectors from the corner along the first and the second wall, shape (2, 3).
    height : float
        How far it reaches up, m.
    """

    walls: tuple[int, int]
    foot: Array
    along: Array
    height: float

    @property
    def angle(self) -> float:
        """Angle of the air between the walls, rad."""
        return float(np.arccos(np.clip(self.along[0] @ self.along[1], -1.0, 1.0)))

    @property
    def outward(self) -> Array:
        """Unit vector from the corner into the room, halfway between the walls, shape (3,)."""
        halfway = self.along[0] + self.along[1]
        return np.asarray(halfway / np.linalg.norm(halfway))

    def leg(self, width: float) -> float:
        """Length of wall behind a panel's back, from the corner, m.

        Parameters
        ----------
        width : float
            Of the panel, m: the chord between two equal legs.
        """
        return width / (2.0 * float(np.sin(self.angle / 2.0)))

    def setback(self, width: float) -> float:
        """Distance of the middle of a panel's back from the corner, m.

        Parameters
        ----------
        width : float
            Of the panel, m.
        """
        return self.leg(width) * float(np.cos(self.angle / 2.0))

    def gap(self, width: float) -> float:
        """Mean depth of the air behind a panel's back: half the setback of a triangle, m.

        Parameters
        ----------
        width : float
            Of the panel, m.
        """
        return 0.5 * self.setback(width)


def inner_corners(polygons: Sequence[Polygon], walls: Sequence[int]) -> tuple[Corner, ...]:
    """Find the upright corners where two walls meet and the air is inside.

    Parameters
    ----------
    polygons : sequence of Polygon
        Surfaces of a room.
    walls : sequence of int
        Which of them are walls; those that lean are left aside.

    Returns
    -------
    tuple of Corner
        In the order of the first wall's index, then the second's; of the two walls of a corner the one that
        looks more to the front or back comes first, so that left and right are alike.
    """
    edges = [(i, line) for i in walls for line in _upright(polygons[i])]
    found: dict[tuple[int, int, int], Corner] = {}
    for k, (i, a) in enumerate(edges):
        for j, b in edges[k + 1 :]:
            low, high = max(a[0, 2], b[0, 2]), min(a[1, 2], b[1, 2])
            if i == j or np.hypot(*(a[0, :2] - b[0, :2])) > _SAME or high - low < _SHORT:
                continue
            into = np.array([_into(polygons[w], 0.5 * (low + high), a[0]) for w in (i, j)])
            # The air lies between the walls where each of them runs to the side that the other looks to.
            if into[0] @ polygons[j].normal < 1e-3 or into[1] @ polygons[i].normal < 1e-3:
                continue
            faces = [abs(float(polygons[w].normal[0])) for w in (i, j)]
            turned = faces[1] > faces[0] + 1e-9 or (abs(faces[1] - faces[0]) <= 1e-9 and j < i)
            pair = (j, i) if turned else (i, j)
            corner = Corner(
                pair,
                frozen([a[0, 0], a[0, 1], low]),
                frozen(into[::-1] if turned else into),
                float(high - low),
            )
            found[*pair, round(float(low) * 1e3)] = corner
    return tuple(found[key] for key in sorted(found))


def _upright(polygon: Polygon) -> list[Array]:
    """Upright edges of a wall in the room, lower end first, pieces of one line joined, shape (2, 3) each."""
    if abs(float(polygon.normal[2])) > _LEANS:
        return []
    edges = polygon.to_room(polygon.edges)
    rise, run = np.abs(edges[:, 1, 2] - edges[:, 0, 2]), np.diff(edges[..., :2], axis=1)[:, 0]
    edges = edges[(rise > 1e-3) & (np.hypot(run[:, 0], run[:, 1]) < _SAME)]
    # Pieces of one line need not start in the very same place to the last digit.
    x, y = (bunches(edges[:, 0, i], _SAME) for i in range(2))
    lines: dict[tuple[int, int], list[Array]] = {}
    for key, ends in zip(zip(x.tolist(), y.tolist(), strict=True), edges, strict=True):
        lines.setdefault(key, []).append(ends[np.argsort(ends[:, 2])])
    joined = []
    for pieces in lines.values():
        pieces.sort(key=lambda e: float(e[0, 2]))
        run = pieces[0].copy()
        for piece in pieces[1:]:
            if piece[0, 2] <= run[1, 2] + _SAME:
                run[1] = piece[1] if piece[1, 2] > run[1, 2] else run[1]
            else:
                joined.append(run)
                run = piece.copy()
        joined.append(run)
    return joined


def _into(polygon: Polygon, level: float, edge: Array) -> Array:
    """Level unit vector in a wall's plane, away from one of its upright edges into the wall, shape (3,)."""
    along = np.cross(polygon.normal, [0.0, 0.0, 1.0])
    along = along / np.linalg.norm(along)
    near = np.array([edge[0], edge[1], level])
    inside = shapely.Point(*polygon.to_wall(near + 0.01 * along)).within(polygon.region)
    return np.asarray(along if inside else -along)


def back_plane(corner: Corner, width: float, bottom: float, height: float) -> Polygon:
    """Rectangle through the corner that the body of a panel is drawn out from, toward the room.

    Parameters
    ----------
    corner : Corner
        Where the panel stands.
    width, height : float
        Of the panel, m.
    bottom : float
        Height of its lower edge above the corner's foot, m.

    Returns
    -------
    Polygon
        Origin at the lower end of one side, u level, v up, normal into the room. What lies in front of it
        and between the walls, as deep as setback and thickness together, is the body with the space behind.
    """
    normal = corner.outward
    across = np.cross([0.0, 0.0, 1.0], normal)
    origin = corner.foot + np.array([0.0, 0.0, bottom]) - 0.5 * width * across
    return Polygon(
        frozen(origin),
        frozen(across),
        frozen([0.0, 0.0, 1.0]),
        frozen(normal),
        shapely.box(0, 0, width, height),
    )


def corner_box(corner: Corner, width: float, bottom: float, height: float, thickness: float) -> Boxes:
    """Body of a panel with the space behind it, as a box that holds nothing else of the air.

    Parameters
    ----------
    corner : Corner
        Where the panel stands.
    width, height, thickness : float
        Of the panel, m.
    bottom : float
        Height of its lower edge above the corner's foot, m.

    Returns
    -------
    Boxes
        One. Its back half reaches through the walls; between them it is the prism of `corner_solid`.
    """
    plane = back_plane(corner, width, bottom, height)
    table = np.array([[0.0, 0.0, width, height]])
    return boxes_on(plane, table, corner.setback(width) + thickness)


def corner_solid(
    corner: Corner, width: float, bottom: float, height: float, thickness: float
) -> tuple[Polygon, ...]:
    """Surfaces of a panel across a corner with the space behind it, normals into the room's air.

    Parameters
    ----------
    corner : Corner
        Where the panel stands.
    width, height, thickness : float
        Of the panel, m.
    bottom : float
        Height of its lower edge above the corner's foot, m.

    Returns
    -------
    tuple of Polygon
        The face; the edges at the first and the second wall; what lies against these walls; bottom and top.
        Seen from above a pentagon: the corner, the ends of the two legs, the two front edges.
    """
    base = corner.foot + np.array([0.0, 0.0, bottom])
    leg, outward = corner.leg(width), corner.outward
    first, second = base + leg * corner.along[0], base + leg * corner.along[1]
    ring = [base, first, first + thickness * outward, second + thickness * outward, second]
    up = np.array([0.0, 0.0, height])
    across = (first - second) / np.linalg.norm(first - second)

    def upright(a: Array, b: Array, way: Array) -> Polygon:
        return Polygon.from_corners(np.array([a, b, b + up, a + up]), inside=way)

    def behind(a: Array, other: Array) -> Polygon:
        # It looks at its wall: away from where the other wall runs.
        along = (a - base) / leg
        way = other - (other @ along) * along
        return upright(base, a, -way)

    return (
        upright(ring[2], ring[3], outward),
        upright(ring[1], ring[2], across),
        upright(ring[4], ring[3], -across),
        behind(first, corner.along[1]),
        behind(second, corner.along[0]),
        Polygon.from_corners(np.array(ring), inside=[0.0, 0.0, -1.0]),
        Polygon.from_corners(np.array([p + up for p in ring]), inside=[0.0, 0.0, 1.0]),
    )
