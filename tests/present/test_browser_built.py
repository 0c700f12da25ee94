"""What belongs to the room itself, changed by a page: openings, keep-outs, obstacles, screen; no browser."""

import tomllib
from pathlib import Path

import pytest

from treatment.errors import PlanError, UnitError
from treatment.planning.evaluate import evaluate
from treatment.planning.fate import fate_of
from treatment.present.browser_asked import Room
from treatment.present.browser_draft import Draft, HungPanel, placements
from treatment.present.browser_edits import apply, fields_of
from treatment.present.browser_kinds import BLOCKS, FLAT
from treatment.present.browser_page import outcome_document
from treatment.present.browser_session import Session
from treatment.present.browser_store import WORKING_ROOM, Store
from treatment.present.browser_work import Worker
from treatment.present.known_builds import builds_of
from treatment.scene.load import load_scene

SCENES = Path(__file__).parents[2] / "scenes"
NAMES = [p.stem for p in sorted(SCENES.glob("*.toml"))]
KINDS = [*((f.section, k) for k, f in FLAT.items()), *(("obstacles", k) for k in BLOCKS), ("screen", "")]


def text_of(name):
    return (SCENES / f"{name}.toml").read_text(encoding="utf-8")


def room_of(path):
    scene, _ = load_scene(path)
    return Room(scene, (), builds_of(scene))


@pytest.fixture(scope="module")
def rooms():
    return {name: room_of(SCENES / f"{name}.toml") for name in NAMES}


@pytest.fixture
def room(rooms):
    return rooms["garden-room"]


@pytest.fixture
def start():
    return Draft(text_of("garden-room"))


def do(draft, room, **asked):
    return apply(draft, asked, room)[0]


def added(draft, room, section, kind, surface=""):
    draft = do(draft, room, op="add", section=section, kind=kind, surface=surface)
    entries = tomllib.loads(draft.text)[section]
    return draft, entries if section == "screen" else entries[-1]


def loaded(text, name, folder):
    """A room file's scene and findings, read as every command reads it."""
    path = folder / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    mesh = tomllib.loads(text)["room"].get("file")
    if mesh:
        (folder / mesh).write_bytes((SCENES / mesh).read_bytes())
    return load_scene(path)


NICHE = '\n[[recesses]]\nname = "{name}"\nsurface = "{surface}"\nat = {at}\nsize = {size}\ndepth = 0.2\n'


def with_niche(folder, **values):
    text = text_of("garden-room") + NICHE.format(**values)
    return Draft(text), Room(loaded(text, "room", folder)[0], (), ())


# --- putting in -----------------------------------------------------------------------------------


def test_what_is_put_in_is_not_called_as_a_recess_is(tmp_path):
    draft, room = with_niche(tmp_path, name="Cupboard", surface="left", at=[1.5, 1.0], size=[0.4, 0.4])
    draft, entry = added(draft, room, "obstacles", "cupboard")
    assert entry["name"] == "cupboard 2"
    loaded(draft.text, "more", tmp_path)  # raises where it has errors


def test_a_door_swing_ends_before_a_recess_beside_the_door(room, start, tmp_path):
    for _ in range(2):  # its swing and the switch
        start = do(start, room, op="remove", section="keep_outs", index=0)
    # The door ends at 1.12 m, the niche begins 50 mm beside it.
    text = start.text + NICHE.format(name="nook", surface="back", at=[1.17, 0.5], size=[0.4, 1.0])
    beside = Room(loaded(text, "room", tmp_path)[0], (), ())
    draft, entry = added(Draft(text), beside, "keep_outs", "door swing")
    assert entry["size"][0] == pytest.approx(0.82)
    loaded(draft.text, "more", tmp_path)  # raises where it has errors


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("section", "kind"), KINDS)
def test_what_is_put_in_brings_no_error_and_no_warning(rooms, tmp_path, name, section, kind):
    draft = Draft(text_of(name))
    if section == "screen":
        draft = do(draft, rooms[name], op="remove", section="screen") if "[screen]" in draft.text else draft
    if kind == "door swing":
        draft, _ = added(draft, rooms[name], "openings", "door")
        path = tmp_path / "with-door"
        path.mkdir()
        loaded(draft.text, name, path)
        rooms = {name: room_of(path / f"{name}.toml")}
    _, before = loaded(draft.text, name, tmp_path)
    draft, entry = added(draft, rooms[name], section, kind)
    _, after = loaded(draft.text, name, tmp_path)
    # A picture may lie in the way of a loudspeaker that stood there: that is told, and nothing else.
    told = {f.code for f in after if f.severity != "note"} - {f.code for f in before}
    assert told <= ({"screen-blocked", "screen-hides-loudspeaker"} if section == "screen" else set())
    assert entry.get("reason", "") == (FLAT[kind].reason if section == "keep_outs" else "")


def test_a_new_door_is_on_the_back_wall_and_free_of_the_others(start, room):
    draft, door = added(start, room, "openings", "door")
    assert (door["surface"], door["name"], door["at"][1]) == ("back", "door 2", 0.0)
    data = tomllib.loads(draft.text)
    low, high = door["at"][0], door["at"][0] + door["size"][0]
    others = [e for s in ("openings", "keep_outs") for e in data[s] if e["surface"] == "back" and e != door]
    assert len(others) == 3
    assert all(high <= e["at"][0] or low >= e["at"][0] + e["size"][0] for e in others)


def test_a_chosen_surface_is_kept_to(start, room):
    _, board = added(start, room, "keep_outs", "fuse board", "left")
    assert (board["surface"], board["reason"]) == ("left", "electrical")
    assert board["depth"] >= 0.9144  # 36 in, NEC 110.26
    with pytest.raises(PlanError, match="no surface 'nowhere'"):
        added(start, room, "keep_outs", "lamp", "nowhere")


def test_a_keep_out_asks_what_it_is(start, room):
    with pytest.raises(PlanError, match="say what it is"):
        added(start, room, "keep_outs", "")


def test_a_swing_goes_before_the_door_that_has_none(start, room, tmp_path):
    with pytest.raises(PlanError, match="every door has its swing"):
        added(start, room, "keep_outs", "door swing")
    draft, door = added(start, room, "openings", "door", "left")
    loaded(draft.text, "garden-room", tmp_path)
    _, swing = added(draft, room_of(tmp_path / "garden-room.toml"), "keep_outs", "door swing")
    assert swing["surface"] == "left"
    assert swing["at"][0] == pytest.approx(door["at"][0] - 0.1)
    assert swing["size"][0] == pytest.approx(door["size"][0] + 0.2)


def test_sizes_are_whole_inches_where_one_measures_in_feet(room):
    text = text_of("garden-room").replace('units = "m"', 'units = "ft"')
    draft, board = added(Draft(text), room, "keep_outs", "fuse board")
    for feet in (*board["size"], board["depth"]):
        assert feet * 12 == pytest.approx(round(feet * 12), abs=1e-3)
    assert board["depth"] == pytest.approx(3.0)  # 36 in
    assert draft.text.count("#") == text.count("#")


def test_names_are_those_that_nothing_bears(rooms):
    draft = Draft(text_of("soffit-basement"))
    draft, post = added(draft, rooms["soffit-basement"], "obstacles", "post")
    assert post["name"] == "post 2"
    _, third = added(draft, rooms["soffit-basement"], "obstacles", "post")
    assert third["name"] == "post 3"


def test_a_screen_is_rather_small_than_at_the_side(start, tmp_path):
    draft = do(start, room_of(SCENES / "garden-room.toml"), op="remove", section="screen")
    door = '[[openings]]\nname = "way out"\nsurface = "front"\nat = [1.4, 0.0]\nsize = [0.8, 2.0]\n'
    draft = Draft(f'{draft.text}\n{door}material = "door-solid-wood"\n')
    loaded(draft.text, "door", tmp_path)
    _, screen = added(draft, room_of(tmp_path / "door.toml"), "screen", "")
    assert screen["surface"] == "front"
    assert screen["size"][0] < 1.4  # beside the door


def test_a_room_holds_one_screen(start, room):
    with pytest.raises(PlanError, match="has a screen already"):
        added(start, room, "screen", "")
    without = do(start, room, op="remove", section="screen")
    assert "screen" not in tomllib.loads(without.text)
    bare = Room(load_scene(SCENES / "attic.toml")[0], (), ())
    draft, screen = added(Draft(text_of("attic")), bare, "screen", "")
    assert screen["surface"] == "front"
    assert screen["size"][0] / screen["size"][1] == pytest.approx(16 / 9)
    assert fields_of(draft.text)["screen"] == screen


# --- changing -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("section", "kind"), [k for k in KINDS if k[1] not in ("", "door swing")])
def test_comments_stay_and_taking_out_leaves_what_was_there(start, room, section, kind):
    draft, _ = added(start, room, section, kind)
    assert [c for c in start.text.splitlines() if "#" in c and c not in draft.text.splitlines()] == []
    index = len(tomllib.loads(draft.text)[section]) - 1
    back = do(draft, room, op="remove", section=section, index=index)
    assert tomllib.loads(back.text) == tomllib.loads(start.text)
    assert back.text.count("#") == start.text.count("#")


def test_moves_are_in_metres_whatever_the_file_counts_in(room):
    text = text_of("garden-room").replace('units = "m"', 'units = "ft"')
    draft = do(Draft(text), room, op="move", section="openings", index=0, u=3.048, v=0.0)
    draft = do(draft, room, op="move", section="keep_outs", index=1, u=1.524, v=0.762)
    draft = do(draft, room, op="move", section="screen", u=3.048, v=1.524)
    data = tomllib.loads(draft.text)  # 1 ft is 0.3048 m exactly
    assert data["openings"][0]["at"] == [10.0, 0.0]
    assert data["keep_outs"][1]["at"] == [5.0, 2.5]
    assert data["screen"]["at"] == [10.0, 5.0]


def test_an_obstacle_moves_over_the_floor_at_its_height(rooms):
    draft = Draft(text_of("soffit-basement"))
    draft = do(draft, rooms["soffit-basement"], op="move", section="obstacles", index=0, x=0.0, y=1.2)
    assert tomllib.loads(draft.text)["obstacles"][0]["at"] == [0.0, 1.2, 2.05]


def test_typed_values_stay_as_they_were_typed(start, room):
    sets = [
        (["openings", 0, "name"], "way out", "way out"),
        (["openings", 1, "at", 0], "13 ft 9 in", "13 ft 9 in"),
        (["openings", 1, "size", 1], "1.05", 1.05),
        (["openings", 1, "material"], "window-single-3mm", "window-single-3mm"),
        (["keep_outs", 1, "depth"], "25 cm", "25 cm"),
        (["keep_outs", 1, "reason"], "vent", "vent"),
        (["screen", "distance"], "0.1", 0.1),
        (["screen", "sound_passes"], "yes", True),
    ]
    for path, typed, wanted in sets:
        start = do(start, room, op="set", path=path, value=typed)
        found = tomllib.loads(start.text)
        for key in path:
            found = found[key]
        assert found == wanted


def test_a_material_takes_the_place_of_an_absorption(room):
    text = text_of("garden-room").replace('material = "door-solid-wood"', "absorption = 0.8")
    draft = do(Draft(text), room, op="set", path=["openings", 0, "material"], value="open-passage")
    door = tomllib.loads(draft.text)["openings"][0]
    assert door["material"] == "open-passage"
    assert "absorption" not in door


def test_on_another_surface_it_keeps_its_place_where_that_is_on_it(start, room, tmp_path):
    kept = do(start, room, op="move", section="openings", index=0, surface="front")
    door = tomllib.loads(kept.text)["openings"][0]
    assert (door["surface"], door["at"]) == ("front", [0.30, 0.0])
    # The window at 4.30 m lies beyond the end of the back wall, 3.60 m wide.
    moved = do(start, room, op="move", section="openings", index=1, surface="back")
    window = tomllib.loads(moved.text)["openings"][1]
    assert window["surface"] == "back"
    assert window["size"] == [0.90, 1.10]
    loaded(moved.text, "garden-room", tmp_path)


@pytest.mark.parametrize(
    ("asked", "error"),
    [
        ({"op": "add", "section": "openings", "kind": "fuse board", "surface": ""}, PlanError),
        ({"op": "add", "section": "openings", "kind": "hatch", "surface": ""}, PlanError),
        ({"op": "add", "section": "obstacles", "kind": "door"}, PlanError),
        ({"op": "add", "section": "openings", "kind": 3, "surface": ""}, PlanError),
        ({"op": "move", "section": "openings", "index": 0, "u": float("nan"), "v": 0.0}, PlanError),
        ({"op": "move", "section": "openings", "index": 9, "u": 1.0, "v": 0.0}, PlanError),
        ({"op": "move", "section": "openings", "index": 0, "x": 1.0, "y": 0.0}, PlanError),
        ({"op": "move", "section": "obstacles", "index": 0, "x": 1.0, "y": 0.0}, PlanError),
        ({"op": "move", "section": "openings", "index": 0, "surface": "roof"}, PlanError),
        ({"op": "remove", "section": "keep_outs", "index": 9}, PlanError),
        ({"op": "remove", "section": "keep_outs"}, PlanError),
        ({"op": "set", "path": ["openings", 0, "surface"], "value": "left"}, PlanError),
        ({"op": "set", "path": ["openings", 0, "at", 2], "value": "1"}, PlanError),
        ({"op": "set", "path": ["keep_outs", 0, "depth"], "value": "deep"}, UnitError),
        ({"op": "set", "path": ["screen", "sound_passes"], "value": "perhaps"}, PlanError),
    ],
)
def test_what_cannot_be_done_is_refused(start, room, asked, error):
    with pytest.raises(error):
        apply(start, asked, room)


# --- what it does to the room and to its panels -----------------------------------------------------


@pytest.fixture
def work(tmp_path, start):
    store = Store(tmp_path / "work")
    return Session(store, "garden-room.toml", start), Worker(store)


def after(session, worker, room, **asked):
    draft, label = apply(session.draft, asked, room)
    session.take(draft, label)
    return worker.work_out(session.draft)


def told(outcome, name):
    return {f.code: f.severity for f in outcome.findings if name in f.where.split(", ")}


def test_every_step_is_on_disk_and_can_be_undone(work, room, tmp_path):
    session, _ = work
    texts = [session.draft.text]
    for asked in (
        {"op": "add", "section": "openings", "kind": "door", "surface": ""},
        {"op": "add", "section": "keep_outs", "kind": "fuse board", "surface": "left"},
        {"op": "move", "section": "keep_outs", "index": 2, "u": 1.0, "v": 0.0},
        {"op": "add", "section": "obstacles", "kind": "post"},
        {"op": "remove", "section": "openings", "index": 0},
        {"op": "remove", "section": "screen"},
    ):
        draft, label = apply(session.draft, asked, room)
        session.take(draft, label)
        texts.append(draft.text)
        assert (tmp_path / "work" / WORKING_ROOM).read_text(encoding="utf-8") == draft.text
    again = Session.open(session.store, "garden-room.toml", session.start)
    for text in reversed(texts):
        assert again.draft.text == text
        again.undo()
    assert again.undo_label == ""
    for text in texts:
        assert again.draft.text == text
        again.redo()


def test_numbers_are_those_of_the_file(work, room, tmp_path):
    session, worker = work
    outcome = after(session, worker, room, op="add", section="openings", kind="passage", surface="")
    scene, _ = load_scene(tmp_path / "work" / WORKING_ROOM)
    known = evaluate(scene)
    assert outcome.plan.before.eyring == pytest.approx(known.eyring, rel=1e-9)
    # An open passage of 0.90 m x 2.03 m takes away what 1.8 m2 of sabins do: the times fall.
    assert (known.eyring < 0.99 * evaluate(room.scene).eyring).all()


def test_the_page_calls_a_weak_plan_weak(work):
    session, worker = work
    draft = Draft(session.draft.text, (HungPanel("P1", "wool-100", "right", 2.2, 0.6),))
    session.take(draft, "hang P1")
    outcome = worker.work_out(draft)
    (words,) = outcome.plan.advice
    fate = fate_of(outcome.plan.before, outcome.plan.after, 1)
    assert f"This plan is weak for the room: {fate.stay} of {fate.before} strong" in words
    numbers = outcome_document(outcome, draft)["numbers"]
    assert numbers["answer"][1 : 1 + numbers["advice"]] == [words]


def test_panels_under_a_new_door_are_told_and_stay(work, room):
    session, worker = work
    hanging = HungPanel("P1", "wool-100", "right", 2.2, 0.6)
    session.take(Draft(session.draft.text, (hanging,)), "hang")
    worker.work_out(session.draft)
    # Where a door fits beside the panel it goes there; a person may drag it over the panel all the same.
    outcome = after(session, worker, room, op="add", section="openings", kind="door", surface="right")
    outcome = after(session, worker, room, op="move", section="openings", index=2, u=2.1, v=0.0)
    assert not outcome.stale
    assert told(outcome, "P1") == {"panel-over-opening": "warning"}
    assert [p.id for p in outcome.plan.placements] == ["P1"]
    assert session.draft.panels == (hanging,)
    outcome = after(session, worker, room, op="remove", section="openings", index=2)
    assert told(outcome, "P1") == {}


def test_a_new_door_goes_beside_the_panels_where_there_is_room(start, room):
    scene = room.scene
    panels = (HungPanel("P1", "wool-100", "right", 2.2, 0.6),)
    hung, _ = placements(panels, scene, builds_of(scene))
    _, bare = added(start, room, "openings", "door", "right")
    _, door = added(start, Room(scene, hung, builds_of(scene)), "openings", "door", "right")
    low, high = 2.2, 2.2 + hung[0].rectangle.width
    assert low - 0.82 < bare["at"][0] < high
    assert door["at"][0] >= high or door["at"][0] + 0.82 <= low


def test_a_new_post_goes_beside_the_panels_of_the_ceiling(work, room):
    session, worker = work
    scene = room.scene
    _, bare = added(session.draft, room, "obstacles", "post")
    u, v = bare["at"][0] - 0.3, bare["at"][1] - 0.9
    panels = (HungPanel("P1", "wool-100", "ceiling", u, v),)
    hung, _ = placements(panels, scene, builds_of(scene))
    session.take(Draft(session.draft.text, panels), "hang")
    worker.work_out(session.draft)
    outcome = after(
        session, worker, Room(scene, hung, builds_of(scene)), op="add", section="obstacles", kind="post"
    )
    assert told(outcome, "P1") == {}
    assert [p.id for p in outcome.plan.placements] == ["P1"]
    # Where it would have gone it would have taken the panel's place.
    post = len(tomllib.loads(session.draft.text)["obstacles"]) - 1
    x, y = bare["at"][:2]
    outcome = after(session, worker, room, op="move", section="obstacles", index=post, x=x, y=y)
    assert told(outcome, "P1") == {"panel-off-surface": "error"}


@pytest.mark.parametrize(
    ("asked", "code"),
    [
        ({"section": "keep_outs", "kind": "fuse board", "surface": "left"}, "panel-in-electrical-space"),
        ({"section": "obstacles", "kind": "cupboard"}, "panel-off-surface"),
    ],
)
def test_panels_that_cannot_hang_any_more_are_told_not_counted_and_kept(work, room, asked, code):
    session, worker = work
    first = after(session, worker, room, op="add", **asked)
    entry = tomllib.loads(session.draft.text)[asked["section"]][-1]
    surface = entry.get("surface", "back")
    u = entry["at"][0] if asked["section"] == "keep_outs" else entry["at"][1]
    hanging = HungPanel("P1", "wool-100", surface, u, 0.3)
    session.undo()
    session.take(Draft(session.draft.text, (hanging,)), "hang")
    assert "P1" in [p.id for p in worker.work_out(session.draft).plan.placements]
    text, index = first.draft.text, len(tomllib.loads(first.draft.text)[asked["section"]]) - 1
    session.take(Draft(text, session.draft.panels), "the same again")
    outcome = worker.work_out(session.draft)
    assert told(outcome, "P1").get(code) == "error"
    assert outcome.plan.placements == ()
    assert session.draft.panels == (hanging,)
    outcome = after(session, worker, room, op="remove", section=asked["section"], index=index)
    assert [p.id for p in outcome.plan.placements] == ["P1"]


def test_openings_that_share_a_place_are_an_error_that_undo_mends(work, room):
    session, worker = work
    worker.work_out(session.draft)
    outcome = after(session, worker, room, op="add", section="openings", kind="door", surface="")
    outcome = after(session, worker, room, op="move", section="openings", index=2, u=0.5, v=0.0)
    assert outcome.stale
    assert told(outcome, "openings[2]") == {"openings-overlap": "error"}
    session.undo()
    assert not worker.work_out(session.draft).stale


def test_too_little_depth_before_electricity_is_told(work, room):
    session, worker = work
    after(session, worker, room, op="add", section="keep_outs", kind="fuse board", surface="left")
    outcome = after(session, worker, room, op="set", path=["keep_outs", 2, "depth"], value="0.6")
    assert told(outcome, "keep_outs[2].depth") == {"electrical-depth-small": "note"}
    assert any(c.startswith("Electricity (fuse board)") for c in outcome.plan.cautions)


def test_a_room_with_errors_to_begin_with_takes_nothing_in(start):
    with pytest.raises(PlanError, match="the room has errors"):
        apply(start, {"op": "add", "section": "openings", "kind": "door", "surface": ""}, Room(None, (), ()))


# --- sizes of a room that is no box -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "path", "value"),
    [
        ("basement", ["room", "corners", 4, 1], "5.0"),
        ("basement", ["room", "height"], "2.40"),
        ("attic", ["room", "ceiling", 0, "knee"], "1.10"),
        ("attic", ["room", "ceiling", 1, "pitch"], "40"),
    ],
)
def test_corners_and_heights_of_a_floor_plan_can_be_typed(rooms, tmp_path, name, path, value):
    draft = do(Draft(text_of(name)), rooms[name], op="set", path=path, value=value)
    if path[-2:] == [4, 1]:
        draft = do(draft, rooms[name], op="set", path=["room", "corners", 5, 1], value=value)
    scene, _ = loaded(draft.text, name, tmp_path)
    assert scene.enclosure.volume != pytest.approx(rooms[name].scene.enclosure.volume, rel=1e-3)
