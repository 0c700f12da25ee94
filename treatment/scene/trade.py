"""What the shops sell, as a scene file says it: over what is usual in the trade."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from treatment.errors import Finding, MaterialError
from treatment.materials.prices import Prices, read_prices
from treatment.materials.stock import INCH, METRIC, Board, Stock, stock_for
from treatment.measures import in_feet, small_words
from treatment.scene.codes import finding, nearest
from treatment.scene.plan_entries import StockEntry
from treatment.units import format_imperial, format_length

_TRADES = {"metric": METRIC, "inch": INCH}
#: Limits of what can be a board, sheet, slab or roll (m): a slip of unit lies outside.
_RANGES = {
    "lengths": (0.5, 8.0, "a board"),
    "kerf": (0.0, 0.01, "a saw cut"),
    "trim": (0.0, 0.2, "what is cut off an end"),
    "sheet": (0.3, 4.0, "a sheet"),
    "slab": (0.2, 3.0, "a slab"),
    "roll_width": (0.3, 6.0, "a roll of cloth"),
    "roll_step": (0.01, 5.0, "a step of cloth"),
}
_BOARD = {"thickness": (0.005, 0.1), "width": (0.015, 0.5)}


def make_stock(entry: StockEntry | None, units: str, findings: list[Finding]) -> Stock | None:
    """Make the stock of its entry.

    Parameters
    ----------
    entry : StockEntry or None
        As in the file.
    units : str
        Unit of the scene: it decides the trade where the entry does not, and how lengths are told.
    findings : list of Finding
        Taken along; what cannot be is added.

    Returns
    -------
    Stock or None
        None without an entry; values that cannot be are left as usual.
    """
    if entry is None:
        return None

    def wrong(key: str, message: str, hint: str) -> None:
        findings.append(finding("stock-invalid", f"stock.{key}", message, hint))

    if entry.trade is not None and entry.trade not in _TRADES:
        wrong("trade", f'"{entry.trade[:40]}" is no trade', nearest(entry.trade, _TRADES))
    stock = _TRADES.get(entry.trade or "", stock_for(units))

    def fits(key: str, value: float) -> bool:
        low, high, what = _RANGES[key]
        if low <= value <= high:
            return True
        # Hundredths of a metre say nothing of a saw cut.
        write = _fine if high < 0.3 else format_length
        size, least, most = (write(x, units) for x in (value, low, high))
        wrong(key, f"{size} is no size of {what}", f"from {least} to {most}; look at the unit")
        return False

    changed: dict[str, Any] = {}
    if entry.lengths is not None:
        if not entry.lengths:
            wrong("lengths", "no length of board is named", "name those your yard sells, or leave it out")
        elif all(fits("lengths", x) for x in entry.lengths):
            changed["lengths"] = tuple(sorted(set(entry.lengths)))
    for key, name in (("kerf", "kerf"), ("trim", "trim"), ("roll_width", "roll"), ("roll_step", "roll_step")):
        value = getattr(entry, key)
        if value is not None and fits(key, value):
            changed[name] = value
    if entry.sheet is not None and all(fits("sheet", x) for x in entry.sheet):
        changed["sheet"] = (entry.sheet[0], entry.sheet[1])
    if entry.slab is not None and all(fits("slab", x) for x in entry.slab):
        changed["slabs"] = ((entry.slab[0], entry.slab[1]),)
    packs = dict(stock.packs)
    for i, pack in enumerate(entry.packs or ()):
        if pack.slabs != int(pack.slabs) or not 1.0 <= pack.slabs <= 100.0:
            wrong(f"packs[{i}].slabs", f"{pack.slabs:g} is no number of slabs in a pack", "from 1 to 100")
        else:
            packs[round(1000.0 * pack.thickness)] = int(pack.slabs)
    if entry.boards is not None:
        changed["boards"] = _boards(entry, stock, wrong)
    return replace(stock, packs=packs, **changed)


def _fine(metres: float, units: str) -> str:
    """A saw cut: tenths of a millimetre count."""
    metric = f"{1000.0 * metres:.4g} mm"
    return f"{format_imperial(metres, 32)} ({metric})" if in_feet(units) else metric


def _boards(entry: StockEntry, stock: Stock, wrong: Any) -> tuple[Board, ...]:
    """Boards of one's own, in place of those usual in the trade."""
    made = []
    for i, b in enumerate(entry.boards or ()):
        for key, (low, high) in _BOARD.items():
            value = getattr(b, key)
            if not low <= value <= high:
                told, least, most = (small_words(x, stock.units, 1) for x in (value, low, high))
                message = f"a board {told} in {key} is none"
                wrong(
                    f"boards[{i}].{key}",
                    message,
                    f"from {least} to {most}",
                )
        made.append(Board(b.name, b.thickness, b.width, inches=stock.trade == "inch"))
    if not made:
        wrong("boards", "no board is named", "name those your yard sells, or leave it out")
    return tuple(made) or stock.boards


def load_prices(entry: StockEntry | None, folder: Path, findings: list[Finding]) -> Prices | None:
    """Read the price file that a scene names.

    Parameters
    ----------
    entry : StockEntry or None
        As in the file.
    folder : pathlib.Path
        Where the scene file lies.
    findings : list of Finding
        Taken along; what is wrong with the file is added.

    Returns
    -------
    Prices or None
        None where none is named, or it cannot be read.
    """
    if entry is None or entry.prices is None:
        return None
    try:
        return read_prices(folder / entry.prices)
    except MaterialError as error:
        findings.append(finding("price-file", "stock.prices", error.message, error.hint))
        return None
