"""The main seat moved: against the mirror trick for the moved place, and against planning for it anew."""

from dataclasses import replace

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.geometry.polygon import Rectangle
from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Placement
from treatment.planning.sensitivity import MOVES, seat_shifts
from treatment.scene.load import load_scene

ROOM = """title = "shift"
[room]
shape = "box"
length = 6.0
width = 4.0
height = 2.7
[surfaces]
default = "brick-painted"
[[loudspeakers]]
name = "L"
position = [0.8, 1.0, 1.2]
[[seats]]
name = "main"
position = [4.2, 2.0, 1.2]
spread = 0.0
[[seats]]
name = "left"
position = [4.2, 1.4, 1.2]
[[seats]]
name = "right"
position = [4.2, 2.6, 1.2]
"""
LEFT = 2


def room(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(ROOM)
    return load_scene(path)[0]


def test_counts_are_those_of_the_room_planned_for_the_moved_seat(tmp_path):
    scene = room(tmp_path)
    build = next(b for b in scene.builds if b.id == "wool-100")
    # Over the point on the left wall, 1.9333 m from the front (room R1, see tests/truth/test_images.py).
    size = (build.outer_width, build.outer_height)
    panel = Placement("P1", build, LEFT, Rectangle(1.9333 - size[0] / 2, 1.2 - size[1] / 2, *size))
    shifts = seat_shifts(scene, (panel,))
    assert [s.words for s in shifts] == [
        "where it is", "0.30 m further back", "0.30 m further forward", "0.15 m to the left",
        "0.15 m to the right",
    ]  # fmt: skip
    for shift, (_, move) in zip(shifts, MOVES, strict=True):
        assert shift.position == pytest.approx(scene.seats[0].position + move)
        moved = replace(scene.seats[0], position=frozen(shift.position))
        a = evaluate(replace(scene, seats=(*scene.seats[1:], moved)), (panel,)).arrivals
        mine = (a.seat == 2) & (a.order == 1)
        assert shift.after == sum(a.verdict[i] == "treat" for i in np.flatnonzero(mine))


def test_a_panel_covers_less_when_the_point_leaves_it(tmp_path):
    # Seat 0.3 m back moves the point by 0.3/3 = 0.10 m (1 m and 2 m from the wall), 0.15 m across by 0.03 m.
    scene = room(tmp_path)
    build = next(b for b in scene.builds if b.id == "wool-100")
    size = (build.outer_width, build.outer_height)
    panel = Placement("P1", build, LEFT, Rectangle(1.9333 - size[0] / 2, 1.2 - size[1] / 2, *size))
    shifts = seat_shifts(scene, (panel,))
    assert shifts[0].before == 6  # C6.1: all six first reflections of R1 are above the criterion.
    own = []
    for shift in shifts:
        seat = replace(scene.seats[0], position=frozen(shift.position))
        one = replace(scene, seats=(seat,))
        a, b = (evaluate(one, p, order=1).arrivals for p in ((), (panel,)))
        strong = np.array([v == "treat" for v in a.verdict], dtype=bool)
        was, now = (x.level_db[:, 4:] for x in (a, b))
        # The energy of all of them, summed over 1 to 8 kHz, and no mean of decibels: most stay as they were.
        energy = [float((10.0 ** (x[strong] / 10.0)).sum()) for x in (was, now)]
        assert shift.weaker_db == pytest.approx(10.0 * np.log10(energy[0] / energy[1]), rel=1e-6)
        assert abs(shift.weaker_db - float((was - now)[strong].mean())) > 0.3
        own.append(float((was - now)[strong & (a.surfaces[:, 0] == LEFT)].mean()))
    assert own[0] > max(own[1:3])
    bare = seat_shifts(scene, ())
    assert [s.weaker_db for s in bare] == pytest.approx([0.0] * len(MOVES))


def test_a_place_outside_the_room_is_left_out(tmp_path):
    scene = room(tmp_path)
    alone = replace(scene, seats=(replace(scene.seats[0], position=frozen([5.7, 2.0, 1.2])),))
    words = [s.words for s in seat_shifts(alone, ())]
    assert "0.30 m further back" not in words
    assert words[0] == "where it is"
