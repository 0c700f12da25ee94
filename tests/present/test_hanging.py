"""Hanging sheet: marks by hand, both systems, and an order a person can follow."""

from dataclasses import replace
from pathlib import Path

import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.bill import make_bill
from treatment.planning.plan import Placement
from treatment.present import tables
from treatment.present.hanging import hang_order, hang_sheet, hanging_rows, order_words
from treatment.present.tape import tape
from treatment.scene.load import load_scene
from treatment.units import parse_length


def row(plan, name, units=None):
    return next(r for r in hanging_rows(plan, units) if r["id"] == name)


def test_marks_by_hand(plan):
    """P1 on the left wall: u = x from 0.95 to 1.55 m, z from 0.50 to 1.70 m; 50 mm gap, so a cleat at 1.65 m.

    Facing the left wall the front wall is at the right hand, so the near edge, at 0.95 m, is its right one.
    """
    r = row(plan, "P1")
    assert (r["surface"], r["u_from"], r["v_from"]) == ("left wall", "front wall", "floor")
    assert (r["near_edge"], r["u"], r["u_far"]) == ("right", "0.95 m", "1.55 m")
    assert (r["v"], r["v_far"], r["bottom"], r["top"]) == ("0.50 m", "1.70 m", "0.50 m", "1.70 m")
    assert (r["line"], r["line_kind"]) == ("1.65 m", "cleat")
    assert r["how"] == "cleat, on a batten 32 mm deep, blocks 32 mm below"
    assert (r["mass"], r["fixings"]) == ("6.4 kg", "2 x 20 kg")  # 5 x 6.4 / 2 = 16
    assert r["u_other"] == "3 ft 1 3/8 in"  # 0.95 m = 37.40 in
    across = row(plan, "P3")  # the right wall: the front wall is at the left hand
    assert (across["near_edge"], across["u"], across["u_far"]) == ("left", "0.95 m", "1.55 m")


def test_feet_and_inches(plan):
    r = row(plan, "P1", "ft")
    assert (r["u"], r["u_other"]) == ("3 ft 1 3/8 in", "0.95 m")


@pytest.mark.parametrize(
    ("metres", "metric", "imperial"),
    [
        (0.9524, "0.95 m", "3 ft 1 1/2 in"),
        (0.9526, "0.955 m", "3 ft 1 1/2 in"),
        (2.0, "2.00 m", "6 ft 6 3/4 in"),
    ],
)
def test_rounding(metres, metric, imperial):
    """To 5 mm and to 1/8 in: 0.9524 m = 37.496 in, 2 m = 78.74 in."""
    assert tape(metres, "cm") == metric
    assert tape(metres, "in") == imperial
    assert parse_length(tape(metres, "m")) == pytest.approx(metres, abs=0.0025 + 1e-9)
    assert parse_length(tape(metres, "ft")) == pytest.approx(metres, abs=0.0254 / 16 + 1e-9)


def test_no_gap_means_hangers(plan):
    flat = replace(plan.placements[0].build, air_gap=0.0)
    r = row(replace(plan, placements=(replace(plan.placements[0], build=flat),)), "P1")
    assert (r["line_kind"], r["how"]) == ("hangers", "hangers")


def test_overhead(plan):
    r = row(plan, "P7")
    assert r["overhead"]
    assert r["line"] == ""
    assert r["fixings"] == "4 x 40 kg"  # 5 x (6.4 + 0.8 of cloth) = 36
    assert (r["u_from"], r["v_from"]) == ("front wall", "left wall")


def test_order(plan):
    """Overhead, then wall by wall; each wall from the lowest row, left to right as one faces it."""
    assert [p.id for p in hang_order(plan)] == ["P7", "P8", "P6", "P5", "P2", "P1", "P3", "P4"]
    sheet = hang_sheet(plan)
    assert [h.order for h in sheet] == list(range(1, 9))
    seen = [h.surface for h in sheet]
    assert len([s for n, s in enumerate(seen) if n == 0 or seen[n - 1] != s]) == len(set(seen))
    upper = replace(plan.placements[3], id="P9", rectangle=Rectangle(0.3, 1.8, 0.6, 0.6))
    two_rows = replace(plan, placements=(upper, *plan.placements[2:4]))
    assert [p.id for p in hang_order(two_rows)] == ["P3", "P4", "P9"]


def test_every_panel_stands_there_once(plan):
    assert sorted(r["id"] for r in hanging_rows(plan)) == sorted(p.id for p in plan.placements)


def test_slope_is_overhead_and_tells_real_heights(plan):
    """Slope of 45 degrees from a knee of 1.00 m: v along it lies 1.00 + v / sqrt(2) above the floor."""
    attic = load_scene(Path(__file__).parents[2] / "scenes" / "attic.toml")[0]
    index = attic.surface_index("slope-left")
    p = Placement("P1", plan.placements[0].build, index, Rectangle(2.0, 0.2, 0.6, 1.2))
    hung = hang_sheet(replace(plan, scene=attic, placements=(p,)))[0]
    assert hung.overhead
    assert hung.bottom == pytest.approx(1.0 + 0.2 / 2**0.5, abs=1e-6)
    assert hung.top == pytest.approx(1.0 + 1.4 / 2**0.5, abs=1e-6)


def test_stock_table(plan):
    bill = make_bill(plan.placements, plan.scene)
    frame = tables.stock_table(replace(plan, stock=bill.stock))
    assert tuple(frame.columns) == tables.STOCK_COLUMNS
    boards = frame[frame["kind"] == "board"]
    pieces = sum(len(cut.split("; ")) * n for cut, n in zip(boards["cut"], boards["number"], strict=True))
    # Frames of four. On a wall two rails, the cleat, its batten, two blocks; overhead two rails, two battens.
    assert pieces == 4 * len(plan.placements) + 6 * 6 + 2 * 4


def test_numbers_of_standing_panels_are_said_to_come_last(plan):
    """They have no rank among the others' benefits: who hangs only some must know."""
    assert "the last numbers" not in order_words(plan)
    first = replace(plan.placements[0], standing=True)
    assert "the last numbers, whatever they bring" in order_words(replace(plan, placements=(first,)))
