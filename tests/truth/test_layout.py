"""Loudspeaker layout against published figures: ITU-R BS.775-3, BS.2051 and plane geometry."""

import numpy as np
import pytest

from treatment.acoustics.layout import SYSTEMS, alignment_delays, inspect, place, subtended

MAIN = np.array([[3.0, 2.0, 1.1]])


def viewing_angle(width, distance):
    """Of a screen as seen from before its middle."""
    half = width / 2.0
    return subtended(
        np.array([[distance, 0.0, 1.1]]), np.array([0.0, -half, 1.0]), np.array([0.0, half, 1.0])
    )[0]


def test_viewing_angles_of_bs_775():
    # 16:9 screen of height H = 1: BS.775-3 prints 33 degrees at 3 H and 48 degrees at 2 H.
    assert viewing_angle(16 / 9, 3.0) == pytest.approx(33.01, abs=0.01)
    assert viewing_angle(16 / 9, 2.0) == pytest.approx(47.92, abs=0.01)


@pytest.mark.parametrize(
    ("width", "distance", "angle"), [(2.5, 4.665, 30.0), (2.5, 3.434, 40.0), (3.0, 4.617, 36.0)]
)
def test_viewing_angle_by_trigonometry(width, distance, angle):
    assert viewing_angle(width, distance) == pytest.approx(angle, abs=0.005)


@pytest.mark.parametrize("aside", [0.0, 0.6, -1.4])
def test_angle_from_a_side_seat_by_the_law_of_cosines(aside):
    # Screen 2 m wide, seat 3 m from its plane, off its axis.
    eye = np.array([[3.0, aside, 1.1]])
    a, b = np.hypot(3.0, 1.0 - aside), np.hypot(3.0, 1.0 + aside)
    expected = np.degrees(np.arccos((a * a + b * b - 4.0) / (2.0 * a * b)))
    found = subtended(eye, np.array([0.0, -1.0, 0.8]), np.array([0.0, 1.0, 1.6]))[0]
    assert found == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("channel", "toward", "left", "up"),
    [
        ("M+030", 1.7321, 1.0, 0.0),
        ("M-090", 0.0, -2.0, 0.0),
        ("U+045", 1.2247, 1.2247, 1.0),
        ("U-135", -1.2247, -1.2247, 1.0),
    ],
)
def test_nominal_places_of_4_7_0(channel, toward, left, up):
    """Unit vector (cos az cos el, sin az cos el, sin el), 2 m away; x toward the screen, y left."""
    allowed = SYSTEMS["4+7+0"][channel]
    found = place(np.zeros(3), allowed.azimuth, allowed.elevation, 2.0)
    # This program's x runs away from the screen and its y to the right.
    assert found == pytest.approx([-toward, -left, up], abs=1e-4)


@pytest.mark.parametrize(
    ("azimuth", "elevation", "channel", "system", "right"),
    [
        (96, 0, "M+090", "0+7+0", True),
        (96, 0, "M+090", "4+7+0", True),
        (96, 0, "M+110", "0+5+0", False),
        (96, 0, "M+110", "4+5+0", False),
        (40, 0, "M+030", "0+7+0", True),
        (40, 0, "M+030", "4+7+0", True),
        (40, 0, "M+030", "0+5+0", False),
        (40, 0, "M+030", "4+5+0", False),
        (-40, 0, "M-030", "4+7+0", True),
        # Ends of the published ranges, and two degrees beyond.
        *[
            (azimuth, 0, channel, system, right)
            for channel, system, low, high in [
                ("M+090", "4+7+0", 85, 110),
                ("M+135", "0+7+0", 120, 150),
                ("M+110", "0+5+0", 100, 120),
            ]
            for azimuth, right in [(low, True), (high, True), (low - 2, False), (high + 2, False)]
        ],
    ],
)
def test_ranges_of_bs_2051(azimuth, elevation, channel, system, right):
    speaker = place(MAIN[0], azimuth, elevation, 2.4)
    assert inspect(MAIN, speaker[None], [channel], 343.0, system).right[0, 0] == right


@pytest.mark.parametrize("system", ["4+5+0", "4+7+0"])
def test_56_degrees_up_is_too_high_for_every_upper_loudspeaker(system):
    for channel, allowed in SYSTEMS[system].items():
        if channel.startswith("U"):
            speaker = place(MAIN[0], allowed.azimuth, 56.0, 2.0)
            found = inspect(MAIN, speaker[None], [channel], 343.0, system)
            assert found.elevation_miss[0, 0] == pytest.approx(1.0)
            assert not found.right[0, 0]


def test_delay_of_the_near_loudspeaker():
    # (3.40 - 2.10) m / 343 m/s. Common practice.
    assert alignment_delays(np.array([2.10, 3.40]), 343.0) == pytest.approx([3.790e-3, 0.0], abs=1e-6)
