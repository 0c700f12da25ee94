"""Recesses: closed, of the volume and area that closed forms give, and sound finds its way in and out."""

import math
import os

import numpy as np
import pyroomacoustics as pra
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from recess_rooms import dormer_room, niche_room

from treatment.acoustics import ray_passes
from treatment.acoustics.image_sources import find_paths
from treatment.acoustics.scatter import branchings, even_directions
from treatment.acoustics.screen_shares import screen_shares
from treatment.acoustics.tiles import cut_tiles
from treatment.bands import EXACT_HZ
from treatment.errors import GeometryError
from treatment.geometry.convex import bodies_meet
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.mend import mend
from treatment.geometry.merge import crossings
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.geometry.rays import Caster
from treatment.geometry.recesses import dormer, join_recess, pocket, runs_into
from treatment.geometry.roof import level, plane_from_eave, roofed
from treatment.geometry.shapes import box, extrude

EXAMPLES = settings(max_examples=int(os.environ.get("TREATMENT_EXAMPLES", "25")), deadline=None)
SOURCE, SEAT = np.array([[0.8, 1.0, 1.2]]), np.array([[4.2, 2.0, 1.2]])


def opened(polygons, host, recess):
    return tuple(p for p in join_recess(polygons, host, recess).polygons if p is not None)


def attic(knee=1.0, slope=1.0, height=2.4):
    """Left wall, back, right, front, floor, ceiling, slope on the left, slope on the right."""
    planes = np.array(
        [
            level(height),
            plane_from_eave([0, 0], [5, 0], knee, slope),
            plane_from_eave([5, 4.2], [0, 4.2], knee, slope),
        ]
    )
    walls, floor, tops = roofed([[0, 0], [5, 0], [5, 4.2], [0, 4.2]], planes)
    return [*walls, floor, *tops]


def skin(room):
    corners, _ = room.triangles
    count = 3 * len(corners)
    return mend(
        corners.reshape(-1, 3), np.arange(count).reshape(-1, 3), np.zeros(len(corners), dtype=np.intp)
    )


def assert_tight(polygons):
    """Every edge is shared by two surfaces, none cut through or lie on each other, none is a sliver."""
    room = Enclosure(polygons)
    made = skin(room)
    assert not made.faults, made.faults
    assert crossings(polygons) == ([], [])
    assert room.areas.min() > 1e-4
    assert np.linalg.norm((room.areas[:, None] * room.normals).sum(axis=0)) < 1e-9
    lengths = np.linalg.norm(room.outlines.end - room.outlines.start, axis=1)
    assert lengths.min() > 1e-3
    return room


def test_a_niche_by_hand():
    plain = box(5.0, 3.8, 2.4)
    room = assert_tight(opened(plain, 3, pocket(plain[3], Rectangle(2.0, 0.9, 1.2, 1.0), 0.35)))
    assert room.volume == pytest.approx(5.0 * 3.8 * 2.4 + 1.2 * 1.0 * 0.35, rel=1e-12)
    # The back replaces the mouth; four sides are new.
    assert room.area == pytest.approx(Enclosure(plain).area + 2 * (1.2 + 1.0) * 0.35, rel=1e-12)
    assert room.contains(np.array([[2.6, 4.1, 1.4]]))[0]
    assert not room.contains(np.array([[2.6, 4.1, 0.8]]))[0]


@pytest.mark.parametrize("pitch", [0.0, 20.0])
@pytest.mark.parametrize("foot", [0.3, 0.0])
def test_a_dormer_by_hand(pitch, foot):
    plain = attic()
    fall = math.tan(math.radians(pitch))
    room = assert_tight(opened(plain, 6, dormer(plain[6], Rectangle(2.0, foot, 1.2, 1.2), fall)))
    run = 1.2 * math.sqrt(0.5)
    front = run * (1.0 - fall)  # the slope of 45 degrees rises as far as it runs
    whole = Enclosure(tuple(plain))
    assert room.volume - whole.volume == pytest.approx(1.2 * run * front / 2, rel=1e-9)
    cheeks = 2 * run * front / 2
    roof = 1.2 * run * math.hypot(1.0, fall)
    assert room.area - whole.area == pytest.approx(1.2 * front + cheeks + roof - 1.2 * 1.2, rel=1e-9)
    assert room.contains(np.array([[2.6, foot * math.sqrt(0.5) + 0.05, 1.0 + 0.4]]))[0]


def test_no_dormer_without_a_slope():
    plain = attic()
    with pytest.raises(GeometryError, match="front"):
        dormer(plain[0], Rectangle(1.0, 0.2, 1.0, 0.5))
    with pytest.raises(GeometryError, match="front"):
        dormer(plain[6], Rectangle(1.0, 0.2, 1.0, 0.5), 1.0)


def test_what_faces_are_called_after():
    """As seen from before the wall: on the left wall u counts from the front, which is at the right hand."""
    plain = box(5.0, 3.8, 2.4)
    for host, low in ((2, "right"), (3, "left"), (0, "left"), (1, "right")):
        made = pocket(plain[host], Rectangle(1.0, 0.5, 1.0, 1.0), 0.3)
        assert made.sides[0] == "back"
        assert made.sides[3:] == ("bottom", "top")
        low_face = min(made.faces[1:3], key=lambda f: float(plain[host].to_wall(f.centroid)[0]))
        assert made.sides[made.faces.index(low_face)] == low
    up = pocket(plain[5], Rectangle(1.0, 0.5, 1.0, 1.0), 0.3)
    where = dict(zip(up.sides, up.faces, strict=True))
    assert where["top"].centroid[2] == pytest.approx(2.7)
    assert where["front"].centroid[0] == pytest.approx(1.0)
    assert where["left"].centroid[1] == pytest.approx(0.5)


def test_a_vanishing_recess_leaves_every_arrival():
    plain = box(6.0, 4.0, 2.7)
    before = find_paths(Enclosure(plain), SOURCE, SEAT, 2)
    for depth in (1e-2, 1e-4):
        made = pocket(plain[3], Rectangle(2.0, 0.8, 1.5, 1.1), depth)
        after = find_paths(Enclosure(opened(plain, 3, made)), SOURCE, SEAT, 2)
        assert len(after) == len(before) == 25
        assert np.abs(np.sort(after.length) - np.sort(before.length)).max() < 2.0 * depth


@pytest.mark.parametrize("host", range(6))
@pytest.mark.parametrize("kind", ["box", "plan"])
def test_a_whole_wall_as_mouth_is_a_longer_room(host, kind):
    """On the walls of a plan u runs round the room: faces that go on with them have to count alike."""
    plain = box(6.0, 4.0, 2.7)
    if kind == "plan":
        left, back, right, front, *others = extrude([[0, 0], [6, 0], [6, 4], [0, 4]], 2.7)
        plain = (front, back, left, right, *others)
    u0, v0, u1, v1 = plain[host].bounds
    made = opened(plain, host, pocket(plain[host], Rectangle(u0, v0, u1 - u0, v1 - v0), 1.1))
    assert len(made) == 10
    room = assert_tight(made)
    size = np.array([6.0, 4.0, 2.7])
    size[host // 2] += 1.1
    shift = np.zeros(3) if host % 2 else 1.1 * np.eye(3)[host // 2]
    ours = find_paths(room, SOURCE, SEAT, 3)
    theirs = find_paths(Enclosure(box(*size)), SOURCE + shift, SEAT + shift, 3)
    assert len(ours) == len(theirs) == 63
    assert np.sort(ours.length) == pytest.approx(np.sort(theirs.length), rel=1e-12)
    # Each of the four sides goes on with a wall: one plane, one group.
    assert len(np.unique(room.flush.group)) == 6


def pyroom(vertices, faces, source, seat, order):
    """The oracle: polyhedral image sources; walls with a hole come as four pieces."""
    corners = np.array(vertices)
    middle = np.array([2.5, 2.0, 1.0])
    walls = []
    for parts in faces.values():
        for part in parts:
            ring = corners[list(part)]
            normal = np.cross(ring[1] - ring[0], ring[2] - ring[1])
            # Both rooms are star-shaped round their middle: all faces look to it from inside.
            outwards = normal @ (ring.mean(axis=0) - middle) > 0.0
            walls.append(pra.wall_factory((ring if outwards else ring[::-1]).T.copy(), [0.1], [0.0]))
    room = pra.Room(walls, fs=16000, max_order=order)
    room.add_source(source)
    room.add_microphone(seat)
    room.image_source_model()
    seen = np.asarray(room.visibility[0][0], dtype=bool)
    return np.column_stack([room.sources[0].orders[seen], room.sources[0].images.T[seen]])


def heard_from(paths, source, seat):
    """Order, and where the ear hears each path come from."""
    found = []
    for i in range(len(paths)):
        k = paths.order[i]
        last = source if k == 0 else paths.points[i, k - 1]
        found.append([k, *(seat + (last - seat) / np.linalg.norm(last - seat) * paths.length[i])])
    return np.array(found)


def made_niche_room():
    plain = box(5.0, 3.8, 2.4)
    return opened(plain, 3, pocket(plain[3], Rectangle(2.0, 0.9, 1.2, 1.0), 0.35))


def made_dormer_room():
    plain = attic()
    return opened(plain, 6, dormer(plain[6], Rectangle(2.0, 0.3, 1.2, 1.2)))


@pytest.mark.parametrize(
    ("room", "by_hand", "source", "seat"),
    [
        (made_niche_room, niche_room, [0.8, 1.0, 1.1], [3.1, 1.9, 1.3]),
        (made_niche_room, niche_room, [2.3, 3.9, 1.2], [3.1, 1.9, 1.3]),  # from within the niche
        (made_niche_room, niche_room, [2.23, 3.96, 1.27], [3.01, 4.03, 1.66]),  # both within it
        (made_dormer_room, dormer_room, [0.9, 1.2, 1.1], [3.0, 2.4, 1.2]),
        (made_dormer_room, dormer_room, [2.4, 0.45, 1.75], [3.0, 2.4, 1.2]),  # under the dormer
    ],
)
def test_paths_into_a_recess_match_pyroomacoustics(room, by_hand, source, seat):
    source, seat = np.array(source), np.array(seat)
    ours = heard_from(find_paths(Enclosure(room()), source[None], seat[None], 3), source, seat)
    theirs = pyroom(*by_hand(), source, seat, 3)
    assert len(ours) == len(theirs) > 15
    gap = np.abs(ours[:, None] - theirs[None]).max(axis=2)
    assert gap.min(axis=1).max() < 1e-3
    assert len(set(gap.argmin(axis=1))) == len(ours)


def test_reveals_hide_the_back_of_a_niche():
    """A slanting way to the deep back of a narrow niche is cut by its side; the straight one is not."""
    plain = box(5.0, 3.8, 2.4)
    made = opened(plain, 3, pocket(plain[3], Rectangle(2.0, 0.5, 0.3, 1.5), 0.6))
    room = Enclosure(made)
    back = 6
    straight = find_paths(room, np.array([[2.1, 1.0, 1.2]]), np.array([[2.2, 2.0, 1.2]]), 1)
    slanting = find_paths(room, np.array([[1.0, 3.0, 1.2]]), np.array([[3.3, 3.0, 1.2]]), 1)
    assert back in straight.surfaces[:, 0]
    assert back not in slanting.surfaces[:, 0]
    # In the wide shallow niche the same two places see it.
    wide = Enclosure(opened(plain, 3, pocket(plain[3], Rectangle(1.0, 0.5, 2.3, 1.5), 0.1)))
    seen = find_paths(wide, np.array([[1.0, 3.0, 1.2]]), np.array([[3.3, 3.0, 1.2]]), 1)
    assert back in seen.surfaces[:, 0]


def test_the_back_of_a_shallow_niche_sends_what_the_wall_would():
    """Its edges stand before it and behind, in its image: what they hide nearly cancels."""
    plain = box(5.0, 3.8, 2.4)
    room = Enclosure(opened(plain, 3, pocket(plain[3], Rectangle(1.2, 0.6, 1.4, 1.2), 0.02)))
    source, seat = np.array([[0.8, 2.9, 1.1]]), np.array([[3.1, 1.9, 1.2]])
    paths = find_paths(room, source, seat, 1)
    back = np.flatnonzero(paths.surfaces[:, 0] == 6)
    share, _ = screen_shares(room, paths, source, seat, 343.2, np.asarray(EXACT_HZ)[:7])
    assert len(back) == 1
    assert np.abs(20.0 * np.log10(np.abs(share[back[0]]))).max() < 1.0


def test_recesses_that_run_into_something_are_found():
    plain = box(5.0, 3.8, 2.4)
    first = pocket(plain[3], Rectangle(2.0, 0.5, 1.0, 1.0), 0.3)
    room = Enclosure(opened(plain, 3, first))
    host = room.polygons[3]

    def hit(u, width, depth=0.3):
        made = pocket(host, Rectangle(u, 0.5, width, 1.0), depth)
        return runs_into(made.body(host, 0.005), room.polygons, room.triangles)

    assert hit(0.5, 1.4) == []
    assert hit(0.5, 1.496) != []  # 4 mm of wall
    assert hit(0.5, 1.5) != []  # no wall
    assert hit(0.5, 1.7) != []  # through the side
    assert hit(0.5, 1.49) == []  # 10 mm of wall


def test_a_niche_at_the_corner_of_two_walls_runs_into_nothing():
    """Its side goes on with the neighbour wall, and so may that of a niche in the neighbour."""
    plain = box(5.0, 3.8, 2.4)
    first = pocket(plain[3], Rectangle(4.0, 0.0, 1.0, 2.0), 0.4)
    assert runs_into(first.body(plain[3], 0.005), plain, Enclosure(plain).triangles) == []
    room = assert_tight(opened(plain, 3, first))
    second = pocket(room.polygons[1], Rectangle(2.8, 0.0, 1.0, 2.0), 0.4)
    assert runs_into(second.body(room.polygons[1], 0.005), room.polygons, room.triangles) == []
    both = assert_tight(opened(room.polygons, 1, second))
    assert both.volume == pytest.approx(5.0 * 3.8 * 2.4 + 2 * 1.0 * 2.0 * 0.4, rel=1e-12)


def test_convex_bodies():
    cube = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], dtype=float)
    assert bodies_meet(cube, cube + 0.9)
    assert not bodies_meet(cube, cube + np.eye(3)[0])
    flat = np.array([[0.5, 0.5, 2.0], [0.5, 0.5, 0.99], [3.0, 0.5, 2.0]])
    assert bodies_meet(cube, flat)
    # Two edges that cross at right angles, apart along neither's faces: 0.1 m is left between.
    wedge = np.array([[0, -1, 0], [0, 1, 0], [1, 0, -1], [-1, 0, -1]], dtype=float)
    other = np.array([[-1, 0, 0.1], [1, 0, 0.1], [0, 1, 1.1], [0, -1, 1.1]])
    assert not bodies_meet(wedge, other)
    assert bodies_meet(wedge, other - [0, 0, 0.2])


def whole_cm(low, high):
    return st.integers(round(100 * low), round(100 * high)).map(lambda n: n / 100)


@st.composite
def recessed(draw):
    """An attic with one to three recesses that run into nothing, and the volume that they add."""
    slope = draw(st.sampled_from([0.5, 1.0, 1.6]))
    plain = [p for p in attic(draw(whole_cm(0.7, 1.2)), slope, draw(whole_cm(2.2, 2.6))) if p is not None]
    room = Enclosure(tuple(plain))
    volume = room.volume
    for _ in range(draw(st.integers(1, 3))):
        host = draw(st.integers(0, len(plain) - 1))
        polygon = room.polygons[host]
        u0, v0, u1, v1 = plain[host].bounds
        ends = [draw(st.sampled_from([lo, None])) for lo in (u0, v0)]
        at = [draw(whole_cm(lo + 0.05, lo + 0.6 * (hi - lo))) if e is None else e
              for e, lo, hi in zip(ends, (u0, v0), (u1, v1), strict=True)]  # fmt: skip
        size = [draw(st.sampled_from([draw(whole_cm(0.1, max(0.1, 0.9 * (hi - a)))), hi - a]))
                for a, hi in zip(at, (u1, v1), strict=True)]  # fmt: skip
        mouth = Rectangle(*at, *size)
        if mouth.shape().difference(polygon.region).area > 1e-9 or min(size) < 0.05:
            continue
        climb = -float(polygon.normal[2])
        if 0.05 < climb < 0.99 and draw(st.booleans()):
            fall = draw(st.sampled_from([0.0, 0.4 * slope]))
            made = dormer(polygon, mouth, fall)
            run = mouth.height * climb
            adds = mouth.width * run * run * (slope - fall) / 2
        else:
            depth = draw(whole_cm(0.05, 0.8))
            made, adds = pocket(polygon, mouth, depth), mouth.area * depth
        if runs_into(made.body(polygon, 0.005), room.polygons, room.triangles):
            continue
        joined = join_recess(room.polygons, host, made).polygons
        if joined[host] is None:
            continue
        room, volume = Enclosure(joined), volume + adds
    assume(len(room.polygons) > len(plain))
    return room, volume


@EXAMPLES
@given(recessed())
def test_random_recesses_close_and_add_their_volume(made):
    room, volume = made
    assert_tight(room.polygons)
    assert room.volume == pytest.approx(volume, rel=1e-9)
    # What holds at the middle of an edge holds for all of it, as `find_joints` takes for granted.
    middle = neighbours(room, 0.5)
    assert min(len(n) for n in middle) == 1
    assert middle == neighbours(room, 0.05) == neighbours(room, 0.95)


def neighbours(room, part):
    """Surfaces, beside its own, that each edge touches at a part of its length."""
    ends = room.joints.ends
    points = ends[:, 0] + part * (ends[:, 1] - ends[:, 0])
    found = [set() for _ in points]
    for k, p in enumerate(room.polygons):
        off = np.abs(p.height_above(points))
        gap = shapely.distance(shapely.boundary(p.region), shapely.points(p.to_wall(points)))
        for e in np.flatnonzero((off < 1e-5) & (gap < 1e-5) & (room.outlines.owner != k)):
            found[e].add(k)
    return found


@EXAMPLES
@given(recessed(), st.integers(0, 2**32 - 1))
def test_turned_and_mirrored_rooms_have_the_same_arrivals(made, seed):
    room, _ = made
    rng = np.random.default_rng(seed)
    turn, r = np.linalg.qr(rng.normal(size=(3, 3)))
    turn = turn * np.sign(np.diag(r))  # half of these mirror
    shift = rng.uniform(-20, 20, 3)
    other = Enclosure(
        tuple(
            Polygon(turn @ p.origin + shift, turn @ p.u_axis, turn @ p.v_axis, turn @ p.normal, p.region)
            for p in room.polygons
        )
    )
    points = rng.uniform([0.3, 0.3, 0.3], [4.7, 3.9, 0.9], (2, 3))
    a = find_paths(room, points[:1], points[1:], 2)
    b = find_paths(other, points[:1] @ turn.T + shift, points[1:] @ turn.T + shift, 2)
    la, lb = (np.sort(p.length[p.clearance > 1e-4]) for p in (a, b))
    assert lb == pytest.approx(la, rel=1e-9)


@pytest.mark.parametrize("made", [made_niche_room, made_dormer_room])
def test_rays_keep_their_energy(made):
    """Without absorption nothing is lost in a niche or under a dormer, from a place within."""
    room = Enclosure(made())
    nothing, some = (np.full((len(room.polygons), 8), a) for a in (0.0, 0.3))
    tiles = cut_tiles(room, nothing, some)
    assert tiles.areas.sum() == pytest.approx(room.area, rel=1e-9)
    stage = ray_passes.Stage(Caster(tiles.polygons), tiles, 2000, 0.7)
    group = branchings(tiles.absorption[tiles.material], tiles.scattering[tiles.material], tiles.areas)[0]
    seen = Recorder()
    count = 800
    start = np.array([[2.6, 3.95, 1.4]]) if made is made_niche_room else np.array([[2.6, 0.5, 1.8]])
    rng = np.random.default_rng(1)
    way = even_directions(count, np.random.default_rng(0))
    lost = ray_passes._scatter_chunk(stage, group, start, np.zeros(count, dtype=int), way, rng, seen)
    assert lost == 0
    assert len(seen.energy) > 100
    assert np.array(seen.energy[:100]) == pytest.approx(count, rel=1e-6)


class Recorder:
    """Stands where deposits are summed and keeps each bounce."""

    def __init__(self):
        self.energy = []

    def add(self, _slot, energy):
        self.energy.append(energy.sum(axis=0))
