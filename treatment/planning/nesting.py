"""Rectangles from slabs, sheets and rolls: rows across, each row cut through.

Pieces stand in rows over the full width, so that every cut runs from edge to edge: a knife and a
straight-edge do it. Rows are filled first fit by falling height (Coffman, Garey, Johnson and Tarjan,
SIAM J. Computing 9 (1980) 808-826), for every choice of turned and unturned kinds; the rows themselves
are cut from the sheets' length by `cut_stock`, whose answer is optimal for those rows. The bound holds
for any arrangement, so the difference to it may be the rows' fault or the bound's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, product
from typing import Final

from treatment.errors import PlanError
from treatment.measures import joined_words, length_words
from treatment.planning.cut_stock import cut_stock

_SLACK: Final = 1e-6
#: So many choices of turned kinds are tried.
_MOST_TRIES: Final = 256
#: So many of the best by length of rows are packed into sheets.
_MOST_PACKED: Final = 6

_Size = tuple[float, float]
_Row = tuple[float, list[tuple[int, float, float, float]]]  # height; piece, x, width, height


@dataclass(frozen=True)
class Nested:
    """One piece in its place.

    Parameters
    ----------
    piece : int
        Index of the piece.
    sheet : int
        On which sheet; 0 on a roll.
    x, y : float
        Lower corner from the sheet's corner, m; y runs along the sheet's length.
    width, height : float
        As it lies, m.
    turned : bool
        Whether it lies turned by a right angle.
    """

    piece: int
    sheet: int
    x: float
    y: float
    width: float
    height: float
    turned: bool


@dataclass(frozen=True)
class Nesting:
    """All pieces in their places.

    Parameters
    ----------
    placed : tuple of Nested
        Each piece once.
    sheets : int
        How many; 1 for a roll.
    size : tuple of float
        Width and length of a sheet, or of what is cut off the roll, m.
    bound : float
        Sheets, or metres of roll, that no arrangement can fall below.
    used : float
        Area of the pieces, m2.
    """

    placed: tuple[Nested, ...]
    sheets: int
    size: _Size
    bound: float
    used: float

    @property
    def waste(self) -> float:
        """Share of the area bought that is left over."""
        area = self.sheets * self.size[0] * self.size[1]
        return 1.0 - self.used / area if area else 0.0


def nest_sheets(
    pieces: Sequence[_Size], sheet: _Size, *, kerf: float = 0.0, turn: bool = True, units: str = "m"
) -> Nesting:
    """Cut rectangles from sheets.

    Parameters
    ----------
    pieces : sequence of (float, float)
        Width and height of each, m.
    sheet : tuple of float
        Width and length of a sheet, m.
    kerf : float
        Width of a cut, m.
    turn : bool
        Whether pieces may be turned by a right angle.
    units : str
        In which a refusal tells sizes.

    Returns
    -------
    Nesting
        With the fewest sheets found.

    Raises
    ------
    PlanError
        When a piece does not fit a sheet.
    """
    pieces = _whole(pieces)
    tries = sorted(
        (sum(h for h, _ in rows), n, rows)
        for n, rows in enumerate(_arrangements(pieces, sheet, kerf, turn=turn, units=units))
    )
    best: tuple[int, list[_Row], tuple[tuple[int, ...], ...]] | None = None
    bound = _sheet_bound(pieces, sheet)
    for _, _, rows in tries[:_MOST_PACKED]:
        sawing = cut_stock([h for h, _ in rows], [sheet[1]], kerf=kerf)
        if best is None or len(sawing.bars) < best[0]:
            best = len(sawing.bars), rows, tuple(b.pieces for b in sawing.bars)
        if best[0] == bound:
            break
    if best is None:
        return Nesting((), 0, sheet, 0.0, 0.0)
    placed = []
    for number, indices in enumerate(best[2]):
        y = 0.0
        for height, row in (best[1][i] for i in indices):
            placed += [Nested(i, number, x, y, w, h, _is_turned(pieces[i], (w, h))) for i, x, w, h in row]
            y += height + kerf
    return Nesting(tuple(placed), best[0], sheet, float(bound), sum(w * h for w, h in pieces))


def nest_roll(pieces: Sequence[_Size], width: float, *, turn: bool = True, units: str = "m") -> Nesting:
    """Cut rectangles from a roll.

    Parameters
    ----------
    pieces : sequence of (float, float)
        Width and height of each, m.
    width : float
        Of the roll, m.
    turn : bool
        Whether pieces may be turned; not for cloth with a nap or a pattern.

    Returns
    -------
    Nesting
        The shortest found; its size holds the length to be cut off.

    Raises
    ------
    PlanError
        When a piece is wider than the roll.
    """
    if not pieces:
        return Nesting((), 0, (width, 0.0), 0.0, 0.0)
    pieces = _whole(pieces)
    _, _, rows = min(
        (sum(h for h, _ in rows), n, rows)
        for n, rows in enumerate(_arrangements(pieces, (width, math.inf), 0.0, turn=turn, units=units))
    )
    placed, y = [], 0.0
    for height, row in rows:
        placed += [Nested(i, 0, x, y, w, h, _is_turned(pieces[i], (w, h))) for i, x, w, h in row]
        y += height
    area = sum(w * h for w, h in pieces)
    sides = [p[1] if not turn else min(p) if max(p) <= width + _SLACK else max(p) for p in pieces]
    narrow = [min(p) if turn else p[0] for p in pieces]
    # Two pieces that are both wider than half the roll, however they lie, never stand side by side.
    alone = sum(s for s, n in zip(sides, narrow, strict=True) if n > width / 2.0 + _SLACK)
    return Nesting(tuple(placed), 1, (width, y), max(area / width, alone, *sides), area)


def _whole(pieces: Sequence[_Size]) -> list[_Size]:
    """Sizes in whole micrometres, so that equal pieces are one kind."""
    return [(round(w, 6), round(h, 6)) for w, h in pieces]


def _is_turned(piece: _Size, lies: _Size) -> bool:
    return abs(piece[0] - lies[0]) > _SLACK


def _sheet_bound(pieces: Sequence[_Size], sheet: _Size) -> int:
    """Sheets that are needed at least: by area, and by pieces larger than half of both sides."""
    area = math.ceil(sum(w * h for w, h in pieces) / (sheet[0] * sheet[1]) - 1e-9)
    half = max(sheet) / 2.0 + _SLACK
    return max(area, sum(min(p) > half for p in pieces), 1 if pieces else 0)


def _arrangements(
    pieces: Sequence[_Size], sheet: _Size, kerf: float, *, turn: bool, units: str
) -> Iterator[list[_Row]]:
    """Rows for each choice of which kinds of piece are turned."""
    kinds: dict[_Size, list[int]] = {}
    for i, (w, h) in enumerate(pieces):
        kinds.setdefault((w, h), []).append(i)
    choices: list[list[int]] = []  # how many of each kind are turned
    for (w, h), members in kinds.items():
        upright = w <= sheet[0] + _SLACK and h <= sheet[1] + _SLACK
        lying = turn and h <= sheet[0] + _SLACK and w <= sheet[1] + _SLACK
        if not upright and not lying:
            # In millimetres: what is a little too large would be told to be as large.
            roll = f"{length_words(sheet[0], units, 3)} wide"
            sold = joined_words(sheet, units, decimals=3) if math.isfinite(sheet[1]) else roll
            raise PlanError(
                f"a piece of {joined_words((w, h), units, decimals=3)} does not fit stock of {sold}",
                hint="name larger stock, or build the panel smaller",
            )
        n = len(members)
        if not lying or abs(w - h) < _SLACK:
            choices.append([0])
        elif not upright:
            choices.append([n])
        else:
            choices.append([0, n, *range(1, n)])
    # All or none of each kind first, then mixtures, as far as the number of tries goes.
    plain = product(
        *([c for c in some if c in {0, len(m)}] for some, m in zip(choices, kinds.values(), strict=True))
    )
    mixed = product(*choices)
    seen = set()
    for turned in islice((*islice(plain, _MOST_TRIES), *islice(mixed, _MOST_TRIES)), 2 * _MOST_TRIES):
        if turned not in seen:
            seen.add(turned)
            yield _rows(kinds, turned, sheet[0], kerf)


def _rows(kinds: dict[_Size, list[int]], turned: Sequence[int], width: float, kerf: float) -> list[_Row]:
    """Rows of a width, first fit by falling height."""
    lying = [
        (h, w, i) if place < count else (w, h, i)
        for ((w, h), members), count in zip(kinds.items(), turned, strict=True)
        for place, i in enumerate(members)
    ]
    lying.sort(key=lambda p: (-p[1], -p[0], p[2]))
    rows: list[_Row] = []
    ends: list[float] = []
    for w, h, i in lying:
        place = next((r for r, end in enumerate(ends) if end + w <= width + _SLACK), None)
        if place is None:
            rows.append((h, []))
            ends.append(0.0)
            place = len(rows) - 1
        rows[place][1].append((i, ends[place], w, h))
        ends[place] += w + kerf
    return rows
