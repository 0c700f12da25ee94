"""Limiting frequencies of surfaces in free space, by hand: f_g = c a*/(2 S cos), a* = 2 a1 a2/(a1 + a2)."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from treatment.geometry.polygon import Polygon, Rectangle
from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Placement
from treatment.planning.reflectors import cloud_words, limit_words, panel_limit
from treatment.scene.load import load_scene

ROOT = Path(__file__).parents[2]
#: A cloud that faces the floor from 2.2 m.
CLOUD = Polygon.from_corners(
    [[0, 0, 2.2], [6, 0, 2.2], [6, 4, 2.2], [0, 4, 2.2]], inside=[0, 0, -1.0], origin=[0, 0, 2.2]
)


def test_a_cloud_by_hand():
    # Rindel, Acustica 60 (1986), handbook form, from memory. Legs of 2.5 m (2 m along, 1.5 m up), a* = 2.5 m,
    # S = 0.6 x 1.2 m, cos = 0.6: f_g = 343 x 2.5/(2 x 0.72 x 0.6) = 992.5 Hz.
    source, seat = np.array([1.0, 2.0, 0.7]), np.array([5.0, 2.0, 0.7])
    hz = panel_limit(CLOUD, Rectangle(2.7, 1.4, 0.6, 1.2), source, seat, 343.0)
    assert hz == pytest.approx(992.5, abs=0.1)


def test_a_cloud_beside_the_point_or_seen_from_behind_sends_nothing():
    source, seat = np.array([1.0, 2.0, 0.7]), np.array([5.0, 2.0, 0.7])
    assert panel_limit(CLOUD, Rectangle(3.1, 1.4, 0.6, 1.2), source, seat, 343.0) is None
    assert (
        panel_limit(CLOUD, Rectangle(2.7, 1.4, 0.6, 1.2), source + np.array([0, 0, 2.0]), seat, 343.0) is None
    )


def test_words():
    assert "above about 990 Hz" in limit_words(992.5, 992.5)
    assert "above about 340 to 1500 Hz" in limit_words(341.0, 1460.0)


def test_obstacles_say_so():
    scene, _ = load_scene(ROOT / "scenes" / "soffit-basement.toml")
    assert not [f for f in evaluate(scene, order=1).findings if f.code == "finite-reflector"]
    # Both below the soffit, which is 0.6 m deep and 7.3 m long, its underside 2.05 m high.
    under = replace(
        scene,
        loudspeakers=(replace(scene.loudspeakers[0], position=np.array([1.0, 0.3, 1.1])),),
        seats=(replace(scene.seats[0], position=np.array([3.0, 0.5, 1.1])),),
    )
    (note,) = [f for f in evaluate(under, order=1).findings if f.code == "finite-reflector"]
    assert note.where == "soffit"
    # Legs: half of sqrt(2^2 + 0.2^2 + 1.9^2) = 2.766 m; cos = 0.95/1.383; S = 4.38 m2: 78.8 Hz.
    assert "above about 79 Hz" in note.message
    assert "1 first reflection;" in note.message


def test_clouds_of_a_plan_say_so():
    """Under 2.5 m, face 0.15 m lower: legs of hypot(1.5, 1.25) m, cos = 1.25/1.9526, S = 0.636 x 1.236 m."""
    scene, _ = load_scene(ROOT / "scenes" / "garden-room.toml")
    build = replace(scene.builds[0], thickness=0.05, air_gap=0.10)
    one = replace(
        scene,
        loudspeakers=(replace(scene.loudspeakers[0], position=np.array([0.5, 1.8, 1.1])),),
        seats=(replace(scene.seats[0], position=np.array([3.5, 1.8, 1.1])),),
    )
    ceiling = one.surface_index("ceiling")
    cloud = Placement("P1", build, ceiling, Rectangle(1.7, 1.2, 0.636, 1.236))
    legs, cosine = np.hypot(1.5, 1.25), 1.25 / np.hypot(1.5, 1.25)
    hz = one.air.speed_of_sound * legs / (2 * 0.636 * 1.236 * cosine)
    (said,) = cloud_words(one, (cloud,))
    assert "Clouds (P1)" in said
    assert limit_words(hz, hz) in said
    # Closer to the ceiling it is no cloud, beside the point it sends nothing, on a wall it hangs on the wall.
    assert cloud_words(one, (replace(cloud, build=replace(build, air_gap=0.05)),)) == ()
    assert cloud_words(one, (replace(cloud, rectangle=Rectangle(3.7, 1.2, 0.636, 1.236)),)) == ()
    assert cloud_words(one, (replace(cloud, surface=one.surface_index("left")),)) == ()
