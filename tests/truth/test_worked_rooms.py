"""Worked rooms: bounce points found by hand with the mirror trick, c = 343 m/s; and a second implementation.

Plane geometry (facts: s' = s - 2 ((s - p0) . n) n); no number here was computed by this program.
"""

import math

import numpy as np
import pytest

from treatment.acoustics.image_sources import find_paths
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.roof import level, plane_from_eave, roofed
from treatment.geometry.shapes import extrude, solid_box, subtract_contacts

C = 343.0
ATTIC = np.array([[0.0, 0.0], [6.0, 0.0], [6.0, 4.2], [0.0, 4.2]])


def attic(knee=1.0, top=2.4):
    planes = np.array(
        [
            level(top),
            plane_from_eave((0, 0), (6, 0), knee, 1.0),
            plane_from_eave((6, 4.2), (0, 4.2), knee, 1.0),
        ]
    )
    walls, floor, ceilings = roofed(ATTIC, planes)
    return Enclosure((*walls, floor, *ceilings))


#: Indices of the attic's surfaces: walls left, back, right, front, then floor, level strip, slopes.
LEFT, BACK, RIGHT, FRONT, FLOOR, STRIP, SLOPE_LEFT, SLOPE_RIGHT = range(8)


def firsts(room, source, seat):
    paths = find_paths(room, np.array([source]), np.array([seat]), 1)
    return {
        int(s[0]): k for k, (s, o) in enumerate(zip(paths.surfaces, paths.order, strict=True)) if o == 1
    }, paths


def test_attic_bounces():
    index, paths = firsts(attic(), (0.6, 1.1, 0.95), (3.9, 2.1, 1.05))
    slope = index[SLOPE_LEFT]
    assert paths.points[slope, 0] == pytest.approx([1.786, 0.723, 1.723], abs=0.001)
    assert (paths.length[slope] - paths.direct[slope]) / C * 1e3 == pytest.approx(1.83, abs=0.005)
    knee = index[LEFT]
    assert paths.points[knee, 0] == pytest.approx([1.734, 0.0, 0.984], abs=0.001)
    # 16 mm below the fold: at an edge.
    assert paths.clearance[knee] == pytest.approx(0.016, abs=0.001)


def test_attic_paths_are_those_of_another_implementation():
    """The same surfaces in pyroomacoustics, as a general polyhedron: visible images to the second order."""
    pra = pytest.importorskip("pyroomacoustics")
    room = attic()
    walls = []
    for p in room.polygons:
        corners = p.to_room(p.edges[:, 0])
        turn = np.cross(corners[1] - corners[0], corners[2] - corners[1]) @ p.normal
        # Its normals point outwards.
        ring = corners[::-1] if turn > 0 else corners
        walls.append(pra.wall_factory(ring.T.astype(np.float32), [0.1], [0.0]))
    source, seat = np.array([0.6, 1.1, 0.95]), np.array([3.9, 2.1, 1.05])
    theirs = pra.Room(walls, fs=16000, max_order=2, air_absorption=False)
    theirs.add_source(source)
    theirs.add_microphone(seat)
    theirs.image_source_model()
    seen = theirs.visibility[0][0].astype(bool)
    expected = np.sort(np.linalg.norm(theirs.sources[0].images.T[seen] - seat, axis=1))
    ours = np.sort(find_paths(room, source[None], seat[None], 2).length)
    assert len(ours) > 15
    assert len(ours) == len(expected)
    # They work in single precision.
    assert ours == pytest.approx(expected, abs=1e-4)


def basement():
    """L-shaped, 7.3 x 4.9 x 2.35 m, soffit along the left wall, post 0.1 m thick at (2.60, 3.79)."""
    plan = [[0, 0], [7.3, 0], [7.3, 3.2], [4.8, 3.2], [4.8, 4.9], [0, 4.9]]
    solids = [solid_box((0, 0, 2.05), (7.3, 0.6, 0.3)), solid_box((2.55, 3.74, 0), (0.1, 0.1, 2.35))]
    parts = subtract_contacts([*extrude(plan, 2.35), *solids[0], *solids[1]])
    names = ["left", "back", "inner-right", "inner-back", "right", "front", "floor", "ceiling"]
    names += ["soffit"] * 6 + ["post"] * 6
    kept = [(p, n) for p, n in zip(parts, names, strict=True) if p is not None]
    return Enclosure(tuple(p for p, _ in kept)), [n for _, n in kept]


@pytest.fixture(scope="module")
def found():
    room, names = basement()
    speakers = {"L": (0.35, 1.2, 1.1), "C": (0.35, 2.45, 1.0), "R": (0.35, 3.7, 1.1)}
    paths = find_paths(room, np.array(list(speakers.values())), np.array([[3.9, 2.45, 1.1]]), 1)
    table = {}
    for k in np.flatnonzero(paths.order == 1):
        place = ("L", "C", "R")[paths.source[k]], names[paths.surfaces[k, 0]]
        table.setdefault(place, []).append((paths.points[k, 0], paths.clearance[k]))
    return table


def test_basement_volume():
    room, _ = basement()
    # 72.76 m3 with the soffit taken off, less the post.
    assert room.volume == pytest.approx(72.758 - 0.1 * 0.1 * 2.35, abs=1e-9)


def test_side_points_of_the_near_and_the_far_loudspeaker(found):
    ((near, _),) = found["L", "left"]
    assert near == pytest.approx([1.517, 0.0, 1.1], abs=0.001)
    ((far, _),) = found["R", "left"]
    assert far[0] == pytest.approx(2.486, abs=0.001)


def test_ceiling_point_is_beside_the_soffit(found):
    ((point, _),) = found["L", "ceiling"]
    assert point == pytest.approx([2.125, 1.825, 2.35], abs=0.001)


def test_the_soffit_has_reflections_of_its_own():
    room, names = basement()
    paths = find_paths(room, np.array([[1.0, 0.3, 1.1]]), np.array([[3.0, 0.5, 1.1]]), 1)
    off = [k for k in np.flatnonzero(paths.order == 1) if names[paths.surfaces[k, 0]] == "soffit"]
    # Its underside is 2.05 m high: the point is half-way, and there is no other above these two.
    assert [paths.points[k, 0].tolist() for k in off] == pytest.approx(np.array([[2.0, 0.4, 2.05]]))
    assert "ceiling" not in [names[paths.surfaces[k, 0]] for k in np.flatnonzero(paths.order == 1)]


def test_no_path_off_the_inner_wall(found):
    # The wall x = 4.8 faces the front; the mirror points fall beside it.
    assert not [k for k in found if k[1] == "inner-right"]


def test_rear_path_passes_the_inner_corner_closely(found):
    ((point, clearance),) = found["R", "back"]
    assert point[1] == pytest.approx(2.861, abs=0.001)
    assert clearance == pytest.approx(0.037, abs=0.001)


def test_the_post_stands_in_the_right_loudspeakers_right_wall_path(found):
    assert ("R", "right") not in found
    _, names = basement()
    bare = Enclosure(extrude([[0, 0], [7.3, 0], [7.3, 3.2], [4.8, 3.2], [4.8, 4.9], [0, 4.9]], 2.35))
    paths = find_paths(bare, np.array([[0.35, 3.7, 1.1]]), np.array([[3.9, 2.45, 1.1]]), 1)
    # Without the post the path is there, and passes within the post's half-width of its middle.
    k = int(np.flatnonzero((paths.order == 1) & (paths.surfaces[:, 0] == names.index("right")))[0])
    a, b = paths.points[k, 0, :2], np.array([3.9, 2.45])
    start = np.array([0.35, 3.7])
    post = np.array([2.6, 3.79])
    gap = min(
        abs(float(np.cross(np.append(q - p, 0), np.append(post - p, 0))[2])) / math.dist(p, q)
        for p, q in [(start, a), (a, b)]
    )
    assert gap < 0.05 * math.sqrt(2)
