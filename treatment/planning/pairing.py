"""The same path before and after: a panel that stands in the room stops some and adds others."""

from __future__ import annotations

from collections.abc import Iterator

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
    found = {key: j for j, key in enumerate(_keys(after))}
    return np.array([found.get(key, -1) for key in _keys(before)], dtype=np.intp)


def _keys(a: Arrivals) -> Iterator[tuple[int, ...]]:
    """Loudspeaker, seat and surfaces of every path."""
    for source, seat, surfaces in zip(a.source.tolist(), a.seat.tolist(), a.surfaces.tolist(), strict=True):
        yield (source, seat, *(s for s in surfaces if s >= 0))
