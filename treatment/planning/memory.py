"""What one evaluation worked out and the next one needs again: paths, and the shares of panels.

A person who moves one seat of five, or one panel of thirty, changes few of the numbers. Nothing is
approximated: a number is taken again only where everything that it depends on is the same bit by bit, and
`evaluate` gives the same result with a memory and without one.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.bounces import Bounces
from treatment.acoustics.fresnel import Complex, patch_shares
from treatment.acoustics.image_sources import Paths, find_paths, joined
from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure

Indices = NDArray[np.intp]
Marks = NDArray[np.uint64]
Result = TypeVar("Result")
#: ``(u_low, v_low, u_high, v_high)`` in wall coordinates, m.
Bounds = tuple[float, float, float, float]
#: Which known row each row may be, and whether it is; None when all are the same in the same order.
_Match = tuple[Indices, NDArray[np.bool_]] | None

#: Pairs of a bounce and a patch worked on at once: arrays that fit the processor's cache are three times
#: faster.
_CHUNK = 500
#: Pairs whose shares are held while they are put together; bounds the memory, about 30 MB.
_POOL = 200_000
#: Pairs that are remembered, about 200 bytes each.
_MOST_PAIRS = 300_000
#: Pairs of a loudspeaker and a seat whose paths are remembered.
_MOST_ENDS = 2_000
#: Results that are remembered by everything they depend on.
_MOST_RESULTS = 4
#: An odd 64-bit number far from any power of two (the golden ratio's fraction), to mix bits with.
_MIXER = np.uint64(0x9E3779B97F4A7C15)


class _Rows:
    """What numbers depend on, row by row, with a short mark of each by which it is found.

    Parameters
    ----------
    rows : numpy.ndarray
        Shape (n, k).
    """

    def __init__(self, rows: Array) -> None:
        self.rows = rows
        self.marks = _marks(rows)

    def __len__(self) -> int:
        return len(self.marks)

    @cached_property
    def order(self) -> Indices:
        """Puts the marks in order, shape (n,)."""
        return np.argsort(self.marks, kind="stable")

    def among(self, known: _Rows) -> _Match:
        """Which known row each row may be, and whether it is; None when all are the same in the same order.

        Parameters
        ----------
        known : _Rows
            Of earlier.
        """
        if known is self or (len(known) == len(self) and np.array_equal(known.rows, self.rows)):
            return None
        if len(known) == 0 or len(self) == 0:
            return np.zeros(len(self), dtype=np.intp), np.zeros(len(self), dtype=bool)
        at = np.searchsorted(known.marks, self.marks, sorter=known.order)
        at = known.order[np.minimum(at, len(known) - 1)]
        # Two rows may have one mark: only the same numbers have the same result.
        return at, (known.rows[at] == self.rows).all(axis=1)


@dataclass(frozen=True, eq=False)
class _Known:
    """Shares of one patch in bounces.

    Parameters
    ----------
    rows : _Rows
        What the shares depend on, n rows; patches of one surface have them in common.
    share : numpy.ndarray
        What belongs to them, first axis n.
    """

    rows: _Rows
    share: NDArray[Any]


class Memory:
    """Results of earlier evaluations. One thread at a time may use it; it is bounded in size."""

    def __init__(self) -> None:
        self._known: dict[tuple[Any, ...], _Known] = {}
        self._pairs = 0
        self._paths: dict[tuple[bytes, bytes, bytes], Paths] = {}
        self._results: dict[bytes, Any] = {}

    def result(self, key: bytes, make: Callable[[], Result]) -> Result:
        """Return what was made for a key, or make it.

        Parameters
        ----------
        key : bytes
            Of everything that the result depends on: see `key_of`.
        make : callable
            Makes it.
        """
        found: Result = self._results.pop(key) if key in self._results else make()
        self._results[key] = found
        while len(self._results) > _MOST_RESULTS:
            del self._results[next(iter(self._results))]
        return found

    def paths(self, enclosure: Enclosure, sources: Array, receivers: Array, order: int) -> Paths:
        """Find paths as `find_paths` does; those between ends that have not moved are known.

        Parameters
        ----------
        enclosure : Enclosure
            The room.
        sources : numpy.ndarray
            Shape (s, 3), m.
        receivers : numpy.ndarray
            Shape (r, 3), m.
        order : int
            Highest number of reflections.

        Returns
        -------
        Paths
            In the order of `find_paths`.
        """
        room = key_of(enclosure, order)
        keys = [[(room, s.tobytes(), r.tobytes()) for r in receivers] for s in sources]
        missing = np.array([[k not in self._paths for k in row] for row in keys], dtype=bool)
        if missing.size == 0:
            return find_paths(enclosure, sources, receivers, order)
        if missing.any():
            i, j = (np.flatnonzero(missing.any(axis=k)).tolist() for k in (1, 0))
            found = find_paths(enclosure, sources[i], receivers[j], order)
            for a, s in enumerate(i):
                for b, r in enumerate(j):
                    mine = np.flatnonzero((found.source == a) & (found.receiver == b))
                    self._paths[keys[s][r]] = found.taken(mine)
        parts = []
        for s, row in enumerate(keys):
            for r, key in enumerate(row):
                known = self._paths[key] = self._paths.pop(key)
                parts.append(
                    replace(
                        known, source=np.full_like(known.source, s), receiver=np.full_like(known.receiver, r)
                    )
                )
        while len(self._paths) > max(_MOST_ENDS, missing.size):
            del self._paths[next(iter(self._paths))]
        return joined(parts)

    def rows(self, key: bytes, rows: Array, make: Callable[[Indices], NDArray[Any]]) -> NDArray[Any]:
        """Return numbers that belong to rows; only those of unknown rows are made.

        Parameters
        ----------
        key : bytes
            Of everything else that the numbers depend on: see `key_of`.
        rows : numpy.ndarray
            What each row's numbers depend on, shape (n, k).
        make : callable
            Makes the numbers of the rows whose indices it is given, first axis first.

        Returns
        -------
        numpy.ndarray
            First axis n.
        """
        asked, known = _Rows(rows), self._known.get((key,))
        matched = None if known is None else asked.among(known.rows)
        found, missing = _recalled(known, matched, len(asked))
        if found is None:
            found = make(missing)
        elif len(missing):
            found[missing] = make(missing)
        self._keep((key,), _Known(asked, found))
        return found.copy()

    def shares(
        self,
        bounces: Bounces,
        patches: Sequence[tuple[int, Bounds]],
        speed_of_sound: float,
        frequency_hz: Array,
    ) -> Iterator[tuple[int, Indices, Complex]]:
        """Work out the shares of patches in all bounces off their surfaces.

        Parameters
        ----------
        bounces : Bounces
            m bounces.
        patches : sequence of (int, tuple)
            Surface and rectangle of each.
        speed_of_sound : float
            m/s.
        frequency_hz : numpy.ndarray
            Shape (f,).

        Yields
        ------
        patch : int
            Index of the patch, in order.
        here : numpy.ndarray
            Bounces off its surface, shape (n,).
        share : numpy.ndarray
            As from `patch_shares`, shape (n, f).
        """
        rows = bounce_rows(bounces)
        of_surface = {s: np.flatnonzero(bounces.surface == s) for s in {s for s, _ in patches}}
        asked = {s: _Rows(rows[here]) for s, here in of_surface.items()}
        total = np.cumsum([len(of_surface[s]) for s, _ in patches])
        first = 0
        while first < len(patches):
            done = int(total[first - 1]) if first else 0
            last = max(first + 1, int(np.searchsorted(total, done + _POOL)))
            group = patches[first:last]
            found = self._group([asked[s] for s, _ in group], group, speed_of_sound, frequency_hz)
            for k, share in enumerate(found):
                yield first + k, of_surface[group[k][0]], share
            first = last

    def _group(
        self,
        asked: Sequence[_Rows],
        group: Sequence[tuple[int, Bounds]],
        speed_of_sound: float,
        frequency_hz: Array,
    ) -> list[Complex]:
        """Shares of some patches: those that are known, and all others worked out together."""
        # The surface only keeps alike rectangles on two walls apart: each has bounces of its own.
        keys = [(*patch, speed_of_sound, frequency_hz.tobytes()) for patch in group]
        found: list[Complex] = []
        gaps: list[Indices] = []
        # Patches of one surface have their rows in common: these are compared once.
        compared: dict[tuple[int, int], _Match] = {}
        for key, mine in zip(keys, asked, strict=True):
            known = self._known.get(key)
            matched = None
            if known is not None:
                pair = id(known.rows), id(mine)
                if pair not in compared:
                    compared[pair] = mine.among(known.rows)
                matched = compared[pair]
            share, missing = _recalled(known, matched, len(mine))
            whole = (len(mine), len(frequency_hz))
            found.append(np.empty(whole, dtype=np.complex128) if share is None else share)
            gaps.append(missing)
        rows = np.concatenate([mine.rows[k] for mine, k in zip(asked, gaps, strict=True)])
        counts = [len(k) for k in gaps]
        bounds = np.repeat(np.array([b for _, b in group]), counts, axis=0)
        fresh = np.empty((len(rows), len(frequency_hz)), dtype=np.complex128)
        for k in range(0, len(rows), _CHUNK):
            part = slice(k, k + _CHUNK)
            r = rows[part]
            fresh[part] = patch_shares(
                r[:, 0:2], r[:, 2:4], r[:, 4], r[:, 5], r[:, 6], bounds[part], speed_of_sound, frequency_hz
            )
        start = 0
        for key, mine, share, missing in zip(keys, asked, found, gaps, strict=True):
            if len(missing):
                share[missing] = fresh[start : start + len(missing)]
                start += len(missing)
            self._keep(key, _Known(mine, share))
        return found

    def _keep(self, key: tuple[Any, ...], known: _Known) -> None:
        """Remember, the latest last; forget the oldest."""
        before = self._known.pop(key, None)
        self._pairs += len(known.rows) - (len(before.rows) if before is not None else 0)
        known.share.setflags(write=False)
        self._known[key] = known
        while self._pairs > _MOST_PAIRS and len(self._known) > 1:
            self._pairs -= len(self._known.pop(next(iter(self._known))).rows)


def _recalled(known: _Known | None, matched: _Match, count: int) -> tuple[NDArray[Any] | None, Indices]:
    """What is known of some rows, or None, and which of them are missing; what is whole is not copied."""
    if known is None or (matched is not None and not matched[1].any()):
        return None, np.arange(count)
    if matched is None:
        return known.share, np.zeros(0, dtype=np.intp)
    return known.share[matched[0]], np.flatnonzero(~matched[1])


def _marks(rows: Array) -> Marks:
    """Mix the bits of each row into one number."""
    bits = np.ascontiguousarray(rows).view(np.uint64)
    mark = np.zeros(len(rows), dtype=np.uint64)
    for k in range(bits.shape[1]):
        mark = (mark ^ bits[:, k]) * _MIXER
        mark ^= mark >> np.uint64(29)
    return mark


def bounce_rows(bounces: Bounces, *more: NDArray[Any]) -> Array:
    """What the shares of patches in bounces depend on.

    Parameters
    ----------
    bounces : Bounces
        m bounces.
    *more : numpy.ndarray
        Further columns, shape (m,).

    Returns
    -------
    numpy.ndarray
        Shape (m, 7) and a column for each further one.
    """
    b = bounces
    return np.column_stack([b.wall, b.along, b.cosine, b.before, b.after, *more])


def key_of(*parts: Any) -> bytes:
    """Make a key of numbers, arrays and enclosures.

    Parameters
    ----------
    *parts : object
        Arrays, tuples, numbers, bytes, or `Enclosure`: then its polygons are meant.

    Returns
    -------
    bytes
        The same for the same parts, bit by bit.
    """
    mixed = hashlib.sha256()
    for part in parts:
        if isinstance(part, Enclosure):
            mixed.update(_geometry(part))
        elif isinstance(part, np.ndarray):
            mixed.update(f"{part.dtype}{part.shape}".encode())
            mixed.update(np.ascontiguousarray(part).tobytes())
        else:
            mixed.update(repr(part).encode())
        mixed.update(b";")
    return mixed.digest()


def _geometry(enclosure: Enclosure) -> bytes:
    edges = enclosure.outlines
    return key_of(enclosure.origins, enclosure.normals, enclosure.frames, edges.start, edges.end, edges.first)
