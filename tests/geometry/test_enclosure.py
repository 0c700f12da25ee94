"""Rooms of planar surfaces: volumes and areas by closed form, inside tests, contacts, edges."""

import numpy as np
import pytest

from treatment.errors import GeometryError
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.geometry.segments import segment_distances
from treatment.geometry.shapes import box, extrude, solid_box, subtract_contacts

BASEMENT = [[0, 0], [7.3, 0], [7.3, 3.2], [4.8, 3.2], [4.8, 4.9], [0, 4.9]]


def with_obstacles(shell, *solids):
    parts = subtract_contacts([*shell, *(face for s in solids for face in solid_box(*s))])
    return Enclosure(tuple(p for p in parts if p is not None))


def test_box_by_hand():
    room = Enclosure(box(6.0, 4.0, 2.7))
    assert room.volume == pytest.approx(64.8, rel=1e-12)
    assert room.area == pytest.approx(102.0, rel=1e-12)
    assert room.mean_free_path == pytest.approx(2.5412, abs=5e-5)  # 4V/S (Kosten)


def test_agreed_wall_coordinates_of_a_box():
    front, back, left, right, floor, ceiling = box(6.0, 4.0, 2.7)
    for wall, at in [(front, (0, 1, 2)), (back, (6, 1, 2))]:  # u = y, v = z
        assert wall.to_room([1.0, 2.0]) == pytest.approx(at)
    for wall, at in [(left, (1, 0, 2)), (right, (1, 4, 2))]:  # u = x, v = z
        assert wall.to_room([1.0, 2.0]) == pytest.approx(at)
    for level, at in [(floor, (1, 2, 0)), (ceiling, (1, 2, 2.7))]:  # u = x, v = y
        assert level.to_room([1.0, 2.0]) == pytest.approx(at)
    # Seen from inside, x runs to the left on the left wall and to the right on the right wall.
    assert left.mirrored
    assert not right.mirrored


def test_l_shaped_room_by_hand():
    room = Enclosure(extrude(BASEMENT, 2.35))
    plan = 7.3 * 4.9 - 2.5 * 1.7
    assert room.volume == pytest.approx(plan * 2.35, rel=1e-12)
    assert room.area == pytest.approx(2 * plan + 2 * (7.3 + 4.9) * 2.35, rel=1e-12)
    assert len(room.reflex_edges) == 1
    assert room.reflex_edges[0] == pytest.approx(np.array([[4.8, 3.2, 0], [4.8, 3.2, 2.35]]))


def test_soffit_takes_volume_and_its_contacts_vanish():
    # Worked room: soffit along the left wall 0.6 wide, 0.3 deep: 74.072 - 7.3 * 0.6 * 0.3 = 72.758 m3.
    room = with_obstacles(extrude(BASEMENT, 2.35), ((0, 0, 2.05), (7.3, 0.6, 0.3)))
    assert room.volume == pytest.approx(72.758, abs=1e-9)
    bare = Enclosure(extrude(BASEMENT, 2.35))
    # Hidden: top and back of the soffit and what they cover, its two ends; added: bottom and face.
    hidden = 2 * 0.6 * 0.3
    assert room.area == pytest.approx(bare.area - hidden + 0.0, rel=1e-12)
    assert len(room.reflex_edges) == 2


def test_a_free_post_adds_area_and_takes_volume():
    room = with_obstacles(box(5, 4, 2.5), ((2, 2, 0), (0.2, 0.3, 2.5)))
    assert room.volume == pytest.approx(50 - 0.2 * 0.3 * 2.5, rel=1e-12)
    assert room.area == pytest.approx(2 * 20 + 18 * 2.5 + 2 * 0.5 * 2.5 - 2 * 0.06, rel=1e-12)


def test_stacked_obstacles_share_no_surface():
    room = with_obstacles(box(5, 4, 2.5), ((1, 1, 0), (1, 1, 0.5)), ((1, 1, 0.5), (1, 1, 0.5)))
    assert room.volume == pytest.approx(50 - 1.0, rel=1e-12)
    assert room.area == pytest.approx(85 + 4 * 1.0, rel=1e-12)


def test_contains_against_monte_carlo():
    room = with_obstacles(
        extrude(BASEMENT, 2.35), ((0, 0, 2.05), (7.3, 0.6, 0.3)), ((2.5, 3.7, 0), (0.2, 0.2, 2.35))
    )
    rng = np.random.default_rng(1)
    points = rng.uniform([0, 0, 0], [7.3, 4.9, 2.35], (40_000, 3))
    share = room.contains(points).mean()
    volume = share * 7.3 * 4.9 * 2.35
    error = 3.0 * np.sqrt(share * (1 - share) / len(points)) * 7.3 * 4.9 * 2.35
    assert error < 0.008 * room.volume
    assert volume == pytest.approx(room.volume, abs=error)


def test_contains_margin():
    room = Enclosure(box(4, 3, 2.5))
    near = np.array([[0.04, 1.5, 1.2], [-0.04, 1.5, 1.2]])
    assert list(room.contains(near)) == [True, False]
    assert list(room.contains(near, margin=0.05)) == [False, False]
    assert list(room.contains(near, margin=-0.05)) == [True, True]


def test_blocked_by_a_post_and_not_beside_it():
    room = with_obstacles(box(5, 4, 2.5), ((2.4, 1.9, 0), (0.2, 0.2, 2.5)))
    start = np.array([[1.0, 2.0, 1.2], [1.0, 2.2, 1.2], [1.0, 2.0, 1.2]])
    end = np.array([[4.0, 2.0, 1.2], [4.0, 2.2, 1.2], [2.4, 2.0, 1.2]])
    assert list(room.blocked(start, end)) == [True, False, False]


def test_turned_winding_is_refused_or_mended_by_the_inside_direction():
    walls = list(box(4, 3, 2.5))
    turned = Polygon(walls[2].origin, walls[2].u_axis, walls[2].v_axis, -walls[2].normal, walls[2].region)
    with pytest.raises(GeometryError, match="does not close"):
        Enclosure((*walls[:2], turned, *walls[3:]))
    with pytest.raises(GeometryError, match="does not close"):
        Enclosure(tuple(walls[:5]))


def test_inside_out_is_refused():
    flipped = tuple(Polygon(p.origin, p.u_axis, p.v_axis, -p.normal, p.region) for p in box(4, 3, 2.5))
    with pytest.raises(GeometryError, match="no volume"):
        Enclosure(flipped)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ([[0, 0, 0], [1, 0, 0], [2, 0, 0]], "no area"),
        ([[0, 0, 0], [1, 0, 0], [1, 1, 0.2], [0, 1, 0]], "not flat"),
        ([[0, 0, 0], [2, 2, 0], [2, 0, 0], [0, 1, 0]], "not simple"),
    ],
)
def test_bad_outlines_are_refused(corners, words):
    with pytest.raises(GeometryError, match=words):
        Polygon.from_corners(corners, inside=[0, 0, 1])


def test_frames_of_slopes_climb():
    slope = Polygon.from_corners([[0, 0, 1], [3, 0, 1], [3, 2, 2], [0, 2, 2]], inside=[0, 0, -1])
    assert slope.v_axis[2] > 0
    assert slope.u_axis[2] == pytest.approx(0.0)
    assert slope.bounds == pytest.approx((0, 0, 3, np.sqrt(5)))
    assert slope.to_wall(slope.to_room([0.7, 1.1])) == pytest.approx([0.7, 1.1])


def test_triangles_fill_a_surface_with_a_hole():
    wall = Polygon.from_corners(
        [[0, 0, 0], [4, 0, 0], [4, 0, 3], [0, 0, 3]],
        inside=[0, 1, 0],
        holes=[np.array([[1, 0, 1], [2, 0, 1], [2, 0, 2], [1, 0, 2]])],
    )
    t = wall.triangles()
    cross = np.cross(t[:, 1] - t[:, 0], t[:, 2] - t[:, 0])
    assert 0.5 * np.linalg.norm(cross, axis=1).sum() == pytest.approx(11.0)
    assert np.all(cross @ wall.normal > 0)


def test_rectangles():
    a = Rectangle(0, 0, 1, 2)
    assert a.overlaps(Rectangle(0.9, 1.9, 1, 1))
    assert not a.overlaps(Rectangle(1.0, 0, 1, 2))  # touching is allowed
    assert a.grown(0.1).bounds == pytest.approx((-0.1, -0.1, 1.1, 2.1))


@pytest.mark.parametrize("seed", range(5))
def test_segment_distances_against_sampling(seed):
    rng = np.random.default_rng(seed)
    p, q = rng.uniform(-1, 1, (2, 3, 3))
    edges = rng.uniform(-1, 1, (4, 2, 3))
    found = segment_distances(p, q, edges)
    t = np.linspace(0, 1, 401)
    for i in range(3):
        for j in range(4):
            a = p[i] + t[:, None] * (q[i] - p[i])
            b = edges[j, 0] + t[:, None] * (edges[j, 1] - edges[j, 0])
            least = np.sqrt(((a[:, None] - b[None]) ** 2).sum(-1)).min()
            assert found[i, j] == pytest.approx(least, abs=6e-3)
            assert found[i, j] <= least + 1e-12
