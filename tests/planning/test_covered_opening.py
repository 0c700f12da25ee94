"""A panel before a door or a window: what it hides counts once, in areas and in reflections.

By hand, and against the same room without the opening: a panel over all of it leaves nothing of it.
"""

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Placement
from treatment.scene.load import load_scene

ROOM = """title = "hatch"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.5
[surfaces]
default = "brick-painted"
{opening}
[[loudspeakers]]
name = "L"
position = [1.0, 1.5, 1.2]
[[seats]]
name = "seat"
position = [3.0, 1.5, 1.2]
spread = 0.1
[builds.felt]
width = 0.9
height = 1.2
thickness = 0.05
layers = [{{ airflow_resistivity = 10000, thickness = 0.05 }}]
"""
HATCH = """[[openings]]
name = "hatch"
surface = "left"
at = [1.5, 0.6]
size = [0.9, 1.2]
material = "door-solid-wood"
"""
LEFT = 2


def room(tmp_path, opening=HATCH):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(opening=opening))
    return load_scene(path)[0]


def felt(scene, u, v):
    build = next(b for b in scene.builds if b.id == "felt")
    return Placement("P1", build, LEFT, Rectangle(u, v, 0.9, 1.2))


def test_areas_by_hand(tmp_path):
    """Shifted by 0.3 and 0.2 m it hides 0.6 x 1.0 m of the hatch's 1.08 m2."""
    scene = room(tmp_path)
    rows = {r.name: r.area for r in evaluate(scene, (felt(scene, 1.8, 0.8),)).rows}
    assert rows["hatch"] == pytest.approx(1.08 - 0.60, rel=1e-12)
    assert rows["P1"] == pytest.approx(1.08, rel=1e-12)
    assert rows["left"] == pytest.approx(12.5 - 1.08 - 1.08 + 0.60, rel=1e-12)
    assert sum(rows.values()) == pytest.approx(2 * (20 + 12.5 + 10), rel=1e-12)


def test_a_panel_over_all_of_it_leaves_nothing_of_it(tmp_path):
    scene, plain = room(tmp_path), room(tmp_path, "")
    with_hatch, without = (evaluate(s, (felt(s, 1.5, 0.6),)) for s in (scene, plain))
    assert np.allclose(with_hatch.sabine, without.sabine, rtol=1e-12)
    assert np.allclose(with_hatch.arrivals.level_db, without.arrivals.level_db, rtol=0, atol=1e-9)
    # The effect: without the panel the hatch is heard.
    bare, empty = evaluate(scene).arrivals.level_db, evaluate(plain).arrivals.level_db
    assert np.abs(bare - empty).max() > 0.05
