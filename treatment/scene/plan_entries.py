"""Entries of the scene file that steer a plan: what it may use, and what the shop sells."""

from __future__ import annotations

from treatment.scene.schema import Entry
from treatment.scene.value_types import Amount, Depth, Name, Number, Size, Size2, Text


class LimitsEntry(Entry):
    """``[limits]``: number of panels, kg in all, depth in m, names of surfaces."""

    panels: Number | None = None
    mass: Amount | None = None
    depth: Size | None = None
    surfaces: list[Text] | None = None


class BoardEntry(Entry):
    """A board as one's own yard sells it; true sizes in m."""

    name: Name
    thickness: Size
    width: Size


class PackEntry(Entry):
    """How many slabs of a thickness are in a pack."""

    thickness: Size
    slabs: Number


class StockEntry(Entry):
    """``[stock]``: what is sold, in m; what is left out is as usual in the trade."""

    trade: Text | None = None
    lengths: list[Size] | None = None
    boards: list[BoardEntry] | None = None
    kerf: Depth | None = None
    trim: Depth | None = None
    sheet: Size2 | None = None
    slab: Size2 | None = None
    packs: list[PackEntry] | None = None
    roll_width: Size | None = None
    roll_step: Size | None = None
    prices: Text | None = None
