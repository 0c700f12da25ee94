"""Image sources in rooms that are no boxes; pyroomacoustics' polyhedral image sources are the oracle."""

import numpy as np
import pyroomacoustics as pra
import pytest

from treatment.acoustics.image_sources import find_paths
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.shapes import box, extrude, solid_box, subtract_contacts

CORNERS = [[0, 0], [7.3, 0], [7.3, 3.2], [4.8, 3.2], [4.8, 4.9], [0, 4.9]]
# The L basement of the worked rooms (invented): front loudspeakers, a surround behind the corner, seats.
SOURCES = np.array([[0.35, 1.2, 1.1], [0.35, 3.7, 1.1], [6.8, 0.7, 1.4]])
SEATS = np.array([[3.9, 2.45, 1.1], [2.7, 4.1, 1.15]])


@pytest.fixture(scope="module")
def basement():
    return Enclosure(extrude(CORNERS, 2.35))


def image_positions(paths, sources, receivers):
    """Where the ear hears each path come from: the receiver, along the last leg, by the path's length."""
    found = []
    for i in range(len(paths)):
        k = paths.order[i]
        r = receivers[paths.receiver[i]]
        last = sources[paths.source[i]] if k == 0 else paths.points[i, k - 1]
        found.append(r + (last - r) / np.linalg.norm(last - r) * paths.length[i])
    return np.array(found)


@pytest.mark.parametrize("s", range(3))
@pytest.mark.parametrize("r", range(2))
def test_every_path_of_the_l_shaped_room_matches_pyroomacoustics(basement, s, r):
    room = pra.Room.from_corners(np.array(CORNERS).T, max_order=2, materials=pra.Material(0.1))
    room.extrude(2.35, materials=pra.Material(0.1))
    room.add_source(SOURCES[s])
    room.add_microphone(SEATS[r])
    room.image_source_model()
    seen = np.asarray(room.visibility[0][0], dtype=bool)
    theirs = np.column_stack([room.sources[0].orders[seen], room.sources[0].images.T[seen]])
    paths = find_paths(basement, SOURCES[s : s + 1], SEATS[r : r + 1], 2)
    ours = np.column_stack([paths.order, image_positions(paths, SOURCES[s : s + 1], SEATS[r : r + 1])])
    assert len(ours) == len(theirs) > 20
    # Their images are single precision: each of ours must have one of theirs within a millimetre.
    gap = np.abs(ours[:, None] - theirs[None]).max(axis=2)
    nearest = gap.argmin(axis=1)
    assert np.all(gap.min(axis=1) < 1e-3)
    assert len(set(nearest)) == len(ours)


def test_worked_basement(basement):
    """Hand geometry: side points, and what the inner corner does."""
    sources = np.array([[0.35, 1.2, 1.1], [0.35, 2.45, 1.0], [0.35, 3.7, 1.1]])
    paths = find_paths(basement, sources, SEATS[:1], 1)

    def point(source, surface):
        i = np.flatnonzero((paths.source == source) & (paths.surfaces[:, 0] == surface))
        return paths.points[i[0], 0] if len(i) else None

    assert point(0, 0) == pytest.approx([1.517, 0.0, 1.1], abs=5e-4)  # L off the left wall
    assert point(2, 0) == pytest.approx([2.486, 0.0, 1.1], abs=5e-4)  # R off the left wall
    assert point(0, 7) == pytest.approx([2.125, 1.825, 2.35], abs=5e-4)  # L off the ceiling
    assert all(point(s, 3) is None for s in range(3))  # the inner wall x = 4.8 sends nothing
    assert point(2, 1) == pytest.approx([7.3, 2.861, 1.1], abs=5e-4)  # R off the rear wall
    i = int(np.flatnonzero((paths.source == 2) & (paths.surfaces[:, 0] == 1))[0])
    assert paths.clearance[i] == pytest.approx(0.037, abs=1e-3)  # past the inner corner by 37 mm


def test_reciprocity(basement):
    there = find_paths(basement, SOURCES, SEATS, 3)
    back = find_paths(basement, SEATS, SOURCES, 3)
    ours = sorted(
        (int(s), int(r), int(o), tuple(int(x) for x in w if x >= 0), round(float(d), 9))
        for s, r, o, w, d in zip(
            there.source, there.receiver, there.order, there.surfaces, there.length, strict=True
        )
    )
    theirs = sorted(
        (int(r), int(s), int(o), tuple(int(x) for x in w if x >= 0)[::-1], round(float(d), 9))
        for s, r, o, w, d in zip(
            back.source, back.receiver, back.order, back.surfaces, back.length, strict=True
        )
    )
    assert ours == theirs
    assert len(ours) > 200


def test_a_re_entrant_corner_hides_the_source(basement):
    hidden = find_paths(basement, np.array([[6.9, 2.9, 1.2]]), np.array([[2.0, 4.6, 1.2]]), 0)
    assert len(hidden) == 0


def test_a_leg_that_would_graze_the_inner_corner_counts_once_or_not_at_all(basement):
    """The straight line through the corner itself touches the edge from the air's side."""
    start, corner = np.array([3.0, 2.0, 1.2]), np.array([4.8, 3.2, 1.2])
    end = start + (corner - start) * 1.3
    end[1] = min(end[1], 3.9)
    assert len(find_paths(basement, start[None], np.array([[4.7, 3.13, 1.2]]), 0)) == 1
    # Beyond the corner the same line enters the wall: blocked.
    assert len(find_paths(basement, start[None], end[None], 0)) == 0


def test_points_lie_on_their_surfaces_and_angles_are_equal(basement):
    paths = find_paths(basement, SOURCES, SEATS, 2)
    for i in np.flatnonzero(paths.order > 0):
        chain = [SOURCES[paths.source[i]], *paths.points[i, : paths.order[i]], SEATS[paths.receiver[i]]]
        assert sum(np.linalg.norm(np.diff(chain, axis=0), axis=1)) == pytest.approx(
            paths.length[i], rel=1e-12
        )
        for k in range(paths.order[i]):
            n = basement.normals[paths.surfaces[i, k]]
            a, b = chain[k] - chain[k + 1], chain[k + 2] - chain[k + 1]
            assert a @ n / np.linalg.norm(a) == pytest.approx(b @ n / np.linalg.norm(b), abs=1e-9)


def test_a_post_hides_and_reflects():
    parts = subtract_contacts([*box(5, 4, 2.5), *solid_box((2.4, 1.9, 0.0), (0.2, 0.2, 2.5))])
    kept = [p for p in parts if p is not None]
    room = Enclosure(tuple(kept))
    source, behind, beside = (
        np.array([[1.0, 2.0, 1.2]]),
        np.array([[4.0, 2.0, 1.2]]),
        np.array([[1.4, 2.1, 1.2]]),
    )
    assert len(kept) == 10  # two faces of the post vanish against floor and ceiling
    assert 0 not in find_paths(room, source, behind, 1).order
    first = find_paths(room, source, beside, 1)
    assert any(s >= 6 for s in first.surfaces[:, 0])


def test_an_edge_hit_is_counted_once():
    """Source and seat mirror each other in the diagonal: the second-order path meets the corner itself."""
    room = Enclosure(box(4.0, 4.0, 3.0))
    paths = find_paths(room, np.array([[1.0, 1.0, 1.5]]), np.array([[2.0, 2.0, 1.5]]), 2)
    corner = [i for i in range(len(paths)) if set(paths.surfaces[i]) == {0, 2} and paths.order[i] == 2]
    assert len(corner) == 1
    assert paths.length[corner[0]] == pytest.approx(np.hypot(3.0, 3.0))


def test_coplanar_neighbours_do_not_double_a_reflection():
    """A long wall given in two pieces: a point on the joint belongs to one of them."""
    split = Enclosure(extrude([[0, 0], [2, 0], [4, 0], [4, 3], [0, 3]], 2.5))
    paths = find_paths(split, np.array([[1.0, 1.0, 1.2]]), np.array([[3.0, 1.0, 1.2]]), 1)
    assert np.count_nonzero((paths.order == 1) & np.isin(paths.surfaces[:, 0], [0, 1])) == 1


def test_rotation_changes_nothing(basement):
    angle = 0.7
    turn = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    turned = Enclosure(extrude(np.array(CORNERS) @ turn[:2, :2].T, 2.35))
    a = find_paths(basement, SOURCES, SEATS, 2)
    b = find_paths(turned, SOURCES @ turn.T, SEATS @ turn.T, 2)
    assert len(a) == len(b)
    assert sorted(a.length) == pytest.approx(sorted(b.length), rel=1e-12)


def test_an_order_that_is_not_offered_is_refused(basement):
    with pytest.raises(ValueError, match="not 0 to 3"):
        find_paths(basement, SOURCES, SEATS, 4)


@pytest.mark.parametrize("joint", ["coplanar", "corner"])
def test_the_sum_of_paths_does_not_flicker_over_an_edge(joint):
    """A seat moves by a millimetre over a joint of two walls, or over the line of a corner."""
    if joint == "coplanar":
        room = Enclosure(extrude([[0, 0], [2, 0], [4, 0], [4, 3], [0, 3]], 2.5))
        source, middle = np.array([[1.0, 1.0, 1.2]]), np.array([3.0, 1.0, 1.2])
    else:
        room = Enclosure(box(4.0, 4.0, 2.5))
        source, middle = np.array([[1.0, 1.0, 1.2]]), np.array([2.0, 2.0, 1.2])
    sums = []
    for step in np.linspace(-0.001, 0.001, 9):
        paths = find_paths(room, source, (middle + np.array([step, 0, 0]))[None], 2)
        sums.append((len(paths), float((1.0 / paths.length**2).sum())))
    assert len({count for count, _ in sums}) == 1
    energies = np.array([energy for _, energy in sums])
    # Over 2 mm the smooth change with distance is about 0.1 %; a lost path would be several percent.
    assert np.ptp(energies) / energies.mean() < 0.004
