"""Pictures: rendered where OpenGL is, refused politely where it is not."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from treatment.errors import TreatmentError
from treatment.planning.plan import Plan
from treatment.present import viewer
from treatment.present.camera import choose_camera, faces_camera, shown_opacity
from treatment.present.drawables import drawables, picture
from treatment.present.overlay import legend_entries
from treatment.present.palette import PANEL, rgb


def test_camera_sees_the_whole_room(plan: Plan) -> None:
    shapes = drawables(plan)
    camera = choose_camera(shapes, (1600, 1000))
    seen = [f for f in shapes.faces if faces_camera(f, camera.position)]
    at = camera.pixels(np.concatenate([f.rings[0] for f in seen]))
    assert at[:, :2].min() > 0.0
    assert at[:, 0].max() < 1600.0
    assert at[:, 1].max() < 1000.0
    # It stands outside: at least the ceiling and two walls are cut away, floor and two walls remain.
    names = {f.name for f in seen if f.group == "room"}
    assert "Floor" in names
    assert "Ceiling" not in names
    assert len(names) == 3


def test_openings_of_walls_that_are_cut_away_stay(plan: Plan) -> None:
    shapes = drawables(plan)
    position = choose_camera(shapes, (1600, 1000)).position
    away = {f.group for f in shapes.faces if not faces_camera(f, position)}
    assert {"opening", "room"} <= away
    left_out = {f.group for f in shapes.faces if shown_opacity(f, position) == 0.0}
    assert "room" in left_out
    assert not left_out & {"opening", "panel"}


def test_the_legend_names_what_is_seen_and_only_that(plan: Plan) -> None:
    shapes = drawables(plan)
    camera = choose_camera(shapes, (1600, 1000))
    openings = [f for f in shapes.faces if f.group == "opening"]
    away = [f for f in openings if not faces_camera(f, camera.position)]
    others = [f for f in shapes.faces if f.group != "opening"]
    assert away
    # A thinned door is seen as well: its colour needs a word.
    for faces, known in ((others, False), (others + away, True)):
        words = [w for w, _ in legend_entries(replace(shapes, faces=tuple(faces)), camera)]
        assert ("opening" in words) is known
        assert {"panel", "loudspeaker", "seat (head)"} <= set(words)
    bare = replace(shapes, dots=(), faces=tuple(f for f in others if f.group == "room"))
    assert legend_entries(bare, camera) == ()


@pytest.mark.gl
@pytest.mark.usefixtures("opengl")
def test_picture_is_rendered(plan: Plan, tmp_path: Path) -> None:
    from PIL import Image

    path = tmp_path / "room.png"
    viewer.render_png(picture(plan), path, size=(800, 500))
    image = np.asarray(Image.open(path).convert("RGB")).astype(int)
    assert image.shape == (500, 800, 3)
    # Panels are seen: pixels near the hue of the panels, beyond the legend's swatch at the lower left.
    far = np.abs(image[:, 250:] - np.array(rgb(PANEL))).max(axis=-1)
    assert np.count_nonzero(far < 25) > 800


@pytest.mark.gl
@pytest.mark.usefixtures("opengl")
def test_rendering_says_nothing(plan: Plan, tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    viewer.render_png(picture(plan), tmp_path / "room.png", size=(320, 200))
    captured = capfd.readouterr()
    assert captured.out == ""
    assert captured.err == ""


def test_a_dead_renderer_is_an_error_with_a_hint(
    plan: Plan, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """VTK may abort the process without OpenGL: stand in for it with a child that kills itself."""
    monkeypatch.setattr(viewer, "_CHILD", "import os; os.abort()")
    with pytest.raises(viewer.ViewerError, match="no picture") as caught:
        viewer.render_png(picture(plan), tmp_path / "room.png")
    assert isinstance(caught.value, TreatmentError)
    assert "libegl1" in caught.value.hint
    assert not (tmp_path / "room.png").exists()
