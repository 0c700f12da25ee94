"""Results as tables. The only home of column names."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from treatment import bands
from treatment.planning.plan import Arrivals, Evaluation, Placement, Plan
from treatment.present.corner_words import corner_name
from treatment.present.fate_words import verdict_words
from treatment.present.tape import STEP, tape_pair, tape_starts
from treatment.present.wording import loudest, surface_words
from treatment.scene.model import Scene
from treatment.units import format_pair

if TYPE_CHECKING:
    import pandas as pd

BAND_COLUMNS: Final = tuple(f"{f}_hz" for f in bands.NOMINAL_HZ)
PLACEMENT_COLUMNS: Final = (
    "id", "panel", "surface",
    "u_from", "u_m", "u_tape_m", "u_text", "v_from", "v_m", "v_tape_m", "v_text",
    "width_m", "height_m", "size_text", "bottom_m", "bottom_text",
    "x_m", "y_m", "z_m", "centre_text",
    "thickness_m", "air_gap_m", "depth_text", "cost", "mass_kg", "reasons",
)  # fmt: skip
ARRIVAL_COLUMNS: Final = (
    "source", "seat", "order", "surfaces", "bounces_before", "bounces_after",
    "length_m", "delay_ms", "clearance_m",
    "loudest_before_db", "loudest_after_db", "verdict_before", "verdict_after",
    *(f"before_{band}_db" for band in BAND_COLUMNS),
    *(f"after_{band}_db" for band in BAND_COLUMNS),
)  # fmt: skip
REVERBERATION_COLUMNS: Final = ("quantity", "state", *BAND_COLUMNS)
SHOPPING_COLUMNS: Final = (
    "item", "quantity", "unit", "unit_price", "total", "own_total", "currency", "note",
)  # fmt: skip
CUT_COLUMNS: Final = (
    "part", "material", "length_m", "length_text", "width_m", "width_text", "count", "panels",
)  # fmt: skip
STOCK_COLUMNS: Final = (
    "kind", "material", "number", "length_m", "length_text", "width_m", "width_text", "cut", "cut_text",
    "left_over_share",
)  # fmt: skip


def table(rows: list[dict[str, object]], columns: tuple[str, ...]) -> pd.DataFrame:
    """Make a table of rows, its columns in the stated order even when there is no row.

    Parameters
    ----------
    rows : list of dict
        Values by column.
    columns : tuple of str
        Names in order.

    Returns
    -------
    pandas.DataFrame
        The table.
    """
    import pandas as pd  # costs most of a second: only who wants a table pays

    return pd.DataFrame(rows, columns=list(columns))


def _both(metres: float, unit: str) -> str:
    return " / ".join(format_pair(metres, unit))


def _marks(metres: float, unit: str) -> str:
    return " / ".join(tape_pair(metres, unit))


def _marked(metres: float) -> float:
    return round(round(metres / STEP) * STEP, 3)


def placement_row(scene: Scene, placement: Placement) -> dict[str, object]:
    """Everything about one panel, by column name.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        One panel.

    Returns
    -------
    dict of str to object
        Keys are `PLACEMENT_COLUMNS`. ``u_m`` and ``v_m`` are the panel's lower corner in wall
        coordinates; ``u_tape_m`` and ``u_text`` what a tape reads from ``u_from``, to what it holds (5 mm,
        1/8 in), and so for v; ``bottom_m`` is the height of its lowest point above the floor; x, y, z is the
        centre of its rectangle on the surface it hangs from, of a standing panel that of its body.
    """
    surface = scene.surfaces[placement.surface]
    r, build, units = placement.rectangle, placement.build, scene.units
    u_from, v_from = tape_starts(scene, placement.surface, r)
    u, v = u_from.reading(r.u), v_from.reading(r.v)
    low_u, low_v, high_u, high_v = r.bounds
    corners = surface.polygon.to_room([[low_u, low_v], [high_u, low_v], [high_u, high_v], [low_u, high_v]])
    # A standing panel is told upright: its ground's second side is its thickness, which has a column.
    width, height, middle = r.width, r.height, 0.0
    if placement.standing:
        width, height, middle = build.outer_width, build.outer_height, build.outer_height / 2.0
    centre = surface.polygon.to_room(r.centre, out=middle)
    bottom = float(corners[:, 2].min())
    return {
        "id": placement.id,
        "panel": build.id,
        "surface": corner_name(scene, placement) if placement.corner is not None else surface_words(surface),
        "u_from": u_from.name,
        "u_m": r.u,
        "u_tape_m": _marked(u),
        "u_text": _marks(u, units),
        "v_from": v_from.name,
        "v_m": r.v,
        "v_tape_m": _marked(v),
        "v_text": _marks(v, units),
        "width_m": width,
        "height_m": height,
        "size_text": " / ".join(
            f"{w} x {h}" for w, h in zip(format_pair(width, units), format_pair(height, units), strict=True)
        ),
        "bottom_m": bottom,
        "bottom_text": _marks(bottom, units),
        "x_m": float(centre[0]),
        "y_m": float(centre[1]),
        "z_m": float(centre[2]),
        "centre_text": ", ".join(f"{a} {_both(float(c), units)}" for a, c in zip("xyz", centre, strict=True)),
        "thickness_m": build.thickness,
        "air_gap_m": build.air_gap,
        "depth_text": _both(build.depth, units),
        "cost": build.price,
        "mass_kg": build.mass if build.mass > 0.0 else None,
        "reasons": "; ".join(placement.reasons),
    }


def placements_table(plan: Plan) -> pd.DataFrame:
    """Where every panel hangs.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    pandas.DataFrame
        One row a panel, `PLACEMENT_COLUMNS`; lengths to 0.1 mm, masses to 1 g.
    """
    rows: list[dict[str, object]] = []
    for p in plan.placements:
        row = placement_row(plan.scene, p)
        short = {k: round(v, 3 if k == "mass_kg" else 4) for k, v in row.items() if isinstance(v, float)}
        rows.append(row | short)
    return table(rows, PLACEMENT_COLUMNS)


def path_key(arrivals: Arrivals, i: int) -> tuple[int, int, tuple[int, ...]]:
    """Identify a path before and after: by source, seat and the surfaces it meets.

    Parameters
    ----------
    arrivals : Arrivals
        Any arrivals.
    i : int
        Which one.

    Returns
    -------
    tuple
        Source index, seat index, surface indices.
    """
    order = int(arrivals.order[i])
    return (
        int(arrivals.source[i]),
        int(arrivals.seat[i]),
        tuple(int(s) for s in arrivals.surfaces[i][:order]),
    )


def matched(before: Evaluation, after: Evaluation | None) -> list[tuple[int, int | None]]:
    """Join arrivals before and after by their path.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation or None
        The same room with panels.

    Returns
    -------
    list of (int, int or None)
        Index before and index after, in order of source, seat and delay.
    """
    a = before.arrivals
    found = {path_key(after.arrivals, i): i for i in range(len(after.arrivals.order))} if after else {}
    rows = np.lexsort((a.delay_ms, a.seat, a.source))
    return [(int(i), found.get(path_key(a, int(i)))) for i in rows]


def arrivals_table(before: Evaluation, after: Evaluation | None = None) -> pd.DataFrame:
    """Direct sound and reflections at the seats, before and after.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same room with panels.

    Returns
    -------
    pandas.DataFrame
        One row a path, `ARRIVAL_COLUMNS`; the columns of ``after`` are empty without it. Levels
        re the direct sound.
    """
    scene, a = before.scene, before.arrivals
    rows: list[dict[str, object]] = []
    for i, j in matched(before, after):
        order = int(a.order[i])
        row: dict[str, object] = {
            "source": scene.loudspeakers[a.source[i]].name,
            "seat": scene.seats[a.seat[i]].name,
            "order": order,
            "surfaces": " > ".join(scene.surfaces[s].name for s in a.surfaces[i][:order]),
            "bounces_before": " > ".join(a.names[i]),
            "length_m": float(a.length[i]),
            "delay_ms": float(a.delay_ms[i]),
            "clearance_m": float(a.clearance[i]) if np.isfinite(a.clearance[i]) else None,
            "loudest_before_db": float(loudest(a.level_db[i])),
            "verdict_before": a.verdict[i],
        }
        row |= {f"before_{b}_db": float(x) for b, x in zip(BAND_COLUMNS, a.level_db[i], strict=True)}
        if after is not None and j is not None:
            then = after.arrivals
            row["bounces_after"] = " > ".join(then.names[j])
            row["loudest_after_db"] = float(loudest(then.level_db[j]))
            row["verdict_after"] = verdict_words(then.verdict[j], panels=True)
            row |= {f"after_{b}_db": float(x) for b, x in zip(BAND_COLUMNS, then.level_db[j], strict=True)}
        rows.append(row)
    return table(rows, ARRIVAL_COLUMNS)


def reverberation_table(before: Evaluation, after: Evaluation | None = None) -> pd.DataFrame:
    """Reverberation times by formula, and the target.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same room with panels.

    Returns
    -------
    pandas.DataFrame
        One row a formula and state, then the target's limits; `REVERBERATION_COLUMNS`, seconds.
        Formulas that do not apply are left out.
    """
    rows: list[dict[str, object]] = []

    def add(quantity: str, state: str, values: object) -> None:
        numbers = np.asarray(values, dtype=np.float64)
        cells = {b: float(x) for b, x in zip(BAND_COLUMNS, numbers, strict=True)}
        rows.append({"quantity": quantity, "state": state, **cells})

    for state, evaluation in (("before", before), ("after", after)):
        for formula, times in evaluation.reverberation.items() if evaluation else ():
            if times is not None:
                add(formula, state, times)
    add("target lower limit", "target", before.target.lower)
    add("target upper limit", "target", before.target.upper)
    return table(rows, REVERBERATION_COLUMNS)


def shopping_table(plan: Plan) -> pd.DataFrame:
    """List what to buy.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    pandas.DataFrame
        One row an item, `SHOPPING_COLUMNS`.
    """
    rows: list[dict[str, object]] = [
        {
            "item": s.item,
            "quantity": s.quantity,
            "unit": s.unit,
            "unit_price": s.unit_price,
            "total": s.total,
            "own_total": s.bought,
            "currency": plan.currency,
            "note": s.note,
        }
        for s in plan.shopping
    ]
    return table(rows, SHOPPING_COLUMNS)


def cuts_table(plan: Plan) -> pd.DataFrame:
    """List what to saw and cut.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    pandas.DataFrame
        One row a kind of piece, `CUT_COLUMNS`.
    """
    rows: list[dict[str, object]] = [
        {
            "part": c.part,
            "material": c.material,
            "length_m": round(c.length, 5),
            "length_text": _both(c.length, plan.scene.units),
            "width_m": round(c.width, 5),
            "width_text": _both(c.width, plan.scene.units),
            "count": c.count,
            "panels": " ".join(c.panels),
        }
        for c in plan.cuts
    ]
    return table(rows, CUT_COLUMNS)


def stock_table(plan: Plan) -> pd.DataFrame:
    """List which pieces come from which board, slab, sheet or length of cloth.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    pandas.DataFrame
        One row for all that are cut alike, `STOCK_COLUMNS`. ``cut`` and ``cut_text`` list the pieces in
        the order of cutting, length first; ``left_over_share`` is a share.
    """
    units = plan.scene.units
    rows: list[dict[str, object]] = [
        {
            "kind": u.kind,
            "material": u.material,
            "number": u.number,
            "length_m": round(u.length, 4),
            "length_text": _both(u.length, units),
            "width_m": round(u.width, 4),
            "width_text": _both(u.width, units),
            "cut": "; ".join(f"{part} {a:.4f} x {b:.4f}" for part, a, b in u.pieces),
            "cut_text": "; ".join(_repeated([f"{part} {_both(a, units)}" for part, a, _ in u.pieces])),
            "left_over_share": round(u.waste, 4),
        }
        for u in plan.stock
    ]
    return table(rows, STOCK_COLUMNS)


def _repeated(words: list[str]) -> list[str]:
    """Equal neighbours counted: ``3 x frame end 0.60 m``."""
    found: list[tuple[str, int]] = []
    for word in words:
        if found and found[-1][0] == word:
            found[-1] = (word, found[-1][1] + 1)
        else:
            found.append((word, 1))
    return [f"{n} x {word}" if n > 1 else word for word, n in found]
