"""Rays beside the formulas."""

import numpy as np
import pytest

from treatment.errors import PlanError
from treatment.planning.evaluate import evaluate
from treatment.planning.trace import trace_scene, with_rays
from treatment.scene.load import load_scene

ROOM = """title = "rays"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 3.0
[surfaces]
default = "even"
[materials.even]
absorption = [0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2]
scattering = [0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
source = "typed"
[[loudspeakers]]
name = "L"
position = [1.0, 1.0, 1.2]
[[seats]]
name = "seat"
position = [3.6, 2.4, 1.1]
"""


def room(tmp_path, text=ROOM):
    path = tmp_path / "room.toml"
    path.write_text(text)
    return load_scene(path)[0]


def test_even_absorption_and_scattering_walls_give_eyrings_time(tmp_path):
    """Diffuse walls, the same everywhere: Eyring's case, but for paths of unequal length."""
    scene = room(tmp_path)
    traced = trace_scene(scene, (), 20_000)
    result = with_rays(evaluate(scene), traced)
    middle = slice(2, 7)
    assert traced.result.reached
    assert result.reverberation["traced"][middle] == pytest.approx(result.eyring[middle], rel=0.08)
    assert not traced.double.any()


def test_the_same_seed_gives_the_same_times(tmp_path):
    scene = room(tmp_path)
    first, again, other = (trace_scene(scene, (), 3000, seed=s) for s in (1, 1, 2))
    assert np.array_equal(first.t30, again.t30, equal_nan=True)
    assert not np.array_equal(first.t30, other.t30, equal_nan=True)


def test_rays_need_someone_who_listens(tmp_path):
    with pytest.raises(PlanError, match="at least one"):
        trace_scene(room(tmp_path, ROOM.split("[[seats]]")[0]), (), 1000)


def test_objects_damp_the_rays_as_they_damp_the_formulas(tmp_path):
    """A_obj/(4V) a metre; diffuse walls, so that Eyring's formula with objects tells the change."""
    sofa = '[[objects]]\nname = "sofa"\nabsorption_area_m2 = [5, 5, 5, 5, 5, 5, 5, 5]\n'
    times = [trace_scene(s, (), 6000).t30[4] for s in (room(tmp_path), room(tmp_path, ROOM + sofa))]
    # By hand: 60 m3, 94 m2 of 0.2, air 1.0745e-3 at 1 kHz (ISO 9613-1).
    walls = 94.0 * 0.22314 + 4.0 * 1.0745e-3 * 60.0
    assert times[1] / times[0] == pytest.approx(walls / (walls + 5.0), rel=0.03)
