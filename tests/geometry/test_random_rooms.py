"""Laws that hold in any room: random boxes, floor plans, slopes and obstacles.

No number is expected here that this program computed: closed surfaces have no net area (divergence theorem),
volumes are counted by points, and what only moves or turns does not change.
"""

import math
import os

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from treatment.acoustics.image_sources import find_paths
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.mend import mend
from treatment.geometry.merge import merge
from treatment.geometry.polygon import Polygon
from treatment.geometry.roof import ceiling_height, level, roofed
from treatment.geometry.shapes import box, extrude, solid_box, subtract_contacts

#: TREATMENT_EXAMPLES=1000 looks longer.
EXAMPLES = settings(max_examples=int(os.environ.get("TREATMENT_EXAMPLES", "25")), deadline=None)
#: Whole centimetres, as a tape gives them.
lengths = st.integers(250, 800).map(lambda n: n / 100)


def whole(low, high):
    return st.integers(round(100 * low), round(100 * high)).map(lambda n: n / 100)


@st.composite
def plans(draw):
    """Corners of a floor: a box, an L, or a star-shaped outline of five to nine corners."""
    kind = draw(st.sampled_from(["box", "L", "star"]))
    x, y = draw(lengths), draw(lengths)
    if kind == "box":
        return [[0, 0], [x, 0], [x, y], [0, y]]
    if kind == "L":
        a, b = draw(whole(0.3, 0.7)), draw(whole(0.3, 0.7))
        return [
            [0, 0],
            [x, 0],
            [x, round(b * y, 2)],
            [round(a * x, 2), round(b * y, 2)],
            [round(a * x, 2), y],
            [0, y],
        ]
    n = draw(st.integers(5, 9))
    radii = [draw(whole(1.5, 4.0)) for _ in range(n)]
    turn = 2 * math.pi / n
    return [
        [round(5 + r * math.cos(k * turn), 3), round(5 + r * math.sin(k * turn), 3)]
        for k, r in enumerate(radii)
    ]


@st.composite
def roofs(draw, plan):
    """Planes above head height everywhere over the floor."""
    corners = np.array(plan, dtype=float)
    planes = [level(draw(whole(2.2, 3.2)))]
    for _ in range(draw(st.integers(0, 3))):
        a, b = draw(whole(-1.0, 1.0)), draw(whole(-1.0, 1.0))
        lowest = draw(whole(0.8, 2.2))
        planes.append(np.array([a, b, lowest - float((corners @ [a, b]).min())]))
    return np.array(planes)


@st.composite
def rooms(draw, obstacles=True):
    """Polygons of a room, and an independent test of what is inside it."""
    plan = draw(plans())
    planes = draw(roofs(plan))
    walls, floor, ceilings = roofed(plan, planes)
    parts = [p for p in (*walls, floor, *ceilings) if p is not None]
    shape = shapely.Polygon(plan)
    solids = []
    if obstacles and draw(st.booleans()):
        centre = shape.representative_point()
        size = [draw(whole(0.1, 0.4)), draw(whole(0.1, 0.4)), draw(whole(0.2, 3.4))]
        at = [round(centre.x, 2), round(centre.y, 2), draw(st.sampled_from([0.0, 0.35]))]
        foot = shapely.box(at[0], at[1], at[0] + size[0], at[1] + size[1])
        if shape.buffer(-0.05).contains(foot) and at[2] < 0.5:
            parts = subtract_contacts([*parts, *solid_box(at, size, planes)], len(parts))
            solids.append((np.array(at), np.array(at) + size))
    room = Enclosure(tuple(p for p in parts if p is not None))

    def inside(points):
        good = shapely.contains_xy(shape, points[:, :2])
        good &= (points[:, 2] > 0) & (points[:, 2] < ceiling_height(planes, points[:, :2]))
        for low, high in solids:
            good &= ~np.all((points > low) & (points < high), axis=1)
        return good

    return room, inside


def places(room, inside, rng, count, margin=0.15):
    """Random places in the air."""
    low, high = room.bounds
    points = rng.uniform(low, high, (400, 3))
    points = points[inside(points)]
    points = points[room.contains(points, margin=margin)]
    assume(len(points) >= count)
    return points[:count]


def moved(polygon, turn, shift, scale=1.0):
    region = shapely.transform(polygon.region, lambda xy: scale * xy)
    return Polygon(
        scale * turn @ polygon.origin + shift,
        turn @ polygon.u_axis,
        turn @ polygon.v_axis,
        turn @ polygon.normal,
        region,
    )


def any_turn(rng):
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q *= np.sign(np.diag(r))
    return q if np.linalg.det(q) > 0 else q[:, [1, 0, 2]]


@EXAMPLES
@given(rooms())
def test_area_vectors_sum_to_nothing(made):
    room, _ = made
    # Parts of a ceiling over less than a square millimetre are left out.
    assert np.linalg.norm((room.areas[:, None] * room.normals).sum(axis=0)) < 1e-9 * room.area + 1e-5
    corners, surface = room.triangles
    area = 0.5 * np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    assert np.bincount(surface, area) == pytest.approx(room.areas, rel=1e-9)


@EXAMPLES
@given(rooms(), st.integers(0, 2**32 - 1))
def test_volume_and_inside_against_counted_points(made, seed):
    room, inside = made
    low, high = room.bounds
    points = np.random.default_rng(seed).uniform(low, high, (60_000, 3))
    expected = inside(points)
    share = expected.mean()
    whole_box = float(np.prod(high - low))
    error = 4.5 * whole_box * math.sqrt((share * (1 - share) + 5 / len(points)) / len(points))
    assert room.volume == pytest.approx(share * whole_box, abs=error + 1e-9)
    some = points[:1500]
    told = room.contains(some)
    # Points within a hair of a surface may fall on either side.
    for k in np.flatnonzero(told != expected[:1500]):
        assert room.distance_to_surfaces(some[k]).min() < 1e-6


@EXAMPLES
@given(rooms(), st.integers(0, 2**32 - 1))
def test_turning_moving_and_scaling_change_nothing(made, seed):
    room, inside = made
    rng = np.random.default_rng(seed)
    source, seat = places(room, inside, rng, 2)
    turn, shift = any_turn(rng), rng.uniform(-20, 20, 3)
    for scale in (1.0, 100 / 2.54 / 12):
        other = Enclosure(tuple(moved(p, turn, shift, scale) for p in room.polygons))
        assert other.volume == pytest.approx(scale**3 * room.volume, rel=1e-9)
        assert other.area == pytest.approx(scale**2 * room.area, rel=1e-9)
        a = find_paths(room, source[None], seat[None], 2)
        b = find_paths(other, (scale * turn @ source + shift)[None], (scale * turn @ seat + shift)[None], 2)
        same_paths(a, b, scale)


def same_paths(a, b, scale=1.0):
    """Lengths agree, but for paths through an edge: rounding decides whether these exist."""
    la, lb = (np.sort(p.length[p.clearance > 1e-4]) for p in (a, scaled(b, scale)))
    assert len(la) == len(lb)
    assert lb == pytest.approx(la, rel=1e-9)


def scaled(paths, scale):
    import dataclasses

    return dataclasses.replace(paths, length=paths.length / scale, clearance=paths.clearance / scale)


@EXAMPLES
@given(rooms(), st.integers(0, 2**32 - 1))
def test_sound_goes_both_ways(made, seed):
    room, inside = made
    source, seat = places(room, inside, np.random.default_rng(seed), 2)
    there = find_paths(room, source[None], seat[None], 2)
    back = find_paths(room, seat[None], source[None], 2)
    same_paths(there, back)


@EXAMPLES
@given(lengths, lengths, whole(2.1, 3.2), st.integers(1, 3), st.integers(0, 2**32 - 1))
def test_a_box_is_a_plan_is_a_mesh(x, y, z, cuts, seed):
    import trimesh

    mesh = trimesh.creation.box(extents=(x, y, z))
    mesh.apply_translation([x / 2, y / 2, z / 2])
    for _ in range(cuts):
        mesh = mesh.subdivide()
    skin = mend(mesh.vertices, mesh.faces, np.zeros(len(mesh.faces), dtype=np.intp))
    assert not skin.faults
    kinds = [
        Enclosure(box(x, y, z)),
        Enclosure(extrude([[0, 0], [x, 0], [x, y], [0, y]], z)),
        Enclosure(merge(skin).polygons),
    ]
    rng = np.random.default_rng(seed)
    source, seat = rng.uniform(0.2, 0.8, (2, 3)) * [x, y, z]
    paths = [find_paths(k, source[None], seat[None], 2) for k in kinds]
    for room, found in zip(kinds[1:], paths[1:], strict=True):
        assert room.volume == pytest.approx(kinds[0].volume, rel=1e-9)
        assert room.area == pytest.approx(kinds[0].area, rel=1e-9)
        same_paths(paths[0], found)


@EXAMPLES
@given(rooms(obstacles=False))
def test_a_room_survives_as_a_mesh(made):
    """Its triangles, jumbled, some of them wound the other way, come back as the same room."""
    room, _ = made
    corners, _ = room.triangles
    rng = np.random.default_rng(len(corners))
    order = rng.permutation(len(corners))
    triangles = corners[order]
    flipped = rng.random(len(triangles)) < 0.3
    triangles = np.where(flipped[:, None, None], triangles[:, ::-1], triangles)
    skin = mend(
        triangles.reshape(-1, 3),
        np.arange(3 * len(triangles)).reshape(-1, 3),
        np.zeros(len(triangles), dtype=np.intp),
    )
    # Corners that only one of two neighbours has are points on the other's edge: mended, not refused.
    assert not skin.faults, skin.faults
    again = Enclosure(merge(skin).polygons)
    assert again.volume == pytest.approx(room.volume, rel=1e-6)
    assert again.area == pytest.approx(room.area, rel=1e-6)
