"""Materials of one's own from a folder that the scene names."""

import json
import shutil

import pytest
from typer.testing import CliRunner

from treatment.cli import app
from treatment.errors import SceneError
from treatment.materials.shipped import materials_folder
from treatment.scene.load import load_scene

ROOM = """title = "own tables"
data_sheets = "my tables"
[room]
shape = "box"
length = 4.0
width = 3.0
height = 2.4
[surfaces]
default = "own-board"
[[loudspeakers]]
name = "L"
position = [0.5, 1.0, 1.0]
[[seats]]
name = "seat"
position = [2.6, 1.5, 1.1]
[budget]
amount = 60
currency = "EUR"
"""


@pytest.fixture
def room(tmp_path):
    folder = tmp_path / "my tables"
    folder.mkdir()
    shipped = (materials_folder() / "coefficients-table-27-1.csv").read_text(encoding="utf-8").splitlines()
    row = shipped[1].replace("gypsum-board-13mm-studs-table27", "own-board")
    row = row.replace("gypsum-board-on-studs gypsum-board-13mm-frame-100mm-empty", "")
    (folder / "own.csv").write_text(f"{shipped[0]}\n{row}\n", encoding="utf-8")
    path = tmp_path / "room.toml"
    path.write_text(ROOM)
    return path


def test_a_table_beside_the_scene_is_read(room):
    scene, _ = load_scene(room)
    assert scene.surfaces[0].material.id == "own-board"
    assert scene.surfaces[0].material.absorption[1] == 0.1


def test_a_wrong_table_is_a_finding_with_its_line(room):
    table = room.parent / "my tables" / "own.csv"
    table.write_text(table.read_text(encoding="utf-8").replace(",0.1,", ",7.5,"), encoding="utf-8")
    with pytest.raises(SceneError) as refused:
        load_scene(room)
    found = [f for f in refused.value.findings if f.code == "data-sheet"]
    assert len(found) == 1
    assert "7.5" in found[0].message
    assert "line 2" in found[0].message


def test_the_plan_takes_the_tables_along(room, tmp_path):
    out = tmp_path / "plan"
    result = CliRunner().invoke(app, ["plan", str(room), "--out", str(out), "--no-pictures"])
    assert result.exit_code == 0, result.output
    shutil.rmtree(room.parent / "my tables")
    scene, _ = load_scene(out / "scene.toml")
    assert scene.surfaces[0].material.id == "own-board"
    assert json.loads((out / "plan.json").read_text())["placements"]
