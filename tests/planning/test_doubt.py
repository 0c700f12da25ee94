"""How sure the times are: the interval by hand, and by drawing coefficients at random."""

from dataclasses import replace

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.planning.doubt import doubt_of, doubt_words
from treatment.planning.evaluate import evaluate
from treatment.scene.load import load_scene

ROOM = """title = "doubt"
[room]
shape = "box"
length = 6.0
width = 4.0
height = 2.7
[surfaces]
default = "a"
floor = "b"
[materials.a]
absorption = [0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2]
source = "typed"
[materials.b]
absorption = [0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4, 0.4]
source = "typed"
"""


@pytest.fixture
def room(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(ROOM)
    e = evaluate(load_scene(path)[0])
    rows = tuple(
        replace(r, uncertainty=frozen(np.full(8, 0.02 if r.material == "a" else 0.05))) for r in e.rows
    )
    return replace(e, rows=rows)


def test_the_interval_against_drawn_materials(room):
    """Materials drawn at random, the same everywhere in the room: twice the scatter of Eyring's time."""
    rng = np.random.default_rng(3)
    areas = np.array([r.area for r in room.rows])
    is_a = np.array([r.material == "a" for r in room.rows])
    mean = areas[is_a].sum(), areas[~is_a].sum()
    draws = rng.normal([0.2, 0.4], [0.01, 0.025], (40_000, 2)) @ np.array(mean) / areas.sum()
    air = 4.0 * room.scene.air.power_attenuation()[3] * room.volume / areas.sum()
    times = 1.0 / (-np.log1p(-draws) + air)
    expected = 2.0 * times.std() / times.mean()
    assert doubt_of(room).materials[3] == pytest.approx(expected, rel=0.03)


def test_the_interval_holds_all_formulas_and_is_wider(room):
    doubt = doubt_of(room)
    low, high = room.spread
    assert np.all(doubt.lower < low)
    assert np.all(doubt.upper > high)
    for name in ("sabine", "eyring", "kuttruff", "fitzroy", "arau-puchades"):
        assert np.all(room.reverberation[name] >= low)
        assert np.all(room.reverberation[name] <= high)


def test_known_materials_leave_the_formulas_alone(room):
    exact = replace(room, rows=tuple(replace(r, uncertainty=frozen(np.zeros(8))) for r in room.rows))
    doubt = doubt_of(exact)
    assert doubt.lower == pytest.approx(room.spread[0])
    assert doubt.upper == pytest.approx(room.spread[1])


def test_words_name_the_bass_as_indicative(room):
    words = doubt_words(doubt_of(room), 250.0)
    assert "indicative" in words[0]
    assert "indicative" not in words[2]
