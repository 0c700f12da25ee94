"""An independent check of plans: it reads plan.json and the scene's TOML, and shares no code with planning.

What "after" claims is checked by typing the panels into the scene file by hand, as openings with a material
of their own, or as obstacles where they stand, and predicting that room through the public command.
"""

import json
import tomllib
from itertools import pairwise

import numpy as np
import pytest
import shapely
from typer.testing import CliRunner

from treatment.cli import app

ROOM = """title = "checker"
{panels}
[room]
shape = "box"
length = {length}
width = {width}
height = {height}
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
[[openings]]
name = "door"
surface = "back"
at = [0.3, 0.0]
size = [0.8, 2.0]
material = "door-solid-wood"
[[keep_outs]]
name = "board"
surface = "left"
at = [{board}, 0.6]
size = [0.76, 1.3]
depth = 0.92
reason = "electrical"
[[keep_outs]]
name = "smoke detector"
surface = "ceiling"
at = [{detector}, {middle}]
size = [0.12, 0.12]
depth = 0.06
reason = "detector"
[[keep_outs]]
name = "lamp"
surface = "ceiling"
at = [{lamp}, 0.6]
size = [0.2, 0.2]
depth = 0.0
reason = "luminaire"
[[keep_outs]]
name = "cupboard door"
surface = "front"
at = [0.0, 0.5]
size = [0.5, 1.4]
depth = 0.6
reason = "door-swing"
[[obstacles]]
name = "soffit"
at = [0.0, {soffit}, {beam}]
size = [{length}, 0.35, 0.3]
material = "gypsum-board-on-studs"
[[obstacles]]
name = "pipe"
at = [{pipe}, 0.12, 0.0]
size = [0.1, 0.1, {height}]
material = "steel"
[[framing]]
surface = "right"
spacing = {spacing}
first = 0.12
width = 0.045
[[framing]]
surface = "ceiling"
spacing = 0.45
first = 0.2
along = "u"
[walkways]
width = 0.85
[[loudspeakers]]
name = "L"
position = [0.5, {third}, 1.1]
[[loudspeakers]]
name = "R"
position = [0.5, {two_thirds}, 1.1]
[[seats]]
name = "seat"
position = [{seat}, {middle}, 1.1]
spread = 0.2
[budget]
amount = {budget}
currency = "EUR"
"""

# Which room coordinate each wall coordinate is, and the fixed one, as agreed for boxes.
AXES = {
    "left": (0, 2), "right": (0, 2), "front": (1, 2), "back": (1, 2), "ceiling": (0, 1), "floor": (0, 1)
}  # fmt: skip
#: In this room little may hang, so that panels stand.
STANDING = 0


def random_room(seed):
    rng = np.random.default_rng(seed)
    length, width, height = rng.uniform(3.6, 7.0), rng.uniform(2.8, 4.8), rng.uniform(2.2, 2.9)
    return ROOM.format(
        panels='panels = ["screen-100", "wool-100"]' if seed == STANDING else "",
        length=round(length, 2),
        width=round(width, 2),
        height=round(height, 2),
        board=round(rng.uniform(0.3, length - 1.6), 2),
        third=round(width / 3, 2),
        two_thirds=round(2 * width / 3, 2),
        middle=round(width / 2, 2),
        seat=round(0.62 * length, 2),
        budget=int(rng.uniform(120, 500)) + (400 if seed == STANDING else 0),
        detector=round(rng.uniform(1.0, length - 1.5), 2),
        lamp=round(rng.uniform(0.5, length - 1.0), 2),
        soffit=round(width, 2) - 0.35,
        beam=round(height, 2) - 0.3,
        pipe=round(rng.uniform(0.5, length - 1.0), 2),
        spacing=float(rng.choice([0.40, 0.45, 0.60])),
    )


@pytest.fixture(scope="module", params=range(4))
def made(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("checker")
    scene = folder / "room.toml"
    scene.write_text(random_room(request.param))
    result = CliRunner().invoke(app, ["plan", str(scene), "--out", str(folder / "plan"), "--no-pictures"])
    assert result.exit_code == 0, result.output
    return tomllib.loads(scene.read_text()), json.loads((folder / "plan" / "plan.json").read_text()), folder


def rectangle(placement):
    (u, v), (w, h) = placement["corner_m"], placement["size_m"]
    return shapely.box(u, v, u + w, v + h)


def body(placement, room):
    """Bounds in the room of a panel with its gap."""
    low, high = np.zeros(3), np.zeros(3)
    (u, v), (w, h) = placement["corner_m"], placement["size_m"]
    depth = placement["thickness_m"] + placement["air_gap_m"]
    if placement.get("standing"):
        depth = placement["height_m"]
    a, b = AXES[placement["surface"]]
    low[[a, b]], high[[a, b]] = (u, v), (u + w, v + h)
    third = ({0, 1, 2} - {a, b}).pop()
    size = np.array([room["length"], room["width"], room["height"]])
    if placement["surface"] in ("left", "front", "floor"):
        low[third], high[third] = 0.0, depth
    else:
        low[third], high[third] = size[third] - depth, size[third]
    return low, high


def meet(a, b):
    return bool(np.all(np.minimum(a[1], b[1]) - np.maximum(a[0], b[0]) > 2e-3))


def test_panels_hang_inside_their_surfaces(made):
    scene, plan, _ = made
    size = [scene["room"][k] for k in ("length", "width", "height")]
    assert plan["placements"]
    for p in plan["placements"]:
        a, b = AXES[p["surface"]]
        assert shapely.box(0, 0, size[a], size[b]).contains(rectangle(p))
        centre = np.array(p["centre_m"])
        assert centre[[a, b]] == pytest.approx(np.array(p["corner_m"]) + np.array(p["size_m"]) / 2, abs=1e-4)


def test_no_two_panels_share_space(made):
    scene, plan, _ = made
    bodies = [body(p, scene["room"]) for p in plan["placements"]]
    for i, a in enumerate(bodies):
        for b in bodies[i + 1 :]:
            assert not meet(a, b)


def test_panels_are_clear_of_the_door(made):
    scene, plan, _ = made
    door = scene["openings"][0]
    for p in plan["placements"]:
        if p["surface"] == "back":
            (u, v), (w, h) = door["at"], door["size"]
            assert rectangle(p).intersection(shapely.box(u, v, u + w, v + h)).area == 0.0


def space_of(thing, room):
    """Bounds in the room of a keep-out with the space in front of it."""
    placement = {"surface": thing["surface"], "corner_m": thing["at"], "size_m": thing["size"]}
    return body({**placement, "thickness_m": max(thing["depth"], 0.01), "air_gap_m": 0.0}, room)


def test_panels_keep_their_distance_from_all_kept_free_spaces(made):
    """0.30 m from detectors (common practice), 3 in from lamps (NEC 410.116), in all directions."""
    scene, plan, _ = made
    least = {"detector": 0.30, "luminaire": 3 * 0.0254, "electrical": 0.0, "door-swing": 0.0}
    for thing in scene["keep_outs"]:
        low, high = space_of(thing, scene["room"])
        for p in plan["placements"]:
            start, end = body(p, scene["room"])
            distance = np.linalg.norm(np.maximum(0.0, np.maximum(low - end, start - high)))
            assert not meet((start, end), (low, high))
            assert distance >= least[thing["reason"]] - 2e-3


def test_panels_are_clear_of_obstacles(made):
    scene, plan, _ = made
    for thing in scene["obstacles"]:
        low = np.array(thing["at"])
        for p in plan["placements"]:
            assert not meet(body(p, scene["room"]), (low, low + np.array(thing["size"])))


def free_from(wall, strip, room, things):
    """How far it is free in front of a strip of a wall, from the wall itself; m."""
    a, _ = AXES[wall]
    third = ({0, 1, 2} - {a, 2}).pop()
    size = [room["length"], room["width"], room["height"]]
    found = [size[third]]
    for low, high in things:
        beside = min(high[a], strip[1]) - max(low[a], strip[0]) > 1e-3
        if beside and low[2] < 2.0 - 1e-3 and high[2] > 0.3 + 1e-3:
            ahead = low[third] if wall in ("left", "front") else size[third] - high[third]
            if ahead > -1e-3:
                found.append(ahead)
    return min(found)


def things_of(scene):
    """Loudspeakers (0.25 m round their middle) and heads (0.30 m and their spread), down to the floor."""
    cubes = [(np.array(s["position"]), 0.25) for s in scene["loudspeakers"]]
    cubes += [(np.array(s["position"]), 0.30 + s.get("spread", 0.15)) for s in scene["seats"]]
    return [((middle - half) * [1, 1, 0], middle + half) for middle, half in cubes]


def solids_of(scene):
    return [(np.array(o["at"]), np.add(o["at"], o["size"])) for o in scene["obstacles"]]


def test_ways_past_panels_are_wide_enough(made):
    """0.85 m before every strip of 0.2 m of a panel that people pass, or no way: 0.45 m from the wall itself.

    What stands there: both obstacles, the post-like pipe too (the soffit is above heads unless the room is
    low), loudspeakers, seats, and panels across.
    """
    scene, plan, _ = made
    room, asked = scene["room"], scene["walkways"]["width"]
    fixed = [*solids_of(scene), *things_of(scene)]
    for p in plan["placements"]:
        if p["surface"] in ("ceiling", "floor") or "corner" in p or p["corner_m"][1] >= 2.0:
            continue
        across = {"left": "right", "right": "left", "front": "back", "back": "front"}[p["surface"]]
        others = [body(q, room) for q in plan["placements"] if q["surface"] in (across, "floor")]
        depth = p["thickness_m"] + p["air_gap_m"]
        edges = np.linspace(0.0, p["size_m"][0], 1 + int(np.ceil(p["size_m"][0] / 0.2))) + p["corner_m"][0]
        for strip in pairwise(edges):
            free = free_from(p["surface"], strip, room, [*fixed, *others])
            assert free - depth >= asked - 3e-3 or free <= 0.45 + 3e-3


def crosses(low, high, start, end):
    """Whether a line passes a box: it is cut by the box's planes, one axis after the other."""
    first, last = 0.0, 1.0
    for k in range(3):
        step = end[k] - start[k]
        if abs(step) < 1e-12:
            if not low[k] < start[k] < high[k]:
                return False
            continue
        one, two = sorted(((low[k] - start[k]) / step, (high[k] - start[k]) / step))
        first, last = max(first, one), min(last, two)
    return last - first > 1e-6


def test_standing_panels_stand_on_the_floor_inside_the_room_and_out_of_the_way(made):
    """Height and feet (a third of it deep, common practice) by hand; 0.90 m before the door stays free."""
    scene, plan, _ = made
    room = scene["room"]
    standing = [p for p in plan["placements"] if p.get("standing")]
    size = np.array([room["length"], room["width"], room["height"]])
    (u, v), (w, h) = scene["openings"][0]["at"], scene["openings"][0]["size"]
    door = np.array([size[0] - 0.9, u, v]), np.array([size[0], u + w, v + h])
    fixed = [*solids_of(scene), *things_of(scene), door]
    fixed += [space_of(k, room) for k in scene["keep_outs"]]
    for p in standing:
        low, high = body(p, room)
        assert p["surface"] == "floor"
        assert low[2] == 0.0
        assert np.all(low >= -1e-6)
        assert np.all(high <= size + 1e-6)
        assert p["centre_m"] == pytest.approx((low + high) / 2.0, abs=1e-4)
        depth = int(np.argmin(high[:2] - low[:2]))
        assert high[depth] - low[depth] == pytest.approx(p["thickness_m"], abs=1e-4)
        feet = low.copy(), high.copy()
        more = np.eye(3)[depth] * (p["height_m"] / 3.0 - p["thickness_m"]) / 2.0
        feet = low - more, (high + more) * [1, 1, 0] + [0, 0, 0.06]
        assert np.all(feet[0] >= -1e-6)
        assert np.all(feet[1] <= size + 1e-6)
        for thing in fixed:
            assert not meet((low, high), thing)
            # Where something reaches lower than a hand over the floor, feet are clear of it as well.
            assert not meet(feet, thing)
        heads = [
            np.array(s["position"]) + s["spread"] * np.array(c)
            for s in scene["seats"]
            for c in ((0, 0, 0), (1, 1, 0), (1, -1, 0), (-1, 1, 0), (-1, -1, 0))
        ]
        for head in heads:
            for speaker in scene["loudspeakers"]:
                assert not crosses(low, high, head, np.array(speaker["position"]))
            # The front wall between the loudspeakers: where a picture is.
            for y in np.linspace(*(s["position"][1] for s in scene["loudspeakers"]), 25):
                assert not crosses(low, high, head, np.array([0.0, y, 1.1]))
        # Beside it one can pass, or nobody wants to: 0.85 m free, or something within 0.45 m.
        others = [*solids_of(scene), *things_of(scene)]
        others += [body(q, room) for q in plan["placements"] if q is not p]
        for k, ahead in ((0, 1), (0, -1), (1, 1), (1, -1)):
            free = [size[k] - high[k] if ahead > 0 else low[k]]
            for a, b in others:
                side = min(b[1 - k], high[1 - k]) - max(a[1 - k], low[1 - k]) > 1e-3
                away = a[k] - high[k] if ahead > 0 else low[k] - b[k]
                if side and away > -1e-3 and a[2] < 2.0 and b[2] > 0.3 and low[2] < b[2] and a[2] < high[2]:
                    free.append(away)
            assert min(free) >= scene["walkways"]["width"] - 3e-3 or min(free) <= 0.45 + 3e-3
    if 'panels = ["screen' in (made[2] / "room.toml").read_text():
        assert standing


def test_framed_panels_reach_two_members(made):
    """25 mm inside the panel's edge, 12 mm inside the timber's: every place on a fine grid is tried."""
    scene, plan, _ = made
    for framing in scene["framing"]:
        width = framing.get("width", 0.045)
        for p in plan["placements"]:
            if p["surface"] != framing["surface"]:
                continue
            screws = np.arange(p["corner_m"][0] + 0.025, p["corner_m"][0] + p["size_m"][0] - 0.0249, 5e-4)
            member = np.round((screws - framing["first"]) / framing["spacing"])
            off = np.abs(screws - framing["first"] - member * framing["spacing"])
            assert len(set(member[(off <= width / 2 - 0.012 + 6e-4) & (member >= 0)])) >= 2


def test_money(made):
    scene, plan, folder = made
    assert plan["cost"]["total"] == pytest.approx(sum(p["cost"] for p in plan["placements"]))
    assert plan["cost"]["total"] <= scene["budget"]["amount"]
    lines = (folder / "plan" / "shopping.csv").read_text().splitlines()
    assert len(lines) > 1


def test_after_is_the_prediction_of_the_room_with_the_panels_typed_in(made):
    _, plan, folder = made
    text = (folder / "room.toml").read_text()
    stands = {p["id"] for p in plan["placements"] if p.get("standing")}
    for name in sorted(stands):
        rows = [r for r in plan["after"]["surfaces"] if r["name"] == name]
        areas = np.array([r["area_m2"] for r in rows])
        mean = (areas @ np.array([r["absorption"] for r in rows]) / areas.sum()).tolist()
        text += f'[materials.face-{name}]\nabsorption = {mean}\nsource = "typed in, mean of all sides"\n'
    for row in plan["after"]["surfaces"]:
        if row["kind"] == "panel" and row["name"] not in stands:
            values = ", ".join(repr(a) for a in row["absorption"])
            text += f'[materials.face-{row["name"]}]\nabsorption = [{values}]\nsource = "typed in"\n'
    areas = {row["name"]: row["area_m2"] for row in plan["after"]["surfaces"]}
    for p in plan["placements"]:
        (u, v), (w, h) = p["corner_m"], p["size_m"]
        if p["id"] in stands:
            text += (
                f'[[obstacles]]\nname = "{p["id"]}"\nat = [{u}, {v}, 0.0]\n'
                f'size = [{w}, {h}, {p["height_m"]}]\nmaterial = "face-{p["id"]}"\n'
            )
            continue
        # The absorbing face lies inside the frame: (w - 2t)(h - 2t) is its area.
        half = (w + h) / 2
        frame = (half - np.sqrt(half**2 - (w * h - areas[p["id"]]))) / 2
        text += (
            f'[[openings]]\nname = "{p["id"]}"\nsurface = "{p["surface"]}"\nat = [{u + frame}, {v + frame}]\n'
            f'size = [{w - 2 * frame}, {h - 2 * frame}]\nmaterial = "face-{p["id"]}"\n'
        )
    typed = folder / "typed.toml"
    typed.write_text(text)
    result = CliRunner().invoke(app, ["predict", str(typed), "--json"])
    assert result.exit_code == 0, result.output
    predicted = json.loads(result.stdout)
    for name in ("sabine", "eyring"):
        assert predicted["reverberation_s"][name] == pytest.approx(
            plan["after"]["reverberation_s"][name], rel=1e-5
        )
    ours = {(a["source"], a["seat"], tuple(a["surfaces"])): a["level_db"] for a in plan["after"]["arrivals"]}
    theirs = {(a["source"], a["seat"], tuple(a["surfaces"])): a["level_db"] for a in predicted["arrivals"]}
    assert ours.keys() == theirs.keys()
    for key, level in ours.items():
        # One material for all sides: only what a standing panel itself sends back is another level.
        if not stands & set(key[2]):
            assert theirs[key] == pytest.approx(level, abs=2e-3)


def test_no_panel_raises_the_reverberation_time(made):
    _, plan, _ = made
    for name in ("sabine", "eyring"):
        before, after = plan["before"]["reverberation_s"][name], plan["after"]["reverberation_s"][name]
        assert all(a <= b + 1e-9 for a, b in zip(after[1:], before[1:], strict=True))


def test_early_arrivals_get_fewer(made):
    _, plan, _ = made

    def count(part):
        return sum(a["verdict"] == "treat" for a in plan[part]["arrivals"])

    assert count("after") < count("before")
