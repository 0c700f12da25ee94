"""Layout: moves lead into the range, back angles do not jump, seats see what they see."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from treatment.acoustics.layout import SYSTEMS, directions, inspect, place, system_of

SEAT = np.array([3.1, 1.9, 1.1])


@given(st.floats(-179.0, 179.0), st.floats(-80.0, 80.0), st.floats(0.3, 6.0))
def test_places_and_directions_are_inverse(azimuth, elevation, distance):
    found = directions(SEAT[None], place(SEAT, azimuth, elevation, distance)[None])
    assert [float(f[0, 0]) for f in found] == pytest.approx([azimuth, elevation, distance], abs=1e-9)


@given(
    st.sampled_from([(s, c) for s, table in SYSTEMS.items() for c in table]),
    st.floats(-180.0, 180.0),
    st.floats(-60.0, 60.0),
)
def test_the_told_move_ends_in_the_range(which, azimuth, elevation):
    system, channel = which
    speaker = place(SEAT, azimuth, elevation, 2.2)
    found = inspect(SEAT[None], speaker[None], [channel], 343.0, system)
    again = inspect(SEAT[None], (speaker + found.move[0, 0])[None], [channel], 343.0, system)
    assert again.right[0, 0]
    assert float(again.azimuth_miss[0, 0]) == pytest.approx(0.0, abs=1e-6)
    assert float(again.distance[0, 0]) == pytest.approx(2.2)
    if found.azimuth_miss[0, 0] == 0.0 == found.elevation_miss[0, 0]:
        assert found.move[0, 0] == pytest.approx([0, 0, 0], abs=1e-9)


def test_left_is_left():
    # The left wall is y = 0, the screen x = 0.
    azimuth, _, _ = directions(SEAT[None], np.array([[1.0, 0.5, 1.1], [1.0, 3.3, 1.1], [4.0, 0.5, 1.1]]))
    assert 0 < azimuth[0, 0] < 90
    assert -90 < azimuth[0, 1] < 0
    assert 90 < azimuth[0, 2] < 180


def test_an_angle_beyond_the_back_is_no_jump():
    speaker = place(SEAT, -179.0, 0.0, 2.0)
    found = inspect(SEAT[None], speaker[None], ["M+135"], 343.0, "4+7+0")
    # 181 degrees to the left, where 150 is the most.
    assert found.azimuth_miss[0, 0] == pytest.approx(31.0)


def test_what_has_no_published_place_is_not_judged():
    found = inspect(SEAT[None], np.ones((2, 3)), ["", "M+060"], 343.0)
    assert np.isnan(found.azimuth_miss).all()
    assert not found.right.any()


@pytest.mark.parametrize(
    ("channels", "system"),
    [
        (["M+030", "M-030"], "0+2+0"),
        (["M+030", "M-030", "LFE1", ""], "0+2+0"),
        (["M+030", "M-030", "M+000", "M+110", "M-110"], "0+5+0"),
        (["M+030", "M+090"], "0+7+0"),
        (["M+030", "U+110"], "4+5+0"),
        (["M+030", "U+045"], "4+7+0"),
        (["M+030", "M+110", "M+090"], ""),
        ([], ""),
    ],
)
def test_the_smallest_system(channels, system):
    assert system_of(channels) == system
