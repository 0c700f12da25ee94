"""A perforated face in a scene file: read in any unit, computed, and refused with what to do."""

import re
from pathlib import Path

import pytest

from treatment.errors import SceneError
from treatment.scene.load import load_scene

GARDEN = (Path(__file__).parents[2] / "scenes" / "garden-room.toml").read_text(encoding="utf-8")
#: The example of docs/guide/scene-file.md.
GUIDE = (Path(__file__).parents[2] / "docs" / "guide" / "scene-file.md").read_text(encoding="utf-8")
EXAMPLE = re.search(r"```toml\n(\[builds\.bass-100\].*?)```", GUIDE, re.DOTALL)[1]


def scene(tmp_path, text):
    path = tmp_path / "room.toml"
    bare = re.sub(r"(?m)^panels = .*$", "", GARDEN)
    path.write_text(f"{bare}\n{text}", encoding="utf-8")
    return load_scene(path)[0]


def test_the_example_of_the_guide_holds_its_fibres(tmp_path):
    """The wool lies behind holes: something must cover them, and it must be bought."""
    assert build(tmp_path).facing == "open-weave fabric"


def build(tmp_path, *changes):
    text = EXAMPLE
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return next(b for b in scene(tmp_path, text).builds if b.id == "bass-100")


def test_the_example_of_the_guide(tmp_path):
    """One's own face competes without being named; its share of holes is pi/4 (5/25)**2."""
    made = build(tmp_path)
    assert made.sheet.open_share == pytest.approx(0.0314159, rel=1e-5)
    assert (made.thickness, made.frame_depth) == pytest.approx((0.106, 0.100))
    assert (made.sheet.board, made.sheet.drilled, made.sheet.staggered) == ("plywood", False, False)
    assert made.mass > 8.0
    assert made.basis == "predicted"


def test_lengths_are_read_in_any_unit(tmp_path):
    metric = build(tmp_path)
    inch = build(tmp_path, ('hole = "5 mm"', 'hole = "0.19685 in"'), ('spacing = "25 mm"', "spacing = 0.025"))
    assert inch.sheet.hole == pytest.approx(metric.sheet.hole, rel=1e-4)
    assert inch.sheet.spacing == pytest.approx(metric.sheet.spacing)


@pytest.mark.parametrize(
    ("old", "new", "code", "words"),
    [
        ('hole = "5 mm"', 'hole = "30 mm"', "build-invalid", "run into each other"),
        ('hole = "5 mm"', 'hole = "14 mm"', "build-invalid", "25 % of it is open"),
        ('hole = "5 mm", ', "", "missing-key", "hole"),
        ('hole = "5 mm"', "hole = -0.005", "size-not-positive", "hole"),
        ('hole = "5 mm"', 'holes = "5 mm"', "unknown-key", "holes"),
        ('frame_thickness = "18 mm"', "", "build-invalid", "no frame to screw the sheet to"),
        ('thickness = "106 mm"', 'thickness = "100 mm"', "build-invalid", "add up to 106 mm"),
        (
            'layers = [{ airflow_resistivity = 12500, thickness = "100 mm", density = 48 }]',
            'material = "curtain-heavy-velour-half-area-aad"', "build-invalid", "a curtain hold their own",
        ),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(tmp_path, old, new, code, words):
    with pytest.raises(SceneError) as error:
        build(tmp_path, (old, new))
    said = [f for f in error.value.findings if f.code == code]
    assert any(words in f"{f.where} {f.message}" for f in said), error.value.findings
    assert all(f.where.startswith("builds.bass-100") for f in said)
