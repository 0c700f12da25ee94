"""Obstacles: what they take from the room and which surfaces they make, by hand."""

import numpy as np
import pytest

from treatment.scene.load import resolve_scene
from treatment.scene.model import Scene

OBSTACLE = '[[obstacles]]\nname = "{}"\nat = {}\nsize = {}\nmaterial = "steel"\n'


def areas(scene: Scene, name: str) -> list[float]:
    return sorted(s.polygon.area for s in scene.surfaces if s.name == name)


def test_soffit_in_the_l_basement(load) -> None:
    """L room 7.3 x 4.9 x 2.35 m without the corner 2.5 x 1.7 m; soffit 0.6 x 0.3 m along the left wall."""
    text = resolve_scene("basement").read_text(encoding="utf-8")
    text += OBSTACLE.format("soffit", "[0.0, 0.0, 2.05]", "[7.3, 0.6, 0.30]")
    scene = load(text)
    # By hand: 31.52 m2 x 2.35 m - 7.3 x 0.6 x 0.3 m = 72.758 m3.
    assert scene.enclosure.volume == pytest.approx(72.758, rel=1e-9)
    # Front and back face, and those against wall and ceiling, are gone: the side and the bottom stay.
    assert areas(scene, "soffit") == pytest.approx([7.3 * 0.3, 7.3 * 0.6])
    assert areas(scene, "left") == pytest.approx([7.3 * 2.05])
    assert areas(scene, "ceiling") == pytest.approx([31.52 - 7.3 * 0.6])
    assert all(s.obstacle == ("soffit" if s.name == "soffit" else "") for s in scene.surfaces)
    assert {s.material.id for s in scene.surfaces if s.obstacle} == {"steel"}
    assert scene.surface_index("ceiling") < min(i for i, s in enumerate(scene.surfaces) if s.obstacle)


def test_post_from_floor_to_ceiling(load, box_text: str) -> None:
    scene = load(box_text + OBSTACLE.format("post", "[2.0, 3.0, 0.0]", '["4 in", 0.12, 2.4]'))
    assert areas(scene, "post") == pytest.approx(sorted(2 * [0.1016 * 2.4] + 2 * [0.12 * 2.4]))
    assert scene.enclosure.volume == pytest.approx((5.0 * 3.8 - 0.1016 * 0.12) * 2.4, rel=1e-9)
    assert areas(scene, "floor") == pytest.approx([5.0 * 3.8 - 0.1016 * 0.12])


def test_table_that_touches_nothing(load, box_text: str) -> None:
    scene = load(box_text + OBSTACLE.format("shelf", "[2.0, 1.0, 0.7]", "[1.0, 0.5, 0.1]"))
    assert len(areas(scene, "shelf")) == 6
    assert scene.enclosure.area == pytest.approx(2 * (19.0 + 12.0 + 9.12) + 2 * (0.5 + 0.1 + 0.05))


def test_a_wall_that_an_obstacle_hides_leaves_the_room(load, box_text: str) -> None:
    """A cupboard over all of the back wall: the wall is gone, the cupboard's front is the back."""
    scene = load(box_text + OBSTACLE.format("cupboard", "[4.4, 0.0, 0.0]", "[0.6, 3.8, 2.4]"))
    assert "back" not in [s.name for s in scene.surfaces]
    assert areas(scene, "cupboard") == pytest.approx([3.8 * 2.4])
    assert scene.enclosure.volume == pytest.approx(4.4 * 3.8 * 2.4)
    np.testing.assert_allclose(scene.enclosure.bounds[1], [4.4, 3.8, 2.4])


def test_an_opening_on_a_wall_keeps_its_surface_when_others_vanish(load, box_text: str) -> None:
    door = (
        '[[openings]]\nname = "door"\nsurface = "right"\nat = [1, 0]\nsize = [0.8, 2]\nmaterial = "steel"\n'
    )
    scene = load(box_text + OBSTACLE.format("cupboard", "[4.4, 0.0, 0.0]", "[0.6, 3.8, 2.4]") + door)
    assert scene.surfaces[scene.openings[0].surface].name == "right"


@pytest.mark.parametrize(
    ("at", "size", "code"),
    [
        ("[4.5, 0, 0]", "[0.6, 0.5, 2]", "obstacle-outside-room"),
        ("[-0.1, 0, 0]", "[0.6, 0.5, 2]", "obstacle-outside-room"),
        ("[1, 1, 0]", "[0.1, 0.1, 2.45]", "obstacle-outside-room"),
        ("[1, 1, 0.01]", "[0.1, 0.1, 2]", "obstacle-gap"),
        ("[1, 0.015, 0]", "[0.1, 0.1, 2]", "obstacle-gap"),
        ("[3, 1.8, 0]", "[0.3, 0.3, 2]", "seat-inside-obstacle"),
        ("[1e300, 1, 0]", "[0.3, 0.3, 2]", "obstacle-outside-room"),
    ],
)
def test_what_does_not_fit_is_found(find, box_text: str, at: str, size: str, code: str) -> None:
    assert code in find(box_text + OBSTACLE.format("thing", at, size))


@pytest.mark.parametrize(("at", "size"), [("[1, 1, 0]", "[0.1, 0.1, 2]"), ("[1, 0, 0.5]", "[0.1, 0.1, 1.9]")])
def test_what_fits_is_left_alone(find, box_text: str, at: str, size: str) -> None:
    found = find(box_text + OBSTACLE.format("thing", at, size))
    assert {f.severity for f in found.values()} == {"note"}


def test_in_a_plan_an_obstacle_must_be_inside_the_outline(find) -> None:
    text = resolve_scene("basement").read_text(encoding="utf-8")
    # In the rectangle around the L, but in the missing corner.
    found = find(text + OBSTACLE.format("shelf", "[5.0, 3.5, 0.0]", "[0.5, 0.5, 1.0]"))
    assert found["obstacle-outside-room"].where == "obstacles[0]"
    seat = text.replace("[5.60, 2.05, 1.10]", "[5.60, 4.05, 1.10]")
    assert "leaves that corner out" in find(seat)["seat-outside-room"].message


@pytest.mark.parametrize(
    ("at", "size", "part"),
    [
        # Past the inner corner of the L on one side: what is left is a box.
        ("[4.0, 2.0, 0.0]", "[2.4, 2.0, 1.0]", None),
        ("[5.0, 3.0, 0.0]", "[0.5, 0.8, 1.0]", "at = [5, 3, 0], size = [0.5, 0.2, 1]"),
        ("[5.0, -0.2, 0.0]", "[0.5, 0.8, 1.0]", "at = [5, 0, 0], size = [0.5, 0.6, 1]"),
    ],
)
def test_the_part_inside_is_told_where_it_is_a_box(find, at: str, size: str, part: str | None) -> None:
    """Never the obstacle itself, which is what was wrong."""
    text = resolve_scene("basement").read_text(encoding="utf-8")
    hint = find(text + OBSTACLE.format("shelf", at, size))["obstacle-outside-room"].hint
    assert ("the part inside" in hint) == (part is not None)
    assert part is None or part in hint


ALCOVE = """
[room]
shape = "plan"
corners = [[0, 0], [2.0, 0], [2.0, -0.4], [3.2, -0.4], [3.2, 0], [5.4, 0], [5.4, 3.6], [0, 3.6]]
names = ["left", "alcove-front", "alcove", "alcove-back", "left-2", "back", "right", "front"]
height = 2.50
[[obstacles]]
name = "lintel"
at = [2.0, -0.4, 2.1]
size = [1.2, 0.4, 0.4]
material = "gypsum-board-on-studs"
"""


def test_an_alcove_of_the_plan_under_a_lintel_holds_its_air(load, box_text: str) -> None:
    scene = load(
        ALCOVE.join(box_text.split('[room]\nshape = "box"\nlength = 5.0\nwidth = 3.8\nheight = 2.4\n'))
    )
    # By hand: the box and the alcove of 1.2 x 0.4 x 2.1 m; three faces of the alcove, its floor and lintel
    # are added to the box's surface, and the hole of 1.2 x 2.1 m is taken from the wall.
    assert scene.enclosure.volume == pytest.approx(5.4 * 3.6 * 2.5 + 1.2 * 0.4 * 2.1, rel=1e-12)
    box = 2.0 * (5.4 * 3.6 + 5.4 * 2.5 + 3.6 * 2.5)
    added = 1.2 * 2.1 + 2.0 * 0.4 * 2.1 + 2.0 * 1.2 * 0.4 - 1.2 * 2.1
    assert scene.enclosure.area == pytest.approx(box + added, rel=1e-12)
    assert areas(scene, "alcove") == [pytest.approx(1.2 * 2.1)]
