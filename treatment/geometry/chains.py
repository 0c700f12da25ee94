"""Edges strung together to closed ways."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array

Indices = NDArray[np.intp]

#: A corner that leaves the line of its neighbours by less is none (m): what single precision leaves.
STRAIGHT = 2e-6


def closed_chains(edges: Indices) -> list[Indices]:
    """String edges together, whichever way each is given.

    Parameters
    ----------
    edges : numpy.ndarray
        Two corners each, shape (k, 2).

    Returns
    -------
    list of numpy.ndarray
        Corners of each way, in order; a way that does not close ends where it ends.
    """
    at: dict[int, list[int]] = {}
    for k, (a, b) in enumerate(edges.tolist()):
        at.setdefault(a, []).append(k)
        at.setdefault(b, []).append(k)
    used = [False] * len(edges)
    table = edges.tolist()
    chains = []
    for k in range(len(edges)):
        if used[k]:
            continue
        start, here = table[k]
        used[k] = True
        way = [start]
        while here != start:
            way.append(here)
            following = next((e for e in at[here] if not used[e]), None)
            if following is None:
                break
            used[following] = True
            a, b = table[following]
            here = b if a == here else a
        chains.append(np.array(way, dtype=np.intp))
    return chains


def bends(corners: Array, sizes: Indices) -> NDArray[np.bool_]:
    """Tell which corners of rings bend; the others lie in a straight run.

    Parameters
    ----------
    corners : numpy.ndarray
        Corners of all rings, one ring after the other, shape (n, 2), m; the last of a ring is not its
        first again.
    sizes : numpy.ndarray
        Number of corners of each ring, shape (r,).

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool; all of a ring where fewer than three would be left of it.
    """
    last = np.cumsum(sizes) - 1
    first = last - sizes + 1
    before, after = np.arange(-1, len(corners) - 1), np.arange(1, len(corners) + 1)
    before[first], after[last] = last, first
    chord, leg = corners[after] - corners[before], corners - corners[before]
    off = np.abs(chord[:, 0] * leg[:, 1] - chord[:, 1] * leg[:, 0])
    bent = off > STRAIGHT * np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-12)
    left = np.add.reduceat(bent.astype(np.int64), first)
    return np.asarray(bent | np.repeat(left < 3, sizes))
