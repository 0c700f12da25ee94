"""No arrival depends on where a room stands, nor on which way it faces."""

from dataclasses import replace

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.geometry.enclosure import Enclosure
from treatment.planning.evaluate import evaluate
from treatment.scene.load import load_scene, resolve_scene

# Corners come to lie between two millimetres, where rounding tells nearly equal ones apart.
SHIFT = np.array([-3.3005, 7.7005, 1.9005])


def turned_by(degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


def moved(scene, degrees):
    turn = turned_by(degrees)

    def at(thing):
        return replace(thing, position=frozen(turn @ thing.position + SHIFT))

    def wall(p):
        axes = {k: frozen(turn @ getattr(p, k)) for k in ("u_axis", "v_axis", "normal")}
        return replace(p, origin=frozen(turn @ p.origin + SHIFT), **axes)

    surfaces = tuple(replace(s, polygon=wall(s.polygon)) for s in scene.surfaces)
    return replace(
        scene,
        surfaces=surfaces,
        enclosure=Enclosure([s.polygon for s in surfaces]),
        loudspeakers=tuple(at(x) for x in scene.loudspeakers),
        seats=tuple(at(x) for x in scene.seats),
        subwoofers=tuple(at(x) for x in scene.subwoofers),
    )


def by_path(evaluation):
    """Levels by source, seat, surfaces and delay; mirror images of one delay come in any order."""
    a = evaluation.arrivals
    keys = zip(a.source, a.seat, a.names, np.round(a.delay_ms, 5), strict=True)
    found = dict(zip(keys, a.level_db, strict=True))
    assert len(found) == len(a.source) > 20
    return found


@pytest.mark.parametrize("degrees", [0.0, 37.0])
@pytest.mark.parametrize("name", ["soffit-basement", "bay-window", "attic"])
def test_a_moved_room_sounds_alike(name, degrees):
    scene, _ = load_scene(resolve_scene(name))
    # The area of a head is a square along x and y, which does not turn with the room.
    spread = 0.0 if degrees else scene.seats[0].spread
    seats = tuple(replace(x, spread=spread) for x in scene.seats[:2])
    scene = replace(scene, seats=seats, loudspeakers=scene.loudspeakers[:3])
    here, there = (by_path(evaluate(x)) for x in (scene, moved(scene, degrees)))
    assert here.keys() == there.keys()
    for path, levels in here.items():
        heard = levels > -60.0
        assert there[path][heard] == pytest.approx(levels[heard], abs=1e-4), path
