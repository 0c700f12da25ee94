"""Bodies of panels at random places in random rooms, judged a second time by code of its own.

The second judge reads the scene's TOML. In box rooms all bodies lie along the axes: overlaps and distances
are differences of coordinates. Under slopes a linear programme looks for the largest ball in both bodies.
Ways are measured with level lines. Places where a few millimetres decide are left out.
"""

import tomllib

import numpy as np
import pytest
from scipy.optimize import linprog

from treatment.planning.kept import bodies_clear, kept_free
from treatment.scene.load import load_scene

REST = """
[[obstacles]]
name = "pipe"
at = [{pipe}, {off}, 0.0]
size = [0.1, 0.1, 0.9]
material = "steel"
[[keep_outs]]
name = "swing"
surface = "front"
at = [0.2, 0.1]
size = [0.7, 0.8]
depth = 0.7
reason = "door-swing"
[[keep_outs]]
name = "smoke detector"
surface = "{overhead}"
at = [{detector}, 0.3]
size = [0.12, 0.12]
depth = 0.06
reason = "detector"
[[keep_outs]]
name = "lamp"
surface = "{overhead}"
at = [{lamp}, 0.7]
size = [0.2, 0.2]
depth = 0.02
reason = "luminaire"
[[loudspeakers]]
name = "L"
position = [0.45, {third}, 1.0]
[[seats]]
name = "seat"
position = [{seat}, {middle}, 1.1]
spread = 0.2
"""
BOX = """[room]
shape = "box"
length = {length}
width = {width}
height = {height}
[surfaces]
default = "gypsum-board-on-studs"
[walkways]
width = 0.95
[[obstacles]]
name = "soffit"
at = [0.0, {soffit}, {beam}]
size = [{length}, 0.35, 0.3]
material = "gypsum-board-on-studs"
"""
ATTIC = """[room]
shape = "plan"
corners = [[0, 0], [{length}, 0], [{length}, {width}], [0, {width}]]
names = ["left", "back", "right", "front"]
[[room.ceiling]]
name = "slope"
wall = "left"
knee = {knee}
pitch = {pitch}
[[room.ceiling]]
name = "other"
wall = "right"
knee = {knee}
pitch = {pitch}
[surfaces]
default = "gypsum-board-on-studs"
"""
# Which room coordinates the wall coordinates are, in which direction the room lies, as agreed for boxes.
WALLS = {
    "left": (0, 2, 1, 1), "right": (0, 2, 1, -1), "front": (1, 2, 0, 1), "back": (1, 2, 0, -1),
    "ceiling": (0, 1, 2, -1),
}  # fmt: skip
LEAST = {"detector": 0.30, "luminaire": 3 * 0.0254}


def random_room(rng, tmp_path, text):
    length, width = round(rng.uniform(3.8, 6.0), 2), round(rng.uniform(2.8, 3.4), 2)
    height = round(rng.uniform(2.2, 2.7), 2)
    values = {
        "length": length, "width": width, "height": height, "soffit": width - 0.35, "beam": height - 0.3,
        "pipe": round(rng.uniform(0.5, length - 1.0), 2), "off": round(rng.uniform(0.05, 0.2), 2),
        "detector": round(rng.uniform(0.5, length - 1.0), 2),
        "lamp": round(rng.uniform(0.5, length - 1.0), 2),
        "third": round(width / 3, 2), "middle": round(width / 2, 2), "seat": round(0.6 * length, 2),
        "knee": round(rng.uniform(0.9, 1.4), 2), "pitch": round(rng.uniform(48.0, 58.0), 1),
        "overhead": "ceiling" if text == BOX else "slope",
    }  # fmt: skip
    path = tmp_path / "room.toml"
    path.write_text('title = "bodies"\n' + (text + REST).format(**values))
    return tomllib.loads(path.read_text()), load_scene(path)[0]


def overlap(a, b):
    return float((np.minimum(a[1], b[1]) - np.maximum(a[0], b[0])).min())


def distance(a, b):
    return float(np.linalg.norm(np.maximum(0.0, np.maximum(a[0] - b[1], b[0] - a[1]))))


class Judge:
    """Verdict on a body in a box room; counts what it found."""

    def __init__(self, data):
        self.data = data
        self.size = np.array([data["room"][k] for k in ("length", "width", "height")])
        self.solid = [(np.array(o["at"]), np.add(o["at"], o["size"])) for o in data["obstacles"]]
        cube = np.array([[-0.25], [0.25]])
        self.things = [np.array(s["position"]) + cube for s in data["loudspeakers"]]
        self.things += [np.array(s["position"]) + 2.0 * cube for s in data["seats"]]  # 0.30 + 0.20
        self.found = {}

    def box(self, name, table, depth):
        a, b, c, way = WALLS[name]
        low, high = np.zeros(3), np.zeros(3)
        low[[a, b]], high[[a, b]] = table[:2], table[2:]
        low[c], high[c] = (0.0, depth) if way > 0 else (self.size[c] - depth, self.size[c])
        return np.array([low, high])

    def __call__(self, name, table, depth):
        """True: clear, False: not, None: a few millimetres decide."""
        own = self.box(name, table, depth)
        deep = [("solid", overlap(own, s), 0.0) for s in self.solid]
        deep += [("thing", overlap(own, t), 0.0) for t in self.things]
        for k in self.data["keep_outs"]:
            space = self.box(k["surface"], [*k["at"], *np.add(k["at"], k["size"])], k["depth"])
            least = LEAST.get(k["reason"], 0.0)
            deep.append((k["reason"], overlap(own, space), 0.0))
            if least:
                deep.append((k["reason"], least - distance(own, space), 0.0))
        outside = max(float((own[1] - self.size).max()), float(-own[0].min()))
        deep.append(("outside", outside, 0.0))
        way = self.narrow(name, table, depth)
        for what, much, _ in deep:
            if much > 4e-3:
                self.found[what] = self.found.get(what, 0) + 1
                return False
        if way and max(much for what, much, _ in deep if what != "outside") <= -4e-3:
            self.found["way"] = self.found.get("way", 0) + 1
        # A body on its wall touches it, and may touch a neighbour.
        if any(abs(much) <= 4e-3 for what, much, _ in deep if what != "outside"):
            return None
        return None if way is None else not way

    def narrow(self, name, table, depth):
        """Level lines from the wall, 10 mm apart: is a stretch of them too short for a way?"""
        a, _, c, way = WALLS[name]
        if name == "ceiling" or table[1] > 2.0:
            return False
        blocks = [(low, high) for low, high in self.solid]
        blocks += [(low * [1, 1, 0], high) for low, high in self.things]
        short, doubt = [], False
        for u in np.arange(table[0] - 0.005, table[2] + 0.01, 0.01):
            free = self.size[c]
            for low, high in blocks:
                if low[a] < u < high[a] and low[2] < 2.0 and high[2] > 0.3:
                    free = min(free, low[c] if way > 0 else self.size[c] - high[c])
            doubt = doubt or abs(free - depth - 0.95) < 4e-3 or abs(free - 0.45) < 4e-3
            short.append(free - depth < 0.95 and free > 0.45)
        longest = max((len(r) for r in "".join("x" if k else " " for k in short).split()), default=0)
        if longest == 0 and not doubt:
            return False
        return True if longest > 23 and not doubt else None


def test_random_bodies_in_random_box_rooms(tmp_path):
    rng = np.random.default_rng(5)
    found, judged = {}, {True: 0, False: 0}
    for _ in range(5):
        data, scene = random_room(rng, tmp_path, BOX)
        judge, kept = Judge(data), kept_free(scene)
        for name, (a, b, _, _) in WALLS.items():
            for _ in range(40):
                size = rng.uniform(0.3, 1.2, 2)
                low = rng.uniform(0.0, 1.0, 2) * np.maximum(judge.size[[a, b]] - size, 0.0)
                table, depth = np.array([*low, *(low + size)]), float(rng.uniform(0.025, 0.3))
                verdict = judge(name, table, depth)
                if verdict is None:
                    continue
                ours = bodies_clear(scene, scene.surface_index(name), table[None], depth, kept)[0]
                assert ours == verdict, (name, table, depth)
                judged[verdict] += 1
        found = {k: found.get(k, 0) + n for k, n in (found | judge.found).items()}
    assert min(judged.values()) > 100
    assert set(found) >= {"solid", "thing", "detector", "luminaire", "door-swing", "way"}


def halfspaces(corner, axes, lengths):
    """A x <= b of a box by one corner and its edges."""
    a = np.concatenate([axes, -axes])
    return a, np.concatenate([axes @ corner + lengths, -(axes @ corner)])


def ball(*bodies):
    """Radius of the largest ball in all bodies; negative when they have no common point."""
    a, b = (np.concatenate(x) for x in zip(*bodies, strict=True))
    found = linprog([0, 0, 0, -1], np.column_stack([a, np.ones(len(a))]), b, bounds=(None, None))
    return float(found.x[3])


def test_random_bodies_under_random_slopes(tmp_path):
    """The slope z = knee + y tan(pitch) and its twin, by hand; u along x, v up from the lower edge."""
    rng = np.random.default_rng(6)
    judged, cut = {True: 0, False: 0}, 0
    for _ in range(3):
        data, scene = random_room(rng, tmp_path, ATTIC)
        r, slope = data["room"], data["room"]["ceiling"][0]
        (length, width), t = r["corners"][2], np.radians(slope["pitch"])
        up, into = np.array([0.0, np.cos(t), np.sin(t)]), np.array([0.0, np.sin(t), -np.cos(t)])
        foot = np.array([0.0, 0.0, slope["knee"]])
        rise, other = width / 2.0 / np.cos(t), into * [1, -1, 1]
        room = (
            np.array([[-1, 0, 0], [1, 0, 0], [0, -1, 0], [0, 1, 0], [0, 0, -1], -into, -other]),
            np.array([0, length, 0, width, 0, -into @ foot, -other @ [0, width, slope["knee"]]]),
        )
        on_slope, on_left = np.array([[1, 0, 0], up, into]), np.array([[1.0, 0, 0], [0, 0, 1], [0, 1, 0]])
        spaces = []
        for o in data["obstacles"]:
            spaces.append((halfspaces(np.array(o["at"]), np.eye(3), np.array(o["size"])), None))
        cube = np.array([0.5, 0.5, 0.5])
        things = [(s, cube / 2) for s in data["loudspeakers"]] + [(s, cube) for s in data["seats"]]
        spaces += [(halfspaces(s["position"] - half, np.eye(3), 2 * half), None) for s, half in things]
        for k in data["keep_outs"]:
            size = np.array([*k["size"], k["depth"]])
            if k["surface"] == "slope":
                corner = foot + k["at"][0] * on_slope[0] + k["at"][1] * up
                least = LEAST[k["reason"]]
                grown = halfspaces(corner - least * on_slope.sum(axis=0), on_slope, size + 2 * least)
                spaces.append((halfspaces(corner, on_slope, size), grown))
            else:
                # u on the front wall of a plan counts from its first corner, the right end.
                corner = np.array([0.0, width - k["at"][0] - size[0], k["at"][1]])
                spaces.append((halfspaces(corner, np.eye(3), size[[2, 0, 1]]), None))
        kept = kept_free(scene)
        for _ in range(50):
            name = str(rng.choice(["slope", "left"]))
            axes, high = (on_slope, rise) if name == "slope" else (on_left, slope["knee"])
            size = np.array([*rng.uniform(0.3, [1.2, min(1.2, high)]), rng.uniform(0.05, 0.4)])
            low = rng.uniform(0, 1, 2) ** [1.0, 0.3] * (np.array([length, high]) - size[:2])
            corner = (foot if name == "slope" else np.zeros(3)) + low[0] * axes[0] + low[1] * axes[1]
            own = halfspaces(corner, axes, size)
            ends = corner + np.array(np.meshgrid([0, 1], [0, 1], [0, 1])).reshape(3, -1).T * size @ axes
            out = float((ends @ room[0].T - room[1]).max())
            inner = max(2.0 * ball(own, space) for space, _ in spaces)
            # Grown by the distance on all sides the space is a little larger than it need be at its corners.
            near = [2.0 * ball(own, grown) for _, grown in spaces if grown]
            if out > 5e-3 or inner > 5e-3:
                verdict = False
            elif abs(inner) <= 5e-3 or out > 2e-4:
                continue
            elif max(near) < -5e-3:
                verdict = True
            else:
                continue
            cut += out > 5e-3
            table = np.array([[*low, *(low + size[:2])]])
            ours = bodies_clear(scene, scene.surface_index(name), table, float(size[2]), kept)[0]
            assert ours == verdict, (name, table, size)
            judged[verdict] += 1
    assert min(judged.values()) > 15
    assert cut > 5


@pytest.mark.parametrize(("gap", "legal"), [(0.297, False), (0.303, True)])
def test_detector_on_a_slope_by_hand(tmp_path, gap, legal):
    """Both on the slope: the distance is that along it. 0.30 m: common practice."""
    data, scene = random_room(np.random.default_rng(7), tmp_path, ATTIC)
    detector = next(k for k in data["keep_outs"] if k["reason"] == "detector")
    low = detector["at"][0] + 0.12 + gap
    kept = [k for k in kept_free(scene) if k.reason == "detector"]
    table = np.array([[low, 0.3, low + 0.4, 0.7]])
    assert bodies_clear(scene, scene.surface_index("slope"), table, 0.05, kept)[0] == legal
