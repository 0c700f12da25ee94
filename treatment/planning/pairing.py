"""The same path before and after: a panel that stands in the room stops some and adds others."""

from __future__ import annotations

import numpy as np

from treatment.planning.plan import Arrivals, Indices


def same_paths(before: Arrivals, after: Arrivals) -> Indices:
    """Find every path again.

    Parameters
    ----------
    before, after : Arrivals
        Of one room, whose own surfaces have the same indices in both.

    Returns
    -------
    numpy.ndarray
        Index after of each path before, shape (n,); -1 where it does not arrive any more.
    """
    found = {_key(after, j): j for j in range(len(after.order))}
    return np.array([found.get(_key(before, i), -1) for i in range(len(before.order))], dtype=np.intp)


def _key(a: Arrivals, i: int) -> tuple[int, ...]:
    return (int(a.source[i]), int(a.seat[i]), *(int(s) for s in a.surfaces[i] if s >= 0))
