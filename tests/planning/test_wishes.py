"""Side reflections that shall stay: not hung over, not counted, while the rest still gets advice."""

from dataclasses import replace

import numpy as np
import pytest

from treatment.acoustics.image_sources import mirror
from treatment.geometry.polygon import Rectangle
from treatment.planning.candidates import find_sites
from treatment.planning.early import early_field
from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.planning.make import make_plan
from treatment.planning.plan import Placement
from treatment.scene.load import load_scene

ROOM = """title = "wishes"
panels = ["wool-100"]
[room]
shape = "box"
length = 5.4
width = 4.2
height = 2.5
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
[[loudspeakers]]
name = "L"
position = [0.8, 1.1, 1.1]
[[loudspeakers]]
name = "R"
position = [0.8, 3.1, 1.1]
[[seats]]
name = "seat"
position = [3.4, 2.1, 1.1]
spread = 0.15
[budget]
amount = 300
"""
LEFT, RIGHT = 2, 3


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    path = tmp_path_factory.mktemp("wishes") / "room.toml"
    path.write_text(ROOM + "[wishes]\nkeep_side_reflections = true\n")
    made = load_scene(path)[0]
    assert made.keep_side_reflections
    return made


@pytest.fixture(scope="module")
def plan(scene):
    return make_plan(scene)


def points(scene):
    """First reflections by the side walls, by the mirror trick; surface and wall coordinates."""
    for surface in (LEFT, RIGHT):
        polygon = scene.surfaces[surface].polygon
        for s in scene.loudspeakers:
            image, ear = mirror(s.position, polygon.origin, polygon.normal), scene.seats[0].position
            d0, d1 = float(polygon.height_above(ear)), float(polygon.height_above(image))
            yield surface, polygon.to_wall(ear + d0 / (d0 - d1) * (image - ear))


def test_no_panel_comes_near_a_kept_reflection(scene, plan):
    for surface, (u, v) in points(scene):
        for p in plan.placements:
            if p.surface == surface:
                low_u, low_v, high_u, high_v = p.rectangle.bounds
                away = np.hypot(max(low_u - u, u - high_u, 0.0), max(low_v - v, v - high_v, 0.0))
                assert away >= 0.30


def least_gap(scene):
    """Distance of the nearest site on a side wall from a point where a side reflection lands."""
    sites = find_sites(scene, (), scene.builds)
    gaps = []
    for surface, point in points(scene):
        on = sites.rectangle[sites.surface == surface]
        assert len(on)
        off = np.maximum(np.maximum(on[:, :2] - point, point - on[:, 2:]), 0.0)
        gaps.append(np.hypot(*off.T).min())
    return min(gaps)


def test_no_site_is_offered_there(scene):
    # The margin, and the spread of the head, which moves the point by some centimetres.
    assert 0.30 <= least_gap(scene) < 0.60
    assert least_gap(replace(scene, keep_side_reflections=False)) == pytest.approx(0.0)


def test_without_the_wish_they_are_hung_over(scene):
    usual = make_plan(replace(scene, keep_side_reflections=False))
    over = [
        p.id
        for surface, (u, v) in points(scene)
        for p in usual.placements
        if p.surface == surface
        and p.rectangle.bounds[0] <= u <= p.rectangle.bounds[2]
        and p.rectangle.bounds[1] <= v <= p.rectangle.bounds[3]
    ]
    assert over


def test_the_rest_still_gets_advice(scene, plan):
    assert plan.placements
    assert {scene.surfaces[p.surface].name for p in plan.placements} & {"ceiling", "back", "front"}
    middle = slice(3, 6)
    assert np.all(plan.after.eyring[middle] < plan.before.eyring[middle])


def test_they_are_neither_counted_nor_aimed_at(scene):
    a = evaluate(scene).arrivals
    kept = {a.names[i] for i in np.flatnonzero(a.order == 1) if a.verdict[i] == "keep"}
    assert kept == {("left",), ("right",)}
    e = early_field(scene)
    firsts = {int(s) for s in e.paths.surfaces[e.paths.order == 1, 0]}
    assert firsts
    assert not firsts & {LEFT, RIGHT}


def test_a_panel_by_hand_is_warned_of(scene):
    surface, (u, v) = next(points(scene))
    build = scene.builds[0]
    p = Placement("P1", build, surface, Rectangle(u - 0.3, v - 0.6, build.outer_width, build.outer_height))
    assert "panel-over-kept-reflection" in [f.code for f in review_placements(scene, [p])]
    usual = replace(scene, keep_side_reflections=False)
    assert "panel-over-kept-reflection" not in [f.code for f in review_placements(usual, [p])]
