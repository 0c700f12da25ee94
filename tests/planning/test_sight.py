"""Nothing hangs in the view of the screen, in the way of the direct sound, or before a loudspeaker."""

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.candidates import find_sites
from treatment.planning.legal import review_placements
from treatment.planning.plan import Placement
from treatment.planning.sight import FRONT_SPACE
from treatment.scene.load import load_scene

ROOM = """title = "sight"
panels = ["wool-100"]
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.5
[surfaces]
default = "gypsum-board-on-studs"
[screen]
at = [1.0, 0.8]
size = [2.0, 1.125]
{screen}
[[loudspeakers]]
name = "L"
position = [{speaker}]
[[seats]]
name = "seat"
position = [3.2, 2.0, 1.1]
spread = {spread}
"""
FRONT, LEFT, CEILING = 0, 2, 5


def room(tmp_path, screen="", speaker="0.6, 0.4, 1.1", spread=0.0):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(screen=screen, speaker=speaker, spread=spread))
    return load_scene(path)[0]


def panel(scene, surface, u, v, name="P1"):
    build = scene.builds[0]
    return Placement(name, build, surface, Rectangle(u, v, build.outer_width, build.outer_height))


def codes(scene, *panels):
    return [f.code for f in review_placements(scene, panels) if f.code != "panel-near-edge"]


def front_sites(scene):
    sites = find_sites(scene, (), scene.builds)
    return sites.rectangle[sites.surface == FRONT]


def over_screen(table):
    low, high = np.maximum(table[:, :2], [1.0, 0.8]), np.minimum(table[:, 2:], [3.0, 1.925])
    return np.all(high - low > 1e-3, axis=1)


def test_nothing_hangs_over_a_screen_on_the_wall(tmp_path):
    table = front_sites(room(tmp_path))
    assert len(table)
    assert not over_screen(table).any()


def test_a_woven_screen_hides_absorbers_but_only_as_deep_as_it_stands_off(tmp_path):
    # wool-100 is 0.10 m deep.
    for distance, hung in ((0.5, True), (0.10, True), (0.08, False)):
        scene = room(tmp_path, f"distance = {distance}\nsound_passes = true")
        assert over_screen(front_sites(scene)).any() == hung
    assert not over_screen(front_sites(room(tmp_path, "distance = 0.5"))).any()


def test_a_shelf_of_a_panel_cuts_the_view_from_the_eyes(tmp_path):
    """By similar triangles: eyes 0.4 m off a side wall, a screen that reaches to it, a body of 0.1 m."""
    path = tmp_path / "near.toml"
    text = ROOM.format(screen="", speaker="0.6, 3.0, 1.1", spread=0.0)
    text = text.replace("at = [1.0, 0.8]", "at = [0.0, 0.5]").replace("[3.2, 2.0, 1.1]", "[3.2, 0.4, 1.1]")
    path.write_text(text)
    scene = load_scene(path)[0]
    # The line to y = 0 at the front passes y = 0.1 (the panel's face) at x = 0.8: nearer to the front a body
    # of 0.1 m cuts it, further back none does.
    at = 3.2 * 0.1 / 0.4
    assert "panel-before-screen" in codes(scene, panel(scene, LEFT, at - 0.10, 0.5))
    assert "panel-before-screen" not in codes(scene, panel(scene, LEFT, at + 0.01, 0.5))


def test_a_wider_head_sees_more(tmp_path):
    path = tmp_path / "near.toml"
    text = ROOM.format(screen="", speaker="0.6, 3.0, 1.1", spread=0.2)
    text = text.replace("at = [1.0, 0.8]", "at = [0.0, 0.5]").replace("[3.2, 2.0, 1.1]", "[3.2, 0.4, 1.1]")
    path.write_text(text)
    scene = load_scene(path)[0]
    # Eyes may now be 0.2 m from the wall and 0.2 m further back: y = 0.1 is passed at x = 1.7.
    at = 3.4 * 0.1 / 0.2
    assert "panel-before-screen" in codes(scene, panel(scene, LEFT, at - 0.10, 0.5))
    assert "panel-before-screen" not in codes(scene, panel(scene, LEFT, at + 0.01, 0.5))


@pytest.mark.parametrize(("off", "cut"), [(-0.05, True), (0.01, False)])
def test_the_direct_sound_along_a_wall_stays_free(tmp_path, off, cut):
    # Loudspeaker 0.06 m, seat 0.5 m from the left wall: the direct path leaves the 0.1 m deep panels where
    # it has come 0.04/0.44 of its way of 4.0 m from x = 0.5; behind that a panel may hang.
    path = tmp_path / "wall.toml"
    text = ROOM.format(screen="", speaker="0.5, 0.06, 1.1", spread=0.0).replace("3.2, 2.0", "4.5, 0.5")
    path.write_text(text)
    scene = load_scene(path)[0]
    leaves = 0.5 + 4.0 * 0.04 / 0.44
    assert ("panel-in-direct-sound" in codes(scene, panel(scene, LEFT, leaves + off, 0.5))) == cut


@pytest.mark.parametrize(("top", "cut"), [(1.09, False), (1.11, True)])
def test_a_panel_below_the_direct_sound_may_hang(tmp_path, top, cut):
    # The same way at 1.10 m, and a panel that ends below or above that.
    path = tmp_path / "wall.toml"
    text = ROOM.format(screen="", speaker="0.5, 0.06, 1.1", spread=0.0).replace("3.2, 2.0", "4.5, 0.5")
    path.write_text(text)
    scene = load_scene(path)[0]
    build = scene.builds[0]
    lying = Rectangle(0.6, top - build.outer_width, build.outer_height, build.outer_width)
    assert ("panel-in-direct-sound" in codes(scene, Placement("P1", build, LEFT, lying))) == cut


def test_the_space_before_a_loudspeaker(tmp_path):
    """A loudspeaker near the ceiling, aimed along it: 0.5 m before its front stays free."""
    path = tmp_path / "high.toml"
    text = ROOM.format(screen="", speaker="1.0, 2.0, 2.4", spread=0.0)
    path.write_text(text.replace('name = "L"', 'name = "L"\naim = [4.0, 2.0, 2.4]\npiston = 0.1'))
    scene = load_scene(path)[0]
    near, beyond = (panel(scene, CEILING, 1.0 + d, 1.4) for d in (FRONT_SPACE - 0.05, FRONT_SPACE + 0.01))
    assert "panel-before-loudspeaker" in codes(scene, near)
    assert "panel-before-loudspeaker" not in codes(scene, beyond)


def test_a_screen_changes_nothing_elsewhere(tmp_path):
    scene = room(tmp_path, spread=0.2)
    assert codes(scene, panel(scene, LEFT, 3.0, 0.5)) == []
