"""Cards and names: letters keep out of each other's way, and everything can be reached by the mouse."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.planning.plan import Plan
from treatment.present.native.card import Card
from treatment.present.native.desk import Desk
from treatment.present.native.keys import KEYS
from treatment.present.native.labels import place_labels
from treatment.present.native.notes import help_card
from treatment.present.native.steps import OnDemand
from treatment.present.ray_times import RayTimes
from treatment.present.svg import Box, meet


def clashes(card: Card) -> list[tuple[str, str]]:
    boxes = [(t, b) for t, b in card.letter_boxes() if t.strip()]
    return [(a[0], b[0]) for a, b in combinations(boxes, 2) if meet(a[1], b[1])]


def outside(card: Card) -> list[str]:
    return [
        text
        for text, (left, top, right, bottom) in card.letter_boxes()
        if left < 0.0 or top < 0.0 or right > card.width or bottom > card.height
    ]


@pytest.mark.parametrize("size", [(1400, 900), (1280, 720), (2560, 1440)])
@pytest.mark.parametrize(
    "actions",
    [
        (),
        ("step:0", "zones", "band:2"),
        ("step:3", "colouring", "order:2", "seat:-1"),
        ("pick:panel:P1", "zones"),
        ("pick:seat:centre", "loudspeaker:1"),
    ],
)
def test_texts_keep_apart_and_inside(
    make_desk: Callable[..., Desk], actions: Sequence[str], size: tuple[int, int]
) -> None:
    sent = RayTimes(frozen(np.full(8, 0.4)), frozen(np.full(8, 0.02)), 5000, ())
    desk = make_desk(*actions, size=size, rays=(sent, sent))
    for card in (desk.side(), *(c for c, _ in desk.cards())):
        assert outside(card) == []
        assert clashes(card) == []
    boxes: list[Box] = [(x, y, x + c.size[0], y + c.size[1]) for c, (x, y) in desk.cards()]
    assert not any(meet(a, b) for a, b in combinations(boxes, 2))


def test_hostile_names_are_only_text(hostile_plan: Plan) -> None:
    plan = hostile_plan
    desk = Desk(plan.scene, plan.placements, OnDemand(plan.scene, plan.placements), (1400, 900))
    for kind, thing in (("seat", plan.scene.seats[0]), ("equipment", plan.scene.loudspeakers[0])):
        desk.act(f"pick:{kind}:{thing.name}")
        for card in (desk.side(), *(c for c, _ in desk.cards())):
            assert outside(card) == []
            assert clashes(card) == []
        assert len(desk.cards()) == 2
    assert desk.overlay().shape == (900, desk.view_size[0], 4)


def test_help_names_every_key() -> None:
    card = help_card(1.0)
    assert outside(card) == []
    assert clashes(card) == []
    for _, keys in KEYS:
        for key in keys:
            assert key.shown in card.texts
            assert key.words in card.texts


def test_every_choice_can_be_clicked(make_desk: Callable[..., Desk]) -> None:
    desk = make_desk()
    left = desk.view_size[0]
    reached = set()
    for (x0, y0, x1, y1), action in desk.side().spots:
        x, y = left + desk.unit * (x0 + x1) / 2.0, desk.unit * (y0 + y1) / 2.0
        assert desk.click(x, y) == action
        reached.add(action.partition(":")[0])
    assert reached >= {
        "loudspeaker", "seat", "order", "band", "colouring", "zones", "names", "keep_free", "strong", "view",
        "still", "before-after", "step", "help",
    }  # fmt: skip


def test_charts_follow_the_step(make_desk: Callable[..., Desk], plan: Plan) -> None:
    desk = make_desk("step:0")
    strong = sum(
        v == "treat" and s == desk.state.seat
        for v, s in zip(plan.before.arrivals.verdict, plan.before.arrivals.seat, strict=True)
    )
    assert f"{strong} early and strong" in desk.side().texts
    bare = desk.side().pixels()
    desk.act("step:8")
    assert any(t.endswith(f"early and strong, {strong} without panels") for t in desk.side().texts)
    assert "with 8 of 8 panels, 252.00 EUR" in desk.side().texts
    assert (desk.side().pixels() != bare).any(axis=2).mean() > 0.02


def test_a_step_that_is_being_worked_out_says_so(plan: Plan) -> None:
    class Late(OnDemand):
        missing = 3

        def get(self, step: int) -> None:  # noqa: ARG002
            return None

    desk = Desk(plan.scene, plan.placements, Late(plan.scene, plan.placements), (1400, 900))
    assert "with 8 panels: being worked out" in desk.side().texts
    assert "3 steps still being worked out" in desk.side().texts
    assert desk.lines() is None
    assert desk.click(400.0, 400.0).startswith("pick:")


def test_names_never_cover_each_other(make_desk: Callable[..., Desk]) -> None:
    for view in ("corner", "plan", "front", "seat"):
        desk = make_desk(f"view:{view}")
        taken = [(0.0, 700.0, 600.0, 900.0)]
        names = [x for x in desk.shapes.labels if desk.shown(x)]
        placed = place_labels(names, desk.camera, 1.0, taken)
        assert len(placed) > (4 if view == "seat" else 15)
        assert not any(meet(a, b) for a, b in combinations([p.box for p in placed] + taken, 2))
        assert all(min(p.box) >= 0.0 for p in placed)
        # A name stands near its thing.
        for p in placed:
            middle = np.array([(p.box[0] + p.box[2]) / 2.0, (p.box[1] + p.box[3]) / 2.0])
            assert np.linalg.norm(middle - p.point) < 80.0 + (p.box[2] - p.box[0])


def test_names_can_be_hidden(make_desk: Callable[..., Desk]) -> None:
    shown, hidden = make_desk().overlay(), make_desk("names").overlay()
    assert (shown[..., 3] > 0).sum() > (hidden[..., 3] > 0).sum() + 5000
