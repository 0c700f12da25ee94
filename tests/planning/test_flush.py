"""Walls drawn in parts: those of one material are one wall, different ones fade into each other."""

from dataclasses import replace

import numpy as np
import pytest

from treatment import bands
from treatment.geometry.polygon import Rectangle
from treatment.planning.early import LEAST_SHARE, coverage, early_field
from treatment.planning.evaluate import evaluate
from treatment.planning.extent import treatment_extents
from treatment.planning.plan import Placement
from treatment.planning.problem import state_problem
from treatment.scene.load import load_scene

SCENE = """
[room]
shape = "plan"
corners = [{corners}]
height = 2.5
[surfaces]
default = "gypsum-board-on-studs"
{walls}
[[openings]]
name = "door"
surface = "{door}"
at = [{door_at}, 0.0]
size = [0.82, 2.03]
material = "door-solid-wood"
[[loudspeakers]]
name = "L"
position = [1.0, 1.2, 1.1]
[[seats]]
name = "only"
position = [{x}, 1.2, 1.1]
spread = {spread}
[budget]
amount = 100
"""
WHOLE = {
    "corners": "[0, 0], [5, 0], [5, 4], [0, 4]",
    "walls": 'names = ["left", "back", "right", "front"]',
    "door": "left",
    "door_at": "2.5",
}
PARTS = {
    "corners": "[0, 0], [2.4, 0], [5, 0], [5, 4], [0, 4]",
    "walls": 'names = ["left", "left-2", "back", "right", "front"]',
    "door": "left-2",
    "door_at": "0.1",
}


@pytest.fixture
def room(tmp_path):
    def make(drawn, x=3.8, spread=0.2, walls=""):
        path = tmp_path / "scene.toml"
        names = drawn["walls"]
        text = SCENE.format(**{**drawn, "walls": walls, "x": x, "spread": spread})
        path.write_text(text.replace("height = 2.5", f"height = 2.5\n{names}"))
        return load_scene(path)[0]

    return make


def test_a_wall_drawn_in_parts_is_one_wall(room):
    """Same levels with a panel before the joint and a door behind it, and the same arrivals for the plan."""
    whole, parts = room(WHOLE), room(PARTS)
    problem = state_problem(whole)
    build = problem.builds[int(np.argmax([b.material.capped[4] for b in problem.builds]))]
    panel = Placement("P1", build, 0, Rectangle(1.6, 0.5, build.outer_width, build.outer_height))
    for placements in ((), (panel,)):
        one, two = (evaluate(scene, placements).arrivals for scene in (whole, parts))
        order = [np.lexsort((a.length.round(6), a.order)) for a in (one, two)]
        assert two.level_db[order[1]] == pytest.approx(one.level_db[order[0]], abs=1e-6)
    # Half of the head's area is heard by way of each part: still one arrival, with the same zone.
    fields = [early_field(scene, (panel,)) for scene in (whole, parts)]
    assert {0, 1} <= set(fields[1].paths.surfaces[:, 0].tolist())
    one, two = (np.sort(f.arrival_energy(f.member_energy(f.bare)), axis=0) for f in fields)
    assert two == pytest.approx(one, rel=1e-9)
    first, second = (
        next(x for x in treatment_extents(scene) if x.surface == 0).zones for scene in (whole, parts)
    )
    assert second.bounds == pytest.approx(first.bounds, abs=1e-9)


def test_a_panel_beside_a_joint_counts_for_the_other_part(room):
    whole, parts = room(WHOLE), room(PARTS)
    shares = []
    for scene in (whole, parts):
        sites = state_problem(scene).sites
        assert sites.surface[0] == 0
        # Both drawings have sites of their own: the first one is put where the same panel hangs in both.
        sites = replace(sites, face=np.vstack([[1.5, 0.6, 2.1, 1.8], sites.face[1:]]))
        cover = coverage(scene, early_field(scene), sites)
        shares.append(np.sort(np.abs(cover.share[cover.site == 0]), axis=0))
    assert len(shares[0]) > 4
    assert shares[0].max() > 4 * LEAST_SHARE
    assert shares[1] == pytest.approx(shares[0], abs=1e-9)


@pytest.mark.parametrize("spread", [0.2, 0.0])
def test_a_joint_of_two_materials_does_not_make_the_level_jump(room, spread):
    """The seat moves by 1 mm over the joint of carpet and concrete, where a switch would be 3 dB and more."""
    walls = 'left = "carpet-heavy-on-concrete"\nleft-2 = "concrete-smooth-unpainted"'
    parts = {**PARTS, "door": "right"}
    levels, names = [], []
    for x in 3.8 + np.arange(-0.004, 0.005, 0.001):
        a = evaluate(room(parts, x, spread, walls), order=1).arrivals
        (k,) = [i for i, n in enumerate(a.names) if n in (("left",), ("left-2",))]
        levels.append(a.level_db[k])
        names.append(a.names[k])
    assert {("left",), ("left-2",)} == set(names)
    step = np.abs(np.diff(levels, axis=0)).max()
    switch = room(parts, 3.8, spread, walls).surfaces
    alone = bands.decibels(1.0 - np.array([s.material.capped for s in switch[:2]]))
    assert np.abs(alone[1] - alone[0]).max() > 3.0
    assert step < 0.05
