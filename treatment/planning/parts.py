"""Pieces to what is bought for them: boards, sheets, packs of slabs, cloth."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from treatment import measures
from treatment.materials.stock import Stock
from treatment.planning.cut_stock import cut_stock
from treatment.planning.lists import Cut, StockUse
from treatment.planning.nesting import Nesting, nest_roll, nest_sheets
from treatment.planning.pieces import Source, length_words
from treatment.units import UNITS

#: A wider roll is named when it saves at least a tenth of the cloth's area.
_WORTH: Final = 0.9


@dataclass(frozen=True)
class Part:
    """One part on the shopping list.

    Parameters
    ----------
    item : str
        What to ask for.
    amounts : dict of str to float
        How much, by every unit that a price may be for, the unit of the list first.
    note : str
        What it is for.
    """

    item: str
    amounts: dict[str, float]
    note: str


def cut_from(source: Source, cuts: Sequence[Cut], stock: Stock) -> tuple[list[Part], list[StockUse], str]:
    """Cut all pieces of one material from what is sold.

    Parameters
    ----------
    source : Source
        The material.
    cuts : sequence of Cut
        All pieces of it.
    stock : Stock
        What is sold.

    Returns
    -------
    parts : list of Part
        To buy.
    uses : list of StockUse
        Which piece comes from what.
    note : str
        How good the cutting is.
    """
    return (_saw if source.kind == "board" else _nest)(source, cuts, stock)


def _number(n: float, noun: str) -> str:
    return f"{n:g} {noun}{'' if n == 1 else 's'}"


def _percent(share: float) -> str:
    return f"{max(0.0, 100.0 * share):.0f} %"


def _bound_words(number: float, bound: float, unit: str) -> str:
    if number <= bound + 1e-6:
        return "no way of cutting needs less"
    return f"the lower bound is {bound:.4g} {unit}".rstrip()


def _run_bound(metres: float, bound: float, stock: Stock) -> str:
    if metres <= bound + 1e-6:
        return "no way of cutting needs less"
    return f"the lower bound is {measures.length_words(bound, stock.units)}"


def _saw(source: Source, cuts: Sequence[Cut], stock: Stock) -> tuple[list[Part], list[StockUse], str]:
    """Boards of one size for all pieces that are sawn from it."""
    pieces = [(c.part, c.length, c.width) for c in cuts for _ in range(c.count)]
    sawing = cut_stock(
        [p[1] for p in pieces], stock.lengths, kerf=stock.kerf, trim=stock.trim, units=stock.units
    )
    counts: dict[float, int] = {}
    same: dict[tuple[float, tuple[tuple[str, float, float], ...]], int] = {}
    for bar in sawing.bars:
        counts[bar.length] = counts.get(bar.length, 0) + 1
        key = bar.length, tuple(pieces[i] for i in bar.pieces)
        same[key] = same.get(key, 0) + 1
    depths = sorted({round(c.width, 4) for c in cuts if source.width - c.width > 0.0005})
    rip = (
        f"; rip to {' and '.join(measures.small_words(d, stock.units) for d in depths)}, or have it ripped"
        if depths
        else ""
    )
    if depths and any(source.width - c.width <= 0.0005 for c in cuts):
        rip += "; rails at full width"
    lines = [
        Part(
            f"{source.name}, {length_words(length, stock)}",
            {
                "piece": n,
                "m": n * length,
                "ft": n * length / UNITS["ft"],
                "m3": n * length * source.width * source.thickness,
            },
            f"included in the panels{rip}",
        )
        for length, n in sorted(counts.items())
    ]
    uses = [
        StockUse(
            "board", source.name, n, length, source.width, parts, 1.0 - sum(p[1] for p in parts) / length
        )
        for (length, parts), n in same.items()
    ]
    number = len(sawing.bars)
    bought = measures.length_words(sawing.bought, stock.units, 1)
    note = (
        f"{source.name}: {_number(len(pieces), 'piece')} from {_number(number, 'board')}, {bought}; "
        f"{_run_bound(sawing.bought, sawing.bound, stock)}; "
        f"{_percent(sawing.waste)} is left over."
    )
    return lines, uses, note


def _nest(source: Source, cuts: Sequence[Cut], stock: Stock) -> tuple[list[Part], list[StockUse], str]:
    """Slabs, sheets or cloth for all pieces that are cut from them."""
    pieces = [(c.part, c.length, c.width) for c in cuts for _ in range(c.count)]
    sizes = [(width, length) for _, length, width in pieces]
    if source.kind == "roll":
        nesting = nest_roll(sizes, source.width, units=stock.units)
        metres = round(math.ceil(nesting.size[1] / stock.roll_step - 1e-6) * stock.roll_step, 4)
        line = Part(
            source.name,
            {"m": metres, "m2": metres * source.width, "yd": metres / 0.9144},
            f"included in the panels; from a roll {measures.length_words(source.width, stock.units)} wide",
        )
        length = nesting.size[1]
        words = f"{measures.length_words(length, stock.units)} of cloth; "
        words += _run_bound(length, nesting.bound, stock) + _wider_words(sizes, nesting, stock)
    else:
        kerf = stock.kerf if source.kind == "sheet" else 0.0
        nesting = nest_sheets(sizes, (source.width, source.length), kerf=kerf, units=stock.units)
        line, words = _sheets(source, nesting, stock, dict.fromkeys(c.part.split(",")[0] for c in cuts))
    count, left = _number(len(pieces), "piece"), _percent(nesting.waste)
    note = f"{source.name}: {count} from {words}; {left} is left over."
    return [line], _uses(source, nesting, pieces), note


def _wider_words(sizes: Sequence[tuple[float, float]], nesting: Nesting, stock: Stock) -> str:
    """Tell when a roll that is a little wider saves a good part of the cloth."""
    wider = min((max(s) for s in sizes if max(s) > nesting.size[0]), default=0.0)
    if not wider:
        return ""
    metres = nest_roll(sizes, wider).size[1]
    if metres * wider > _WORTH * nesting.size[0] * nesting.size[1]:
        return ""
    wide, long = (measures.length_words(x, stock.units) for x in (wider, metres))
    return f"; a roll {wide} wide or more would need {long}"


def _sheets(source: Source, nesting: Nesting, stock: Stock, what: Iterable[str]) -> tuple[Part, str]:
    n = nesting.sheets
    words = f"{_number(n, source.kind)}; {_bound_words(n, nesting.bound, '')}"
    area = n * source.width * source.length
    if source.kind == "sheet":
        return Part(
            source.name,
            {"sheet": n, "m2": area, "m3": area * source.thickness},
            f"included in the panels; {', '.join(what)}",
        ), words
    each = stock.per_pack(source.thickness)
    packs = math.ceil(n / each)
    known = round(1000.0 * source.thickness) in stock.packs
    note = f"included in the panels; {_number(n, 'slab')}, pack of {each}" + (
        "" if known else " (usual; ask)"
    )
    area = packs * each * source.width * source.length
    amounts = {"pack": packs, "slab": packs * each, "m2": area, "m3": area * source.thickness}
    return Part(source.name, amounts, note), words


def _uses(source: Source, nesting: Nesting, pieces: Sequence[tuple[str, float, float]]) -> list[StockUse]:
    """Group slabs or sheets that are cut alike."""
    same: dict[tuple[tuple[str, float, float], ...], int] = {}
    for sheet in range(nesting.sheets):
        key = tuple(pieces[p.piece] for p in nesting.placed if p.sheet == sheet)
        same[key] = same.get(key, 0) + 1
    width, length = nesting.size
    return [
        StockUse(
            source.kind,
            source.name,
            n,
            length,
            width,
            parts,
            max(0.0, 1.0 - sum(a * b for _, a, b in parts) / (width * length)),
        )
        for parts, n in same.items()
    ]
