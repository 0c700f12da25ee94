"""Lists of the report: what to buy and to saw, what hangs on which fixings, with the bill's own notes."""

from __future__ import annotations

import math
from typing import Any

from treatment.measures import in_feet
from treatment.planning.pieces import BACK_FOLD
from treatment.planning.plan import Plan
from treatment.present.hanging import hanging_rows
from treatment.present.support_words import support_words
from treatment.present.tables import placement_row
from treatment.present.tape import both_tapes, tape_starts
from treatment.present.wording import lengths, money
from treatment.units import UNITS, format_imperial, format_metric

#: The report shows so many ways of cutting; all of them stand in stock.csv.
MOST_WAYS = 40


def shopping_lists(plan: Plan) -> dict[str, Any]:
    """Shopping list and its totals, by the names that the page uses.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    dict of str to object
        ``own_total`` is empty without prices of one's own; each such price stands with its date in the
        note of its line.
    """
    bought = [s.bought for s in plan.shopping if s.bought is not None]
    return {
        "shopping": [
            {
                "item": s.item,
                "quantity": _amount(s.quantity, s.unit, plan.scene.units),
                "price": money(plan, s.unit_price) if s.unit_price else "",
                "total": money(plan, s.total) if s.total else "",
                "own": "" if s.bought is None else money(plan, s.bought),
                "note": s.note,
            }
            for s in plan.shopping
        ],
        "shopping_total": money(plan, sum(s.total for s in plan.shopping)),
        "own_total": money(plan, sum(bought)) if bought else "",
        "bill_notes": plan.bill_notes,
        "price_notes": sorted({p.build.price_note for p in plan.placements if p.build.price_note}),
    }


def _amount(quantity: float, unit: str, units: str) -> str:
    """``1 pack``, ``2 packs``, ``7.5 m``; cloth where one measures in feet ``25 ft (7.5 m)``, rounded up."""
    if unit == "m" and in_feet(units):
        return f"{math.ceil(quantity / UNITS['ft'] - 1e-6)} ft ({quantity:g} m)"
    return f"{quantity:g} {unit}{'s' if quantity != 1 and unit.isalpha() and len(unit) > 2 else ''}"


def cutting_lists(plan: Plan) -> dict[str, Any]:
    """Cut list, and which piece comes from which board, slab or length of cloth.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    dict of str to object
        ``cuts``, ``ways``, how many ways there are in all, and how far cloth folds round to the back.
    """
    return {
        "cuts": [
            {
                "part": c.part,
                "material": c.material,
                "count": c.count,
                "size": f"{lengths(c.length, plan.scene.units)} x {lengths(c.width, plan.scene.units)}",
                "panels": ", ".join(c.panels),
            }
            for c in plan.cuts
        ],
        "ways": [
            {
                "number": u.number,
                "material": u.material,
                "length": lengths(u.length, plan.scene.units),
                "pieces": _pieces(u.pieces, u.kind, inches=plan.scene.units in {"ft", "in"}),
                "waste": f"{100.0 * u.waste:.0f} %",
            }
            for u in plan.stock[:MOST_WAYS]
        ],
        "all_ways": len(plan.stock),
        "turn_in": lengths(BACK_FOLD, plan.scene.units),
    }


def _pieces(pieces: tuple[tuple[str, float, float], ...], kind: str, *, inches: bool) -> str:
    """Pieces in the order of cutting, equal ones counted."""
    tell = format_imperial if inches else format_metric
    counted: dict[str, int] = {}
    for part, length, width in pieces:
        across = "" if kind == "board" else f" x {tell(width)}"
        words = f"{part} {tell(length)}{across}"
        counted[words] = counted.get(words, 0) + 1
    return ", ".join(f"{n} x {words}" if n > 1 else words for words, n in counted.items())


def panel_rows(plan: Plan) -> list[dict[str, object]]:
    """Where every panel hangs, in the order of benefit, in the words of the report.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict of str to object
        As `placement_row`, with what the person measures in first, where the tapes start as a phrase
        (``u_words``, ``v_words``), and what carries the panel.
    """
    scene, units = plan.scene, plan.scene.units
    rows = []
    for p in plan.placements:
        row = placement_row(scene, p)
        along, up = tape_starts(scene, p.surface, p.rectangle)
        row |= {"u_words": along.words, "v_words": up.words}
        rows.append({**row, "support": support_words(scene, p, lambda x: both_tapes(x, units))})
    return rows


def loads(plan: Plan) -> dict[str, dict[str, str]]:
    """Mass, fixings, line and place in the order of hanging, by panel.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    dict of str to dict
        ``order``, ``mass``, ``fixings``, ``line``.
    """
    found = {}
    for row in hanging_rows(plan):
        line = f"{row['line_kind']} {row['line']} ({row['line_other']})" if row["line"] else row["how"]
        found[row["id"]] = {
            "order": str(row["order"]),
            "mass": row["mass"],
            "fixings": row["fixings"],
            "line": line,
        }
    return found
