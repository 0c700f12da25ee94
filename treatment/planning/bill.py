"""What to buy and what to saw."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from treatment.materials.build import PanelBuild
from treatment.planning.plan import Cut, Placement, ShoppingItem

#: Cloth that is folded round the frame on each side (m). Common practice.
TURN_IN = 0.10
#: Added to stock for offcuts and mistakes. Common practice.
WASTE = 1.10


def shopping_list(placements: Sequence[Placement]) -> tuple[ShoppingItem, ...]:
    """List what to buy: panels by build with their price, then what each kind is made of.

    Parameters
    ----------
    placements : sequence of Placement
        The panels.

    Returns
    -------
    tuple of ShoppingItem
        The panels' lines carry the money; their parts follow with a price of 0, because a panel's
        price includes them.
    """
    items = []
    for build, ids in _by_build(placements):
        count = len(ids)
        note = f"for {', '.join(ids)}" + (f"; price: {build.price_note}" if build.price_note else "")
        items.append(
            ShoppingItem(
                f"{build.description} ({build.id})", count, "panel", build.price, count * build.price, note
            )
        )
    for build, ids in _by_build(placements):
        items += _parts(build, len(ids))
    return tuple(items)


def _parts(build: PanelBuild, count: int) -> list[ShoppingItem]:
    """Parts of one kind of panel, included in its price."""
    parts = []
    note = f"included in {build.id}"
    for layer in build.layers:
        density = f", {layer.density:.0f} kg/m3" if layer.density else ""
        name = f"porous slab {1000.0 * layer.thickness:.0f} mm{density}"
        parts.append(ShoppingItem(name, round(count * build.face_area, 2), "m2", 0.0, 0.0, note))
    if build.frame_thickness:
        metres = 2.0 * (build.outer_height + build.width) * count * WASTE
        name = f"board {1000.0 * build.frame_thickness:.0f} x {1000.0 * build.thickness:.0f} mm"
        parts.append(ShoppingItem(name, round(metres, 2), "m", 0.0, 0.0, note + ", 10 % for waste"))
        parts.append(ShoppingItem("screws and two hangers per panel", count, "set", 0.0, 0.0, note))
    if build.facing:
        area = (build.outer_width + 2.0 * TURN_IN) * (build.outer_height + 2.0 * TURN_IN) * count
        parts.append(ShoppingItem(build.facing, round(area, 2), "m2", 0.0, 0.0, note))
    return parts


def cut_list(placements: Sequence[Placement]) -> tuple[Cut, ...]:
    """List the pieces to saw and cut.

    Parameters
    ----------
    placements : sequence of Placement
        The panels.

    Returns
    -------
    tuple of Cut
        Slabs stay uncut: the frame goes round them. Its sides run the full height, its ends fit
        between them.
    """
    cuts = []
    for build, ids in _by_build(placements):
        board = f"board {1000.0 * build.frame_thickness:.0f} x {1000.0 * build.thickness:.0f} mm"
        if build.frame_thickness:
            cuts.append(Cut("frame side", board, build.outer_height, build.thickness, 2 * len(ids), ids))
            cuts.append(Cut("frame end", board, build.width, build.thickness, 2 * len(ids), ids))
        for layer in build.layers:
            slab = f"porous slab {1000.0 * layer.thickness:.0f} mm"
            cuts.append(Cut("slab", slab, build.height, build.width, len(ids), ids))
        if build.facing:
            cloth = (build.outer_height + 2.0 * TURN_IN, build.outer_width + 2.0 * TURN_IN)
            cuts.append(Cut("cloth", build.facing, *cloth, len(ids), ids))
    return tuple(cuts)


def _by_build(placements: Sequence[Placement]) -> list[tuple[PanelBuild, tuple[str, ...]]]:
    counts = Counter(p.build.id for p in placements)
    builds = {p.build.id: p.build for p in placements}
    return [(builds[k], tuple(p.id for p in placements if p.build.id == k)) for k in sorted(counts)]
