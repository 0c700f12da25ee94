"""Sloping ceilings and open sides as a scene file gives them, by hand values."""

import math

import numpy as np
import pytest

from treatment.scene.load import load_scene, resolve_scene

TEXT = """title = "Under the roof"
[room]
shape = "plan"
corners = {corners}
{more}
[surfaces]
default = "gypsum-board-on-studs"
[[loudspeakers]]
name = "L"
position = [0.9, 1.6, 1.1]
[[seats]]
name = "one"
position = [3.4, 2.1, 1.1]
"""
BOX = "[[0, 0], [6, 0], [6, 4.2], [0, 4.2]]"
ATTIC = """height = 2.4
names = ["left", "back", "right", "front"]
[[room.ceiling]]
{left}
[[room.ceiling]]
{right}
"""


def text(more, corners=BOX):
    return TEXT.format(corners=corners, more=more)


def test_shipped_attic_is_the_worked_room():
    scene, _ = load_scene(resolve_scene("attic"))
    # Worked by hand: 6 x (4.2 x 2.4 - 1.4 x 1.4) m3.
    assert scene.enclosure.volume == pytest.approx(48.72, rel=1e-12)
    assert [s.name for s in scene.surfaces] == [
        "left", "back", "right", "front", "floor", "ceiling", "slope-left", "slope-right",
    ]  # fmt: skip
    kinds = {s.name: s.kind for s in scene.surfaces}
    assert kinds["slope-left"] == kinds["slope-right"] == kinds["ceiling"] == "ceiling"
    assert kinds["left"] == "wall"
    assert scene.surfaces[scene.surface_index("left")].polygon.area == pytest.approx(6.0)


@pytest.mark.parametrize(
    ("left", "right"),
    [
        ('wall = "left"\nknee = 1.0\npitch = 45', 'wall = "right"\nknee = 1.0\npitch = 45'),
        (
            'wall = "left"\nknee = 1.0\nthrough = [2, 1.4, 2.4]',
            'wall = "right"\nknee = 1.0\nthrough = [0, 2.8, 2.4]',
        ),
        ("points = [[0, 0, 1], [6, 0, 1], [3, 1, 2]]", "points = [[0, 4.2, 1], [6, 4.2, 1], [3, 3.2, 2]]"),
        ('wall = "left"\nknee = "3 ft 3 3/8 in"\npitch = 45', 'wall = "right"\nknee = "100 cm"\npitch = 45'),
    ],
)
def test_slopes_in_every_way_of_measuring_them(load, left, right):
    scene = load(text(ATTIC.format(left=left, right=right)))
    assert scene.enclosure.volume == pytest.approx(48.72, rel=2e-4 if "ft" in left else 1e-12)
    assert [s.name for s in scene.surfaces][-3:] == ["ceiling", "slope-left", "slope-right"]


def test_clockwise_corners_make_the_same_attic(load):
    slopes = ['wall = "left"\nknee = 1.0\npitch = 45', 'wall = "right"\nknee = 1.4\npitch = 30']
    a = load(text(ATTIC.format(left=slopes[0], right=slopes[1])))
    clockwise = "[[0, 0], [0, 4.2], [6, 4.2], [6, 0]]"
    more = ATTIC.format(left=slopes[0], right=slopes[1]).replace(
        '["left", "back", "right", "front"]', '["front", "right", "back", "left"]'
    )
    b = load(text(more, clockwise))
    assert b.enclosure.volume == pytest.approx(a.enclosure.volume, rel=1e-12)
    for name in ("slope-left", "slope-right", "left", "front"):
        p, q = (s.surfaces[s.surface_index(name)].polygon for s in (a, b))
        assert q.centroid == pytest.approx(p.centroid, abs=1e-9)


def test_shed_from_heights_at_corners(load):
    scene = load(text("ceiling = [2.2, 2.2, 3.4, 3.4]"))
    assert scene.enclosure.volume == pytest.approx(6 * 4.2 * 2.8, rel=1e-12)
    ceiling = scene.surfaces[scene.surface_index("ceiling")].polygon
    assert ceiling.area == pytest.approx(6 * math.hypot(4.2, 1.2))
    assert ceiling.v_axis == pytest.approx(np.array([0, 4.2, 1.2]) / math.hypot(4.2, 1.2))


def test_heights_go_with_their_corners_whichever_way_round(load):
    a = load(text("ceiling = [2.2, 2.2, 3.4, 3.4]"))
    b = load(text("ceiling = [2.2, 3.4, 3.4, 2.2]", "[[0, 0], [0, 4.2], [6, 4.2], [6, 0]]"))
    wanted = [s.enclosure.contains(np.array([[3, 4.0, 3.2], [3, 0.2, 2.4]])).tolist() for s in (a, b)]
    assert wanted == [[True, False], [True, False]]


def test_gable_from_heights_and_a_level_part(load):
    corners = "[[0, 0], [6, 0], [6, 2.1], [6, 4.2], [0, 4.2], [0, 2.1]]"
    gable = load(text("ceiling = [2, 2, 3.1, 2, 2, 3.1]", corners))
    assert gable.enclosure.volume == pytest.approx(6 * 4.2 * 2.55, rel=1e-12)
    assert [s.name for s in gable.surfaces][-2:] == ["slope-left", "slope-right"] or {
        s.name for s in gable.surfaces if s.kind == "ceiling"
    } == {"slope-left", "slope-right"}
    cut = load(text("ceiling = [2, 2, 3.1, 2, 2, 3.1]\nheight = 2.55", corners))
    # Half of the triangle's height: three quarters of its area stay.
    assert cut.enclosure.volume == pytest.approx(6 * 4.2 * (2 + 0.55 * 0.75), rel=1e-12)


def test_a_tapes_error_is_read_as_flat_and_told(find, load):
    assert "ceiling-not-quite-flat" in find(text("ceiling = [2.2, 2.2, 3.41, 3.4]"))
    assert "ceiling-folds" in find(text("ceiling = [2.2, 2.2, 3.5, 3.4]"))
    folded = load(text("ceiling = [2.2, 2.2, 3.5, 3.4]"))
    assert sum(s.kind == "ceiling" for s in folded.surfaces) == 2


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ("ceiling = [0, 0, 0, 0]", "size-looks-too-small"),
        ("ceiling = []", "ceiling-heights-count"),
        ("ceiling = [2.2, 2.2, 3.4]", "ceiling-heights-count"),
        ("ceiling = [2.2, 2.2, 3.4, -1]", "number-out-of-range"),
        ("ceiling = [2.2, 2.2, 240, 240]", "size-looks-like-millimetres"),
        ('ceiling = "sloping"', "wrong-type"),
        ("[[room.ceiling]]\nwall = 'wall-1'\nknee = 2\npitch = 95", "number-out-of-range"),
        ("[[room.ceiling]]\nwall = 'wall-9'\nknee = 2\npitch = 45", "unknown-surface"),
        ("[[room.ceiling]]\nwall = 'wall-1'\nknee = 2\nthrough = [1, -1, 3]", "ceiling-slope-unclear"),
        ("[[room.ceiling]]\npoints = [[0, 0, 2], [1, 1, 2], [2, 2, 2]]", "ceiling-slope-unclear"),
        ("[[room.ceiling]]\nwall = 'wall-1'\nknee = 2\npich = 45", "unknown-key"),
        ("[[room.ceiling]]\nname = 'a'\nwall = 'wall-1'\nknee = 2.0\npitch = -10", "number-out-of-range"),
    ],
)
def test_slips_are_told(find, more, code):
    assert code in find(text(more))


def test_a_seat_above_a_slope_is_told_so(find):
    attic = ATTIC.format(
        left='wall = "left"\nknee = 1.0\npitch = 45', right='wall = "right"\nknee = 1.0\npitch = 45'
    )
    found = find(text(attic).replace("[3.4, 2.1, 1.1]", "[3.4, 0.2, 1.4]"))
    assert "sloping ceiling is lower" in found["seat-outside-room"].message


OPENING = '[[openings]]\nname = "hall"\nsurface = "right"\nat = [0, 0]\nsize = [5.0, 2.4]\n{}\n'


@pytest.mark.parametrize("what", ['material = "open-passage"', "absorption = 1", f"absorption = {[1.0] * 8}"])
def test_an_open_side_absorbs_all_and_adds_no_volume(load, find, box_text, what):
    scene = load(box_text + OPENING.format(what))
    assert scene.enclosure.volume == pytest.approx(5.0 * 3.8 * 2.4)
    (hall,) = scene.openings
    assert hall.rectangle.area == pytest.approx(12.0)
    assert hall.material.open
    assert hall.material.absorption == pytest.approx(np.ones(8))
    message = find(box_text + OPENING.format(what))["coupled-space"].message
    # 12 of 2 (5 x 3.8 + 5 x 2.4 + 3.8 x 2.4) = 80.24 m2.
    assert "12.0 m2, 15%" in message


def test_a_given_value_for_what_lies_beyond(load, find, box_text):
    scene = load(box_text + OPENING.format("absorption = 0.8"))
    assert scene.openings[0].material.absorption == pytest.approx([0.8] * 8)
    assert not scene.openings[0].material.open
    assert "coupled-space" in find(box_text + OPENING.format("absorption = 0.8"))
    assert "absorption-out-of-range" in find(box_text + OPENING.format("absorption = 80"))
    assert "opening-material-unclear" in find(box_text + OPENING.format(""))
