"""Directions at the seat and off the loudspeaker's axis."""

import numpy as np
import pytest
from scipy.special import j1

from treatment.acoustics.directions import angles_of, arrivals_from, departures
from treatment.acoustics.directivity import FLOOR_DB, horn_db, off_axis, piston_db, table_db
from treatment.acoustics.image_sources import find_paths
from treatment.bands import EXACT_HZ
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.shapes import box


def test_azimuth_is_positive_to_the_left_and_elevation_up():
    # ITU-R BS.2051: 0 toward the screen (-x here), + to the left (-y here).
    vectors = np.array(
        [[-1, 0, 0], [0, -1, 0], [0, 1, 0], [1, 0, 0], [-1, -1, np.sqrt(2)], [0, 0, 1]], dtype=float
    )
    expected = [[0, 0], [90, 0], [-90, 0], [180, 0], [45, 45], [0, 90]]
    assert angles_of(vectors) == pytest.approx(np.array(expected), abs=1e-9)


def test_reflections_come_from_their_walls():
    source, seat = np.array([[0.8, 2.0, 1.2]]), np.array([[4.2, 2.0, 1.2]])
    paths = find_paths(Enclosure(box(6.0, 4.0, 2.4)), source, seat, 1)
    found = dict(zip(paths.surfaces[:, 0].tolist(), arrivals_from(paths, source, seat).tolist(), strict=True))
    assert found[-1] == pytest.approx([0, 0])  # direct
    assert found[0] == pytest.approx([0, 0])  # front wall: straight from the screen
    assert found[1] == pytest.approx([180, 0])  # back wall
    # Left wall: half way along, 2 m to the side: atan(2/1.7).
    assert found[2] == pytest.approx([np.degrees(np.arctan(2 / 1.7)), 0])
    assert found[5] == pytest.approx([0, np.degrees(np.arctan(1.2 / 1.7))])
    leaving = departures(paths, source, seat)
    assert np.linalg.norm(leaving, axis=1) == pytest.approx(1.0)
    assert leaving[0] == pytest.approx([1, 0, 0])


def test_piston_against_the_bessel_function():
    angle = np.radians([0.0, 20.0, 45.0, 80.0])
    found = piston_db(angle, 0.08, 0.12, 343.0)
    x = 2 * np.pi * np.asarray(EXACT_HZ) / 343.0 * 0.08 * np.sin(angle)[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        expected = np.where(x == 0, 0.0, 20 * np.log10(np.abs(2 * j1(x) / np.where(x == 0, 1, x))))
    assert found == pytest.approx(np.maximum(expected, FLOOR_DB), abs=1e-6)


def test_piston_falls_behind_the_box_and_never_rises_with_frequency_there():
    found = piston_db(np.radians([90.0, 135.0, 180.0]), 0.08, 0.12, 343.0)
    assert np.all(np.diff(found, axis=0) <= 1e-12)
    assert found[2, 0] > -0.2  # omnidirectional in the bass
    assert found[2, 4] < -3.0


def test_horn_is_six_decibels_down_at_its_nominal_angles():
    half = np.radians([45.0, 0.0])
    up = np.radians([0.0, 20.0])
    found = horn_db(half, up, np.radians(90.0), np.radians(40.0), 900.0)
    assert found[:, 5:] == pytest.approx(-6.0)
    assert np.all(found[:, 0] > -0.5)


def test_table_is_linear_between_its_angles():
    levels = np.array([np.zeros(8), np.full(8, -6.0)])
    assert table_db(np.radians([0.0, 30.0, 60.0, 90.0]), np.radians([0.0, 60.0]), levels)[
        :, 3
    ] == pytest.approx([0, -3, -6, -6])


def test_off_axis_angles():
    aim = np.array([1.0, 0.0, 0.0])
    d = np.array([[np.cos(0.3), np.sin(0.3), 0.0], [np.cos(0.4), 0.0, np.sin(0.4)], [-1.0, 0.0, 0.0]])
    total, across, up = off_axis(d, aim)
    assert total == pytest.approx([0.3, 0.4, np.pi])
    assert across[:2] == pytest.approx([0.3, 0.0], abs=1e-12)
    assert up[:2] == pytest.approx([0.0, 0.4], abs=1e-12)
