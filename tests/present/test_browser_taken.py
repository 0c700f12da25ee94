"""What a room file names comes along: what is saved loads anywhere, and nothing is looked for elsewhere."""

import json
import shutil
from pathlib import Path

import pytest

from treatment.errors import PlanError
from treatment.materials.shipped import materials_folder
from treatment.present.browser import _opened
from treatment.present.browser_draft import Draft
from treatment.present.browser_session import Session
from treatment.present.browser_store import Store
from treatment.present.browser_taken import stay_inside, take_along
from treatment.present.browser_work import Worker
from treatment.present.folder import _copy_scene
from treatment.scene.load import load_scene

SCENES = Path(__file__).parents[2] / "scenes"


@pytest.fixture
def drawn(tmp_path):
    """A room of a mesh in one folder, with a data sheet in a second and the scene in a third."""
    shutil.copytree(SCENES, tmp_path / "scenes", ignore=lambda _, names: [n for n in names if "bay" not in n])
    text = (tmp_path / "scenes" / "bay-window.toml").read_text(encoding="utf-8")
    (tmp_path / "drawn").mkdir()
    (tmp_path / "scenes" / "bay-window.obj").rename(tmp_path / "drawn" / "bay-window.obj")
    sheets = tmp_path / "my sheets"
    sheets.mkdir()
    rows = (materials_folder() / "coefficients-table-27-1.csv").read_text(encoding="utf-8").splitlines()
    row = rows[1].replace("gypsum-board-13mm-studs-table27", "own-board")
    row = row.replace("gypsum-board-on-studs gypsum-board-13mm-frame-100mm-empty", "")
    (sheets / "own.csv").write_text(f"{rows[0]}\n{row}\n", encoding="utf-8")
    (sheets / "notes.txt").write_text("not a sheet", encoding="utf-8")
    assert "bay-window.obj" in text
    text = 'data_sheets = "../my sheets" # mine\n' + text.replace("bay-window.obj", "../drawn/bay-window.obj")
    text = (
        text.replace("[surfaces]", '[surfaces]\nceiling = "own-board"', 1)
        if "\nceiling =" not in text
        else text
    )
    path = tmp_path / "scenes" / "bay-window.toml"
    path.write_text(text, encoding="utf-8")
    load_scene(path)
    return path


def test_what_is_saved_loads_when_the_original_is_gone(drawn, tmp_path):
    before, _ = load_scene(drawn)
    store = Store(tmp_path / "work")
    name, draft = _opened(drawn, store)
    for gone in ("scenes", "drawn", "my sheets"):
        shutil.rmtree(tmp_path / gone)
    assert "# mine" in draft.text  # comments stay
    assert not (store.folder / "data-sheets" / "notes.txt").exists()
    session = Session.open(store, name, draft)
    outcome = Worker(store).work_out(session.draft)
    assert outcome.scene.enclosure.volume == before.enclosure.volume
    # As a room, and as a plan, which is then moved elsewhere.
    room = store.write("mine.toml", draft.text.encode())
    assert load_scene(room)[0].enclosure.volume == before.enclosure.volume
    # The part of a saved plan that holds the room; all the rest of it would only take its time here.
    (store.folder / "plan").mkdir()
    _copy_scene(room, store.folder / "plan")
    moved = (store.folder / "plan").rename(tmp_path / "elsewhere")
    shutil.rmtree(store.folder)
    again, _ = load_scene(moved / "scene.toml")
    assert again.enclosure.volume == before.enclosure.volume
    assert {s.material.id for s in again.surfaces} == {s.material.id for s in before.surfaces}
    assert "own-board" in {s.material.id for s in again.surfaces}


def test_a_room_in_the_folder_itself_is_left_as_it_is(drawn, tmp_path):
    store = Store(tmp_path / "work")
    text = take_along(drawn, store)
    room = store.write("mine.toml", text.encode())
    mesh = (store.folder / "bay-window.obj").stat().st_mtime_ns
    assert take_along(room, store) == text
    assert (store.folder / "bay-window.obj").stat().st_mtime_ns == mesh


@pytest.mark.parametrize(
    "named",
    [
        {"room": {"shape": "mesh", "file": "../outside.obj"}},
        {"room": {"shape": "mesh", "file": "/etc/passwd"}},
        {"room": {"shape": "mesh", "file": "link.obj"}},
        {"data_sheets": ".."},
        {"data_sheets": "../sheets"},
        {"data_sheets": "linked"},
        {"data_sheets": "holding"},
    ],
)
def test_a_session_that_names_files_elsewhere_is_refused(tmp_path, named):
    import tomlkit

    (tmp_path / "outside.obj").write_text("v 0 0 0", encoding="utf-8")
    (tmp_path / "sheets").mkdir()
    store = Store(tmp_path / "work")
    (store.folder / "link.obj").symlink_to(tmp_path / "outside.obj")
    (store.folder / "linked").symlink_to(tmp_path / "sheets")
    (store.folder / "holding").mkdir()
    (store.folder / "holding" / "a.csv").symlink_to(tmp_path / "outside.obj")
    text = tomlkit.dumps(named)
    with pytest.raises(PlanError):
        stay_inside(text, store)
    # By the way of a session file that somebody prepared.
    good = Draft((SCENES / "garden-room.toml").read_text(encoding="utf-8"))
    session = Session.open(store, "room.toml", good)
    session.take(Draft(text), "prepared")
    with pytest.raises(PlanError):
        Worker(store).work_out(session.draft)
    session.undo()
    assert Worker(store).work_out(session.draft) is not None
    assert json.loads((store.folder / "session.json").read_text(encoding="utf-8"))["at"] == 0
