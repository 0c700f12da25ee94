"""Share of a patch in a reflection: closed forms, and counting points by brute force."""

import numpy as np
import pytest

from treatment.acoustics.fresnel import patch_shares, zone_radius

ONE = np.ones(1)


def shares(rect, point=(0.0, 0.0), along=(1.0, 0.0), cosine=1.0, before=2.0, after=3.0, f=(1000.0,)):
    return patch_shares(
        np.array([point]),
        np.array([along]),
        cosine * ONE,
        before * ONE,
        after * ONE,
        np.array([rect]),
        343.0,
        np.array(f),
    )[0]


def test_zone_radius_by_hand():
    # a1 = 2, a2 = 3 m: 0.907, 0.642, 0.454 m at 500, 1000, 2000 Hz (independent computation).
    r = zone_radius(2.0 * ONE, 3.0 * ONE, 343.0, np.array([500.0, 1000.0, 2000.0]))[0]
    assert r == pytest.approx([0.907, 0.642, 0.454], abs=1e-3)


def test_limits():
    assert shares((-9, -9, 9, 9)) == pytest.approx(1.0)
    assert shares((5, 5, 6, 6)) == pytest.approx(0.0, abs=1e-12)
    assert shares((0, -9, 9, 9)) == pytest.approx(0.5)
    assert shares((0, 0, 9, 9)) == pytest.approx(0.25)


def test_high_frequency_is_the_point_picture():
    assert shares((-0.1, -0.1, 0.1, 0.1), f=(1e6,)) == pytest.approx(1.0)
    assert shares((0.05, 0.05, 0.3, 0.3), f=(1e6,)) == pytest.approx(0.0, abs=1e-9)


def test_small_patch_is_area_over_zone_area():
    r = 0.642
    found = shares((-0.05, -0.05, 0.05, 0.05), cosine=0.8)
    assert found == pytest.approx(0.01 / (np.pi * r * r / 0.8), rel=2e-3)


@pytest.mark.parametrize("seed", range(8))
def test_against_counting_points(seed):
    rng = np.random.default_rng(seed)
    low = rng.uniform(-1.0, 0.2, 2)
    high = low + rng.uniform(0.2, 1.5, 2)
    angle, cosine = rng.uniform(0, 2 * np.pi), rng.uniform(0.3, 1.0)
    along = np.array([np.cos(angle), np.sin(angle)])
    found = shares((*low, *high), along=along, cosine=cosine)[0]
    r = zone_radius(2.0 * ONE, 3.0 * ONE, 343.0, np.array([1000.0]))[0, 0]
    disc = rng.uniform(-1, 1, (400_000, 2))
    disc = disc[(disc**2).sum(axis=1) <= 1.0] * r
    across = np.array([-along[1], along[0]])
    points = disc[:, :1] / cosine * along + disc[:, 1:] * across
    counted = np.mean(np.all((points >= low) & (points <= high), axis=1))
    assert found == pytest.approx(counted, abs=4e-3)


def test_adjoining_patches_add_up():
    whole = shares((-0.6, -0.3, 0.6, 0.3), along=(0.6, 0.8), cosine=0.7)
    parts = shares((-0.6, -0.3, 0.1, 0.3), along=(0.6, 0.8), cosine=0.7) + shares(
        (0.1, -0.3, 0.6, 0.3), along=(0.6, 0.8), cosine=0.7
    )
    assert whole == pytest.approx(parts, rel=1e-12)
