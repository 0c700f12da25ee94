"""Several budgets at once: the same as one by one, and the rule of where to stop by hand."""

import json

import pytest
from typer.testing import CliRunner

from treatment.cli import app
from treatment.errors import PlanError
from treatment.planning.budgets import STOP_SHARE, plan_budgets, where_to_stop
from treatment.planning.lists import BudgetStep
from treatment.planning.make import make_plan
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
    assert second.early_after == single.after.arrivals.verdict.count("treat")
    assert second.early_before == single.before.arrivals.verdict.count("treat")
    assert second.seconds == pytest.approx(float(single.after.eyring[3:5].mean()))
    assert second.stop
    assert places(alone) == places(single)
    worth = [s.worth for s in alone.budgets]
    assert worth == sorted(worth)


def step(budget, cost, worth):
    return BudgetStep(budget, cost, 1, 9, 5, 0.5, 1.0, 0.5, "too live", worth)


def test_where_to_stop_by_hand():
    """Worth per money: 0.4 of 100, 0.2 of 100, 0.02 of 100, nothing: the third gains a twentieth."""
    steps = where_to_stop(
        [step(100, 100, 0.4), step(200, 200, 0.6), step(300, 300, 0.62), step(400, 300, 0.62)]
    )
    assert [s.per_money for s in steps] == pytest.approx([0.004, 0.002, 0.0002, 0.0])
    assert [s.stop for s in steps] == [False, True, False, False]
    assert 0.05 < STOP_SHARE < 0.5
    # A small step between two that pay is not where to stop.
    steps = where_to_stop([step(100, 100, 0.4), step(200, 200, 0.41), step(300, 300, 0.6)])
    assert [s.stop for s in steps] == [False, False, True]
    # What hangs already is not bought again.
    (first,) = where_to_stop([step(100, 100, 0.4)], kept=60.0)
    assert first.per_money == pytest.approx(0.01)
    # Where nothing gains anything, the least money is enough.
    assert where_to_stop([step(100, 0, 0.0), step(200, 0, 0.0)])[0].stop


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
