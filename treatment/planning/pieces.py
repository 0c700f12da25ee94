"""Panels to pieces: what one saws and cuts for a build, and from what.

How a panel is made (common practice): the boards go round the slab, the sides run the full height and
the ends fit between them; slabs stay uncut where one as sold fills the frame; cloth covers the face,
runs down the sides and folds round to the back for the staples; a thin fleece closes the back, so that
no fibre is shed. A perforated sheet covers slab and frame alike and is screwed to the frame's front.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.sheet import PerforatedSheet
from treatment.materials.stock import Stock, sold_words
from treatment.planning.lists import Cut
from treatment.units import UNITS, format_imperial

#: Cloth on the back for the staples, on each side (m). Common practice.
BACK_FOLD: Final = 0.03
#: The back fleece stays this far inside the edge (m). Common practice.
BACK_MARGIN: Final = 0.01
#: Overlap where cloth is sewn (m). Common practice.
_SEAM: Final = 0.02
#: Slabs of wool give: one that is nominally this much (share) off still fills the frame uncut.
_GIVE: Final = 0.02
#: Words for no cover at all in a table of builds.
BARE: Final = ("", "none")
FACE: Final = "perforated face"
FLEECE: Final = "fleece, thin and open, for the back"


@dataclass(frozen=True)
class Source:
    """What pieces are cut from.

    Parameters
    ----------
    kind : str
        ``board``, ``sheet``, ``slab`` or ``roll``.
    name : str
        As in the shopping list.
    width : float
        Of the board, sheet, slab or roll, m.
    length : float
        Of the sheet or slab, m; 0 where it is chosen when the bill is made.
    thickness : float
        In m; 0 for cloth.
    """

    kind: str
    name: str
    width: float
    length: float = 0.0
    thickness: float = 0.0


def frame_thickness(build: PanelBuild, stock: Stock) -> float:
    """Thickness of the boards that can be bought for a frame.

    Parameters
    ----------
    build : PanelBuild
        A panel with a frame.
    stock : Stock
        What is sold.

    Returns
    -------
    float
        True thickness in m; the build's own where strips come from a sheet.
    """
    board = stock.board_for(build.frame_thickness, build.frame_depth)
    return board.thickness if board else build.frame_thickness


def pieces_of(build: PanelBuild, ids: tuple[str, ...], stock: Stock) -> list[tuple[Source, Cut]]:
    """List the pieces of all panels of one build.

    Parameters
    ----------
    build : PanelBuild
        What they are.
    ids : tuple of str
        Which panels.
    stock : Stock
        What is sold.

    Returns
    -------
    list of (Source, Cut)
        Empty for a panel that is bought ready made.
    """
    found = _frame(build, ids, stock) if build.frame_thickness else []
    if build.sheet:
        found += _face(build.sheet, build, ids, stock)
    for name, thickness in _cores(build, stock):
        found += _slab(name, thickness, build, ids, stock)
    if build.facing not in BARE:
        margin = build.thickness + build.back_thickness + BACK_FOLD
        found += _cloth("cloth", build.facing, margin, build, ids, stock)
    if build.back_thickness:
        found += _back(build, ids, stock)
    elif build.frame_thickness and _cores(build, stock):
        found += _cloth("back fleece", FLEECE, -BACK_MARGIN, build, ids, stock)
    return found


def _cores(build: PanelBuild, stock: Stock) -> list[tuple[str, float]]:
    """Name and thickness of each slab; a framed build with measured absorption holds what was measured."""
    if build.layers:
        return [
            (
                f"slab of {x.kind or 'porous absorber'} {sold_words(x.thickness, stock.units)}"
                + (f", {x.density:.0f} kg/m3" if x.density else f", {x.airflow_resistivity:.0f} Pa s/m2"),
                x.thickness,
            )
            for x in build.layers
        ]
    if build.frame_thickness:
        name = f"slab as measured, {build.material.id} {sold_words(build.thickness, stock.units)}"
        return [(name, build.thickness)]
    return []


def _back(build: PanelBuild, ids: tuple[str, ...], stock: Stock) -> list[tuple[Source, Cut]]:
    """Board at the back: inside the frame, behind the slab, so that it fits a sheet as sold."""
    source = sheet_source(build.back_thickness, stock)
    short, long = sorted((build.width, build.height))
    across, wide = parts_of(short, min(stock.sheet))
    along, each = parts_of(long, max(stock.sheet))
    number = across * along
    part = "back" if number == 1 else "back, part to be joined"
    return [(source, Cut(part, source.name, each, wide, number * len(ids), ids))]


def parts_of(length: float, limit: float, joint: float = 0.0) -> tuple[int, float]:
    """Number and length of equal parts that are no longer than a limit.

    Parameters
    ----------
    length, limit : float
        In m.
    joint : float
        By how much parts overlap, m.

    Returns
    -------
    tuple of (int, float)
        How many, and how long each, m.
    """
    number = 1 if length <= limit + 1e-9 else math.ceil((length - joint) / (limit - joint) - 1e-9)
    return number, (length - joint) / number + joint


def sheet_source(thickness: float, stock: Stock, board: str = "plywood", holes: str = "") -> Source:
    """Sheet goods: for strips that no board gives, and for faces.

    Parameters
    ----------
    thickness : float
        In m.
    stock : Stock
        What is sold.
    board : str
        What it is made of.
    holes : str
        Of a sheet that is bought with its holes: which.

    Returns
    -------
    Source
        A sheet.
    """
    name = f"sheet of {board} {sold_words(thickness, stock.units)}{holes}, {_size(*stock.sheet, stock)}"
    return Source("sheet", name, *stock.sheet, thickness)


def _face(
    sheet: PerforatedSheet, build: PanelBuild, ids: tuple[str, ...], stock: Stock
) -> list[tuple[Source, Cut]]:
    """The perforated face, as large as the frame; parts of it where no sheet is so large."""
    if sheet.drilled:
        source = sheet_source(sheet.thickness, stock, sheet.board)
    else:
        source = sheet_source(sheet.thickness, stock, f"perforated {sheet.board}", f", {sheet.grid}")
    thick = frame_thickness(build, stock)
    short, long = sorted(x + 2.0 * thick for x in (build.width, build.height))
    across, wide = parts_of(short, source.width)
    along, high = parts_of(long, source.length)
    part = FACE if across == along == 1 else f"{FACE}, part: joints on a strip of board behind"
    return [(source, Cut(part, source.name, high, wide, across * along * len(ids), ids))]


def _frame(build: PanelBuild, ids: tuple[str, ...], stock: Stock) -> list[tuple[Source, Cut]]:
    thick = frame_thickness(build, stock)
    board = stock.board_for(build.frame_thickness, build.frame_depth)
    if board:
        source = Source("board", board.words, board.width, 0.0, board.thickness)
        longest, strips = max(stock.lengths) - stock.trim, 1
    else:
        source = sheet_source(thick, stock)
        longest, strips = max(stock.sheet), parts_of(build.frame_depth, min(stock.sheet))[0]
    rows = []
    for part, length in (("frame side", build.height + 2.0 * thick), ("frame end", build.width)):
        number, each = parts_of(length, longest)
        words = part if number == strips == 1 else f"{part}, part to be joined"
        count = 2 * number * strips * len(ids)
        rows.append((source, Cut(words, source.name, each, build.frame_depth / strips, count, ids)))
    return rows


def feet_of(build: PanelBuild, ids: tuple[str, ...], depth: float, stock: Stock) -> list[tuple[Source, Cut]]:
    """List the feet of panels that stand: two boards on edge, across the ends of the frame.

    Parameters
    ----------
    build : PanelBuild
        What they are.
    ids : tuple of str
        Which panels stand.
    depth : float
        Of the feet, front to back, m.
    stock : Stock
        What is sold.

    Returns
    -------
    list of (Source, Cut)
        Empty for a panel without a frame, which is bought ready made. Common practice.
    """
    if not build.frame_thickness or not ids:
        return []
    (source, end), *_ = (row for row in _frame(build, ids, stock) if row[1].part.startswith("frame end"))
    return [(source, Cut("foot", source.name, depth, end.width, 2 * len(ids), ids))]


def _slab(
    name: str, thickness: float, build: PanelBuild, ids: tuple[str, ...], stock: Stock
) -> list[tuple[Source, Cut]]:
    face = sorted((build.width, build.height))
    away = [max(abs(a / b - 1.0) for a, b in zip(face, sorted(s), strict=True)) for s in stock.slabs]
    nearest = min(range(len(away)), key=away.__getitem__)
    sold = stock.slabs[nearest] if away[nearest] <= _GIVE else None
    slab = sold or stock.slabs[0]
    source = Source("slab", f"{name}, {_size(*slab, stock)}", *slab, thickness)
    if sold:
        size = sorted(slab)
        return [(source, Cut("slab, uncut", source.name, size[1], size[0], len(ids), ids))]
    cuts = []
    for (w, h), number in _tiles(build, slab).items():
        whole = abs(min(w, h) - min(slab)) < 1e-6 and abs(max(w, h) - max(slab)) < 1e-6
        part = "slab, uncut" if whole else "slab piece"
        cuts.append((source, Cut(part, source.name, max(w, h), min(w, h), number * len(ids), ids)))
    return cuts


def _tiles(build: PanelBuild, slab: tuple[float, float]) -> dict[tuple[float, float], int]:
    """Slabs, or pieces of them, that fill a face side by side: the way with the fewest pieces, then cuts."""
    ways = []
    for across, up in {slab, slab[::-1]}:
        tiles: dict[tuple[float, float], int] = {}
        for w in _steps(build.width, across):
            for h in _steps(build.height, up):
                tiles[w, h] = tiles.get((w, h), 0) + 1
        whole = tiles.get((across, up), 0)
        ways.append((sum(tiles.values()), -whole, sorted(tiles), tiles))
    return min(ways, key=lambda way: way[:3])[3]


def _steps(length: float, step: float) -> list[float]:
    full = int(length / step + 1e-6)
    rest = round(length - full * step, 6)
    return [step] * full + ([rest] if rest > 1e-4 else [])


def _cloth(
    part: str, name: str, margin: float, build: PanelBuild, ids: tuple[str, ...], stock: Stock
) -> list[tuple[Source, Cut]]:
    thick = frame_thickness(build, stock) if build.frame_thickness else 0.0
    short, long = sorted(x + 2.0 * (thick + margin) for x in (build.width, build.height))
    source = Source("roll", name, stock.roll)
    number, each = parts_of(short, stock.roll, _SEAM)
    words = part if number == 1 else f"{part}, width to be sewn"
    return [(source, Cut(words, name, max(each, long), min(each, long), number * len(ids), ids))]


def _size(width: float, length: float, stock: Stock) -> str:
    """Size of a slab or sheet as the trade says it."""
    if stock.trade == "inch":
        return f"{width / UNITS['in']:.3g} x {length / UNITS['in']:.3g} in"
    return f"{width:.2f} x {length:.2f} m"


def length_words(length: float, stock: Stock) -> str:
    """Length of a board as the trade says it.

    Parameters
    ----------
    length : float
        In m.
    stock : Stock
        Which trade.

    Returns
    -------
    str
        ``2.40 m`` or ``8 ft``.
    """
    return format_imperial(length) if stock.trade == "inch" else f"{length:.2f} m"
