"""Panels that stand, and panels across corners, put up and moved by a page; no server and no browser here.

Where such a panel may be is judged by the review of every command (tests/planning hold it against geometry
by hand); here the page's edits are held against that review, against `evaluate`, and against plain geometry.
"""

import json
import math
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from treatment.errors import PlanError, TreatmentError
from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.present.browser_asked import Room
from treatment.present.browser_draft import Draft, placements
from treatment.present.browser_edits import apply
from treatment.present.browser_page import outcome_document
from treatment.present.browser_session import Session
from treatment.present.browser_store import Store
from treatment.present.browser_work import Worker
from treatment.present.documents import plan_document
from treatment.present.known_builds import builds_of
from treatment.present.reopen import read_room
from treatment.scene.load import load_scene

SCENES = Path(__file__).parents[2] / "scenes"
GARDEN = SCENES / "garden-room.toml"
#: Outer sizes of the shipped screen: a slab of 1.2 x 1.8 m, 100 mm thick, in a frame of 18 mm.
WIDE, HIGH, DEEP = 1.236, 1.836, 0.100


@pytest.fixture
def start():
    return Draft(GARDEN.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def room():
    scene, _ = load_scene(GARDEN)
    return Room(scene, (), builds_of(scene), evaluate(scene))


def do(draft, room, **asked):
    return apply(draft, asked, room)[0]


def placed(draft, room):
    found, lost = placements(draft.panels, room.scene, room.builds)
    assert not lost
    return found


@pytest.fixture
def standing(start, room):
    return do(start, room, op="hang", build="screen-100", surface="")


@pytest.fixture
def across(start, room):
    return do(start, room, op="hang", build="wool-150-corner", surface="")


def test_a_screen_is_put_where_nothing_is_said_against_it(standing, room):
    (panel,) = standing.panels
    assert panel.standing
    assert panel.surface == "floor"
    assert review_placements(room.scene, placed(standing, room)) == ()
    assert placed(standing, room)[0].rectangle.bounds == pytest.approx(
        (panel.u, panel.v, panel.u + WIDE, panel.v + DEEP), abs=1e-3
    )
    # A second one has a place of its own.
    (one,) = placed(standing, room)
    two = do(standing, replace(room, placements=(one,)), op="hang", build="screen-100", surface="floor")
    assert not any(f.severity == "error" for f in review_placements(room.scene, placed(two, room)))


def test_a_screen_stands_in_the_strong_reflections_where_it_may():
    """In the open living room there is space beside the seats: some early strong bounces are stopped."""
    scene, _ = load_scene(SCENES / "open-living-room.toml")
    before = evaluate(scene)
    room = Room(scene, (), builds_of(scene), before)
    draft = do(Draft(""), room, op="hang", build="screen-100", surface="")
    after = evaluate(scene, placed(draft, room))

    def strong(e):
        return sum(v == "treat" and n == 1 for v, n in zip(e.arrivals.verdict, e.arrivals.order, strict=True))

    assert review_placements(scene, placed(draft, room)) == ()
    assert strong(after) < strong(before)


def test_turning_a_screen_keeps_its_middle(standing, room):
    (was,) = placed(standing, room)
    turned = do(standing, room, op="panel", id="P1", change={"turned": True})
    (now,) = placed(turned, room)
    assert now.rectangle.centre == pytest.approx(was.rectangle.centre, abs=1e-3)
    assert (now.rectangle.width, now.rectangle.height) == pytest.approx((DEEP, WIDE), abs=1e-3)
    back = do(turned, room, op="panel", id="P1", change={"turned": False})
    assert placed(back, room)[0].rectangle.bounds == pytest.approx(was.rectangle.bounds, abs=1e-3)


def test_a_screen_is_moved_in_the_units_of_the_keyboard(standing, room):
    draft = do(standing, room, op="panel", id="P1", change={"u": "4 ft", "v": 1.5})
    assert (draft.panels[0].u, draft.panels[0].v) == pytest.approx((1.2192, 1.5))  # 1 ft is 0.3048 m exactly


@pytest.mark.parametrize(
    ("u", "v", "code", "severity"),
    [
        (5.0, 1.0, "panel-off-surface", "error"),  # the floor ends at 5.4 m
        (2.0, 1.2, "panel-in-the-way", "warning"),  # between C and the seats
        (4.0, 0.4, "panel-in-kept-space", "warning"),  # in the door's swing, which begins at x = 4.5 m
    ],
)
def test_a_screen_in_the_way_is_told_as_the_commands_tell_it(standing, room, tmp_path, u, v, code, severity):
    draft = do(standing, room, op="panel", id="P1", change={"u": u, "v": v})
    session = Session.open(Store(tmp_path / "work"), "room.toml", draft)
    outcome = Worker(session.store).work_out(session.draft)
    (found,) = [f for f in outcome.findings if f.where == "P1" and f.code == code]
    assert found.severity == severity
    assert found in review_placements(room.scene, placed(draft, room))
    # What is wrong is not counted; what is unwise is, and evaluated as everywhere.
    counted = [p.id for p in outcome.plan.placements]
    assert counted == ([] if severity == "error" else ["P1"])
    direct = evaluate(room.scene, placed(draft, room) if counted else ())
    np.testing.assert_array_equal(outcome.plan.after.eyring, direct.eyring)
    document = outcome_document(outcome, draft)
    assert document["panels"][0]["way"] == "stand"
    assert document["panels"][0]["counted"] == bool(counted)


def test_a_panel_goes_across_corners_only(across, room):
    (panel,) = across.panels
    assert {panel.surface, panel.corner} <= {"front", "back", "left", "right"}
    assert review_placements(room.scene, placed(across, room)) == ()
    # Its legs at a right angle: width / sqrt(2) along each wall.
    assert placed(across, room)[0].rectangle.width == pytest.approx(0.636 / math.sqrt(2.0), abs=2e-3)
    for change in (
        {"turned": True},
        {"surface": "left", "corner": "right"},
        {"surface": "floor", "corner": "left"},
    ):
        with pytest.raises(PlanError):
            do(across, room, op="panel", id="P1", change=change)
    moved = do(across, room, op="panel", id="P1", change={"v": "0.4 m"})
    elsewhere = do(moved, room, op="panel", id="P1", change={"surface": "right", "corner": "front"})
    assert {elsewhere.panels[0].surface, elsewhere.panels[0].corner} == {"front", "right"}
    assert elsewhere.panels[0].v == pytest.approx(0.4)
    # The window begins at 4.3 m on the right wall, 0.95 m up: the back right corner is covered by it.
    bad = do(moved, room, op="panel", id="P1", change={"surface": "right", "corner": "back"})
    assert "panel-over-opening" in {f.code for f in review_placements(room.scene, placed(bad, room))}


def test_corners_are_filled_one_after_the_other(start, room):
    draft, taken = start, []
    for _ in range(2):
        now = replace(room, placements=placed(draft, room))
        draft = do(draft, now, op="hang", build="wool-150-corner", surface="")
        taken.append(frozenset((draft.panels[-1].surface, draft.panels[-1].corner)))
    assert len(set(taken)) == 2
    with pytest.raises(PlanError):  # no panel of the page goes through the roof
        do(start, room, op="hang", build="wool-150-corner", surface="left", corner="ceiling")


def test_a_panel_stays_what_it_is(standing, across, start, room):
    hung = do(start, room, op="hang", build="wool-100", surface="left")
    for draft, others in (
        (standing, ("wool-100", "wool-150-corner")),
        (across, ("wool-100", "screen-100")),
        (hung, ("screen-100", "wool-150-corner")),
    ):
        for build in others:
            with pytest.raises(PlanError, match="is no panel that"):
                do(draft, room, op="panel", id="P1", change={"build": build})
    for asked in ({"build": "screen-100", "surface": "left"}, {"build": "wool-100", "surface": "floor"}):
        with pytest.raises(PlanError, match="is no panel that"):
            do(start, room, op="hang", **asked)
    with pytest.raises(TreatmentError):
        do(standing, room, op="panel", id="P1", change={"surface": "left"})


def test_locks_hold_for_them_too(standing, across, room):
    for draft in (standing, across):
        locked = do(draft, room, op="panel", id="P1", change={"locked": True})
        with pytest.raises(PlanError, match="locked"):
            do(locked, room, op="panel", id="P1", change={"v": 1.0})
        assert do(locked, room, op="clear").panels == locked.panels
        assert do(locked, room, op="unhang", id="P1").panels == ()


def test_they_are_kept_in_session_and_plan(standing, across, room, tmp_path):
    """Builds that the room's list does not allow to choose from are read back as well."""
    (corner,) = across.panels
    draft = replace(standing, panels=(*standing.panels, replace(corner, id="P2", locked=True)))
    store = Store(tmp_path / "work")
    session = Session.open(store, "room.toml", Draft(standing.text))
    session.take(draft, "two")
    assert Session.open(Store(store.folder), "room.toml", Draft(standing.text)).draft == draft
    session.undo()
    session.redo()
    outcome = Worker(store).work_out(session.draft)
    assert [p.id for p in outcome.plan.placements] == ["P1", "P2"]
    # The parts of a saved plan that are read back; all the rest of it would only take its time here.
    target = tmp_path / "plan"
    target.mkdir()
    (target / "scene.toml").write_text(draft.text, encoding="utf-8")
    document = json.dumps(plan_document(outcome.plan, outcome.findings), allow_nan=False)
    (target / "plan.json").write_text(document, encoding="utf-8")
    scene, again = read_room(target)
    for a, b in zip(again, outcome.plan.placements, strict=True):
        assert (a.id, a.build.id, a.standing) == (b.id, b.build.id, b.standing)
        assert scene.surfaces[a.surface].name == room.scene.surfaces[b.surface].name
        assert a.rectangle.bounds == pytest.approx(b.rectangle.bounds, abs=1e-3)


# --- furniture and people -------------------------------------------------------------------------


def test_furniture_and_people_are_edited(start, room):
    draft = do(do(start, room, op="furnish", kind="armchair"), room, op="furnish", kind="armchair")
    draft = do(draft, room, op="furnish", kind="sofa")
    draft = do(draft, room, op="set", path=["seats", 1, "occupied"], value="yes")
    draft = do(draft, room, op="set", path=["objects", 1, "count"], value="3")
    data = tomllib.loads(draft.text)
    assert [(o["name"], o["count"]) for o in data["objects"]] == [("armchair", 2), ("sofa", 3)]
    assert [bool(s.get("occupied")) for s in data["seats"]] == [False, True, False]
    for value in ("two", "1.5", "-1", ""):
        with pytest.raises(PlanError):
            do(draft, room, op="set", path=["objects", 0, "count"], value=value)
    for asked in (
        {"op": "furnish", "kind": "piano"},
        {"op": "set", "path": ["seats", 0, "occupied"], "value": "1"},
    ):
        with pytest.raises(PlanError):
            apply(draft, asked, room)
    for _ in range(2):
        draft = do(draft, room, op="remove", section="objects", index=0)
    assert not tomllib.loads(draft.text).get("objects")


def test_sizes_of_furniture_are_in_the_units_of_the_file(room):
    text = GARDEN.read_text(encoding="utf-8").replace('units = "m"', 'units = "ft"')
    data = tomllib.loads(do(Draft(text), room, op="furnish", kind="sofa").text)
    assert data["objects"][0]["size"] == pytest.approx([2.1 / 0.3048, 0.9 / 0.3048], abs=0.006)
    assert data["objects"][0]["volume_m3"] == 0.5


def test_what_furniture_absorbs_is_told_and_counted(start, room, tmp_path):
    """EN 12354-6:2003, (1) and (5): A grows by that of the objects, V shrinks by what they displace."""
    draft = do(start, room, op="furnish", kind="sofa")
    draft = do(draft, room, op="set", path=["seats", 0, "occupied"], value="yes")
    session = Session.open(Store(tmp_path / "work"), "room.toml", draft)
    outcome = Worker(session.store).work_out(session.draft)
    told = outcome_document(outcome, draft)["objects"]
    assert [(o["name"], o["count"]) for o in told] == [("sofa", 1), ("people in the seats", 1)]
    plain, now = evaluate(room.scene), outcome.plan.before
    speed = plain.speed_of_sound
    air = (plain.volume, plain.volume - 0.5 - 0.07)
    area = [24.0 * np.log(10.0) / speed * v / e.sabine[4] for v, e in zip(air, (plain, now), strict=True)]
    # The air between takes part in both, by 4 m V: its share of the displaced 0.57 m3 is below 0.01 m2.
    assert area[1] - area[0] == pytest.approx(sum(o["area"][1] for o in told), abs=0.02)
