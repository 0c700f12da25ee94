"""Properties of the reverberation formulas that follow from what they mean."""

import numpy as np
import pytest

from treatment.acoustics import reverberation as rv
from treatment.acoustics import reverberation_axes as ax
from treatment.geometry import shapes

C = 343.2
QUIET = np.zeros(2)
AREAS = np.array([10.0, 20.0, 30.0])


def turned(normals):
    q, _ = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))
    return normals @ q.T


def normals_of(polygons):
    return np.array([p.normal for p in polygons])


def test_laboratory_data_above_one_are_capped_on_a_copy():
    alpha = np.array([[1.12, 0.5], [0.2, 0.2], [0.99, 1.0]])
    before = alpha.copy()
    copy, touched = rv.capped(alpha)
    assert np.array_equal(alpha, before)
    assert copy.max() == 0.99
    assert touched.tolist() == [[True, False], [False, False], [False, True]]
    for formula in (rv.millington, rv.kuttruff_path, rv.kuttruff_nonuniform, rv.eyring):
        t = formula(50.0, AREAS, alpha, C, QUIET)
        assert np.all(np.isfinite(t))
        assert np.all(t > 0.0)


def test_all_absorbed_leaves_sabine_a_time_and_eyring_almost_none():
    # Known limit (Eyring 1930): Sabine's time is not zero at alpha = 1.
    one = np.ones((3, 2))
    assert rv.sabine(50.0, AREAS, one, C, QUIET)[0] == pytest.approx(0.161 * 50.0 / 60.0, rel=0.002)
    assert rv.eyring(50.0, AREAS, one, C, QUIET)[0] < 0.02


def test_more_absorption_never_lengthens_the_time():
    levels = np.linspace(0.02, 1.2, 60)
    for formula in (rv.sabine, rv.eyring, rv.millington, rv.kuttruff_path, rv.kuttruff_nonuniform):
        alpha = np.stack([levels, np.full(60, 0.1), np.full(60, 0.3)])
        assert np.all(np.diff(formula(50.0, AREAS, alpha, C, np.zeros(60))) <= 1e-12), formula.__name__


def test_pieces_of_one_plane_count_as_one():
    whole = rv.kuttruff_nonuniform(60.0, np.full(6, 12.0), np.array([[0.6], *[[0.1]] * 5]), C, QUIET[:1])
    areas = np.array([4.0, 8.0, *[12.0] * 5])
    alpha = np.array([[0.8], [0.5], *[[0.1]] * 5])
    split = rv.kuttruff_nonuniform(60.0, areas, alpha, C, QUIET[:1], np.array([0, 0, 1, 2, 3, 4, 5]))
    assert split == pytest.approx(whole, rel=1e-12)
    assert rv.kuttruff_nonuniform(60.0, areas, alpha, C, QUIET[:1]) != pytest.approx(whole, rel=1e-3)


def test_three_axes_are_found_in_any_position():
    box = normals_of(shapes.box(5.0, 4.0, 2.5))
    plan = normals_of(shapes.extrude([[0, 0], [6, 0], [6, 2.5], [3.5, 2.5], [3.5, 4.5], [0, 4.5]], 2.5))
    for normals in (box, plan, turned(box), turned(plan)):
        groups = ax.axis_groups(normals)
        assert groups is not None
        same = np.abs(normals @ normals.T) > 0.5
        assert np.array_equal(groups[:, None] == groups[None], same)


def test_no_three_axes_no_groups():
    wedge = normals_of(shapes.extrude([[0, 0], [5, 0], [5, 4], [0, 3]], 2.5))
    assert ax.axis_groups(wedge) is None
    prism = normals_of(shapes.extrude([[0, 0], [5, 0], [2, 4]], 2.5))
    assert ax.axis_groups(prism) is None
    assert ax.axis_groups(np.array([[1.0, 0, 0], [-1, 0, 0], [0, 1, 0], [0, -1, 0]])) is None
