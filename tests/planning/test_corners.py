"""Panels across corners, against a pentagon, Sabine's sum and mirrors worked out by hand, and shapely."""

import json
from dataclasses import replace

import numpy as np
import pytest
import shapely

from treatment.errors import GeometryError, PlanError
from treatment.geometry.polygon import Rectangle
from treatment.materials.predict import predict
from treatment.planning.cautions import cautions_for
from treatment.planning.corner_sites import legal_bottoms, surroundings_of
from treatment.planning.corners import corner_of, corner_placement, corners_of, material_across, strips
from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.planning.make import assemble, make_plan
from treatment.planning.plan import Placement
from treatment.planning.problem import state_problem
from treatment.present.browser_draft import hung, panel_document, placements, read_panel
from treatment.present.drawables import drawables
from treatment.present.elevations import elevation_svg, treated_surfaces
from treatment.present.folder import write_folder
from treatment.present.hanging import hanging_rows
from treatment.present.reopen import read_placements
from treatment.scene.load import load_scene
from treatment.scene.structure import Walkways

HEAD = """title = "corners"
panels = ["across"]
[builds.across]
width = 0.6
height = 1.2
thickness = 0.15
frame_thickness = 0.018
layers = [{ airflow_resistivity = 9000, thickness = 0.15, density = 40 }]
price = 50
on = ["corner"]
[builds.flat]
width = 0.6
height = 1.2
thickness = 0.1
frame_thickness = 0.018
layers = [{ airflow_resistivity = 12500, thickness = 0.1 }]
price = 40
on = ["wall"]
[budget]
amount = 220
currency = "EUR"
[surfaces]
default = "brick-painted"
floor = "carpet-heavy-on-concrete"
"""
BOX = """[room]
shape = "box"
length = 6.0
width = 4.0
height = 2.5
"""
HEARD = """[[loudspeakers]]
name = "L"
position = [1.0, 1.4, 1.0]
[[seats]]
name = "seat"
position = [4.0, 2.0, 1.0]
spread = 0.1
"""
#: Frame included.
WIDE, HIGH, DEEP = 0.636, 1.236, 0.15
FRONT, BACK, LEFT, RIGHT = range(4)


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    def make(more="", shape=BOX, heard=HEARD):
        path = tmp_path_factory.mktemp("corners") / "scene.toml"
        path.write_text(HEAD + shape + heard + more)
        return load_scene(path)[0]

    return make


@pytest.fixture(scope="module")
def scene(room):
    return room()


def across(scene, walls=("front", "left"), bottom=0.0, name="P1"):
    corner = next(c for c in corners_of(scene) if {scene.surfaces[w].name for w in c.walls} == {*walls})
    build = next(b for b in scene.builds if b.id == "across")
    return corner_placement(scene, corner, build, bottom, name)


def test_a_box_has_four_corners_and_an_l_five(scene, room):
    """The corner of an L that sticks into the room is none to stand in; its walls are named by hand."""
    found = [{scene.surfaces[w].name for w in c.walls} for c in corners_of(scene)]
    assert found == [{"front", "left"}, {"front", "right"}, {"back", "left"}, {"back", "right"}]
    assert all(c.angle == pytest.approx(np.pi / 2) and c.height == 2.5 for c in corners_of(scene))
    ell = room(
        shape="""[room]
shape = "plan"
corners = [[0, 0], [6, 0], [6, 3], [4.5, 3], [4.5, 4], [0, 4]]
names = ["left", "back", "in-right", "in-back", "right", "front"]
height = 2.5
"""
    )
    inner = [{ell.surfaces[w].name for w in c.walls} for c in corners_of(ell)]
    assert len(inner) == 5
    assert {"in-right", "in-back"} not in inner


def test_volume_areas_and_sabine_by_hand(scene):
    """Isosceles triangle behind the back, w/2 high for a right angle, and the slab before it."""
    there = evaluate(scene, (across(scene, bottom=0.3),))
    leg, ground = WIDE / np.sqrt(2.0), WIDE**2 / 4.0 + WIDE * DEEP
    volume = 60.0 - ground * HIGH
    assert there.volume == pytest.approx(volume, rel=1e-12)
    area = {r.name: r.area for r in there.rows if r.kind == "surface"}
    assert area["front"] == pytest.approx(10.0 - leg * HIGH, rel=1e-9)
    assert area["left"] == pytest.approx(15.0 - leg * HIGH, rel=1e-9)
    assert area["floor"] == pytest.approx(24.0)
    # Face of the slab by the build over the mean gap w/4; all other sides like the front wall.
    gap = WIDE / 4.0
    soft = predict(scene.builds[0].layers, gap, scene.air.speed_of_sound, scene.air.density).absorption
    brick = scene.surfaces[FRONT].material.absorption
    carpet = scene.surfaces[4].material.absorption
    hard = 2 * (24 + 15 + 10) - 24 - 2 * leg * HIGH + WIDE * HIGH - 0.72 + 2 * DEEP * HIGH + 2 * ground
    total = brick * hard + carpet * 24 + soft * 0.72
    air = 4.0 * scene.air.power_attenuation() * volume
    expected = 24.0 * np.log(10.0) / scene.air.speed_of_sound * volume / (total + air)
    assert there.sabine == pytest.approx(expected, rel=1e-6)
    # On the floor there is no bottom, and less carpet.
    standing = evaluate(scene, (across(scene),))
    assert {r.name: r.area for r in standing.rows}["floor"] == pytest.approx(24.0 - ground, rel=1e-9)
    assert standing.surface_area == pytest.approx(there.surface_area - 2.0 * ground, rel=1e-9)


@pytest.mark.parametrize("degrees", [75.0, 110.0])
def test_corners_that_are_not_square(room, degrees):
    """Chord w of the angle: legs w / (2 sin), triangle w^2/4 cot of its half."""
    angle = np.radians(degrees)
    tip = [4.0 * np.cos(angle), 4.0 * np.sin(angle)]
    shape = f"""[room]
shape = "plan"
corners = [[0, 0], [6, 0], [{tip[0] + 6.5}, {tip[1]}], [{tip[0]}, {tip[1]}]]
names = ["left", "back", "right", "front"]
height = 2.5
"""
    skew = room(shape=shape, heard="")
    bare, there = evaluate(skew), evaluate(skew, (across(skew),))
    ground = WIDE**2 / 4.0 / np.tan(angle / 2.0) + WIDE * DEEP
    assert bare.volume - there.volume == pytest.approx(ground * HIGH, rel=1e-6)
    (_, first), (_, second) = strips(skew, across(skew))
    assert (first.width, second.width) == pytest.approx((WIDE / 2.0 / np.sin(angle / 2.0),) * 2, rel=1e-4)


def named(evaluation, *names):
    a = evaluation.arrivals
    return [i for i in range(len(a.order)) if a.names[i] == names]


def test_the_oblique_face_reflects_like_a_mirror(scene):
    """Face on x + y = c: the image of (x, y) is (c - y, c - x)."""
    there = evaluate(scene, (across(scene, bottom=0.3),))
    c = np.sqrt(2.0) * (WIDE / 2.0 + DEEP)
    source, seat = scene.loudspeakers[0].position, scene.seats[0].position
    image = np.array([c - source[1], c - source[0], 1.0])
    share = (c - image[:2].sum()) / (seat[:2].sum() - image[:2].sum())
    (i,) = named(there, "P1")
    assert there.arrivals.length[i] == pytest.approx(np.linalg.norm(seat - image), rel=1e-9)
    assert there.arrivals.points[i, 0] == pytest.approx(image + share * (seat - image), abs=1e-9)
    # What the face is made of is all that differs.
    soft = replace(scene.builds[0], basis="measured")
    quiet = replace(soft.material, absorption=np.full(8, 0.8))
    loud = replace(soft.material, absorption=np.full(8, 0.2))
    level = []
    for m in (quiet, loud):
        p = replace(across(scene, bottom=0.3), build=replace(soft, material=m))
        e = evaluate(scene, (p,))
        level.append(e.arrivals.level_db[named(e, "P1")[0]])
    share = 0.72 / (WIDE * HIGH)
    brick = scene.surfaces[FRONT].material.absorption
    alpha = [share * a + (1.0 - share) * brick for a in (0.8, 0.2)]
    expected = 10.0 * np.log10((1.0 - alpha[1]) / (1.0 - alpha[0]))
    assert level[1] - level[0] == pytest.approx(expected, abs=1e-6)


def test_the_walls_behind_it_are_silent(room):
    """Mirror in the left wall by hand: the bounce lies at x = 0.275 m, within the leg of 0.45 m."""
    near = HEARD.replace("[1.0, 1.4, 1.0]", "[0.2, 1.5, 1.0]").replace("[4.0, 2.0, 1.0]", "[0.4, 2.5, 1.0]")
    here = room(heard=near)
    bare, there = evaluate(here), evaluate(here, (across(here),))
    (i,) = named(bare, "left")
    assert bare.arrivals.points[i, 0] == pytest.approx([0.275, 0.0, 1.0], abs=1e-9)
    assert not named(there, "left")
    assert named(evaluate(here, (across(here, bottom=1.1),)), "left")


def test_the_space_behind_is_counted_where_it_can_be(scene):
    corner, build = corners_of(scene)[0], scene.builds[0]
    found = material_across(build, corner, scene.air)
    assert found.air_gap == pytest.approx(WIDE / 4.0)
    # More depth, more bass: 63 Hz rises by a third and more, the treble hardly changes.
    assert found.absorption[0] > 1.3 * build.material.absorption[0]
    assert found.absorption[6] == pytest.approx(build.material.absorption[6], abs=0.03)
    measured = replace(build, basis="measured")
    assert material_across(measured, corner, scene.air) is build.material
    # With a cover that is not known any more the flat curve stays.
    covered = replace(build, material=replace(build.material, absorption=0.8 * build.material.absorption))
    assert material_across(covered, corner, scene.air) is covered.material


REFUSED = [
    ("", ""),
    ('[[openings]]\nname = "door"\nsurface = "left"\nat = [0.3, 0.0]\nsize = [0.8, 2.0]\n'
     'material = "door-solid-wood"\n', "panel-over-opening"),
    # Clear of the back, but the body ends at 0.55 m and the door's space begins at 0.50 m.
    ('[[openings]]\nname = "door"\nsurface = "left"\nat = [0.5, 0.0]\nsize = [0.8, 2.0]\n'
     'material = "door-solid-wood"\n', "panel-in-the-way"),
    ('[[keep_outs]]\nname = "board"\nsurface = "left"\nat = [0.5, 0.5]\nsize = [0.8, 1.5]\ndepth = 0.4\n'
     'reason = "electrical"\n', "panel-in-electrical-space"),
    ('[[keep_outs]]\nname = "valve"\nsurface = "front"\nat = [0.1, 0.1]\nsize = [0.2, 0.2]\ndepth = 0.1\n'
     'reason = "other"\n', "panel-in-kept-space"),
    ('[[obstacles]]\nname = "pipe"\nat = [0.05, 0.05, 0.0]\nsize = [0.1, 0.1, 2.5]\n'
     'material = "brick-painted"\n', "panel-through-surface"),
    ('[[obstacles]]\nname = "duct"\nat = [0.0, 0.0, 0.0]\nsize = [0.2, 0.2, 2.5]\n'
     'material = "brick-painted"\n', "panel-off-surface"),
    ('[[subwoofers]]\nname = "sub"\nposition = [0.5, 0.5, 0.3]\n', "panel-in-the-way"),
]  # fmt: skip


@pytest.mark.parametrize(("more", "code"), REFUSED, ids=range(len(REFUSED)))
def test_where_it_may_stand(room, more, code):
    here = room(more)
    shell = room()
    p = across(shell)  # the same walls: a duct takes the corner away
    codes = [f.code for f in review_placements(here, (p,))]
    assert codes[:1] == ([code] if code else [])
    around = surroundings_of(here)
    bottoms = {tuple(c.walls): legal_bottoms(here, c, here.builds[0], around) for c in around.corners}
    assert (0.0 in bottoms.get((FRONT, LEFT), ())) == (not code)
    # The corner across the room is free whatever happens here.
    assert bottoms[BACK, RIGHT][:2] == (0.0, 0.15)
    assert max(bottoms[BACK, RIGHT]) <= 2.5 - HIGH


def test_sight_ways_and_walls_that_make_no_corner(scene, room):
    # The picture begins 0.30 m from the left wall, where the back takes 0.45 m.
    wide = room('[screen]\nsurface = "front"\nat = [0.3, 0.8]\nsize = [3.4, 1.4]\n')
    assert [f.code for f in review_placements(wide, (across(wide),))] == ["panel-before-screen"]
    assert review_placements(wide, (across(wide, ("back", "left")),)) == ()
    post = '[[obstacles]]\nname = "sofa"\nat = [0.9, 0.9, 0.0]\nsize = [1.0, 1.0, 0.8]\n'
    post += 'material = "brick-painted"\n'
    full = room(post, heard="")
    assert review_placements(full, (across(full),)) == ()
    ways = replace(full, walkways=Walkways(0.9))
    assert [f.code for f in review_placements(ways, (across(ways),))] == ["panel-narrows-way"]
    # From the corner to the sofa 1.27 m, less 0.318 m and 0.15 m: 0.80 m are left.
    assert review_placements(replace(full, walkways=Walkways(0.78)), (across(ways),)) == ()
    wrong = replace(across(scene), corner=BACK)
    assert [f.code for f in review_placements(scene, (wrong,))] == ["panel-off-surface"]
    with pytest.raises(GeometryError, match="do not meet"):
        evaluate(scene, (wrong,))


def test_blunt_corners_are_refused_in_words(room):
    shape = """[room]
shape = "plan"
corners = [[1, 0], [6, 0], [6, 4], [0, 4], [0, 1]]
names = ["left", "back", "right", "front", "bevel"]
height = 2.5
"""
    bevelled = room(shape=shape, heard="")
    (finding,) = review_placements(bevelled, (across(bevelled, ("bevel", "left")),))
    assert finding.message.startswith("the walls meet at 135 degrees")


def test_it_and_flat_panels_keep_apart(scene):
    """Seen from above both are polygons, upright both are spans: shapely says which overlap."""
    flat = replace(scene, builds=(*scene.builds, flat_build(scene)))
    p = across(flat, bottom=0.3)
    problem = state_problem(flat, (p,))
    assert len(problem.sites) > 200
    leg, inward = WIDE / np.sqrt(2.0), DEEP / np.sqrt(2.0)
    ground = shapely.Polygon(
        [(0, 0), (0, leg), (inward, leg + inward), (leg + inward, inward), (leg, 0)]
    ).buffer(-2e-3)
    for g in np.flatnonzero(problem.sites.corner < 0):
        low, high = problem.sites.body.taken(np.array([g])).bounds[0]
        level = low[2] < 0.3 + HIGH - 2e-3 and high[2] > 0.3 + 2e-3
        assert not (level and shapely.box(*low[:2], *high[:2]).intersects(ground))
    # The other way round: what the choice holds to clash, and nothing else, overlaps.
    free = state_problem(flat)
    s = free.sites
    own = next(
        k for k in np.flatnonzero(s.corner == LEFT) if s.surface[k] == FRONT and s.rectangle[k, 1] == 0.3
    )
    clash = s.clashing(int(own))
    count = 0
    for g in np.flatnonzero(s.corner < 0):
        low, high = s.body.taken(np.array([g])).bounds[0]
        level = low[2] < 0.3 + HIGH - 2e-3 and high[2] > 0.3 + 2e-3
        assert clash[g] == (level and shapely.box(*low[:2], *high[:2]).intersects(ground))
        count += int(clash[g])
    assert count > 5


def test_flat_panels_beside_it(scene):
    """The slab's edge rises from 0.45 m at 45 degrees: 0.1 m off the wall it ends at 0.55 m."""
    build, p = flat_build(scene), across(scene, bottom=0.3)
    for u, codes in ((0.30, ["panels-overlap"]), (0.52, ["panels-overlap"]), (0.56, [])):
        beside = Placement("P2", build, FRONT, Rectangle(u, 0.5, WIDE, HIGH))
        assert [f.code for f in review_placements(scene, (p, beside))] == codes


def flat_build(scene):
    build = scene.builds[0]
    return replace(build, id="flat", thickness=0.1, layers=(), basis="measured", on=("wall",), price=40.0)


def test_the_choice_takes_them_in_pairs(scene):
    """Only corners to choose from: 220 buy two pairs; what each adds is what the evaluation then counts."""
    problem = state_problem(scene)
    s = problem.sites
    assert (s.corner >= 0).all()
    bodies = s.body.bounds
    for k in (0, 5, len(s) - 1):
        twin = s.mirror[k]
        assert s.mirror[twin] == k
        assert bodies[twin, :, 1][::-1] == pytest.approx(4.0 - bodies[k, :, 1])
        assert bodies[twin][:, [0, 2]] == pytest.approx(bodies[k][:, [0, 2]])
        p = Placement("P1", scene.builds[0], int(s.surface[k]), s.at(k), corner=s.across(k))
        change = [e.rows for e in (evaluate(scene), evaluate(scene, (p,)))]
        area = [sum(r.area * r.absorption for r in rows) for rows in change]
        assert problem.added_area[k, 0] == pytest.approx(area[1] - area[0], rel=1e-9, abs=1e-9)
    plan = make_plan(scene)
    assert len(plan.placements) == 4
    assert review_placements(scene, plan.placements) == ()
    middles = {tuple(np.round(corner_of(scene, p).foot, 3)) for p in plan.placements}
    assert {(x, round(4.0 - y, 3), z) for x, y, z in middles} == middles
    assert np.all(plan.after.sabine[1:6] < 0.9 * plan.before.sabine[1:6])
    assert any("mean depth of the corner" in r for r in plan.placements[0].reasons)
    # What hangs stays, and nothing is put into it.
    again = state_problem(scene, plan.placements[:2])
    assert 0 < len(again.sites) < len(s)


def test_plan_files_hold_it_and_read_it_again(scene, tmp_path):
    p = across(scene, bottom=0.2)
    plan = assemble(scene, (p, across(scene, ("back", "right"), name="P2")))
    write_folder(plan, tmp_path / "plan", pictures=False)
    told = json.loads((tmp_path / "plan" / "plan.json").read_text())
    mine = told["placements"][0]
    assert mine["corner"] == ["front", "left"]
    assert mine["surface"] == "front"
    assert mine["corner_m"] == pytest.approx([0.0, 0.2])
    assert mine["size_m"] == pytest.approx([WIDE / np.sqrt(2.0), HIGH], abs=1e-5)
    at = (WIDE / 2.0 + DEEP / 2.0) / np.sqrt(2.0)
    assert mine["centre_m"] == pytest.approx([at, at, 0.2 + HIGH / 2.0], abs=1e-5)
    again = read_placements(scene, tmp_path / "plan")
    for a, b in zip(plan.placements, again, strict=True):
        assert (a.surface, a.corner, a.rectangle) == (b.surface, b.corner, b.rectangle)
    # A hand may turn the walls round, and need not know the leg.
    mine |= {"corner": ["left", "front"], "size_m": [0, 0], "corner_m": [9.0, 0.2]}
    (tmp_path / "plan" / "plan.json").write_text(json.dumps(told))
    turned = read_placements(scene, tmp_path / "plan")[0]
    assert evaluate(scene, (turned,)).volume == pytest.approx(evaluate(scene, (p,)).volume)
    mine["corner"] = ["front", "back"]
    (tmp_path / "plan" / "plan.json").write_text(json.dumps(told))
    with pytest.raises(PlanError, match="do not meet"):
        read_placements(scene, tmp_path / "plan")


def test_sheets_and_drawings_show_it_on_both_walls(scene):
    p = across(scene, bottom=0.2)
    plan = assemble(scene, (p,))
    (row,) = hanging_rows(plan)
    assert row["support"] == "corner of front and left: legs 0.45 m along both walls, from the floor 0.20 m"
    assert "batten" in row["how"]
    assert treated_surfaces(plan) == (FRONT, LEFT)
    assert all(">P1<" in elevation_svg(plan, wall) for wall in (FRONT, LEFT))
    faces = [f for f in drawables(plan).faces if f.name == "P1"]
    # Seen from above the painted body is the pentagon.
    lid = next(f for f in faces if f.normal[2] > 0.5)
    assert shapely.Polygon(lid.rings[0][:, :2]).area == pytest.approx(WIDE**2 / 4.0 + WIDE * DEEP)
    assert lid.rings[0][:, 2] == pytest.approx(0.2 + HIGH)
    assert any(c.startswith("Panels across corners (P1)") for c in cautions_for(scene, (p,)))
    assert Rectangle(0.0, 0.2, 0.5, 1.0).overlaps(p.rectangle)


def test_surfaces_that_a_plan_may_not_use(scene):
    """A corner needs both its walls."""
    limits = replace(scene.limits, surfaces=("front", "back", "left"))
    s = state_problem(replace(scene, limits=limits)).sites
    assert {(int(a), int(b)) for a, b in zip(s.surface, s.corner, strict=True)} == {
        (FRONT, LEFT),
        (BACK, LEFT),
    }


def test_a_draft_of_the_page_keeps_it(scene):
    """Moved along its wall it stays in the corner; carried to a wall that makes none it is told, not lost."""
    p = across(scene, bottom=0.2)
    panel = read_panel(panel_document(hung(p, scene)))
    (same,), findings = placements([replace(panel, u=2.0)], scene, scene.builds)
    assert not findings
    assert (same.surface, same.corner) == (p.surface, p.corner)
    assert same.rectangle.bounds == pytest.approx(p.rectangle.bounds, abs=1e-4)
    made, findings = placements([replace(panel, surface="right")], scene, scene.builds)
    assert made == ()
    assert [f.code for f in findings] == ["panel-homeless"]
