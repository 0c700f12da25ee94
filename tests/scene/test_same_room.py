"""One room written in several ways is one scene."""

import json

import numpy as np
import pytest

from treatment.scene.load import load_scene, resolve_scene
from treatment.scene.model import Scene
from treatment.units import UNITS


def numbers(scene: Scene) -> dict[str, np.ndarray]:
    """Every length of a scene."""
    return {
        "corners": np.concatenate([s.polygon.to_room(s.polygon.edges).ravel() for s in scene.surfaces]),
        "frames": np.ravel([(p.origin, p.u_axis, p.v_axis, p.normal) for p in scene.enclosure.polygons]),
        "points": np.ravel([t.position for t in (*scene.loudspeakers, *scene.subwoofers, *scene.seats)]),
        "spread": np.array([s.spread for s in scene.seats]),
        "openings": np.ravel([o.rectangle.bounds for o in scene.openings]),
        "keep_outs": np.ravel([(*k.rectangle.bounds, k.depth) for k in scene.keep_outs]),
        "builds": np.ravel([(b.width, b.height, b.thickness, b.air_gap) for b in scene.builds]),
    }  # fmt: skip


def assert_same(a: Scene, b: Scene, tolerance: float = 1e-9) -> None:
    for key, value in numbers(a).items():
        np.testing.assert_allclose(numbers(b)[key], value, rtol=0.0, atol=tolerance, err_msg=key)
    assert [s.name for s in a.surfaces] == [s.name for s in b.surfaces]
    assert [s.material.id for s in a.surfaces] == [s.material.id for s in b.surfaces]


TEMPLATE = """title = "Room"
units = "{unit}"
[room]
shape = "box"
length = {0}
width = {1}
height = {2}
[surfaces]
default = "gypsum-board-on-studs"
[stock]
trade = "metric"
[[openings]]
name = "door"
surface = "back"
at = [{3}, 0]
size = [{4}, {5}]
material = "door-solid-wood"
[[keep_outs]]
name = "lamp"
surface = "ceiling"
at = [{6}, {7}]
size = [{8}, {8}]
depth = {8}
[[obstacles]]
name = "post"
at = [{6}, {7}, 0]
size = [{8}, {8}, {2}]
material = "steel"
[[loudspeakers]]
name = "L"
position = [{3}, {4}, {5}]
[[subwoofers]]
name = "S"
position = [{3}, {7}, {8}]
[[seats]]
name = "one"
position = [{5}, {7}, {7}]
spread = {8}
[builds.mine]
width = {4}
height = {5}
thickness = {8}
layers = [{{ airflow_resistivity = 10000, thickness = {8} }}]
"""
#: Eighths of an inch that are exact in both systems: text in feet and inches, and the inches.
SIZES = {
    "17 ft 8 1/2 in": 212.5, "11' 9 3/4\"": 141.75, "7 ft 8 1/2 in": 92.5, "1 ft 1 in": 13.0,
    "32 1/4 in": 32.25,
    "6 ft 8 in": 80.0, "8 ft 2 in": 98.0, "5 ft": 60.0, "5 in": 5.0,
}  # fmt: skip


def test_units_do_not_matter(load) -> None:
    inches = list(SIZES.values())
    text = load(TEMPLATE.format(*(json.dumps(t) for t in SIZES), unit="m"))
    # 1 in = 25.4 mm exactly.
    np.testing.assert_allclose(text.enclosure.bounds[1], np.array(inches[:3]) * 0.0254, rtol=1e-12)
    for unit, metres in UNITS.items():
        scene = load(TEMPLATE.format(*(repr(i * 0.0254 / metres) for i in inches), unit=unit))
        assert_same(text, scene)
        assert scene.enclosure.volume == pytest.approx(text.enclosure.volume, rel=1e-9)


def test_a_wrong_unit_would_be_seen(load) -> None:
    a = load(TEMPLATE.format(*(json.dumps(t) for t in SIZES), unit="m"))
    b = load(TEMPLATE.format(*(repr(i * 0.0254 + 1e-6) for i in SIZES.values()), unit="m"))
    with pytest.raises(AssertionError):
        assert_same(a, b)


PLAN = """title = "L"
[room]
shape = "plan"
corners = {corners}
height = 2.35
{names}
[surfaces]
default = "brick-rendered"
{material}
[[openings]]
name = "door"
surface = "{back}"
at = [0.4, 0.0]
size = [0.8, 2.0]
material = "door-solid-wood"
[[loudspeakers]]
name = "L"
position = [0.7, 0.6, 1.1]
[[seats]]
name = "one"
position = [3.9, 2.4, 1.1]
"""
CORNERS = [[0.0, 0.0], [7.3, 0.0], [7.3, 3.2], [4.8, 3.2], [4.8, 4.9], [0.0, 4.9]]
NAMES = ["left", "back", "inner-right", "inner-back", "right", "front"]


def plan(corners: list, names: list | None, back: str, material: str = "") -> str:
    given = f"names = {json.dumps(names)}" if names else ""
    return PLAN.format(corners=corners, names=given, back=back, material=material)


def test_either_winding_with_names(load, find) -> None:
    """A name stays with its wall: the one between the two corners it was given for."""
    forward = load(plan(CORNERS, NAMES, "back", 'back = "concrete-rough"'))
    # Clockwise from the same corner: the first wall is the front wall now, the last the left wall.
    clockwise = [CORNERS[0], *CORNERS[:0:-1]]
    backward = plan(clockwise, NAMES[::-1], "back", 'back = "concrete-rough"')
    assert_same(forward, load(backward))
    assert find(backward)["plan-clockwise"].severity == "note"
    assert "plan-clockwise" not in find(plan(CORNERS, NAMES, "back"))
    # Against the plan itself: the back wall is at x = 7.3 and 3.2 m long; the air is before it.
    for scene in (forward, load(backward)):
        back = scene.surfaces[scene.surface_index("back")].polygon
        np.testing.assert_allclose(back.centroid, [7.3, 1.6, 1.175], atol=1e-12)
        np.testing.assert_allclose(back.normal, [-1.0, 0.0, 0.0], atol=1e-12)
        assert back.area == pytest.approx(3.2 * 2.35)


def test_either_winding_without_names(load) -> None:
    forward = load(plan(CORNERS, None, "wall-2"))
    backward = load(plan([CORNERS[0], *CORNERS[:0:-1]], None, "wall-2"))
    assert_same(forward, backward)
    assert [s.name for s in forward.surfaces] == [*(f"wall-{i}" for i in range(1, 7)), "floor", "ceiling"]


def test_a_box_and_its_plan_hold_the_same_air(load, box_text) -> None:
    box = load(box_text)
    corners = "corners = [[0, 0], [5, 0], [5, 3.8], [0, 3.8]]\n"
    text = box_text.replace('"box"', '"plan"').replace("length = 5.0\nwidth = 3.8\n", corners)
    scene = load(text)
    assert scene.enclosure.volume == pytest.approx(box.enclosure.volume, rel=1e-12)
    assert scene.enclosure.area == pytest.approx(box.enclosure.area, rel=1e-12)


def test_byte_order_mark_and_line_ends_do_not_matter(tmp_path) -> None:
    plain = resolve_scene("garden-room").read_bytes().replace(b"\r\n", b"\n")
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + plain.replace(b"\n", b"\r\n"))
    scene, findings = load_scene(path)
    same, expected = load_scene(resolve_scene("garden-room"))
    assert_same(scene, same, tolerance=0.0)
    assert [f.line for f in findings] == [f.line for f in expected]
