"""The command line: what scripts rely on, and what happens when something is wrong."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from typer.testing import CliRunner

import treatment
from treatment.cli import app, main

TINY = """title = "tiny"
[room]
shape = "box"
length = 4.0
width = 3.0
height = 2.4
[surfaces]
default = "gypsum-board-on-studs"
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


def run(*arguments, cwd=None, env=None):
    """A whole process, as a user runs it."""
    return subprocess.run(
        [sys.executable, "-m", "treatment", *map(str, arguments)],
        capture_output=True,
        text=True,
        cwd=cwd,
        env={**os.environ, **(env or {})},
        check=False,
    )


@pytest.fixture
def tiny(tmp_path):
    path = tmp_path / "tiny.toml"
    path.write_text(TINY)
    return path


def test_help_names_every_command():
    result = run("--help")
    assert result.returncode == 0
    for command in ("new", "check", "predict", "plan", "compare", "materials", "bass", "measure", "view"):
        assert command in result.stdout


def test_help_loads_nothing_heavy():
    heavy = "{'numpy', 'pandas', 'scipy', 'trimesh', 'pyvista', 'matplotlib'}"
    code = f"import sys, treatment.cli; print(sorted({heavy} & set(sys.modules)))"
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "[]"


def test_predict_loads_nothing_heavy(tiny):
    code = (
        "import sys; from treatment.cli import main\n"
        "sys.argv = ['treatment', 'predict', sys.argv[1], '--json']\n"
        "try:\n    main()\nexcept SystemExit: pass\n"
        "heavy = {'pandas', 'scipy', 'trimesh', 'pyvista', 'matplotlib'}\n"
        "print(sorted(heavy & set(sys.modules)), file=sys.stderr)"
    )
    result = subprocess.run(
        [sys.executable, "-c", code, str(tiny)], capture_output=True, text=True, check=True
    )
    assert result.stderr.strip().splitlines()[-1] == "[]"


def test_predict_json_has_the_agreed_shape(tiny):
    result = CliRunner().invoke(app, ["predict", str(tiny), "--json"])
    document = json.loads(result.stdout)
    assert document["bands_hz"] == [63, 125, 250, 500, 1000, 2000, 4000, 8000]
    assert set(document["room"]) >= {
        "volume_m3",
        "surface_area_m2",
        "mean_free_path_m",
        "speed_of_sound_m_s",
        "schroeder_hz",
    }
    assert document["room"]["volume_m3"] == pytest.approx(28.8)
    assert {s["name"] for s in document["surfaces"]} == {"front", "back", "left", "right", "floor", "ceiling"}
    for s in document["surfaces"]:
        assert set(s) >= {"name", "area_m2", "material", "absorption"}
        assert len(s["absorption"]) == 8
    assert set(document["reverberation_s"]) == {
        "sabine",
        "eyring",
        "millington",
        "fitzroy",
        "arau-puchades",
        "kuttruff",
        "traced",
    }
    first = [a for a in document["arrivals"] if a["order"] == 1]
    assert len(first) == 6
    for a in document["arrivals"]:
        assert set(a) >= {
            "source",
            "seat",
            "order",
            "surfaces",
            "points_m",
            "length_m",
            "delay_ms",
            "level_db",
        }
        assert len(a["points_m"]) == len(a["surfaces"]) == a["order"]
        assert len(a["level_db"]) == 8
    for f in document["findings"]:
        assert set(f) >= {"code", "severity", "where", "message", "hint"}


def test_plan_writes_the_agreed_files(tiny, tmp_path):
    out = tmp_path / "plan"
    result = CliRunner().invoke(app, ["plan", str(tiny), "--out", str(out), "--no-pictures"])
    assert result.exit_code == 0, result.output
    # What is left out is said.
    from treatment.present.pdf import pdf_possible

    said = result.stdout + result.stderr
    assert "room.png" in said
    assert ("report.pdf" in said) == pdf_possible()
    names = {p.name for p in out.iterdir()}
    assert names >= {
        "plan.json",
        "placements.csv",
        "arrivals.csv",
        "reverberation.csv",
        "shopping.csv",
        "cuts.csv",
        "report.html",
        "room.html",
    }
    document = json.loads((out / "plan.json").read_text())
    assert set(document) >= {"placements", "before", "after", "cost", "cautions"}
    treated = {p["surface"] for p in document["placements"]}
    assert {f"elevation-{s}.svg" for s in treated} <= names
    for p in document["placements"]:
        assert set(p) >= {
            "id",
            "panel",
            "surface",
            "corner_m",
            "size_m",
            "centre_m",
            "thickness_m",
            "air_gap_m",
            "cost",
            "reasons",
        }
        assert p["reasons"]
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".plan-")]  # no folder of work is left


def test_the_same_scene_gives_the_same_plan(tiny, tmp_path):
    for name in ("one", "two"):
        CliRunner().invoke(app, ["plan", str(tiny), "--out", str(tmp_path / name), "--no-pictures"])
    assert (tmp_path / "one" / "plan.json").read_text() == (tmp_path / "two" / "plan.json").read_text()


def test_a_foreign_folder_is_refused_and_kept(tiny, tmp_path):
    out = tmp_path / "mine"
    out.mkdir()
    (out / "diary.txt").write_text("keep me")
    refused = run("plan", tiny, "--out", out, "--no-pictures")
    assert refused.returncode == 1
    assert "--force" in refused.stderr
    assert "Traceback" not in refused.stderr
    assert [p.name for p in out.iterdir()] == ["diary.txt"]
    forced = run("plan", tiny, "--out", out, "--no-pictures", "--force")
    assert forced.returncode == 0, forced.stderr
    assert (out / "plan.json").is_file()
    assert (tmp_path / "mine.old-1" / "diary.txt").read_text() == "keep me"


def test_our_own_folder_is_replaced_and_what_the_user_added_stays(tiny, tmp_path):
    out = tmp_path / "plan"
    for _ in range(2):
        assert CliRunner().invoke(app, ["plan", str(tiny), "--out", str(out), "--no-pictures"]).exit_code == 0
        (out / "notes.txt").write_text("bought two slabs")
    assert (out / "notes.txt").read_text() == "bought two slabs"
    assert not (tmp_path / "plan.old-1").exists()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        (TINY.replace("[2.6, 1.5, 1.1]", "[9.0, 1.5, 1.1]"), "seat-outside-room"),
        (TINY.replace("gypsum-board-on-studs", "gipsum-board-on-studs"), "gypsum-board-on-studs"),
        (TINY.replace("height = 2.4", "hieght = 2.4"), "height"),
        (TINY + "[materials.x]\nabsorption = [-0.1, 0, 0, 0, 0, 0, 0, 0]\nsource = 's'\n", "-0.1"),
        (TINY.replace("position = [0.5", "position = [nan"), "finite"),
        ("title = [\n", "toml"),
    ],
)
@pytest.mark.parametrize("command", ["predict", "plan", "check"])
def test_bad_input_is_told_and_nothing_is_written(tmp_path, text, words, command, capsys, monkeypatch):
    path = tmp_path / "bad.toml"
    path.write_text(text)
    out = ["--out", str(tmp_path / "out")] if command == "plan" else []
    monkeypatch.setattr(sys, "argv", ["treatment", command, str(path), *out])
    with pytest.raises(SystemExit) as stop:
        main()
    said = capsys.readouterr()
    assert stop.value.code == 1
    assert words in said.err + said.out
    assert "Traceback" not in said.err
    assert [p.name for p in tmp_path.iterdir()] == ["bad.toml"]


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "empty"), (TINY.replace("[2.6, 1.5, 1.1]", "[9.0, 1.5, 1.1]"), "seat-outside-room")],
)
def test_bad_input_as_a_process(tmp_path, text, words):
    path = tmp_path / "bad.toml"
    path.write_text(text)
    result = run("plan", path, "--out", tmp_path / "out")
    assert result.returncode == 1
    assert words in result.stderr
    assert "Traceback" not in result.stderr
    assert result.stdout == ""


def test_wrong_usage_is_status_2(tiny):
    assert run("predict").returncode == 2
    assert run("plan", tiny).returncode == 2
    assert run("nonsense").returncode == 2


def test_a_missing_file_and_a_missing_parent(tiny, tmp_path):
    assert run("predict", tmp_path / "nothing.toml").returncode == 1
    result = run("plan", tiny, "--out", tmp_path / "no" / "such" / "place")
    assert result.returncode == 1
    assert "does not exist" in result.stderr


def test_a_scene_without_seats_cannot_be_planned_but_is_predicted(tmp_path):
    path = tmp_path / "empty-room.toml"
    path.write_text(TINY.split("[[loudspeakers]]")[0])
    assert run("predict", path).returncode == 0
    result = run("plan", path, "--out", tmp_path / "out")
    assert result.returncode == 1
    assert "loudspeaker" in result.stderr


def test_public_names_resolve():
    for name in treatment.__all__:
        assert getattr(treatment, name) is not None
    with pytest.raises(AttributeError, match="nonsense"):
        _ = treatment.nonsense


def test_without_opengl_the_plan_is_still_made(tiny, tmp_path, monkeypatch):
    """OpenGL may end the whole process that asks for it: the picture is left out with a note."""
    monkeypatch.setattr("treatment.present.viewer._CHILD", "import os; os.abort()")
    result = CliRunner().invoke(app, ["plan", str(tiny), "--out", str(tmp_path / "plan")])
    assert result.exit_code == 0, result.output
    assert "room.png was left out" in result.stderr
    assert "libgl1" in result.stderr
    assert (tmp_path / "plan" / "report.html").is_file()
    assert not (tmp_path / "plan" / "room.png").exists()


def test_what_installs_an_extra_is_worded_alike_everywhere():
    # By its name alone a registry would give whatever else bears it.
    root = Path(treatment.__file__).parents[1]
    files = [*(root / "treatment").rglob("*.py"), *(root / "docs" / "guide").glob("*.md"), root / "README.md"]
    told = 0
    for path in files:
        text = path.read_text(encoding="utf-8")
        assert "pip install 'treatment[" not in text, path
        told += "pip install '.[" in text
    assert told >= 3


def test_check_takes_the_folder_of_a_plan(tiny, tmp_path, capsys, monkeypatch):
    """Its room and its panels: one that sticks out of its wall is told, and one of no build."""
    folder = tmp_path / "plan"

    def ran(*arguments):
        monkeypatch.setattr(sys, "argv", ["treatment", *map(str, arguments)])
        with pytest.raises(SystemExit) as stop:
            main()
        said = capsys.readouterr()
        return stop.value.code, said.out + said.err

    assert ran("plan", tiny, "--out", folder, "--no-pictures")[0] in (0, None)
    status, words = ran("check", folder)
    assert status == 0
    assert "0 errors" in words
    count = len(json.loads((folder / "plan.json").read_text())["placements"])
    assert f"; {count} panel{'s' * (count != 1)} of the plan looked at" in words
    path = folder / "plan.json"
    document = json.loads(path.read_text())
    panel = document["placements"][0]
    panel["corner_m"] = [panel["corner_m"][0] - 10.0, panel["corner_m"][1]]
    path.write_text(json.dumps(document))
    status, words = ran("check", folder)
    assert status == 1
    assert "1 error" in words
    assert f"ERROR   {panel['id']}" in words
    panel["panel"] = "no-such-build"
    path.write_text(json.dumps(document))
    status, words = ran("check", folder)
    assert status == 1
    assert "does not fit the room" in words
    status, words = ran("check", tmp_path)
    assert status == 1
    assert "holds no plan" in words
