"""Edits, undo, and what is on disk after each step; no server and no browser here."""

import json
import os
import tomllib
from pathlib import Path

import numpy as np
import pytest

from treatment.errors import PlanError, TreatmentError, UnitError
from treatment.planning.evaluate import evaluate
from treatment.present.browser_asked import Room
from treatment.present.browser_draft import Draft, HungPanel, placements
from treatment.present.browser_edits import apply
from treatment.present.browser_page import outcome_document
from treatment.present.browser_session import MOST_STEPS, Session
from treatment.present.browser_store import SESSION_FILE, WORKING_ROOM, Store
from treatment.present.browser_work import Worker
from treatment.present.known_builds import builds_of
from treatment.scene.load import load_scene

GARDEN = Path(__file__).parents[2] / "scenes" / "garden-room.toml"
PANEL = HungPanel("P1", "wool-100", "left", 1.0, 0.6)


@pytest.fixture
def store(tmp_path):
    return Store(tmp_path / "work")


@pytest.fixture
def start():
    return Draft(GARDEN.read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def room():
    scene, _ = load_scene(GARDEN)
    return Room(scene, (), builds_of(scene), evaluate(scene))


def do(draft, room, **asked):
    return apply(draft, asked, room)[0]


# --- edits ----------------------------------------------------------------------------------------


def test_typed_lengths_stay_as_they_were_typed(start, room):
    draft = do(start, room, op="set", path=["room", "length"], value="18 ft 3 in")
    draft = do(draft, room, op="set", path=["seats", 1, "position", 2], value="1.15")
    data = tomllib.loads(draft.text)
    assert data["room"]["length"] == "18 ft 3 in"
    assert data["seats"][1]["position"][2] == 1.15


def test_a_drag_is_in_metres_whatever_the_file_counts_in(room):
    text = GARDEN.read_text(encoding="utf-8").replace('units = "m"', 'units = "ft"')
    draft = do(Draft(text), room, op="move", section="seats", index=0, x=3.048, y=1.524)
    assert tomllib.loads(draft.text)["seats"][0]["position"][:2] == [10.0, 5.0]  # 1 ft is 0.3048 m exactly


@pytest.mark.parametrize(
    ("asked", "error"),
    [
        ({"op": "set", "path": ["room", "length"], "value": "long"}, UnitError),
        ({"op": "set", "path": ["room", "file"], "value": "/etc/passwd"}, PlanError),
        ({"op": "set", "path": ["units"], "value": "ft"}, PlanError),
        ({"op": "set", "path": ["seats", -1, "name"], "value": "x"}, PlanError),
        ({"op": "set", "path": ["seats", 99, "name"], "value": "x"}, PlanError),
        ({"op": "set", "path": "title", "value": "x"}, PlanError),
        ({"op": "set", "path": ["title"], "value": 7}, PlanError),
        ({"op": "set", "path": ["title"], "value": "x" * 1000}, PlanError),
        ({"op": "set", "path": ["budget", "amount"], "value": "nan"}, PlanError),
        ({"op": "move", "section": "seats", "index": 0, "x": float("nan"), "y": 1.0}, PlanError),
        ({"op": "move", "section": "room", "index": 0, "x": 1.0, "y": 1.0}, PlanError),
        ({"op": "move", "section": "seats", "index": True, "x": 1.0, "y": 1.0}, PlanError),
        ({"op": "add", "section": "builds"}, PlanError),
        ({"op": "builds", "ids": []}, PlanError),
        ({"op": "builds", "ids": ["no such"]}, PlanError),
        ({"op": "hang", "build": "no such", "surface": ""}, PlanError),
        ({"op": "hang", "build": "wool-100", "surface": "nowhere"}, PlanError),
        ({"op": "panel", "id": "P9", "change": {"u": 1.0}}, PlanError),
        ({"op": "panel", "id": "P1", "change": 3}, PlanError),
        ({"op": "delete everything"}, PlanError),
        ({}, PlanError),
    ],
)
def test_what_a_page_may_not_ask_is_refused(start, room, asked, error):
    with pytest.raises(error):
        apply(Draft(start.text, (PANEL,)), asked, room)


def test_a_locked_panel_stays(start, room):
    draft = do(Draft(start.text, (PANEL,)), room, op="panel", id="P1", change={"locked": True})
    with pytest.raises(PlanError, match="locked"):
        do(draft, room, op="panel", id="P1", change={"u": 2.0})
    assert do(draft, room, op="clear").panels == draft.panels
    assert do(do(draft, room, op="panel", id="P1", change={"locked": False}), room, op="clear").panels == ()


def test_added_things_have_names_and_places_of_their_own(start, room):
    draft = do(do(start, room, op="add", section="seats"), room, op="add", section="seats")
    names = [s["name"] for s in tomllib.loads(draft.text)["seats"]]
    assert len(set(names)) == len(names) == 5


def test_a_panel_is_hung_over_the_strongest_bounce(start, room):
    # Common practice, the mirror trick: a panel belongs where a mirror would show the loudspeaker.
    draft = do(start, room, op="hang", build="wool-100", surface="left")
    (panel,) = draft.panels
    (placed,), lost = placements(draft.panels, room.scene, room.builds)
    assert not lost
    a = evaluate(room.scene).arrivals
    left = room.scene.surface_index("left")
    on = np.flatnonzero((a.order == 1) & (a.surfaces[:, 0] == left))
    points = room.scene.surfaces[left].polygon.to_wall(a.points[on, 0])
    low_u, low_v, high_u, high_v = placed.rectangle.bounds
    over = (points >= [low_u - 0.2, low_v]) & (points <= [high_u + 0.2, high_v])
    strongest = int(np.argmax(a.level_db[on][:, 4:].max(axis=1)))
    assert over.all(axis=1)[strongest]
    assert panel.surface == "left"


# --- session and disk -----------------------------------------------------------------------------


def test_undo_and_redo_walk_over_every_step(store, start):
    session = Session.open(store, "room.toml", start)
    drafts = [start]
    for k in range(4):
        drafts.append(Draft(start.text + f"# {k}\n"))
        session.take(drafts[-1], f"step {k}")
    for k in (3, 2, 1, 0):
        session.undo()
        assert session.draft == drafts[k]
    session.undo()
    assert session.draft == start
    session.redo()
    assert session.draft == drafts[1]
    session.take(drafts[4], "elsewhere")
    assert session.redo_label == ""


def test_a_drag_is_one_step(store, start):
    session = Session.open(store, "room.toml", start)
    for k in range(5):
        session.take(Draft(start.text + f"# {k}\n"), "move", "drag-1")
    session.take(Draft(start.text + "# x\n"), "move", "drag-2")
    assert len(session.steps) == 3
    session.undo()
    session.undo()
    assert session.draft == start


def test_every_step_is_on_disk_when_it_is_answered(store, start):
    session = Session.open(store, "room.toml", start)
    changed = Draft(start.text.replace("5.40", "5.10"), (PANEL,))
    session.take(changed, "change")
    # Nothing is closed or told to finish here: this is what is left after a sudden stop.
    again = Session.open(Store(store.folder), "room.toml", start)
    assert again.draft == changed
    assert again.resumed
    assert again.undo_label == "change"
    assert (store.folder / WORKING_ROOM).read_text(encoding="utf-8") == changed.text
    again.undo()
    assert Session.open(store, "room.toml", start).redo_label == "change"


def test_old_steps_are_forgotten_not_the_work(store, start):
    session = Session.open(store, "room.toml", start)
    for k in range(MOST_STEPS + 5):
        session.take(Draft(start.text + f"# {k}\n"), "step")
    assert len(session.steps) == MOST_STEPS
    assert Session.open(store, "room.toml", start).draft.text.endswith(f"# {MOST_STEPS + 4}\n")


def test_a_source_that_changed_is_told_and_the_work_stays(store, start):
    session = Session.open(store, "room.toml", start)
    mine = Draft(start.text + "# mine\n")
    session.take(mine, "mine")
    newer = Draft(start.text + "# newer\n")
    again = Session.open(store, "room.toml", newer)
    assert again.source_changed
    assert again.draft == mine
    again.restart()
    assert again.draft == newer
    assert not Session.open(store, "room.toml", newer).source_changed
    again.undo()
    assert again.draft == mine


@pytest.mark.parametrize("content", ["", "[]", '{"format": "other"}', "{broken"])
def test_a_strange_session_file_is_not_overwritten(store, start, content):
    (store.folder / SESSION_FILE).write_text(content, encoding="utf-8")
    with pytest.raises(PlanError):
        Session.open(store, "room.toml", start)
    assert (store.folder / SESSION_FILE).read_text(encoding="utf-8") == content


def test_work_on_another_room_is_not_overwritten(store, start):
    Session.open(store, "room.toml", start)
    with pytest.raises(PlanError, match=r"room\.toml"):
        Session.open(store, "other.toml", start)


def test_half_a_session_is_refused(store, start):
    Session.open(store, "room.toml", start)
    data = json.loads((store.folder / SESSION_FILE).read_text(encoding="utf-8"))
    for key in ("texts", "steps", "at"):
        broken = {k: v for k, v in data.items() if k != key}
        (store.folder / SESSION_FILE).write_text(json.dumps(broken), encoding="utf-8")
        with pytest.raises(PlanError):
            Session.open(store, "room.toml", start)


def test_two_planners_do_not_share_a_folder(store):
    pytest.importorskip("fcntl")
    with store.held(), pytest.raises(PlanError, match="another planner"), Store(store.folder).held():
        pass
    with store.held():
        pass


@pytest.mark.parametrize(
    "name",
    [
        "../out",
        "a/b",
        "..",
        ".",
        "",
        ".hidden",
        "/etc/x",
        "a\0b",
        "x" * 61,
        "session.json",
        "a\nb",
        "c:\\x",
        "é",
    ],
)
def test_names_that_lead_out_of_the_folder_are_refused(store, name):
    with pytest.raises(PlanError):
        store.chosen(name)
    with pytest.raises(PlanError):
        store.chosen(name, ".toml") if name != "session.json" else store.chosen("working-room", ".toml")


def test_links_out_of_the_folder_are_not_followed(store, tmp_path):
    outside = tmp_path / "outside.toml"
    outside.write_text("precious", encoding="utf-8")
    (store.folder / "link.toml").symlink_to(outside)
    with pytest.raises(PlanError):
        store.chosen("link", ".toml")
    with pytest.raises(PlanError):
        store.write("link.toml", b"x")
    with pytest.raises(PlanError):
        store.read("link.toml")
    assert outside.read_text(encoding="utf-8") == "precious"


def test_a_file_that_cannot_be_written_is_left_as_it_was(store, monkeypatch):
    store.write("a.toml", b"old")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(PlanError, match="No space"):
        store.write("a.toml", b"new")
    assert store.read("a.toml") == b"old"
    assert sorted(p.name for p in store.folder.iterdir()) == ["a.toml"]


def test_a_folder_that_is_none(tmp_path):
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(PlanError):
        Store(tmp_path / "file")
    with pytest.raises(PlanError):
        Store(tmp_path / "no" / "such")


# --- working out ----------------------------------------------------------------------------------


def test_numbers_are_those_of_the_one_evaluate(store, start, room):
    draft = Draft(start.text, (PANEL,))
    session = Session.open(store, "room.toml", draft)
    outcome = Worker(store).work_out(session.draft)
    (placed,), _ = placements(draft.panels, room.scene, room.builds)
    direct = evaluate(room.scene, (placed,))
    for formula, times in direct.reverberation.items():
        if times is not None:
            np.testing.assert_array_equal(outcome.plan.after.reverberation[formula], times)
    np.testing.assert_array_equal(outcome.plan.after.arrivals.level_db, direct.arrivals.level_db)
    json.dumps(outcome_document(outcome, draft), allow_nan=False)


def test_errors_are_told_and_the_last_good_room_stays(store, start):
    session = Session.open(store, "room.toml", start)
    worker = Worker(store)
    good = worker.work_out(session.draft)
    session.take(Draft(start.text.replace("[3.35, 1.80, 1.10]", "[13.35, 1.80, 1.10]")), "far off")
    bad = worker.work_out(session.draft)
    assert bad.stale
    assert "seat-outside-room" in {f.code for f in bad.findings}
    assert bad.plan.before is good.plan.before
    session.undo()
    assert not worker.work_out(session.draft).stale


def test_a_panel_that_cannot_hang_is_not_counted(store, start):
    off = HungPanel("P2", "wool-100", "left", 5.2, 0.6)
    twice = HungPanel("P3", "wool-100", "left", 1.1, 0.6)
    homeless = HungPanel("P4", "no such build", "left", 3.0, 0.6)
    session = Session.open(store, "room.toml", Draft(start.text, (PANEL, off, twice, homeless)))
    outcome = Worker(store).work_out(session.draft)
    assert [p.id for p in outcome.plan.placements] == ["P1"]
    told = {f.code for f in outcome.findings if f.severity == "error"}
    assert {"panels-overlap", "panel-homeless"} < told


def test_a_later_draft_is_not_mistaken_for_this_one(store, start):
    session = Session.open(store, "room.toml", start)
    store.write(WORKING_ROOM, (start.text + "# later\n").encode())
    assert Worker(store).work_out(session.draft) is None
    session.mend()
    assert Worker(store).work_out(session.draft) is not None


def test_errors_that_a_person_can_cause_are_ours(start, room):
    for asked in ({"op": "set", "path": ["room", "length"], "value": ""}, {"op": "surface", "name": "left"}):
        with pytest.raises(TreatmentError):
            apply(start, asked, room)
