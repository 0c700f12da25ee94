"""Directivity in the levels of arrivals."""

import numpy as np
import pytest

from treatment.planning.evaluate import evaluate
from treatment.scene.load import load_scene

ROOM = """title = "radiation"
[room]
shape = "box"
length = 6.0
width = 4.0
height = 2.5
[surfaces]
default = "brick-painted"
[[loudspeakers]]
name = "L"
position = [1.0, 2.0, 1.2]
{radiation}
[[seats]]
name = "seat"
position = [4.0, 2.0, 1.2]
spread = 0.0
"""


def levels(tmp_path, radiation):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(radiation=radiation))
    a = evaluate(load_scene(path)[0]).arrivals
    return {n: a.level_db[i] for i, n in enumerate(a.names)}


def test_a_table_by_hand(tmp_path):
    """The side reflections leave at atan(2/1.5) = 53.13 degrees, the back one at 0, the front one at 180."""
    rows = ", ".join(f"[{angle}, {', '.join([str(-angle / 10.0)] * 8)}]" for angle in (0, 60, 180))
    even, aimed = levels(tmp_path, ""), levels(tmp_path, f"off_axis = [{rows}]")
    assert aimed[()] == pytest.approx(np.zeros(8))
    assert aimed[("left",)] - even[("left",)] == pytest.approx(np.full(8, -5.313), abs=1e-3)
    assert aimed[("back",)] == pytest.approx(even[("back",)])
    assert aimed[("front",)] - even[("front",)] == pytest.approx(np.full(8, -18.0), abs=1e-6)


def test_a_piston_is_even_in_the_bass_and_beams_in_the_treble(tmp_path):
    even, piston = levels(tmp_path, ""), levels(tmp_path, 'piston = "165 mm"')
    change = piston[("left",)] - even[("left",)]
    assert change[0] > -0.2
    assert change[6] < -5.0
    assert np.all(np.diff(change[:6]) < 0.0)


def test_a_horn_is_six_decibels_down_at_half_its_angle(tmp_path):
    # 2 x 53.13 degrees: the side reflection leaves at half the coverage.
    change = (
        levels(tmp_path, "coverage = [106.26, 60]\ncoverage_from = 500.0")[("left",)]
        - levels(tmp_path, "")[("left",)]
    )
    assert change[4:] == pytest.approx(np.full(4, -6.0), abs=0.01)


def test_aimed_away_from_the_seat_the_reflection_is_louder(tmp_path):
    toward = levels(tmp_path, 'piston = "165 mm"')
    away = levels(tmp_path, 'piston = "165 mm"\naim = [2.5, 0.0, 1.2]')
    assert away[("left",)][6] > toward[("left",)][6] + 5.0
