"""Several budgets at once: the same as one by one, and the rule of where to stop by hand."""

import json
from dataclasses import replace
from types import SimpleNamespace

import pytest
from typer.testing import CliRunner

from treatment.cli import app
from treatment.errors import PlanError
from treatment.planning.budgets import STOP_SHARE, plan_budgets, where_to_stop
from treatment.planning.lists import BudgetStep
from treatment.planning.make import make_plan
from treatment.planning.worth_curve import turning, upper_hull
from treatment.present.money_curve import budget_rows, stop_words
from treatment.scene.load import load_scene

ROOM = """title = "budgets"
panels = ["wool-100"]
[room]
shape = "box"
length = 4.6
width = 3.2
height = 2.4
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
[[loudspeakers]]
name = "L"
position = [0.5, 1.1, 1.0]
[[seats]]
name = "seat"
position = [2.9, 1.6, 1.1]
spread = 0.0
[budget]
amount = 90
currency = "EUR"
"""


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    path = tmp_path_factory.mktemp("budgets") / "room.toml"
    path.write_text(ROOM)
    return path


def places(plan):
    return [(p.id, p.build.id, p.surface, p.rectangle.bounds, p.reasons) for p in plan.placements]


def test_together_as_one_by_one_and_over_processes(room):
    scene, _ = load_scene(room)
    alone = plan_budgets(scene, [90, 45])
    apart = plan_budgets(scene, [45, 90], workers=2)
    assert alone.budgets == apart.budgets
    assert places(alone) == places(apart)
    assert [s.budget for s in alone.budgets] == [45, 90]
    single = make_plan(scene)
    second = alone.budgets[1]
    assert (second.panels, second.cost) == (len(single.placements), pytest.approx(single.cost))
    # Counted here anew: single bounces that are strong, and which of the same still are.
    strong, still = (
        {
            (a.source[i], a.seat[i], a.surfaces[i, 0])
            for i in range(len(a.order))
            if a.order[i] == 1 and a.verdict[i] == "treat"
        }
        for a in (single.before.arrivals, single.after.arrivals)
    )
    assert (second.early_before, second.early_after) == (len(strong), len(strong & still))
    assert second.early_new == len(still - strong)
    above = (single.after.eyring - single.after.target.upper)[2:7]
    assert second.missing == pytest.approx(float(above.max()))
    assert second.seconds == pytest.approx(float(single.after.eyring[3:5].mean()))
    assert second.stop
    assert places(alone) == places(single)
    # The curve is that of the largest: the smaller amounts in the list do not move where it turns.
    assert plan_budgets(scene, [90]).turn == alone.turn > 0.0
    worth = [s.worth for s in alone.budgets]
    assert worth == sorted(worth)


def step(budget, cost, worth):
    return BudgetStep(budget, cost, 1, 9, 5, 0.5, 1.0, 0.5, "too live", worth)


#: Panels of 20: 0.2, 0.2, 0.1, 0.1, 0.02 and 0.01 more.
CURVE = ((0.0, 0.0), (20.0, 0.2), (40.0, 0.4), (60.0, 0.5), (80.0, 0.6), (100.0, 0.62), (120.0, 0.63))


def test_where_to_stop_by_hand():
    """Gains re the first panel: 1, 1, 1/2, 1/2, 1/10, 1/20; by a quarter it turns at 80."""
    assert STOP_SHARE == 0.25
    assert turning(CURVE, 0.25) == 80.0
    assert turning(CURVE, 0.6) == 40.0
    assert turning(CURVE, 0.01) == 120.0
    assert turning(((60.0, 0.0),), 0.25) == 60.0
    # Whatever else is in the list, the smallest amount that reaches 80 is the one.
    for amounts in ([100, 200, 300], [40, 100], [100, 110, 120], [20, 40, 90, 100]):
        marked = where_to_stop([step(a, a, 0.5) for a in amounts], CURVE)
        assert [s.budget for s in marked if s.stop] == [next(a for a in amounts if a >= 80)], amounts
        assert not any(s.near for s in marked)
    # None reaches it: the largest.
    assert [s.stop for s in where_to_stop([step(30, 20, 0.2), step(60, 60, 0.5)], CURVE)] == [False, True]
    # Where nothing gains anything, the least money is enough.
    assert where_to_stop([step(100, 0, 0.0), step(200, 0, 0.0)], ((0.0, 0.0),))[0].stop


def test_a_pair_is_judged_as_a_pair():
    """One of a pair alone gains 0.05, both 0.2: the hull runs straight over the tooth."""
    assert upper_hull(((0, 0.0), (20, 0.05), (40, 0.2), (60, 0.15), (80, 0.3))) == [
        (0, 0.0),
        (40, 0.2),
        (80, 0.3),
    ]


def test_a_hair_is_told():
    """0.26 and 0.24 of the first gain are within a tenth of a quarter, 0.30 and 0.20 are not."""
    steps = [step(100, 100, 1.0), step(200, 200, 1.2)]
    for second, stop, near in ((0.26, 1, 0), (0.24, 0, 1), (0.30, 1, None), (0.20, 0, None)):
        marked = where_to_stop(steps, ((0.0, 0.0), (100.0, 1.0), (200.0, 1.0 + second)))
        assert [s.stop for s in marked].index(True) == stop
        assert [i for i, s in enumerate(marked) if s.near] == ([] if near is None else [near])


def test_sentences_on_where_to_stop():
    steps = where_to_stop(
        [step(100, 100, 1.0), step(200, 200, 1.2)], ((0.0, 0.0), (100.0, 1.0), (200.0, 1.24))
    )
    steps = tuple(replace(s, missing=0.31) for s in steps)
    words = " ".join(stop_words(SimpleNamespace(currency="EUR", budgets=steps, turn=100.0)))
    assert "Stop at 100.00 EUR" in words
    assert "100 or 200: a hair decides" in words
    assert "after 100.00 EUR a panel gains, for its money, less than 25 %" in words
    assert "too live by up to 0.31 s" in words
    assert "try 40.00 EUR too" in " ".join(
        stop_words(SimpleNamespace(currency="EUR", budgets=steps, turn=40.0))
    )
    row = budget_rows(SimpleNamespace(currency="EUR", budgets=steps))[0]
    assert (row["state"], row["share"], row["stay"]) == ("too live by 0.31 s", "83 %", "5 of 9")
    assert row["seconds"] == "0.50 s (0.50 s)"


@pytest.mark.parametrize("amounts", [[], [0.0], [-5.0, 10.0], [float("inf")], list(range(1, 20))])
def test_amounts_that_are_no_budgets(room, amounts):
    with pytest.raises(PlanError, match="amounts above zero"):
        plan_budgets(load_scene(room)[0], amounts)


def test_the_command_writes_table_and_chart(room):
    out = room.parent / "plan"
    words = ["plan", str(room), "--out", str(out), "--no-pictures", "--budgets", "45, 90"]
    result = CliRunner().invoke(app, words)
    assert result.exit_code == 0, result.output
    assert "stop here" in result.output
    document = json.loads((out / "plan.json").read_text())
    here = next(b for b in document["budgets"] if b["stop"])
    assert document["cost"]["total"] == here["cost"] <= here["budget"]
    lines = (out / "budgets.csv").read_text().splitlines()
    assert len(lines) == 3
    assert (out / "budgets.svg").read_text().startswith("<svg")
    report = (out / "report.html").read_text()
    for text in ("What money buys", "stop here", "progress-figure_1", "budgets-figure_1"):
        assert text in report


@pytest.mark.parametrize("text", ["100;200", "100,-5", "100,nan", "many"])
def test_bad_amounts_are_wrong_usage(room, tmp_path, text):
    result = CliRunner().invoke(app, ["plan", str(room), "--out", str(tmp_path / "p"), "--budgets", text])
    assert result.exit_code == 2
    assert not (tmp_path / "p").exists()
