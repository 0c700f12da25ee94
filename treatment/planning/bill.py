"""What to buy and what to saw, and how to get it out of the fewest boards, slabs and metres of cloth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.materials.prices import EXAMPLE, Prices, example_prices
from treatment.materials.sheet import PerforatedSheet
from treatment.materials.stock import METRIC, Stock, stock_for
from treatment.measures import small_words
from treatment.planning.carrier_pieces import carrier_cuts
from treatment.planning.covering_price import CARPET, CURTAIN
from treatment.planning.hardware import hardware
from treatment.planning.lists import Cut, ShoppingItem, StockUse
from treatment.planning.parts import Part, cut_from
from treatment.planning.pieces import Source, feet_of, frame_thickness, pieces_of
from treatment.planning.plan import Placement
from treatment.planning.standing import feet_depth
from treatment.scene.model import Scene

#: Own prices of parts become the price of one panel by the bill for so many: packs and lengths are whole.
_BATCH: Final = 8
#: One hole in 15 to 20 s, marking and clamping counted in. Judgement.
HOLES_AN_HOUR: Final = 200


@dataclass(frozen=True)
class Bill:
    """Lists for the shop and the workshop.

    Parameters
    ----------
    shopping : tuple of ShoppingItem
        Panels with their price, then the parts that are included in it.
    cuts : tuple of Cut
        Pieces by build.
    stock : tuple of StockUse
        Which piece comes from which board, slab, sheet or roll.
    notes : tuple of str
        How good the cutting is, which prices are missing, what the shop asks.
    """

    shopping: tuple[ShoppingItem, ...]
    cuts: tuple[Cut, ...]
    stock: tuple[StockUse, ...]
    notes: tuple[str, ...]

    @property
    def bought(self) -> float:
        """What the shop asks by prices of one's own, for all lines that have one."""
        return sum(s.bought or 0.0 for s in self.shopping)


def make_bill(
    placements: Sequence[Placement],
    scene: Scene | None = None,
    *,
    stock: Stock | None = None,
    prices: Prices | None = None,
) -> Bill:
    """Make all lists.

    Parameters
    ----------
    placements : sequence of Placement
        The panels.
    scene : Scene, optional
        Its unit decides the trade, its surfaces what hangs overhead. Without it everything is taken to
        hang overhead.
    stock : Stock, optional
        What is sold; default the trade of the scene's unit.
    prices : Prices, optional
        Prices of one's own. They fill `ShoppingItem.bought`; panels keep the price of their build,
        see `priced_builds`.

    Returns
    -------
    Bill
        The totals of its shopping list add up to the panels' prices.
    """
    if stock is None:
        stock = (scene.stock or stock_for(scene.units)) if scene else METRIC
    kinds = _by_build(placements)
    cuts: list[Cut] = []
    sources: dict[Source, list[Cut]] = {}
    for build, ids in kinds:
        standing = tuple(p.id for p in placements if p.standing and p.build.id == build.id)
        feet = feet_of(build, standing, feet_depth(build), stock)
        for source, cut in (*pieces_of(build, ids, stock), *feet):
            cuts.append(cut)
            sources.setdefault(source, []).append(cut)
    for source, cut in carrier_cuts(placements, scene, stock):
        cuts.append(cut)
        sources.setdefault(source, []).append(cut)
    lines: list[Part] = []
    uses: list[StockUse] = []
    notes = _making_notes(kinds, stock)
    for source in sorted(sources, key=lambda s: (("board", "sheet", "slab", "roll").index(s.kind), s.name)):
        bought, used, note = cut_from(source, sources[source], stock)
        lines += bought
        uses += used
        notes.append(note)
    lines += hardware(placements, scene, stock)
    shopping = [*_panels(kinds), *(_priced(line, prices) for line in lines)]
    if prices:
        notes += _price_notes(shopping[len(kinds) :], prices, {b.id for b, _ in kinds})
    return Bill(tuple(shopping), tuple(cuts), tuple(uses), tuple(notes))


def priced_builds(
    builds: Sequence[PanelBuild], prices: Prices, stock: Stock = METRIC
) -> tuple[PanelBuild, ...]:
    """Give builds the price that follows from prices of one's own, before a plan is made.

    Parameters
    ----------
    builds : sequence of PanelBuild
        With the prices of their table.
    prices : Prices
        By the id of a build, or by its parts.
    stock : Stock
        What is sold.

    Returns
    -------
    tuple of PanelBuild
        A price by id counts as it stands. Else, where a part has a price, an eighth of the bill for eight
        panels: whole packs and lengths are shared as in a usual plan, and invented examples stand in for
        parts without a price, unless the price of the build is a person's own. Else it keeps its price, as a
        free-standing screen does whose back has no thickness and is in no list.
    """
    made = []
    for build in builds:
        own = prices.find(build.id)
        if own and own.item.casefold() == build.id.casefold():
            dated = f", {own.date}" if own.date else ""
            made.append(replace(build, price=own.price, price_note=f"own price{dated}"))
            continue
        ids = tuple(f"P{n + 1}" for n in range(_BATCH))
        # Parts without the board at its back would be too cheap.
        lines = [] if _lacks_back(build) else _parts_bill(build, ids, stock, prices)
        missing = [s.item for s in lines if s.bought is None]
        if missing and len(missing) < len(lines) and EXAMPLE in build.price_note:
            examples = {s.item: s.bought for s in _parts_bill(build, ids, stock, example_prices())}
            lines = [replace(s, bought=examples[s.item]) if s.bought is None else s for s in lines]
        elif missing:
            lines = []
        if lines and all(s.bought is not None for s in lines):
            price = round(sum(s.bought or 0.0 for s in lines) / _BATCH, 2)
            note = f"own prices of its parts, one of {_BATCH}"
            if missing:
                kinds = dict.fromkeys(item.split(",")[0].split(" (")[0] for item in missing)
                note += f"; {EXAMPLE} for {', '.join(kinds)}"
            build = replace(build, price=price, price_note=note)
        made.append(build)
    return tuple(made)


def _lacks_back(build: PanelBuild) -> bool:
    """Whether a board at its back is in no list, because its thickness is not known."""
    return "free-standing" in build.on and build.back is not None and not build.back_thickness


def _parts_bill(build: PanelBuild, ids: tuple[str, ...], stock: Stock, prices: Prices) -> list[ShoppingItem]:
    outline = Rectangle(0.0, 0.0, build.outer_width, build.outer_height)
    stands = "free-standing" in build.on
    panels = [Placement(i, build, 0, outline, standing=stands) for i in ids]
    bill = make_bill(panels, stock=stock, prices=prices)
    return list(bill.shopping[1:])


def _by_build(placements: Sequence[Placement]) -> list[tuple[PanelBuild, tuple[str, ...]]]:
    builds = {p.build.id: p.build for p in placements}
    return [(builds[k], tuple(p.id for p in placements if p.build.id == k)) for k in sorted(builds)]


def _panels(kinds: Sequence[tuple[PanelBuild, tuple[str, ...]]]) -> list[ShoppingItem]:
    items = []
    for build, ids in kinds:
        mass = f"; {build.mass:.1f} kg each" if build.mass > 0.0 else "; mass not known, weigh one"
        price = f"; price: {build.price_note}" if build.price_note else ""
        name = f"{build.description} ({build.id})"
        total = len(ids) * build.price
        note = f"for {', '.join(ids)}{mass}{price}"
        items.append(ShoppingItem(name, len(ids), "panel", build.price, total, note))
    return items


def _making_notes(kinds: Sequence[tuple[PanelBuild, tuple[str, ...]]], stock: Stock) -> list[str]:
    """What the lists change or leave out."""
    grown: dict[int, list[str]] = {}
    notes = []
    for build, ids in kinds:
        if build.frame_thickness:
            more = frame_thickness(build, stock) - build.frame_thickness
            grown.setdefault(round(2000.0 * more), []).append(build.id)
            if _lacks_back(build):
                notes.append(
                    f"{build.id}: the board at its back is not in these lists; give it a back_thickness."
                )
        if build.sheet and build.sheet.drilled:
            notes.append(_drilling(build, build.sheet, len(ids)))
    for millimetres, names in sorted(grown.items()):
        if millimetres:
            more_words = small_words(abs(millimetres) / 1000.0, stock.units)
            larger = "larger" if millimetres > 0 else "smaller"
            notes.append(
                f"{', '.join(names)}: with the boards that are sold a panel comes out {more_words} "
                f"{larger} each way than drawn; the cut list has the true sizes."
            )
    return notes


def _drilling(build: PanelBuild, sheet: PerforatedSheet, panels: int) -> str:
    """How many holes there are to drill, and how long that takes."""
    each = sheet.holes(build.width, build.height)
    return (
        f"{build.id}: about {each} holes a panel, {each * panels} in all, are drilled by hand: about "
        f"{_hours(each * panels)} at {HOLES_AN_HOUR} holes an hour. Clamp two or three faces on each other "
        "and drill them at once; where there are thousands, buy a board with its holes."
    )


def _hours(holes: int) -> str:
    hours = holes / HOLES_AN_HOUR
    return "an hour" if hours <= 1.0 else f"{hours:.0f} hours"


def _priced(line: Part, prices: Prices | None) -> ShoppingItem:
    """Put the shop's price on a part; its total stays 0, because the panels carry the money."""
    unit, quantity = next(iter(line.amounts.items()))
    own = prices.find(line.item) if prices else None
    bought, note = None, line.note
    if own:
        wanted = own.unit or unit
        if wanted in line.amounts:
            bought = round(own.price * line.amounts[wanted], 2)
            note += f"; own price {own.price:g} for 1 {wanted}" + (f", {own.date}" if own.date else "")
        else:
            note += f"; own price is for 1 {wanted}, needed for 1 {' or 1 '.join(line.amounts)}"
    return ShoppingItem(line.item, round(quantity, 2), unit, 0.0, 0.0, note, bought)


def _price_notes(parts: Sequence[ShoppingItem], prices: Prices, builds: set[str]) -> list[str]:
    """What the shop asks, and which prices are missing or not used."""
    notes = []
    missing = [s.item for s in parts if s.bought is None]
    if missing:
        notes.append(
            f"No usable price of your own for: {'; '.join(missing)}. In the price of a panel that has other "
            "parts with a price of yours an invented example stands in for these."
        )
    total = sum(s.bought or 0.0 for s in parts)
    some = "the parts that have one" if missing else "all parts"
    notes.append(f"By your prices {some} cost {total:.2f} in the shop, whole packs and lengths.")
    found = [prices.find(s.item) for s in parts]
    # What the plan only offers is in no list.
    offered = [prices.find(name) for name in (CARPET, CURTAIN)]
    idle = [
        p.item
        for p in prices.rows
        if p not in [*found, *offered] and p.item.casefold() not in {b.casefold() for b in builds}
    ]
    if idle:
        notes.append(f"Prices that nothing here needs: {'; '.join(idle)}.")
    dates = sorted(p.date for p in found if p and p.date)
    if dates:
        notes.append(f"The oldest of your prices is of {dates[0]}.")
    return notes
