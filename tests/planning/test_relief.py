"""What is offered where nothing may hang: moves by hand geometry, a curtain by its absorption."""

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.evaluate import evaluate
from treatment.planning.reasons import blocked_reflections
from treatment.planning.relief import ROOM_FOR_A_PANEL, least_moves
from treatment.scene.load import load_scene

ROOM = """title = "relief"
[room]
shape = "box"
length = 6.0
width = 4.0
height = 2.5
[surfaces]
default = "brick-painted"
[[openings]]
name = "window"
surface = "right"
at = [1.6, 0.4]
size = [1.6, 1.6]
material = "window-heavy-plate-glass"
[[keep_outs]]
name = "board"
surface = "left"
at = [{u}, 0.5]
size = [0.7, 1.4]
depth = 0.1
reason = "electrical"
[[loudspeakers]]
name = "L"
position = [1.0, 1.0, 1.2]
[[seats]]
name = "seat"
position = [4.0, 2.0, 1.2]
spread = 0.0
"""
LEFT = 2


def room(tmp_path, u):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(u=u))
    return load_scene(path)[0]


def test_the_least_move_by_hand(tmp_path):
    """Image at y = -1: the point lies a third of the way, x = 1 + 3/3 = 2.0.

    The board ends at 2.2; with room for a panel the point must pass 2.55. The point follows the
    loudspeaker by two thirds of its move along x, the seat by one third.
    """
    scene = room(tmp_path, 1.5)
    blocked = Rectangle(1.5, 0.5, 0.7, 1.4)
    seat, loudspeaker = None, None
    for offer in least_moves(scene, 0, 0, LEFT, blocked):
        if "seat" in offer:
            seat = offer
        else:
            loudspeaker = offer
    # Loudspeaker toward the back: 2/3 d > 0.55, so d = 0.85 m; the seat would need 1.65 m: too far.
    assert loudspeaker == "move loudspeaker L 0.85 m toward the back"
    assert seat is None or "toward the back" not in seat
    assert ROOM_FOR_A_PANEL == 0.35


def test_a_board_beside_the_point_needs_a_smaller_move(tmp_path):
    near = room(tmp_path, 1.9)
    offers = least_moves(near, 0, 0, LEFT, Rectangle(1.9, 0.5, 0.7, 1.4))
    # The point must get below 1.55. At y from the wall it lies at 1 + 3 y/(y + 2): y < 0.449, a move of
    # 0.60 m on the grid of 50 mm; toward the front it would take 0.70 m.
    assert "move loudspeaker L 0.60 m to the left" in offers


def test_what_stays_is_said_with_offers(tmp_path):
    scene = room(tmp_path, 1.5)
    blocked = blocked_reflections(scene, evaluate(scene), offers=True)
    board = next(b for b in blocked if b.by.startswith("board"))
    assert "move loudspeaker" in board.advice
    window = next(b for b in blocked if b.by.startswith("window"))
    assert "curtain-heavy" in window.advice
    decibels = float(window.advice.split("takes ")[1].split(" dB")[0])
    # Plate glass 0.02, heavy velour about 0.7: 10 lg(0.3/0.98) = -5 dB; the window covers most of the zone.
    assert 3.0 <= decibels <= 6.0
    assert np.isfinite(decibels)


def test_nothing_is_worked_out_unless_asked(tmp_path):
    scene = room(tmp_path, 1.5)
    assert all("move" not in b.advice for b in blocked_reflections(scene, evaluate(scene)))
    with pytest.raises(TypeError):
        blocked_reflections(scene, evaluate(scene), True)
