"""Reverberation on the side card: formulas as a range, rays as points, each as high as its axis says."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.planning.plan import Plan
from treatment.present import figures
from treatment.present.native.card import Card
from treatment.present.native.desk import Desk
from treatment.present.native.times import RaysHere, chart_key, reverberation_chart
from treatment.present.palette import AFTER, BEFORE, WALL, rgb
from treatment.present.ray_times import RayTimes, planned_rays

BOX = (10.0, 10.0, 310.0, 310.0)


def ray_times(seconds: float, error: float = 0.01) -> RayTimes:
    return RayTimes(frozen(np.full(8, seconds)), frozen(np.full(8, error)), 5000, ())


def painted(plan: Plan, step: int, rays: RaysHere) -> tuple[Card, np.ndarray]:
    card = Card((320, 320), 1.0, "#ffffff")
    now = plan.after if step else plan.before
    desk_state = Desk(plan.scene, plan.placements, _Known(plan), (1000, 800)).state
    reverberation_chart(card, BOX, plan.before, now, replace(desk_state, step=step), rays)
    return card, card.pixels()[..., :3].astype(int)


class _Known:
    missing = 0

    def __init__(self, plan: Plan) -> None:
        self.plan = plan

    def get(self, step: int) -> object:
        return self.plan.after if step else self.plan.before

    def poll(self, wanted: int) -> bool:  # noqa: ARG002
        return False


def height_of(card: Card, seconds: float) -> float:
    """Where a time stands, by two labels of the axis and zero at the lower edge of the frame."""
    heights = {
        float(text): (box[1] + box[3]) / 2.0
        for text, box in card.letter_boxes()
        if "." in text and text.replace(".", "").isdigit()
    }
    (a, ya), (b, yb) = sorted(heights.items())[:2]
    return ya + (yb - ya) * (seconds - a) / (b - a)


def middle_of(picture: np.ndarray, bare: np.ndarray, colour: str) -> list[float]:
    """Height of what was added in a colour, in each of the eight columns of the chart."""
    mine = (np.abs(picture - np.array(rgb(colour))).max(axis=2) < 12) & (
        np.abs(picture - bare).max(axis=2) > 30
    )
    edges = np.linspace(40.0, 310.0, 9).round().astype(int)
    return [float(np.nonzero(mine[:, a:b])[0].mean()) for a, b in pairwise(edges)]


@pytest.mark.parametrize(("name", "colour"), [("before", BEFORE), ("now", AFTER)])
def test_a_point_of_the_rays_stands_at_its_time(plan: Plan, name: str, colour: str) -> None:
    seconds = 0.9 if name == "before" else 0.8
    card, picture = painted(plan, 8, RaysHere(**{name: ray_times(seconds, 0.02)}))
    _, bare = painted(plan, 8, RaysHere())
    assert middle_of(picture, bare, colour) == pytest.approx([height_of(card, seconds)] * 8, abs=1.5)


def test_the_range_of_the_formulas_is_filled(plan: Plan) -> None:
    """Just inside the longest and the shortest time the ground is coloured, just outside it is not."""
    lower, upper = plan.before.spread
    k = int(np.argmax(upper - lower))
    card, picture = painted(plan, 0, RaysHere())
    column = 40 + round((k + 0.5) * 270 / 8) + 3  # aside of the line of the doubt
    top, inside, below = (height_of(card, t) for t in (upper[k] + 0.06, upper[k] - 0.03, lower[k] - 0.06))
    warm = picture[:, column, 0] - picture[:, column, 2]
    assert warm[round(inside)] > warm[round(top)] + 12
    assert warm[round(inside)] > warm[round(below)] + 12


@pytest.mark.parametrize("hertz", [125.0, 250.0, 700.0])
def test_what_lies_below_the_schroeder_frequency_is_grey(plan: Plan, hertz: float) -> None:
    """Up to the frequency the ground is darker, beyond it is not; octaves stand at equal steps."""
    known = replace(
        plan, before=replace(plan.before, schroeder_hz=hertz), after=replace(plan.after, schroeder_hz=60.0)
    )
    _, picture = painted(known, 8, RaysHere())
    row = picture[19, 42:309].sum(axis=1)  # just below the upper edge, above every curve
    paper = row.max()
    assert row[-1] == paper
    grey = np.flatnonzero(row < paper - 20)
    column = 270.0 / 8.0
    edge = 40.0 + (np.log2(hertz / 62.5) + 0.5) * column
    assert 42 + grey.max() == pytest.approx(edge, abs=1.5)
    assert len(grey) > 0.9 * (edge - 42.0)


def test_the_key_says_what_the_grey_means() -> None:
    card = Card((320, 60), 1.0, "#ffffff")
    chart_key(card, 10.0, 10.0, treated=True, rays=RaysHere())
    (box,) = [box for text, box in card.letter_boxes() if text == "guide only"]
    middle = round((box[1] + box[3]) / 2.0)
    ground = card.pixels()[middle, round(box[0]) - 9, :3].astype(int)  # its sample, left of the words
    bare = np.array(rgb(WALL))
    assert (bare - ground).min() > 5


def test_the_card_tells_where_rays_were_sent(make_desk: Callable[..., Desk]) -> None:
    rays = (ray_times(0.61), ray_times(0.31))
    plain = make_desk("band:4").side().texts
    assert not any("rays" in t for t in plain)
    after = make_desk("band:4", rays=rays).side().texts
    assert any(t.endswith(" s, rays 0.31 ± 0.01 s") for t in after)
    assert "rays, ± 2 errors" in after
    before = make_desk("band:4", "step:0", rays=rays).side().texts
    assert any(t.endswith(" s, rays 0.61 ± 0.01 s") for t in before)
    between = make_desk("band:4", "step:3", rays=rays).side().texts
    assert "rays: before and after only" in between
    assert not any("0.31" in t for t in between)


def test_rays_of_a_plan_are_read_again(plan: Plan, tmp_path: Path) -> None:
    def told(e: object, traced: float | None) -> dict[str, object]:
        times = {"eyring": [round(float(t), 6) for t in e.eyring]}  # type: ignore[attr-defined]
        if traced is None:
            return {"reverberation_s": {**times, "traced": None}, "decays": None}
        room = {"t30_s_error": [0.01, None] * 4}
        return {
            "reverberation_s": {**times, "traced": [traced, None] * 4},
            "decays": {"rays": 5000, "room": room},
        }

    file = tmp_path / "plan.json"
    file.write_text(json.dumps({"before": told(plan.before, 0.61), "after": told(plan.after, 0.31)}))
    before, after = planned_rays(tmp_path, plan.scene, plan.placements)
    assert before.t30[::2] == pytest.approx(0.61)
    assert np.isnan(after.t30[1::2]).all()
    assert (after.error[0], after.rays) == (0.01, 5000)
    # Other panels than those of the plan: the rays say nothing about them.
    assert planned_rays(tmp_path, plan.scene, plan.placements[:3]) == ()
    file.write_text(json.dumps({"before": told(plan.before, None), "after": told(plan.after, None)}))
    assert planned_rays(tmp_path, plan.scene, plan.placements) == ()


def test_a_report_draws_the_errors_that_came_with_the_points(plan: Plan) -> None:
    """Points of the page's own rays once stood in its report without a bar."""
    found = ray_times(0.5, 0.08).beside(plan.before)
    assert found.traced is None
    assert found.traced_error == pytest.approx(np.full(8, 0.08))
    drawn, bare = (figures.reverberation_chart(ray_times(0.5, e).beside(plan.before)) for e in (0.08, 0.0))

    def bars(svg: str | bytes) -> list[float]:
        """Lengths of what runs straight up or down in the group of the bars, points of the drawing."""
        (group,) = re.findall(r'<g id="reverberation-LineCollection_1">.*?</g>', str(svg), re.DOTALL)
        ends = re.findall(r"M ([\d.]+) ([\d.]+) \nL ([\d.]+) ([\d.]+)", group)
        assert all(a == c for a, _, c, _ in ends)
        return [abs(float(b) - float(d)) for _, b, _, d in ends]

    assert len(bars(drawn)) == 8
    assert min(bars(drawn)) > 10.0
    assert max(bars(bare), default=0.0) < 0.01
