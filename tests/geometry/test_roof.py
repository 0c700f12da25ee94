"""Rooms under slopes, against closed forms."""

import math

import numpy as np
import pytest

from treatment.errors import GeometryError
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.roof import ceiling_height, level, plane_from_eave, plane_through, planes_over, roofed
from treatment.geometry.shapes import extrude, solid_box, subtract_contacts

ATTIC = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 4.2], [0.0, 4.2]])
#: Knee walls 1.0 m, 45 degrees, level at 2.4 m.
ATTIC_PLANES = np.array(
    [level(2.4), plane_from_eave((0, 0), (6, 0), 1.0, 1.0), plane_from_eave((6, 4.2), (0, 4.2), 1.0, 1.0)]
)


def surfaces(corners, planes, foot=0.0):
    walls, floor, ceilings = roofed(corners, np.asarray(planes), foot)
    return [p for p in (*walls, floor, *ceilings) if p is not None]


def test_attic_by_hand():
    room = Enclosure(tuple(surfaces(ATTIC, ATTIC_PLANES)))
    # Worked by hand: cross section 4.2 x 2.4 less two triangles of 1.4 x 1.4 / 2 = 8.12 m2, 6 m long.
    assert room.volume == pytest.approx(48.72, rel=1e-12)
    slope = 1.4 * math.sqrt(2.0)
    assert room.area == pytest.approx(6 * (4.2 + 2 * 1.0 + 2 * slope + 1.4) + 2 * 8.12, rel=1e-12)
    assert len(room.polygons) == 8


def test_slope_coordinates_count_from_the_front_and_up():
    *_, left, right = surfaces(ATTIC, ATTIC_PLANES)
    step = 1.0 / math.sqrt(2.0)
    for slope, up in [(left, (0.0, step, step)), (right, (0.0, -step, step))]:
        assert slope.u_axis == pytest.approx([1.0, 0.0, 0.0], abs=1e-12)
        assert slope.v_axis == pytest.approx(up, abs=1e-12)
        assert slope.bounds == pytest.approx((0.0, 0.0, 6.0, 1.4 * math.sqrt(2.0)))
    # 1.022 m up the left slope from the fold (worked room): y 0.723, z 1.723.
    assert left.to_room([1.786, 1.022]) == pytest.approx([1.786, 0.723, 1.723], abs=0.001)


def test_shed_by_closed_form():
    plane = plane_through([[0, 0, 2.2], [5, 0, 2.2], [0, 4, 3.4]])
    room = Enclosure(tuple(surfaces([[0, 0], [5, 0], [5, 4], [0, 4]], [plane])))
    assert room.volume == pytest.approx(5 * 4 * 2.8, rel=1e-12)  # base times mean height
    assert room.area == pytest.approx(
        20 + 5 * math.hypot(4, 1.2) + 5 * 2.2 + 5 * 3.4 + 2 * 4 * 2.8, rel=1e-12
    )


def test_gable_down_to_the_floor_has_no_side_walls():
    planes = [plane_from_eave((0, 0), (6, 0), 0.0, 0.75), plane_from_eave((6, 4), (0, 4), 0.0, 0.75)]
    walls, floor, ceilings = roofed([[0, 0], [6, 0], [6, 4], [0, 4]], np.array(planes))
    assert [w is None for w in walls] == [True, False, True, False]
    room = Enclosure(tuple(p for p in (*walls, floor, *ceilings) if p is not None))
    # Triangle 4 m wide, 1.5 m high.
    assert room.volume == pytest.approx(6 * 3.0, rel=1e-12)
    assert len(walls[1].edges) == 3


def test_hip_roof_is_a_pyramid_on_a_box():
    corners = [[0, 0], [4, 0], [4, 4], [0, 4]]
    planes = [
        plane_from_eave(a, b, 2.0, 1.0) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
    ]
    room = Enclosure(tuple(surfaces(corners, planes)))
    assert room.volume == pytest.approx(16 * 2.0 + 16 * 2.0 / 3.0, rel=1e-12)
    assert room.area == pytest.approx(16 + 4 * 4 * 2 + 4 * (0.5 * 4 * 2 * math.sqrt(2)), rel=1e-12)
    frustum = Enclosure(tuple(surfaces(corners, [*planes, level(3.0)])))
    # Frustum of a pyramid, h/3 (A + B + sqrt(AB)).
    assert frustum.volume == pytest.approx(32 + (16 + 4 + 8) / 3.0, rel=1e-12)


def test_l_shaped_plan_under_a_slope_may_have_one_surface_in_two_parts():
    corners = [[0, 0], [6, 0], [6, 4], [4, 4], [4, 1], [2, 1], [2, 4], [0, 4]]
    planes = [level(3.0), plane_through([[0, 4, 2.0], [6, 4, 2.0], [0, 3, 3.0]])]
    parts = surfaces(corners, planes)
    room = Enclosure(tuple(parts))
    # The slope takes a wedge 1 m wide and 1 m deep off both legs, each 2 m long.
    plan = 24 - 2 * 3
    assert room.volume == pytest.approx(plan * 3.0 - 2 * 2 * 0.5, rel=1e-12)
    assert parts[-1].area == pytest.approx(2 * 2 * math.sqrt(2), rel=1e-12)
    inside = room.contains(np.array([[1.0, 3.9, 2.05], [3.0, 3.0, 1.0], [5.0, 3.5, 2.6], [5.0, 3.5, 2.4]]))
    assert list(inside) == [True, False, False, True]


def test_level_plane_is_the_extruded_plan():
    a, b = Enclosure(extrude(ATTIC, 2.5)), Enclosure(tuple(surfaces(ATTIC, [level(2.5)])))
    assert a.volume == b.volume == pytest.approx(63.0, rel=1e-12)


@pytest.mark.parametrize("seed", range(4))
def test_any_roof_closes_and_holds_its_volume(seed):
    rng = np.random.default_rng(seed)
    corners = np.array([[0, 0], [5, 0.3], [5.5, 3.0], [3.0, 2.6], [2.4, 4.6], [-0.4, 4.0]])
    planes = np.column_stack([rng.uniform(-0.3, 0.3, (5, 2)), rng.uniform(3.2, 5.0, 5)])
    room = Enclosure(tuple(surfaces(corners, planes)))
    assert np.linalg.norm((room.areas[:, None] * room.normals).sum(axis=0)) < 1e-9
    # Volume by counting points under the ceiling.
    xy = rng.uniform([-0.4, 0.0], [5.5, 4.6], (200_000, 2))
    import shapely

    over = shapely.contains_xy(shapely.Polygon(corners), xy)
    heights = np.where(over, ceiling_height(planes, xy), 0.0)
    box = 5.9 * 4.6
    error = 4.0 * box * heights.std() / math.sqrt(len(heights))
    assert error < 0.02 * room.volume
    assert heights.mean() * box == pytest.approx(room.volume, abs=error)


def test_planes_over_heights_at_corners():
    # A ridge from the middle of the front wall to the middle of the back wall.
    corners = np.array([[0, 0], [6, 0], [6, 2], [6, 4], [0, 4], [0, 2]], dtype=float)
    planes = planes_over(corners, np.array([2.0, 2.0, 3.0, 2.0, 2.0, 3.0]))
    assert sorted(planes.tolist()) == pytest.approx(np.array([[0, -0.5, 4.0], [0, 0.5, 2.0]]))


def test_ceiling_below_the_floor_is_refused():
    with pytest.raises(GeometryError, match=r"0\.400 m below the floor at x [05]\.000 m, y 4\.000 m"):
        roofed([[0, 0], [5, 0], [5, 4], [0, 4]], np.array([plane_from_eave((0, 0), (5, 0), 2.0, -0.6)]))


def test_points_in_a_line_are_no_plane():
    with pytest.raises(GeometryError, match="in a line"):
        plane_through([[0, 0, 1], [1, 1, 2], [2, 2, 4]])


def test_a_chimney_is_cut_by_the_slope():
    solid = solid_box((2.0, 0.2, 0.0), (0.5, 0.6, 1.8), ATTIC_PLANES)
    room = Enclosure(
        tuple(p for p in subtract_contacts([*surfaces(ATTIC, ATTIC_PLANES), *solid]) if p is not None)
    )
    # Over y 0.2 to 0.8 the ceiling climbs from 1.2 to 1.8 m: mean height 1.5 m.
    assert room.volume == pytest.approx(48.72 - 0.5 * 0.6 * 1.5, rel=1e-12)
    bare = Enclosure(tuple(surfaces(ATTIC, ATTIC_PLANES)))
    sides = 0.5 * (1.2 + 1.8) + 2 * 0.6 * 1.5
    assert room.area == pytest.approx(bare.area + sides - 0.5 * 0.6 - 0.5 * 0.6 * math.sqrt(2), rel=1e-12)


@pytest.mark.parametrize(
    ("corners", "planes"),
    [
        (
            [[0, 0], [7.7, 0], [7.7, 1.68], [2.46, 1.68], [2.46, 4.66], [0, 4.66]],
            [[0.0, 0.0, 3.03], [0.0, 1.0, 1.35], [-1.0, 0.01, 8.59]],
        ),
        (
            [[0, 0], [5.55, 0], [5.55, 1.69], [3.33, 1.69], [3.33, 5.45], [0, 5.45]],
            [[0.0, 0.0, 2.75], [0.01, 0.01, 0.97], [-1.0, 1.0, 6.35], [-0.03, 1.0, 0.9665]],
        ),
    ],
)
def test_three_planes_that_meet_above_a_wall_make_one_bend(corners, planes):
    room = Enclosure(tuple(surfaces(corners, planes)))
    assert np.linalg.norm((room.areas[:, None] * room.normals).sum(axis=0)) < 1e-6
