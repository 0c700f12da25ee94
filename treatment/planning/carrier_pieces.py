"""Rails, cleats, battens and blocks as pieces of the cut list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.stock import Stock
from treatment.planning.carriers import (
    BLOCK,
    CORNER_BATTEN,
    Carrier,
    batten_board,
    carrier_for,
    rail_board,
)
from treatment.planning.lists import Cut
from treatment.planning.pieces import Source, parts_of, sheet_source
from treatment.planning.plan import Placement
from treatment.scene.model import Scene

RAIL: Final = "rail"
HOOK: Final = "upper rail, one edge at 45 degrees"
CLEAT: Final = "cleat for the wall, one edge at 45 degrees"
CLEAT_BATTEN: Final = "batten behind the cleat"
BLOCK_PART: Final = "block behind the lower rail"
CEILING_BATTEN: Final = "ceiling batten"
CORNER_PART: Final = "upright batten of a corner"

_Piece = tuple[str, Source, float, float, float, int]  # part, source, longest, length, width, how many


def carrier_cuts(
    placements: Sequence[Placement], scene: Scene | None, stock: Stock
) -> list[tuple[Source, Cut]]:
    """List the timber behind all panels: what is screwed to them, and to walls and joists.

    Parameters
    ----------
    placements : sequence of Placement
        The panels.
    scene : Scene or None
        Tells on what each hangs; see `carrier_for`.
    stock : Stock
        What is sold.

    Returns
    -------
    list of (Source, Cut)
        Equal pieces of several panels in one line.
    """
    counts: dict[tuple[str, Source, float, float], int] = {}
    panels: dict[tuple[str, Source, float, float], list[str]] = {}
    for p in placements:
        carrier = carrier_for(p, scene, stock)
        for part, source, longest, length, width, number in (
            _pieces(p.build, carrier, stock) if carrier else ()
        ):
            times, each = parts_of(length, longest)
            key = (
                part if times == 1 else f"{part}, part to be joined",
                source,
                round(each, 6),
                round(width, 6),
            )
            counts[key] = counts.get(key, 0) + number * times
            panels.setdefault(key, [])
            if p.id not in panels[key]:
                panels[key].append(p.id)
    return [
        (source, Cut(part, source.name, length, width, n, tuple(panels[part, source, length, width])))
        for (part, source, length, width), n in counts.items()
    ]


def _pieces(build: PanelBuild, carrier: Carrier, stock: Stock) -> Iterator[_Piece]:
    if carrier.rails:
        board = rail_board(build, stock)
        if board:
            source = Source("board", board.words, board.width, 0.0, board.thickness)
            longest = max(stock.lengths) - stock.trim
        else:
            source, longest = sheet_source(carrier.thickness, stock), max(stock.sheet)
        hooks = int(carrier.kind == "cleat")
        yield RAIL, source, longest, carrier.across, carrier.width, len(carrier.rails) - hooks
        if hooks:
            yield HOOK, source, longest, carrier.across, carrier.width, 1
            yield CLEAT, source, longest, carrier.across, carrier.width, 1
    if carrier.kind == "cleat" and carrier.spacer:
        yield from _battens(CLEAT_BATTEN, carrier.across, carrier.spacer, 1, stock)
        yield from _battens(BLOCK_PART, BLOCK, carrier.spacer, 2, stock)
    elif carrier.kind == "battens":
        yield from _battens(CEILING_BATTEN, carrier.batten, carrier.spacer, 2, stock)
    elif carrier.kind == "corner":
        yield from _battens(CORNER_PART, carrier.along, CORNER_BATTEN, 2, stock)


def _battens(part: str, length: float, depth: float, number: int, stock: Stock) -> Iterator[_Piece]:
    """Pieces of a depth; where no board is so wide they are made up of equal layers."""
    board, layers = batten_board(depth, stock), 1
    while board is None and layers < 20:
        layers += 1
        board = batten_board(depth / layers, stock)
    words = part if layers == 1 else f"{part}, one of {layers} layers"
    if board:
        source = Source("board", board.words, board.width, 0.0, board.thickness)
        yield words, source, max(stock.lengths) - stock.trim, length, depth / layers, layers * number
