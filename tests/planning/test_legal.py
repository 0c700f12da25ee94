"""Panels placed by hand: what is refused, what is only noted, and what an earlier plan keeps."""

import pytest

from treatment.errors import PlanError
from treatment.geometry.polygon import Rectangle
from treatment.planning.legal import review_placements
from treatment.planning.make import make_plan
from treatment.planning.plan import Placement
from treatment.scene.load import load_scene

ROOM = """title = "legal"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.5
[surfaces]
default = "gypsum-board-on-studs"
[[openings]]
name = "window"
surface = "right"
at = [1.0, 1.0]
size = [1.0, 1.0]
material = "window-ordinary-glass"
[[keep_outs]]
name = "board"
surface = "left"
at = [1.0, 0.5]
size = [0.8, 1.5]
depth = 0.92
reason = "electrical"
[[keep_outs]]
name = "swing"
surface = "back"
at = [0.0, 0.0]
size = [0.9, 2.0]
depth = 0.9
reason = "door-swing"
[[loudspeakers]]
name = "L"
position = [0.6, 1.2, 1.1]
[[seats]]
name = "seat"
position = [3.2, 2.0, 1.1]
[budget]
amount = {budget}
currency = "EUR"
"""
LEFT, RIGHT, BACK, CEILING = 2, 3, 1, 5


def room(tmp_path, budget=200):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(budget=budget))
    return load_scene(path)[0]


def panel(scene, surface, u, v, name="P1"):
    build = next(b for b in scene.builds if b.id == "wool-100")
    return Placement(
        name, build, surface, Rectangle(u, v, build.outer_width, build.outer_height), ("by hand",)
    )


@pytest.mark.parametrize(
    ("surface", "u", "v", "code", "severity"),
    [
        (LEFT, 1.1, 0.6, "panel-in-electrical-space", "error"),
        (LEFT, 4.7, 0.6, "panel-off-surface", "error"),
        (RIGHT, 1.2, 0.5, "panel-over-opening", "warning"),
        (BACK, 0.2, 0.4, "panel-in-kept-space", "warning"),
        (RIGHT, 4.36, 0.6, "panel-near-edge", "note"),
    ],
)
def test_what_a_panel_collides_with(tmp_path, surface, u, v, code, severity):
    scene = room(tmp_path)
    found = review_placements(scene, [panel(scene, surface, u, v)])
    assert [(f.code, f.severity) for f in found] == [(code, severity)]


def test_a_good_place_is_left_alone(tmp_path):
    scene = room(tmp_path)
    assert review_placements(scene, [panel(scene, RIGHT, 3.0, 0.6)]) == ()


def test_two_panels_in_one_place(tmp_path):
    scene = room(tmp_path)
    found = review_placements(scene, [panel(scene, RIGHT, 3.0, 0.6), panel(scene, RIGHT, 3.2, 0.6, "P2")])
    assert [f.code for f in found] == ["panels-overlap"]


def test_locked_panels_stay_and_count(tmp_path):
    scene = room(tmp_path)
    kept = panel(scene, RIGHT, 3.0, 0.6, "P7")
    plan = make_plan(scene, keep=(kept,))
    assert plan.placements[0] is kept
    assert plan.cost <= 200
    assert len({p.id for p in plan.placements}) == len(plan.placements)
    assert plan.placements[1].id == "P8"


def test_a_locked_panel_in_front_of_the_board_is_refused(tmp_path):
    scene = room(tmp_path)
    with pytest.raises(PlanError, match="without exception"):
        make_plan(scene, keep=(panel(scene, LEFT, 1.1, 0.6),))


def test_replanning_with_little_more_money_changes_little(tmp_path):
    first = make_plan(room(tmp_path, 200))
    again = make_plan(room(tmp_path, 245), earlier=first.placements)
    before = {(p.surface, p.rectangle) for p in first.placements}
    after = {(p.surface, p.rectangle) for p in again.placements}
    assert len(before & after) >= 0.6 * len(before)
    assert len(after) > len(before)
