"""What a person sees first on a terminal: the answer on top, and no more than a screen."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
from rich.console import Console

from treatment.bands import frozen
from treatment.planning.plan import Plan
from treatment.present.plan_summary import print_plan_summary
from treatment.present.room_summary import print_room_summary, span_cells

CAUTIONS = (
    "Electricity (fuse board): keep the working space free and never cover it. Local codes decide.",
    "Lamps: wool is insulation. Keep it away from recessed lamps, and never above one. The rest is long.",
    "Load overhead (P1): fix into joists with two independent fixings, so that any one may fail. More.",
    "Fire: ask for the class. More.",
    "Fibres (wool): cut with gloves. More.",
)


def printed(show: object, *what: object) -> list[str]:
    console = Console(width=100, file=io.StringIO(), highlight=False)
    show(console, *what)  # type: ignore[operator]
    return console.file.getvalue().splitlines()  # type: ignore[attr-defined]


def test_a_plan_fits_one_screen_with_the_answer_on_top(plan: Plan) -> None:
    lines = printed(print_plan_summary, replace(plan, cautions=CAUTIONS))
    assert len(lines) <= 50
    assert max(map(len, lines)) <= 100
    assert lines[0].startswith("Hang 8 panels")
    text = " ".join(" ".join(lines).split())
    assert "252.00 EUR" in text
    # Whole sentences of the three gravest cautions; the others are named, none is dropped without a word.
    assert "never cover it. Caution." in text
    assert "Keep it away from recessed lamps, and never above one. Caution." in text
    assert "before you drill, also those about fire and fibres." in text
    assert "--full" in text


def test_many_panels_are_gathered_by_surface(plan: Plan) -> None:
    many = tuple(replace(p, id=f"P{8 * n + k + 1}") for n in range(4) for k, p in enumerate(plan.placements))
    lines = printed(print_plan_summary, replace(plan, placements=many))
    table = [x.split() for x in lines[lines.index(next(x for x in lines if x.startswith("Where"))) + 1 :]]
    counts = [
        int(next(w for w in row if w.isdigit())) for row in table[: table.index([])] if row[0] != "total"
    ]
    assert sum(counts) == 32
    assert len(lines) <= 50


def test_a_room_fits_one_screen(plan: Plan) -> None:
    lines = printed(print_room_summary, plan.before)
    assert len(lines) <= 50
    low, high = (f"{t[3]:.2f}" for t in plan.before.spread)
    assert any(x.startswith("formulas") and f"{low}-{high}" in x for x in lines)


def test_cells_of_ranges() -> None:
    low, high = frozen([0.3, 0.304, np.nan, 0, 0, 0, 0, 0]), frozen([0.35, 0.301, 1.0, 0, 0, 0, 0, 0])
    assert span_cells(low, high)[:3] == ["0.30-0.35", "0.30", "-"]
