"""Turning, moving and saved views; walls that hide something; what stands under the pointer."""

from __future__ import annotations

import numpy as np
import pytest

from treatment.planning.plan import Plan
from treatment.present.camera import faces_camera
from treatment.present.drawables import room_shapes
from treatment.present.forms import Dot, Drawables, Face
from treatment.present.native.cutaway import hiding_walls
from treatment.present.native.gaze import moved, saved_gaze, turned, zoomed
from treatment.present.native.picking import hit_face, hit_line, ray, targets_of, thing_at
from treatment.present.native.state import VIEWS
from treatment.present.triangles import triangles_of

SIZE = (1000, 800)


@pytest.fixture(scope="module")
def shapes(plan: Plan) -> Drawables:
    return room_shapes(plan.scene, plan.placements)


def test_drag_to_the_right_carries_the_near_side_to_the_right(shapes: Drawables) -> None:
    gaze = saved_gaze("front", shapes, SIZE)
    near = gaze.focus + 0.3 * (gaze.camera(SIZE).position - gaze.focus)
    was = gaze.camera(SIZE).pixels(near[None])[0]
    now = turned(gaze, 5.0, 0.0).camera(SIZE).pixels(near[None])[0]
    assert now[0] > was[0] + 20.0
    lifted = turned(gaze, 0.0, 3.0).camera(SIZE).pixels(near[None])[0]
    assert lifted[1] < was[1] - 5.0


def test_a_head_turns_against_its_picture(plan: Plan, shapes: Drawables) -> None:
    gaze = saved_gaze("seat", shapes, SIZE, plan.scene.seats[1].position)
    ahead = np.array([[0.0, 1.8, 1.1]])
    was = gaze.camera(SIZE).pixels(ahead)[0]
    assert was[:2] == pytest.approx([500.0, 400.0], abs=0.5)
    assert gaze.camera(SIZE).position == pytest.approx(plan.scene.seats[1].position)
    now = turned(gaze, 5.0, 0.0).camera(SIZE).pixels(ahead)[0]
    assert now[0] > was[0] + 20.0
    assert turned(gaze, 0.0, 5.0).camera(SIZE).pixels(ahead)[0][1] < was[1] - 20.0
    assert zoomed(gaze, 0.5).view_angle == pytest.approx(gaze.view_angle / 2.0)


def test_moving_carries_the_focus_by_as_many_pixels(shapes: Drawables) -> None:
    gaze = saved_gaze("corner", shapes, SIZE)
    at = moved(gaze, 120.0, -45.0, SIZE[1]).camera(SIZE).pixels(gaze.focus[None])[0]
    assert at[:2] == pytest.approx([620.0, 355.0], abs=2.0)


def test_it_never_tips_over_nor_flies_away(shapes: Drawables) -> None:
    gaze = saved_gaze("corner", shapes, SIZE)
    for _ in range(50):
        gaze = zoomed(turned(gaze, 37.0, -20.0), 1.5)
    assert gaze.elevation < 90.0
    assert gaze.distance <= 8.0 * gaze.reach
    assert np.isfinite(gaze.camera(SIZE).pixels(shapes.bounds)).all()


def test_plan_view_has_the_front_at_the_top_and_left_at_the_left(shapes: Drawables) -> None:
    camera = saved_gaze("plan", shapes, SIZE).camera(SIZE)
    front, back, left, right = camera.pixels(
        np.array([[0.0, 1.8, 0.0], [5.4, 1.8, 0.0], [2.7, 0.0, 0.0], [2.7, 3.6, 0.0]])
    )
    assert front[1] < back[1]
    assert left[0] < right[0]


@pytest.mark.parametrize("name", VIEWS[:-1])
def test_views_from_outside_hold_the_room_and_leave_room_for_texts(name: str, shapes: Drawables) -> None:
    camera = saved_gaze(name, shapes, SIZE).camera(SIZE)
    seen = np.concatenate([f.rings[0] for f in shapes.faces if faces_camera(f, camera.position)])
    at = camera.pixels(seen)
    assert at[:, 0].min() > 0.03 * SIZE[0]
    assert at[:, 0].max() < 0.97 * SIZE[0]
    assert at[:, 1].min() > 0.06 * SIZE[1]
    assert at[:, 1].max() < 0.86 * SIZE[1]
    assert camera.clipping[0] < at[:, 2].min()
    assert camera.clipping[1] > at[:, 2].max()


def square(corners: list[list[float]], normal: list[float], name: str, group: str = "room") -> Face:
    return Face((np.array(corners, dtype=float),), np.array(normal, dtype=float), "#ffffff", 1.0, name, group)


def test_a_wall_of_an_inner_corner_hides_what_stands_behind_it(shapes: Drawables) -> None:
    camera = saved_gaze("front", shapes, SIZE).camera(SIZE)  # it looks toward the front, from behind
    near = square([[4, 1, 0], [4, 3, 0], [4, 3, 2.5], [4, 1, 2.5]], [1, 0, 0], "faces the eye")
    away = square([[4.5, 1, 0], [4.5, 3, 0], [4.5, 3, 2.5], [4.5, 1, 2.5]], [-1, 0, 0], "turned away")
    far = square([[0, 0, 0], [0, 3.6, 0], [0, 3.6, 2.5], [0, 0, 2.5]], [1, 0, 0], "far")
    walls = targets_of([near, away, far])
    head = np.array([[2.0, 1.8, 1.1]])
    assert hiding_walls(walls, camera, head).tolist() == [True, False, False]
    assert not hiding_walls(walls, camera, np.array([[4.3, 1.8, 1.1]])).any()
    assert not hiding_walls(walls, camera, np.zeros((0, 3))).any()


def test_pointer_goes_through_walls_that_are_cut_away(shapes: Drawables) -> None:
    """The ray through a thing's own pixel must meet it: projection and ray are two separate routines."""
    targets = targets_of(shapes.faces)
    camera = saved_gaze("front", shapes, SIZE).camera(SIZE)
    place = np.array([0.45, 0.75, 1.1])
    x, y, _ = camera.pixels(place[None])[0]
    assert np.cross(ray(camera, x, y), place - camera.position) == pytest.approx(0.0, abs=1e-9)
    bare = np.array([f.group != "panel" for f in shapes.faces])
    hit = hit_face(targets, camera, x, y, bare)
    assert hit is not None
    assert (hit.face.group, hit.face.name) == ("equipment", "L")
    # A point of the front wall between the panels, seen through the back wall.
    x, y, _ = camera.pixels(np.array([[0.0, 0.3, 2.2]]))[0]
    hit = hit_face(targets, camera, x, y)
    assert hit is not None
    assert hit.face.name == "Front wall"
    assert hit.point == pytest.approx([0.0, 0.3, 2.2], abs=1e-6)
    shown = np.array([f.name != "Front wall" for f in shapes.faces])
    assert hit_face(targets, camera, x, y, shown) is None


def test_lines_are_hit_near_them_unless_something_hides_them(shapes: Drawables) -> None:
    camera = saved_gaze("front", shapes, SIZE).camera(SIZE)
    line = np.array([[[1.0, 0.5, 1.0], [1.0, 3.0, 1.0]]])
    (x, y, _), *_ = camera.pixels(np.array([[1.0, 1.7, 1.0]]))
    assert hit_line(line, camera, x, y + 4.0) == 0
    assert hit_line(line, camera, x, y + 9.0) is None
    deep = float(np.linalg.norm(np.array([1.0, 1.7, 1.0]) - camera.position))
    assert hit_line(line, camera, x, y, deep - 0.5) is None
    assert hit_line(line, camera, x, y, deep + 0.5) == 0
    found = thing_at(
        camera, (x, y), targets_of(()), np.zeros(0, dtype=bool), np.zeros(0, dtype=bool), (), line
    )
    assert (found.kind, found.line) == ("", 0)


def test_a_ball_behind_a_solid_is_not_hit(shapes: Drawables) -> None:
    camera = saved_gaze("front", shapes, SIZE).camera(SIZE)
    board = square([[4, 1, 0], [4, 3, 0], [4, 3, 2.5], [4, 1, 2.5]], [1, 0, 0], "board", "equipment")
    targets, all_of_it = targets_of([board]), np.ones(1, dtype=bool)
    ball = Dot(np.array([2.0, 1.8, 1.1]), 0.1, "#ffffff", "head", "seat")
    x, y, _ = camera.pixels(ball.position[None])[0]
    line = np.array([[[2.0, 1.0, 1.1], [2.0, 2.6, 1.1]]])
    hidden = thing_at(camera, (x, y), targets, all_of_it, all_of_it, [ball], line)
    assert (hidden.name, hidden.line) == ("board", None)
    # What can be looked through hides no line; what is not shown hides nothing.
    assert thing_at(camera, (x, y), targets, all_of_it, ~all_of_it, [], line).line == 0
    assert thing_at(camera, (x, y), targets, ~all_of_it, all_of_it, [ball], None).name == "head"


def test_an_arrow_shaped_area_is_cut_within_its_outline() -> None:
    """Area by the shoelace formula: a fan of triangles from one corner would cover more."""
    arrow = square([[0, 0, 0], [2, -1, 0], [0.5, 0, 0], [2, 1, 0]], [0, 0, 1], "arrow")
    area = sum(0.5 * float(np.linalg.norm(np.cross(t[1] - t[0], t[2] - t[0]))) for t in triangles_of(arrow))
    assert area == pytest.approx(0.5)
