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
    count = len(before.order)
    rows = [np.column_stack([a.source, a.seat, _padded(a)]) for a in (before, after)]
    code = np.zeros(count + len(after.order), dtype=np.intp)
    for column in np.concatenate(rows).T:
        # Numbered anew after every column, so that no room has too many surfaces for it.
        code = np.unique(code * (int(column.max(initial=0)) + 2) + column + 1, return_inverse=True)[1].ravel()
    again = np.full(int(code.max(initial=0)) + 1, -1, dtype=np.intp)
    again[code[count:]] = np.arange(len(code) - count)
    return again[code[:count]]


def _padded(a: Arrivals) -> Indices:
    """Surfaces of every path, -1 after its last one, three however many were traced."""
    return np.pad(a.surfaces, ((0, 0), (0, 3 - a.surfaces.shape[1])), constant_values=-1)
