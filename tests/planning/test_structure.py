"""Studs, joists, suspended ceilings: panels meet them, and the sheet says where.

Figures by hand: 25 mm inside the panel's edge, 12 mm inside the timber's (common practice).
"""

from dataclasses import replace

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.candidates import find_sites, may_hang
from treatment.planning.cautions import cautions_for
from treatment.planning.legal import review_placements
from treatment.planning.make import assemble
from treatment.planning.members import carried, fixing_points, tile_refusal
from treatment.planning.plan import Placement
from treatment.planning.problem import state_problem
from treatment.present.documents import plan_document
from treatment.present.hanging import hanging_rows
from treatment.scene.load import load_scene
from treatment.scene.structure import Framing

ROOM = """title = "framed"
panels = [{panels}]
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.5
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
{more}
[[keep_outs]]
name = "lamp"
surface = "ceiling"
at = [2.1, 1.9]
size = [0.2, 0.2]
reason = "luminaire"
[[loudspeakers]]
name = "L"
position = [0.7, 1.2, 1.1]
[[loudspeakers]]
name = "R"
position = [0.7, 2.8, 1.1]
[[seats]]
name = "seat"
position = [3.1, 2.0, 1.1]
[budget]
amount = 300
[builds.tile]
width = 0.595
height = 0.595
thickness = 0.04
air_gap = 0.2
layers = [{{ airflow_resistivity = 12500, thickness = 0.04, density = 48 }}]
price = 15
on = ["ceiling"]
[builds.panel]
width = 0.6
height = 1.2
thickness = 0.05
frame_thickness = 0.018
layers = [{{ airflow_resistivity = 12500, thickness = 0.05, density = 48 }}]
price = 25
"""
STUDS = """[[framing]]
surface = "left"
spacing = {spacing}
first = {first}
"""
GRID = """[[tile_grids]]
surface = "ceiling"
tile = [0.6, 0.6]
first = [0.1, 0.2]
mass_per_tile = {mass}
"""
LEFT, CEILING = 2, 5


def room(tmp_path, more="", panels='"panel", "tile"'):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(more=more, panels=panels))
    return load_scene(path)[0]


def build(scene, name):
    return next(b for b in scene.builds if b.id == name)


@pytest.mark.parametrize(
    ("low", "width", "points"),
    [
        # Studs at 0.1, 0.5, 0.9, ...: 0.3 to 0.936 holds those at 0.5 and 0.9 in its middle.
        (0.30, 0.636, ((2, 0.5), (3, 0.9))),
        # 0.50 + 0.025 is 25 mm beside the stud's middle, whose face ends 22.5 mm from it.
        (0.50, 0.636, ()),
        # 0.485 + 0.025 = 0.51: 10 mm beside the middle, inside 22.5 - 12 = 10.5 mm; the next is at 0.9.
        (0.485, 0.636, ((2, 0.51), (3, 0.9))),
        # A long one takes the outermost two of 0.5, 0.9 and 1.3.
        (0.30, 1.236, ((2, 0.5), (4, 1.3))),
    ],
)
def test_where_the_screws_go(low, width, points):
    framing = Framing(LEFT, 0.4, 0.1, "u", 0.045)
    found = fixing_points(framing, Rectangle(low, 0.5, width, 1.0))
    assert [n for n, _ in found] == [n for n, _ in points]
    assert [x for _, x in found] == pytest.approx([x for _, x in points], abs=1e-9)
    assert carried(framing, np.array([[low, 0.5, low + width, 1.5]]))[0] == bool(points)


@pytest.mark.parametrize("spacing", [0.40, 0.45, 0.60, 0.625])
def test_sites_meet_two_studs_and_others_are_left_out(tmp_path, spacing):
    scene, free = room(tmp_path, STUDS.format(spacing=spacing, first=0.13)), room(tmp_path)
    panel = (build(scene, "panel"),)
    sites, without = find_sites(scene, (), panel), find_sites(free, (), panel)
    on = sites.rectangle[sites.surface == LEFT]
    assert len(on) > 0
    for u in on[:, [0, 2]]:
        studs = 0.13 + spacing * np.arange(20)
        assert np.sum((studs > u[0] + 0.025 - 0.0106) & (studs < u[1] - 0.025 + 0.0106)) >= 2
    other = sites.surface != LEFT
    assert np.array_equal(sites.rectangle[other], without.rectangle[without.surface != LEFT])


def test_at_600_mm_an_upright_panel_sits_evenly_on_its_studs(tmp_path):
    """Studs at 0.13 and 0.73: the middle of a panel of 0.636 m at 0.43, so its edge at 0.112, to 5 mm."""
    scene = room(tmp_path, STUDS.format(spacing=0.6, first=0.13))
    sites = find_sites(scene, (), (build(scene, "panel"),))
    on = sites.rectangle[sites.surface == LEFT]
    upright = on[np.isclose(on[:, 2] - on[:, 0], 0.636)]
    assert np.isclose(upright[:, 0], 0.11, atol=1e-9).any()


def test_the_sheet_names_the_studs(tmp_path):
    scene = room(tmp_path, STUDS.format(spacing=0.4, first=0.1))
    p = Placement("P1", build(scene, "panel"), LEFT, Rectangle(0.3, 0.5, 0.636, 1.236))
    (row,) = hanging_rows(assemble(scene, (p,)))
    assert row["how"].endswith("screws at 0.50 m and 0.90 m from the front wall, into studs 2 and 3")
    off_words = hanging_rows(assemble(scene, (replace(p, rectangle=Rectangle(0.5, 0.5, 0.636, 1.236)),)))
    assert "fewer than two studs" in off_words[0]["support"]
    off = Placement("P1", build(scene, "panel"), LEFT, Rectangle(0.5, 0.5, 0.636, 1.236))
    assert [f.code for f in review_placements(scene, (p,))] == []
    assert [f.code for f in review_placements(scene, (off,))] == ["panel-without-support"]


def test_a_suspended_ceiling_takes_whole_tiles_only(tmp_path):
    scene = room(tmp_path, GRID.format(mass=4.0))
    tile, panel = build(scene, "tile"), build(scene, "panel")
    assert may_hang(scene, CEILING, tile)
    assert not may_hang(scene, CEILING, panel)
    assert "no whole number of tiles" in tile_refusal(scene.tile_grids[0], panel)
    large = replace(tile, width=tile.width + 0.008)
    assert "0.603 x 0.595 m is no whole number of tiles of 0.600" in tile_refusal(scene.tile_grids[0], large)
    sites = find_sites(scene, (), scene.builds)
    on = sites.rectangle[sites.surface == CEILING]
    # Rails from 0.1 to 4.9 and from 0.2 to 3.8: 8 by 6 fields. The lamp reaches over 1.9 to 2.5 by 1.4 to 2.0
    # and the field beyond it: at 0.1 + 3 x 0.6 = 1.9 and at 0.2 + 2 x 0.6 = 1.4 and 2.0; both are lost.
    assert len(on) == 48 - 2
    number = (on[:, :2] - 0.0025 - [0.1, 0.2]) / 0.6
    assert np.allclose(number, np.round(number), atol=1e-6)


def test_a_tile_that_is_too_heavy_is_refused(tmp_path):
    """0.595 x 0.595 x 0.04 m at 48 kg/m3 weighs 0.68 kg."""
    assert (
        tile_refusal(room(tmp_path, GRID.format(mass=0.7)).tile_grids[0], build(room(tmp_path), "tile")) == ""
    )
    scene = room(tmp_path, GRID.format(mass=0.6))
    assert "weighs 0.7 kg a tile" in tile_refusal(scene.tile_grids[0], build(scene, "tile"))
    assert not (find_sites(scene, (), scene.builds).surface == CEILING).any()


def test_rows_and_columns_of_tiles(tmp_path):
    scene = room(tmp_path, GRID.format(mass=4.0))
    # The field from 1.3 to 1.9 m is the third along u, that from 0.8 to 1.4 m the second along v.
    p = Placement("P1", build(scene, "tile"), CEILING, Rectangle(1.3025, 0.8025, 0.595, 0.595))
    (row,) = hanging_rows(assemble(scene, (p,)))
    assert row["how"].startswith("tile column 3 from the front wall, row 2 from the left wall")
    assert row["fixings"] == "the grid"
    assert any(c.startswith("Suspended ceiling (P1)") for c in cautions_for(scene, (p,)))
    beside = Placement("P1", build(scene, "tile"), CEILING, Rectangle(1.45, 0.8025, 0.595, 0.595))
    assert [f.code for f in review_placements(scene, (p,))] == []
    assert [f.code for f in review_placements(scene, (beside,))] == ["panel-without-support"]


def test_plan_json_tells_members_and_tiles(tmp_path):
    scene = room(tmp_path, STUDS.format(spacing=0.4, first=0.1) + GRID.format(mass=4.0))
    hung = Placement("P1", build(scene, "panel"), LEFT, Rectangle(0.485, 0.5, 0.636, 1.236))
    tile = Placement("P2", build(scene, "tile"), CEILING, Rectangle(1.3025, 0.8025, 0.595, 0.595))
    wall, ceiling = plan_document(assemble(scene, (hung, tile)))["placements"]
    at = [m["at_m"] for m in wall["members"]]
    assert at == pytest.approx([0.51, 0.9], abs=1e-6)
    assert [m["number"] for m in wall["members"]] == [2, 3]
    assert ceiling["tiles"] == {"columns": [3, 3], "rows": [2, 2]}


def test_the_choice_takes_tiles(tmp_path):
    """Their gap lies above the grid, so their sites are as deep as the body alone."""
    scene = room(tmp_path, GRID.format(mass=4.0))
    problem = state_problem(scene)
    on = problem.sites.surface == CEILING
    names = [b.id for b in problem.builds]
    assert problem.allowed[on, names.index("tile")].all()
    assert not problem.allowed[on, names.index("panel")].any()
