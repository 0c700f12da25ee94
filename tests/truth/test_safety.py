"""Limits of safety against published figures."""

from pathlib import Path

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.materials.build import Layer
from treatment.materials.carcass import frame_mass
from treatment.materials.library import load_library
from treatment.materials.make_build import make_build
from treatment.planning.candidates import find_sites
from treatment.planning.cautions import WORKING_SPACE, daily_hours, weekly_hours
from treatment.planning.kept import LAMP_SPACE, kept_free
from treatment.scene.load import load_scene


@pytest.mark.parametrize(("level", "hours"), [(85.0, 8.0), (88.0, 4.0), (94.0, 1.0), (100.0, 0.25)])
def test_working_day(level, hours):
    """NIOSH, Criteria for a recommended standard: occupational noise exposure, 1998, table 1-1."""
    assert daily_hours(level) == pytest.approx(hours, rel=1e-12)


@pytest.mark.parametrize(("level", "hours"), [(80.0, 40.0), (83.0, 20.0), (86.0, 10.0)])
def test_week_of_listening(level, hours):
    """WHO/ITU-T H.870: adults 80 dB(A) for 40 h a week, 3 dB exchange; from memory."""
    assert weekly_hours(level) == pytest.approx(hours, rel=1e-12)


def test_mass_of_a_panel():
    """1.2 x 0.6 x 0.1 m at 48 kg/m3 is 3.456 kg; a frame of 18 mm boards adds its timber. By hand."""
    size = {"width": 0.6, "height": 1.2, "thickness": 0.1, "price": 1.0, "on": ["wall"], "air_gap": 0.0}
    layer = Layer(12500.0, 0.1, 48.0)
    bare = make_build("bare", library=load_library(), layers=(layer,), **size)
    assert bare.mass == pytest.approx(3.456, rel=1e-9)
    framed = make_build("framed", library=load_library(), layers=(layer,), frame_thickness=0.018, **size)
    boards = (2 * 1.236 + 2 * 0.6) * 0.018 * 0.1  # two sides over the full height, two ends between them
    assert framed.mass - bare.mass == pytest.approx(boards * 500.0, rel=1e-9)
    assert frame_mass(0.6, 1.2, 0.1, 0.018) == pytest.approx(boards * 500.0, rel=1e-9)


def test_working_space_and_lamps():
    """USA NEC 110.26 (A): 36 in deep, 30 in wide, 6 1/2 ft high; NEC 410.116 (B): 3 in. An example."""
    assert pytest.approx((36 * 0.0254, 30 * 0.0254, 78 * 0.0254)) == WORKING_SPACE
    assert pytest.approx(3 * 0.0254) == LAMP_SPACE


ROOM = """title = "board"
[room]
shape = "box"
length = 4.0
width = {width}
height = 2.5
[surfaces]
default = "gypsum-board-on-studs"
[[keep_outs]]
name = "fuse board"
surface = "left"
at = [1.5, 0.0]
size = [0.76, 2.0]
depth = 0.9144
reason = "electrical"
[builds.panel]
width = 0.6
height = 1.2
thickness = 0.1
layers = [{{ airflow_resistivity = 12500, thickness = 0.1 }}]
on = ["wall"]
"""


def scene_of(tmp_path: Path, width: float):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(width=width))
    return load_scene(path)[0]


def opposite_sites(tmp_path: Path, distance: float):
    """Sites on the right wall, face so far from the board: those across from it, and all."""
    scene = scene_of(tmp_path, distance + 0.1)
    sites = find_sites(scene, (), [b for b in scene.builds if b.id == "panel"])
    on = sites.surface == scene.surface_index("right")
    r = sites.rectangle[on]
    return r[(r[:, 0] < 2.26) & (r[:, 2] > 1.5)], r


@pytest.mark.parametrize(("distance", "legal"), [(0.90, False), (0.95, True), (1.20, True)])
def test_panel_on_the_opposite_wall(tmp_path, distance, legal):
    """NEC 110.26: 36 in (0.914 m) of depth. A face 0.95 m away passes, one at 0.90 m does not."""
    across, everywhere = opposite_sites(tmp_path, distance)
    assert len(everywhere) > 0
    assert (len(across) > 0) is legal


def test_panel_half_a_metre_before_the_board(tmp_path):
    """Centred 0.5 m before the board, 0.6 m wide: it stands in the working space, wherever it is fixed.

    A narrow room puts the right wall there: body from 0.45 to 0.55 m.
    """
    across, everywhere = opposite_sites(tmp_path, 0.45)
    assert len(everywhere) > 0  # beside the board there are sites
    assert len(across) == 0
    scene = scene_of(tmp_path, 3.0)
    board = next(k.box.bounds[0] for k in kept_free(scene) if k.name == "fuse board")
    # Free-standing: its back is 0.45 m off the wall, its face 0.55 m.
    body = np.array([[1.58, 0.45, 0.3], [2.18, 0.55, 1.5]])
    assert np.all(np.minimum(board[1], body[1]) - np.maximum(board[0], body[0]) > 0.0)
    assert Rectangle(1.5, 0.0, 0.76, 2.0).overlaps(Rectangle(1.58, 0.3, 0.6, 1.2))
