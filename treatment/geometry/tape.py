"""Where a tape that is laid from a panel along its surface meets the outline of the surface."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from treatment.geometry.polygon import POINT_TOLERANCE, Polygon, Rectangle

#: A tape needs this much of an edge to be laid square to it, m. Common practice: the width of a tape.
TAPE_WIDTH: Final = 0.025


@dataclass(frozen=True)
class TapeEnd:
    """Place of an outline that a tape meets.

    Parameters
    ----------
    at : float
        Its wall coordinate along the tape, m.
    across : float
        Wall coordinate of the tape on the other axis, m.
    square : bool
        Whether the edge there runs square to the tape, so that it may lie anywhere along that edge.
    """

    at: float
    across: float
    square: bool


def tape_end(polygon: Polygon, rectangle: Rectangle | None, axis: int) -> TapeEnd:
    """Where a tape from a rectangle's lower side meets the outline, towards lower coordinates.

    Parameters
    ----------
    polygon : Polygon
        The surface; its outline may be non-convex and have holes.
    rectangle : Rectangle or None
        In its wall coordinates; None for the whole surface, from its upper side.
    axis : {0, 1}
        Along u or along v.

    Returns
    -------
    TapeEnd
        Of the edges seen from the rectangle's side: the one square to the tape that is seen along the
        longest stretch; where there is none, the place met along the rectangle's lower corner. Where the
        rectangle lies outside the surface: the side of the surface's bounding rectangle.
    """
    bounds = polygon.bounds
    low, high = rectangle.bounds[1 - axis :: 2] if rectangle else bounds[1 - axis :: 2]
    start = rectangle.bounds[axis] if rectangle else bounds[axis + 2]
    ends = np.sort(polygon.edges[..., 1 - axis], axis=1)
    marks = polygon.edges[..., 1 - axis].ravel()
    cuts = np.unique([low, high, *marks[(marks > low) & (marks < high)]])
    seen: dict[float, list[tuple[float, float]]] = {}
    for first, last in pairwise(cuts):
        middle = (first + last) / 2.0
        hit = _met(polygon, axis, start, float(middle), whole=rectangle is None)
        if hit is not None and hit[1]:
            seen.setdefault(round(hit[0], 5), []).append((float(last - first), float(middle)))
    lengths = {at: sum(length for length, _ in stretches) for at, stretches in seen.items()}
    long = {at: length for at, length in lengths.items() if length >= min(TAPE_WIDTH, high - low) - 1e-9}
    if long:
        # Of equally long ones the nearer to the rectangle; rounded, so that noise does not choose.
        at = max(long, key=lambda a: (round(long[a], 4), a))
        return TapeEnd(at, max(seen[at])[1], square=True)
    line = float(np.clip(low + 1e-4, ends.min() + 1e-4, ends.max() - 1e-4))
    hit = _met(polygon, axis, start, line, whole=rectangle is None)
    if hit is not None:
        return TapeEnd(hit[0], line, square=hit[1])
    return TapeEnd(float(bounds[axis]), float((low + high) / 2.0), square=True)


def _met(polygon: Polygon, axis: int, start: float, line: float, *, whole: bool) -> tuple[float, bool] | None:
    """First place of the outline below a start along one line, and whether its edge is square to it."""
    along, across = polygon.edges[..., axis], polygon.edges[..., 1 - axis]
    spans = (across.min(axis=1) < line) & (across.max(axis=1) > line)
    (a, b), (p, q) = along[spans].T, across[spans].T
    places = a + (b - a) * (line - p) / (q - p)
    ahead = places <= start + 10.0 * POINT_TOLERANCE
    if not ahead.any():
        return None
    # For the whole surface the outermost edge counts, not the one beyond a hole or a notch.
    best = (
        np.argmin(np.where(ahead, places, np.inf)) if whole else np.argmax(np.where(ahead, places, -np.inf))
    )
    return float(places[best]), bool(abs(a[best] - b[best]) < 10.0 * POINT_TOLERANCE)
