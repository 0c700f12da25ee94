"""Niches, alcoves and dormers of a scene file: names, materials, refusals, and the same room as a mesh."""

import math
from pathlib import Path

import numpy as np
import pytest
from recess_rooms import dormer_room, niche_room

from treatment.acoustics.modes import box_modes, room_modes
from treatment.geometry.polygon import Rectangle
from treatment.planning.bass import predict_bass
from treatment.planning.candidates import find_sites
from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.planning.passable import free_floor
from treatment.planning.plan import Placement
from treatment.scene.model import Scene

STANDING = """
[[loudspeakers]]
name = "L"
position = [0.8, 1.0, 1.1]
[[loudspeakers]]
name = "R"
position = [0.8, 2.9, 1.1]
[[subwoofers]]
name = "S"
position = [0.4, 0.5, 0.3]
[[seats]]
name = "middle"
position = [3.1, 1.9, 1.2]
[[seats]]
name = "rear"
position = [3.9, 2.4, 1.2]
"""
MATERIALS = """
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
left = "brick-painted"
"""
BOX = '[room]\nshape = "box"\nlength = 5.0\nwidth = 3.8\nheight = 2.4\n' + STANDING
NICHE = """
[[recesses]]
name = "niche"
surface = "right"
at = [2.0, 0.9]
size = [1.2, 1.0]
depth = 0.35
"""
ATTIC = """
[room]
shape = "plan"
corners = [[0, 0], [5, 0], [5, 4.2], [0, 4.2]]
names = ["left", "back", "right", "front"]
height = 2.4
[[room.ceiling]]
wall = "left"
knee = 1.0
pitch = 45
[[room.ceiling]]
wall = "right"
knee = 1.0
pitch = 45
"""
DORMER = """
[[recesses]]
name = "dormer"
kind = "dormer"
surface = "slope-left"
at = [2.0, 0.3]
size = [1.2, 1.2]
"""


def surfaces(scene: Scene) -> dict[str, tuple[str, str, float]]:
    return {s.name: (s.material.id, s.kind, round(s.polygon.area, 9)) for s in scene.surfaces}


def told(scene: Scene):
    """What is predicted, in an order that does not depend on that of the surfaces."""
    e = evaluate(scene, ())
    a = e.arrivals
    order = np.lexsort((a.length.round(6), a.order, a.seat, a.source))
    names = [tuple(a.names[i]) for i in order]
    return e, a.length[order], a.level_db[order], names


def assert_same_numbers(one: Scene, other: Scene, names: bool = True, levels: bool = True):
    assert other.enclosure.volume == pytest.approx(one.enclosure.volume, rel=1e-9)
    assert other.enclosure.area == pytest.approx(one.enclosure.area, rel=1e-9)
    (e, length, level, told_names), (f, length_f, level_f, names_f) = told(one), told(other)
    for times in ("eyring", "sabine"):
        assert getattr(f, times) == pytest.approx(getattr(e, times), rel=1e-9)
    assert len(length) == len(length_f) > 40
    assert length_f == pytest.approx(length, rel=1e-9)
    if levels:
        assert level_f == pytest.approx(level, abs=1e-6)
    if names:
        assert told_names == names_f
    r, modes = (room_modes(s.enclosure, 343.2, 90.0).frequency_hz for s in (one, other))
    assert modes == pytest.approx(r, rel=1e-6)


def test_faces_have_names_materials_and_kinds(load):
    scene = load(BOX + NICHE + MATERIALS + '"niche-back" = "window-ordinary-glass"\n')
    made = surfaces(scene)
    assert made["niche-back"] == ("window-ordinary-glass", "wall", 1.2)
    assert made["niche-left"] == ("gypsum-board-on-studs", "wall", 0.35)
    assert made["niche-bottom"][1:] == ("floor", pytest.approx(0.42))
    assert made["niche-top"][1] == "ceiling"
    assert made["right"][2] == pytest.approx(5.0 * 2.4 - 1.2)
    by_name = {s.name: s for s in scene.surfaces}
    assert by_name["niche-back"].recess == "niche"
    assert not by_name["niche-bottom"].ground
    assert by_name["floor"].ground
    # The wall keeps its own readings.
    assert by_name["right"].polygon.bounds == (0.0, 0.0, 5.0, 2.4)
    assert scene.hall.tolist() == [[0.0, 0.0, 0.0], [5.0, 3.8, 2.4]]
    assert scene.enclosure.bounds[1, 1] == pytest.approx(4.15)


def test_an_alcove_goes_on_with_the_floor_and_is_of_its_own_material_else(load):
    text = NICHE.replace("[2.0, 0.9]", "[2.0, 0]").replace("niche", "alcove")
    scene = load(BOX + text + 'material = "brick-unglazed"\n' + MATERIALS)
    made = surfaces(scene)
    assert made["alcove-bottom"][0] == "carpet-heavy-on-concrete"
    assert {made[f"alcove-{s}"][0] for s in ("back", "left", "right", "top")} == {"brick-unglazed"}
    assert next(s for s in scene.surfaces if s.name == "alcove-bottom").ground


@pytest.mark.parametrize(
    ("text", "room"),
    [(BOX + NICHE, niche_room), (ATTIC + DORMER + STANDING, dormer_room)],
    ids=["niche", "dormer"],
)
def test_the_same_room_as_a_mesh_has_the_same_numbers(load, tmp_path, text, room):
    scene = load(text + MATERIALS)
    vertices, faces = room()
    mesh = "\n".join(
        [f"v {x!r} {y!r} {z!r}" for x, y, z in vertices]
        + [
            line
            for name, parts in faces.items()
            for line in (f"g {name}", *("f " + " ".join(str(c + 1) for c in part) for part in parts))
        ]
    )
    (tmp_path / "room.obj").write_text(mesh + "\n")
    other = load('[room]\nshape = "mesh"\nfile = "room.obj"\nunit = "m"\n' + STANDING + MATERIALS)
    assert surfaces(other) == surfaces(scene)
    assert_same_numbers(scene, other)


def test_a_wall_that_is_all_mouth_makes_a_longer_room(load):
    text = (
        BOX
        + MATERIALS
        + NICHE.replace("right", "back")
        .replace("[2.0, 0.9]", "[0, 0]")
        .replace("[1.2, 1.0]", "[3.8, 2.4]")
        .replace("0.35", "1.2")
    )
    scene = load(text)
    longer = load(BOX.replace("length = 5.0", "length = 6.2") + MATERIALS)
    assert "back" not in surfaces(scene)
    assert surfaces(scene)["niche-right"][0] == "brick-painted"  # it goes on with the left wall
    assert_same_numbers(scene, longer, names=False)


def test_an_alcove_from_floor_to_ceiling_is_one_of_the_plan(load):
    scene = load(
        BOX
        + MATERIALS.replace("left", "right")
        + NICHE.replace("[2.0, 0.9]", "[2.0, 0]").replace("1.0]", "2.4]")
    )
    plan = load(
        '[room]\nshape = "plan"\nheight = 2.4\n'
        "corners = [[0, 0], [5, 0], [5, 3.8], [3.2, 3.8], [3.2, 4.15], [2, 4.15], [2, 3.8], [0, 3.8]]\n"
        'names = ["left", "back", "right", "n1", "n2", "n3", "right-2", "front"]\n'
        + STANDING
        + '[surfaces]\ndefault = "gypsum-board-on-studs"\nfloor = "carpet-heavy-on-concrete"\n'
        + "\n".join(f'{n} = "brick-painted"' for n in ("right", "n1", "n2", "n3", "right-2"))
    )
    # Edges of one wall with a gap, and of two walls beside it, are not told to hide alike.
    assert_same_numbers(scene, plan, names=False, levels=False)


def test_a_recess_may_begin_in_a_recess(load):
    reveal = """
[[recesses]]
name = "reveal"
surface = "niche-back"
at = [0.3, 0.2]
size = [0.6, 0.5]
depth = 0.2
material = "brick-unglazed"
"""
    window = """
[[openings]]
name = "window"
surface = "reveal-back"
at = [0, 0]
size = [0.6, 0.5]
material = "window-ordinary-glass"
"""
    scene = load(BOX + NICHE + reveal + window + MATERIALS)
    assert scene.enclosure.volume == pytest.approx(5 * 3.8 * 2.4 + 1.2 * 0.35 + 0.6 * 0.5 * 0.2, rel=1e-12)
    where = scene.surfaces[scene.openings[0].surface].polygon
    assert where.to_room([0.0, 0.0]) == pytest.approx([2.3, 4.35, 1.1])
    assert "reveal-back" not in {r.name for r in evaluate(scene, ()).rows if np.any(r.area > 1e-6)}


def test_modes_and_schroeder_know_the_air_in_a_recess(load):
    plain, scene = load(BOX + MATERIALS), load(BOX + NICHE + MATERIALS)
    bass = predict_bass(scene)
    assert bass.modes.volume == pytest.approx(5 * 3.8 * 2.4 + 0.42, rel=1e-6)
    # First order: where a mode has all its pressure at a wall, a pocket of volume v there counts as v / V of
    # length added (a whole wall moved by d lowers f by d / L): df / f = -v / V.
    low, size = np.zeros(3), np.array([5.0, 3.8, 2.4])
    across = 343.2 / 2 / 3.8
    first = box_modes(low, size, 343.2, 90.0).frequency_hz
    found = room_modes(scene.enclosure, 343.2, 90.0).frequency_hz
    k = int(np.argmin(np.abs(first - across)))
    assert first[k] == pytest.approx(across)
    assert found[k] / across - 1.0 == pytest.approx(-0.42 / 45.6, rel=0.35)
    e, f = evaluate(plain, ()), evaluate(scene, ())
    times = (f.eyring[3:5].mean() / e.eyring[3:5].mean()) * 45.6 / 46.02
    assert f.schroeder_hz / e.schroeder_hz == pytest.approx(np.sqrt(times), rel=1e-3)


def panel(scene: Scene, surface: str, u: float, v: float, build: str = "wool-50") -> Placement:
    made = next(b for b in scene.builds if b.id.startswith(build))
    at = Rectangle(u, v, made.outer_width, made.outer_height)
    return Placement("P1", made, scene.surface_index(surface), at)


def test_no_panel_over_a_mouth_but_one_in_the_back(load):
    text = NICHE.replace("[2.0, 0.9]", "[1.6, 0.4]").replace("[1.2, 1.0]", "[1.6, 1.6]")
    scene = load(BOX + text + MATERIALS)
    over = review_placements(scene, [panel(scene, "right", 1.3, 0.6)])
    assert [(f.code, f.severity) for f in over] == [("panel-off-surface", "error")]
    assert "mouth of 'niche'" in over[0].message
    assert review_placements(scene, [panel(scene, "niche-back", 0.4, 0.2)]) == ()
    assert review_placements(scene, [panel(scene, "right", 3.4, 0.6)]) == ()
    # Nor does the planner choose a place over the mouth, and it finds those in the back.
    sites = find_sites(scene, (), scene.builds)
    right = sites.rectangle[sites.surface == scene.surface_index("right")]
    mouth = Rectangle(1.6, 0.4, 1.6, 1.6)
    assert len(right) > 5
    assert not any(Rectangle(a, b, c - a, d - b).overlaps(mouth) for a, b, c, d in right)
    assert (sites.surface == scene.surface_index("niche-back")).any()
    # A body deeper than the niche is wide of its sides: none reaches through them.
    for i, r in zip(sites.surface, sites.rectangle, strict=True):
        low_u, _, _, high_v = scene.surfaces[i].polygon.bounds
        assert r[0] >= low_u
        assert r[3] <= high_v


OPENING = """
[[openings]]
name = "window"
surface = "{}"
at = [{}, {}]
size = [0.8, 0.8]
material = "window-ordinary-glass"
"""


def second(name: str, at: str = "[3.3, 0.9]", depth: str = "0.35", surface: str = "right") -> str:
    """A niche beside the first one."""
    text = NICHE.replace('"niche"', f'"{name}"').replace("[2.0, 0.9]", at).replace('"right"', f'"{surface}"')
    return text.replace("depth = 0.35", f"depth = {depth}" if depth else "")


LAMP = '[[keep_outs]]\nname = "lamp"\nsurface = "right"\nat = [3, 1]\nsize = [0.4, 0.4]\n'
CUPBOARD = """
[[obstacles]]
name = "cupboard"
at = [1.9, 3.4, 0]
size = [1.4, 0.4, 2.0]
material = "steel"
"""


@pytest.mark.parametrize(
    ("extra", "code", "word"),
    [
        (OPENING.format("right", 1.4, 1.0), "opening-over-recess", "niche-back"),
        (LAMP, "keep-out-over-recess", "niche"),
        (second("other", "[3.0, 0.9]"), "recesses-overlap", "niche"),
        (second("other", "[3.203, 0.9]"), "recesses-meet", "niche"),
        (second("other", "[4.0, 0.9]"), "recess-outside-surface", "right"),
        (second("other", surface="rihgt"), "unknown-surface", "right"),
        (second("deep", depth="350"), "recess-too-deep", "unit"),
        (second("flat", depth="0.0035"), "recess-too-small", "unit"),
        (second("deep", depth="2.0"), "recess-deep", "unit"),
        (second("thin", depth="0.05"), "recess-shallow", "leave"),
        (second("gap", "[3.79, 0.9]"), "recess-gap", "edge"),
        (second("none", depth=""), "recess-unclear", "depth"),
        (second("roof", depth="0.3\nroof_pitch = 10"), "recess-unclear", "dormer"),
        (DORMER.replace("slope-left", "left"), "dormer-not-on-slope", "upright"),
        (DORMER.replace("slope-left", "ceiling"), "dormer-not-on-slope", "level"),
        (DORMER.replace('kind = "dormer"', 'kind = "bay"'), "recess-unclear", "niche"),
        (CUPBOARD, "obstacle-divides-room", "niche"),
        (second("niche-back"), "duplicate-name", "niche-back"),
        (second("niche"), "duplicate-name", "niche"),
        (OPENING.format("left", 1, 1).replace('"window"', '"niche"'), "duplicate-name", "niche"),
    ],
)
def test_what_is_found(find, extra, code, word):
    found = find(BOX + NICHE + extra + MATERIALS)
    others = {f.code for f in found.values() if f.severity != "note"} - {code}
    assert not others
    assert word in found[code].message + found[code].hint


def test_a_recess_that_is_too_small_is_told_in_the_units_of_the_scene(find):
    found = find('units = "ft"\n' + BOX + NICHE + second("flat", depth='"12 mm"') + MATERIALS)
    assert "1/2 in (12.0 mm)" in found["recess-too-small"].message


def test_a_recess_that_leads_back_into_the_room(find):
    """From the inner corner of an L: the pocket of one wall comes out of the other."""
    text = (
        '[room]\nshape = "plan"\nheight = 2.4\nnames = ["a", "b", "c", "d", "e", "f"]\n'
        "corners = [[0, 0], [5, 0], [5, 2.5], [3.5, 2.5], [3.5, 4.2], [0, 4.2]]\n"
        + STANDING.replace("3.9, 2.4", "3.9, 1.4")
        + MATERIALS.replace("left", "a")
        + '[[recesses]]\nname = "niche"\nsurface = "c"\nat = [{}, 0.5]\nsize = [0.6, 1.0]\ndepth = {}\n'
    )
    # Wall c runs from (5, 2.5) to (3.5, 2.5) and looks to the left; wall d goes on to the right from there.
    assert find(text.format(0.5, 0.4)).keys() <= {"bands-assumed", "sources-disagree"}
    assert "recess-into-room" in find(text.format(0.9, 0.4))  # its side lies in the outside of wall d
    other = text.replace('"c"', '"d"')
    assert "recess-into-room" not in find(other.format(0.5, 0.4))
    back = text.replace("[3.5, 2.5], [3.5, 4.2]", "[3.5, 2.5], [4.6, 4.2]")
    assert "recess-into-room" in find(back.format(0.6, 1.2))


def test_one_mistake_is_told_once(find):
    """What is on the faces of a recess that does not fit is not told as well."""
    wrong = NICHE.replace("[2.0, 0.9]", "[4.5, 0.9]")
    window = OPENING.format("niche-back", 0.1, 0.1)
    found = find(BOX + wrong + window + MATERIALS + '"niche-top" = "steel"\n')
    assert {c for c, f in found.items() if f.severity != "note"} == {"recess-outside-surface"}


def test_what_stands_in_a_recess(load, find):
    solid = '[[obstacles]]\nname = "box"\nat = [{}]\nsize = [{}]\nmaterial = "steel"\n'
    shelf = load(BOX + NICHE + MATERIALS + solid.format("2.0, 3.8, 0.9", "1.2, 0.35, 0.3"))
    assert shelf.enclosure.volume == pytest.approx(5 * 3.8 * 2.4 + 1.2 * 0.35 * 0.7, rel=1e-12)
    stands_out = load(BOX + NICHE + MATERIALS + solid.format("2.4, 3.5, 0.9", "0.4, 0.65, 0.3"))
    taken = 0.4 * 0.65 * 0.3
    assert stands_out.enclosure.volume == pytest.approx(5 * 3.8 * 2.4 + 0.42 - taken, rel=1e-12)
    assert "obstacle-outside-room" in find(
        BOX + NICHE + MATERIALS + solid.format("1.8, 3.5, 0.9", "0.4, 0.5, 0.3")
    )
    # A beam that runs on beyond the wall in line with the niche ends at the wall.
    beam = find(BOX + NICHE + MATERIALS + solid.format("1.8, 3.5, 0.9", "0.4, 0.5, 0.3"))
    assert "at = [1.8, 3.5, 0.9], size = [0.4, 0.3, 0.3]" in beam["obstacle-outside-room"].hint
    # Under the dormer a cupboard may be higher than the slope; beside it the slope cuts it.
    high = solid.format("2.2, 0.3, 0", "0.8, 0.4, 1.7")
    under = load(ATTIC + DORMER + STANDING + MATERIALS + high)
    assert under.enclosure.volume == pytest.approx(
        load(ATTIC + DORMER + STANDING + MATERIALS).enclosure.volume - 0.8 * 0.4 * 1.7, rel=1e-9
    )


def test_the_recesses_of_the_guide(load):
    guide = (Path(__file__).parents[2] / "docs" / "guide" / "scene-file.md").read_text(encoding="utf-8")
    drawn = guide.split("## `[[recesses]]`", 1)[1].split("```toml\n", 1)[1].split("```", 1)[0]
    _, alcove, dormer = drawn.split("[[recesses]]")
    scene = load(BOX + "[[recesses]]" + alcove + MATERIALS)
    assert scene.enclosure.volume == pytest.approx(5 * 3.8 * 2.4 + 1.2 * 2.1 * 0.4, rel=1e-12)
    plain, scene = (
        load(ATTIC + STANDING + MATERIALS),
        load(ATTIC + STANDING + "[[recesses]]" + dormer + MATERIALS),
    )
    added = 1.4 * (1.45 * math.sqrt(0.5)) ** 2 / 2
    assert scene.enclosure.volume == pytest.approx(plain.enclosure.volume + added, rel=1e-9)


def test_a_hair_off_the_edge_is_the_edge(load):
    """Half a millimetre of wall is none."""
    scene = load(BOX + NICHE.replace("[2.0, 0.9]", "[3.7995, 0.0004]") + MATERIALS)
    assert scene.enclosure.volume == pytest.approx(5 * 3.8 * 2.4 + 1.2005 * 1.0004 * 0.35, rel=1e-9)
    assert scene.surfaces[scene.surface_index("niche-bottom")].continues


def test_one_walks_into_an_alcove_but_not_over_a_sill(load):
    alcove = NICHE.replace("[2.0, 0.9]", "[2.0, 0]")
    areas = [
        free_floor(load(BOX + n + MATERIALS), np.zeros((0, 2, 3)), 0.0).area for n in ("", NICHE, alcove)
    ]
    assert areas[1] == pytest.approx(areas[0], abs=1e-3)
    assert areas[2] == pytest.approx(areas[0] + 1.2 * 0.35, abs=1e-3)


def test_a_screen_may_hang_before_an_alcove(load):
    screen = "[screen]\nat = [0.6, 0.6]\nsize = [2.2, 1.3]\ndistance = 0.05\nsound_passes = true\n"
    scene = load(BOX + NICHE.replace("right", "front").replace("[2.0,", "[1.2,") + screen + MATERIALS)
    assert scene.screen is not None
    assert scene.surfaces[scene.screen.surface].name == "front"
