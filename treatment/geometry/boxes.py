"""Boxes in the room, in any direction: whether they meet, how far apart they are, what cuts them.

Two convex bodies are apart exactly when some direction separates them; for two boxes, or a box and a
triangle, it is enough to try the normals of both and the cross products of their edges.

References
----------
Gottschalk, Lin & Manocha, OBBTree, Proc. SIGGRAPH 1996, section 5 (two boxes). Akenine-Moeller, Fast 3D
triangle-box overlap testing, J. Graphics Tools 6 (2001) 29 (box and triangle). Both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.polygon import Polygon, Rectangle

#: Bodies may touch, and share this much (m): less than any building work holds.
CONTACT: Final = 1e-3
#: Pairs of a box and a triangle looked at together; bounds the memory.
_PAIRS: Final = 4_000_000


@dataclass(frozen=True, eq=False)
class Boxes:
    """Boxes in any direction; n of them.

    Parameters
    ----------
    centre : numpy.ndarray
        Shape (n, 3), m.
    axes : numpy.ndarray
        Unit vectors along the edges, one a row, shape (n, 3, 3).
    half : numpy.ndarray
        Half the extent along each of them, shape (n, 3), m.
    """

    centre: Array
    axes: Array
    half: Array

    def __len__(self) -> int:
        return len(self.centre)

    @cached_property
    def bounds(self) -> Array:
        """Lowest and highest corners in the room, shape (n, 2, 3), m."""
        reach = np.einsum("nk,nki->ni", self.half, np.abs(self.axes))
        return frozen(np.stack([self.centre - reach, self.centre + reach], axis=1))

    def taken(self, which: NDArray[np.intp] | NDArray[np.bool_]) -> Boxes:
        """Return some of them.

        Parameters
        ----------
        which : numpy.ndarray
            Indices or flags.

        Returns
        -------
        Boxes
            In that order.
        """
        some = Boxes(self.centre[which], self.axes[which], self.half[which])
        # Bounds that are known already need not be worked out again.
        if "bounds" in self.__dict__:
            some.__dict__["bounds"] = self.bounds[which]
        return some

    @classmethod
    def between(cls, bounds: Array) -> Boxes:
        """Make boxes along the room's axes.

        Parameters
        ----------
        bounds : numpy.ndarray
            Lowest and highest corners, shape (n, 2, 3), m.

        Returns
        -------
        Boxes
            n boxes with axes along x, y and z.
        """
        b = np.asarray(bounds, dtype=np.float64).reshape(-1, 2, 3)
        axes = np.broadcast_to(np.eye(3), (len(b), 3, 3))
        return cls(b.mean(axis=1), axes, (b[:, 1] - b[:, 0]) / 2.0)

    @classmethod
    def joined(cls, parts: list[Boxes]) -> Boxes:
        """Put several sets behind each other.

        Parameters
        ----------
        parts : list of Boxes
            Any number, none included.

        Returns
        -------
        Boxes
            As many as all sets hold, in their order; empty without sets.
        """
        if not parts:
            return cls(np.zeros((0, 3)), np.zeros((0, 3, 3)), np.zeros((0, 3)))
        return cls(
            np.concatenate([p.centre for p in parts]),
            np.concatenate([p.axes for p in parts]),
            np.concatenate([p.half for p in parts]),
        )


def boxes_on(polygon: Polygon, table: Array, depth: float, out: float = 0.0) -> Boxes:
    """Boxes that stand on rectangles of a surface.

    Parameters
    ----------
    polygon : Polygon
        The surface.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    depth : float
        How far they reach into the room from where they begin, m.
    out : float
        Where they begin, from the surface into the room, m.

    Returns
    -------
    Boxes
        Axes u, v and the normal.
    """
    t = np.asarray(table, dtype=np.float64).reshape(-1, 4)
    centre = polygon.to_room((t[:, :2] + t[:, 2:]) / 2.0, out=out + depth / 2.0)
    frame = np.stack([polygon.u_axis, polygon.v_axis, polygon.normal])
    half = np.column_stack([(t[:, 2:] - t[:, :2]) / 2.0, np.full(len(t), depth / 2.0)])
    return Boxes(centre, np.broadcast_to(frame, (len(t), 3, 3)), half)


def box_on(polygon: Polygon, rectangle: Rectangle, depth: float) -> Boxes:
    """One box that stands on a rectangle of a surface.

    Parameters
    ----------
    polygon : Polygon
        The surface.
    rectangle : Rectangle
        In its wall coordinates.
    depth : float
        How far it reaches into the room, m.

    Returns
    -------
    Boxes
        One.
    """
    return boxes_on(polygon, np.array([rectangle.bounds]), depth)


def gaps(a: Boxes, b: Boxes) -> Array:
    """Distance between boxes of two sets.

    Parameters
    ----------
    a, b : Boxes
        n and m boxes.

    Returns
    -------
    numpy.ndarray
        Shape (n, m), m. Exact for boxes whose edges run parallel; for others the widest slab between them,
        which is never more than the distance. Negative where they meet: how far they reach into each other.
    """
    n, m = len(a), len(b)
    if n == 0 or m == 0:
        return np.zeros((n, m))
    between = b.centre[None] - a.centre[:, None]
    u, w = np.broadcast_to(a.axes[:, None], (n, m, 3, 3)), np.broadcast_to(b.axes[None], (n, m, 3, 3))
    cross = np.cross(u[:, :, :, None], w[:, :, None, :]).reshape(n, m, 9, 3)
    length = np.linalg.norm(cross, axis=-1, keepdims=True)
    real = length[..., 0] > 1e-6
    cross = cross / np.where(length > 1e-6, length, 1.0)
    directions = np.concatenate([u, w, cross], axis=2)
    reach = np.einsum("nk,nmdk->nmd", a.half, np.abs(np.einsum("nki,nmdi->nmdk", a.axes, directions)))
    reach += np.einsum("mk,nmdk->nmd", b.half, np.abs(np.einsum("mki,nmdi->nmdk", b.axes, directions)))
    slab = np.abs(np.einsum("nmi,nmdi->nmd", between, directions)) - reach
    slab[:, :, 6:][~real] = -np.inf
    widest = slab.max(axis=2)
    turn = np.abs(np.einsum("nmki,nmli->nmkl", u, w))
    parallel = np.all((turn < 1e-6) | (turn > 1.0 - 1e-9), axis=(2, 3))
    apart = np.linalg.norm(np.maximum(slab[:, :, :3], 0.0), axis=2)
    return np.asarray(np.where(parallel & (apart > 0.0), apart, widest))


def meets(a: Boxes, b: Boxes, distance: float = 0.0) -> NDArray[np.bool_]:
    """Tell which boxes come nearer to each other than they may.

    Parameters
    ----------
    a, b : Boxes
        n and m boxes.
    distance : float
        Least distance, m; `CONTACT` less is let pass.

    Returns
    -------
    numpy.ndarray
        Shape (n, m), bool.
    """
    near = np.zeros((len(a), len(b)), dtype=bool)
    if len(a) == 0 or len(b) == 0:
        return near
    outer_a, outer_b = a.bounds, b.bounds
    common = np.minimum(outer_a[:, None, 1], outer_b[None, :, 1])
    common -= np.maximum(outer_a[:, None, 0], outer_b[None, :, 0])
    # What is apart along an axis of the room needs no second look.
    close = np.all(common > CONTACT - distance, axis=2)
    for j in np.flatnonzero(close.any(axis=0)):
        rows = np.flatnonzero(close[:, j])
        apart = gaps(a.taken(rows), b.taken(np.array([j])))[:, 0]
        near[rows, j] = apart < distance - CONTACT
    return near


def cut_by(
    polygon: Polygon, table: Array, depth: float, triangles: Array, out: float = 0.0
) -> NDArray[np.bool_]:
    """Tell which boxes on a surface have a piece of another surface inside them.

    Parameters
    ----------
    polygon : Polygon
        The surface that they stand on.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    depth : float
        How far they reach into the room from where they begin, m.
    triangles : numpy.ndarray
        Of all surfaces, shape (t, 3, 3), m; what only touches a box within `CONTACT` does not count.
    out : float
        Where they begin, from the surface into the room, m.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    t = np.asarray(table, dtype=np.float64).reshape(-1, 4)
    hit = np.zeros(len(t), dtype=bool)
    slack = min(CONTACT, 0.25 * depth)
    low = np.column_stack([t[:, :2] + slack, np.full(len(t), out + slack)])
    high = np.column_stack([t[:, 2:] - slack, np.full(len(t), out + depth - slack)])
    if len(t) == 0:
        return hit
    frame = np.stack([polygon.u_axis, polygon.v_axis, polygon.normal])
    local = (triangles - polygon.origin) @ frame.T
    # Of a mesh only what comes near one of the boxes is worth a look.
    near = np.all((local.max(axis=1) > low.min(axis=0)) & (local.min(axis=1) < high.max(axis=0)), axis=1)
    local = local[near]
    if len(local) == 0:
        return hit
    bottom, top = local.min(axis=1), local.max(axis=1)
    step = max(1, _PAIRS // len(local))
    for k in range(0, len(t), step):
        part = slice(k, k + step)
        close = np.all((top[None] > low[part, None]) & (bottom[None] < high[part, None]), axis=2)
        box, triangle = np.nonzero(close)
        cut = _cut(low[part][box], high[part][box], local[triangle])
        hit[k + box[cut]] = True
    return hit


def _cut(low: Array, high: Array, triangles: Array) -> NDArray[np.bool_]:
    """Whether boxes along the axes and triangles share a point, pair by pair, shape (k,)."""
    half = (high - low) / 2.0
    corners = triangles - ((low + high) / 2.0)[:, None]
    edges = np.roll(corners, -1, axis=1) - corners
    normal = np.cross(edges[:, 0], edges[:, 1])
    crosses = np.cross(np.eye(3)[None, :, None], edges[:, None]).reshape(-1, 9, 3)
    directions = np.concatenate([normal[:, None], crosses], axis=1)
    along = np.einsum("kdi,kci->kdc", directions, corners)
    reach = np.einsum("ki,kdi->kd", half, np.abs(directions))
    apart = (along.min(axis=2) > reach) | (along.max(axis=2) < -reach)
    return np.asarray(~apart.any(axis=1), dtype=bool)
