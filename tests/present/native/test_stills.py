"""Stills of every mode, and a window that is driven by events: pixels differ where they should."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from treatment.planning.plan import Plan
from treatment.present.native import open as opening
from treatment.present.native.desk import Desk
from treatment.present.native.state import ViewState
from treatment.present.native.steps import OnDemand
from treatment.present.palette import LEVEL_SCALE, PANEL, SEAT, ZONE, rgb
from treatment.present.viewer import ViewerError

#: What is asked of one child process: name of a still, and actions that lead to it.
MODES = {
    "plain": (),
    "before": ("before-after",),
    "third": ("step:3", "pick:"),
    "delay": ("colouring",),
    "bass": ("band:1",),
    "double": ("order:1",),
    "none": ("order:4",),
    "zones": ("zones",),
    "help": ("help",),
    "plan": ("view:plan",),
    "front": ("view:front",),
    "seat": ("view:seat",),
    "free": ("keep_free",),
    "picked": ("pick:panel:P1",),
}

# A window without a screen is led to every mode, then driven by events as the toolkit would do it; a still of
# a desk of its own is made of two modes.
_CHILD = """
import pickle, sys
import numpy as np
from treatment.present.native.desk import Desk
from treatment.present.native.steps import OnDemand
from treatment.present.native.still import still_of
from treatment.present.native.window import Window

plan, modes, path = pickle.loads(sys.stdin.buffer.read())
steps = OnDemand(plan.scene, plan.placements)

kept = []
first = Desk(plan.scene, plan.placements, steps, (1000, 640))
state, gaze = first.state, first.gaze
window = Window(first, lambda pixels: kept.append(pixels) or "kept as view-1.png", off_screen=True)
window.plotter.ren_win.SetMultiSamples(0)
shots = {}
for name, actions in modes.items():
    first.state, first.gaze = state, gaze
    for action in actions:
        first.act(action)
    shots[name] = window.pixels()
    if name in ("zones", "seat"):
        fresh = Desk(plan.scene, plan.placements, steps, (1000, 640), first.state)
        shots["still " + name] = still_of(fresh)
first.state, first.gaze = state, gaze
shots["window"] = window.pixels()
iren = window.plotter.iren.interactor
def mouse(event, x, y):
    iren.SetEventInformation(x, 639 - y, 0, 0, chr(0), 0, "")
    iren.InvokeEvent(event)
mouse("LeftButtonPressEvent", 300, 300)
for k in range(8):
    mouse("MouseMoveEvent", 300 + 12 * k, 300)
mouse("LeftButtonReleaseEvent", 396, 300)
shots["dragged"] = window.pixels()
azimuth = window.desk.gaze.azimuth
window.key("Left", shift=True)
assert window.desk.gaze.azimuth == azimuth
window.key("Home")
assert window.desk.gaze.azimuth != azimuth
shots["home"] = window.pixels()
mouse("MouseWheelForwardEvent", 300, 300)
shots["nearer"] = window.pixels()
window.key("Home")
iren.SetKeySym("z")
iren.InvokeEvent("KeyPressEvent")
assert window.desk.state.zones
# A click without a move chooses: the arrow beside the loudspeaker's name.
box, action = next(s for s in window.desk.side().spots if s[1] == "loudspeaker:next")
x = window.desk.view_size[0] + window.desk.unit * (box[0] + box[2]) / 2
y = window.desk.unit * (box[1] + box[3]) / 2
mouse("LeftButtonPressEvent", round(x), round(y))
mouse("LeftButtonReleaseEvent", round(x), round(y))
assert window.desk.state.loudspeaker == 0
window.key("p")
assert len(kept) == 1 and window.desk.note == "kept as view-1.png"
shots["kept"] = kept[0]
np.savez(path, **shots)
"""


@pytest.fixture(scope="module")
def shots(
    request: pytest.FixtureRequest, plan: Plan, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, np.ndarray]:
    request.getfixturevalue("opengl")
    path = tmp_path_factory.mktemp("stills") / "shots.npz"
    environment = dict(os.environ)
    if sys.platform == "linux":
        environment["VTK_DEFAULT_OPENGL_WINDOW"] = "vtkEGLRenderWindow"
    job = pickle.dumps((plan, MODES, str(path)))
    done = subprocess.run(
        [sys.executable, "-c", _CHILD],
        input=job,
        env=environment,
        capture_output=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()[-2000:]
    with np.load(path) as file:
        return {name: file[name].astype(int) for name in file.files}


def near(image: np.ndarray, colour: str, within: int = 14) -> int:
    """Pixels of the room's picture near a colour, cards left out."""
    room = image[:520, :720]
    return int((np.abs(room - np.array(rgb(colour))).max(axis=2) <= within).sum())


def changed(a: np.ndarray, b: np.ndarray) -> float:
    return float((a != b).any(axis=2).mean())


@pytest.mark.gl
def test_panels_are_solids_that_come_and_go(shots: dict[str, np.ndarray]) -> None:
    shaded = "#d6a542"  # a panel that faces the viewer, under the soft light
    counts = {
        name: near(shots[name], shaded) + near(shots[name], PANEL) for name in ("before", "third", "plain")
    }
    assert counts["before"] < 600
    assert counts["before"] + 800 < counts["third"] < counts["plain"]


@pytest.mark.gl
def test_every_mode_looks_different(shots: dict[str, np.ndarray]) -> None:
    for name in MODES:
        if name != "plain":
            assert changed(shots[name], shots["plain"]) > 0.003, name


@pytest.mark.gl
def test_paths_are_coloured_and_can_be_left_out(shots: dict[str, np.ndarray]) -> None:
    warm = [c for _, c in LEVEL_SCALE[2:4]]
    drawn, left_out = (sum(near(shots[n], c, 25) for c in warm) for n in ("plain", "none"))
    assert drawn > left_out + 1000
    cool = "#2f8f91"
    assert near(shots["delay"], cool, 30) > near(shots["plain"], cool, 30) + 300


@pytest.mark.gl
def test_zones_are_painted_on_the_walls(shots: dict[str, np.ndarray]) -> None:
    zones, plain = (shots[n][:520, :720] for n in ("zones", "plain"))
    painted = (zones != plain).any(axis=2)
    assert painted.mean() > 0.03
    # Blue over the walls' grey: what is painted loses more red than blue.
    turned = (zones[painted] - plain[painted]).mean(axis=0)
    assert turned[0] < turned[2] - 10.0
    assert rgb(ZONE)[2] > rgb(ZONE)[0] + 50


@pytest.mark.gl
def test_near_walls_are_cut_away(shots: dict[str, np.ndarray]) -> None:
    """The floor is seen from every side from outside, and seats are never behind a wall."""
    for name in ("plain", "plan", "front", "dragged"):
        assert near(shots[name], SEAT, 40) > 150, name


@pytest.mark.gl
def test_the_legend_and_help_are_on_the_picture(shots: dict[str, np.ndarray]) -> None:
    legend = shots["plain"][560:630, 10:420]
    for _, colour in LEVEL_SCALE:
        assert (np.abs(legend - np.array(rgb(colour))).max(axis=2) < 30).sum() > 20, colour
    assert changed(shots["help"][100:500, 100:650], shots["plain"][100:500, 100:650]) > 0.5


@pytest.mark.gl
def test_the_window_shows_what_a_still_shows(shots: dict[str, np.ndarray]) -> None:
    for name in ("zones", "seat"):
        still = shots[f"still {name}"]
        assert still.shape == shots[name].shape
        # Only smoothing differs.
        assert np.abs(still - shots[name]).mean() < 1.5
    assert changed(shots["window"], shots["plain"]) == 0.0


@pytest.mark.gl
def test_mouse_and_keys_move_the_window(shots: dict[str, np.ndarray]) -> None:
    assert changed(shots["dragged"], shots["window"]) > 0.1
    assert changed(shots["home"], shots["window"]) < 0.001
    assert changed(shots["nearer"], shots["home"]) > 0.05
    # Paths of one loudspeaker, and zones: the kept picture holds both.
    assert changed(shots["kept"], shots["home"]) > 0.03


@pytest.mark.gl
@pytest.mark.usefixtures("opengl")
def test_a_still_is_written_without_a_window(plan: Plan, tmp_path: Path) -> None:
    from PIL import Image

    path = tmp_path / "still.png"
    opening.write_still(plan.scene, plan.placements, ViewState(step=2, band=4), path, (800, 500))
    with Image.open(path) as image:
        assert image.size == (800, 500)


def test_a_still_needs_a_folder(plan: Plan, tmp_path: Path) -> None:
    with pytest.raises(ViewerError, match="does not exist"):
        opening.write_still(plan.scene, (), ViewState(), tmp_path / "none" / "still.png")


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="elsewhere a screen is taken for granted")
@pytest.mark.parametrize("display", ["", ":59377"])
def test_window_without_a_screen_is_refused(
    plan: Plan, display: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("DISPLAY", display)
    with pytest.raises(ViewerError, match="no screen"):
        opening.open_window(plan.scene, plan.placements, ViewState(), tmp_path, "view")


def test_pictures_never_replace_one_another(tmp_path: Path) -> None:
    from treatment.present.native.window import keeper

    keep = keeper(tmp_path, "view")
    pixels = np.zeros((4, 4, 3), dtype=np.uint8)
    assert keep(pixels).endswith("view-1.png")
    assert keep(pixels).endswith("view-2.png")
    assert keeper(tmp_path / "gone", "view")(pixels).startswith("no picture: ")


def test_desk_takes_another_size(plan: Plan, make_desk: Callable[..., Desk]) -> None:
    desk = Desk(plan.scene, plan.placements, OnDemand(plan.scene, plan.placements), (900, 600))
    desk.resize((1800, 1200))
    assert desk.side().size[1] == 1200
    assert desk.overlay().shape[:2] == (1200, desk.view_size[0])
    assert make_desk().size == (1400, 900)
