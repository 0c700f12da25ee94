"""Makes the mesh files of scenes/ and scenes/broken/: run it to write them anew.

    .venv/bin/python tests/scene/meshes.py

The rooms are invented. Vertices are written in whole units, so that the files do not depend on the machine.
"""

from itertools import pairwise
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
SCENES = ROOT / "scenes"

#: Faces of a box seen from outside, by corner numbers: bottom corners 0 to 3, top corners 4 to 7.
BOX_FACES = {
    "floor": [(0, 3, 2, 1)],
    "ceiling": [(4, 5, 6, 7)],
    "left": [(0, 1, 5, 4)],
    "back": [(1, 2, 6, 5)],
    "right": [(2, 3, 7, 6)],
    "front": [(3, 0, 4, 7)],
}


def box_corners(low, high):
    (x0, y0, z0), (x1, y1, z1) = low, high
    plan = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    return [(*xy, z0) for xy in plan] + [(*xy, z1) for xy in plan]


def triangles(faces):
    """Faces cut like a cake."""
    return [(f[0], b, c) for f in faces for b, c in pairwise(f[1:])]


def obj(vertices, groups, comment):
    """Text of an OBJ file; groups: name to faces of corner numbers from 0."""
    lines = [f"# {comment}"]
    lines += ["v " + " ".join(f"{c:g}" for c in v) for v in vertices]
    for name, faces in groups.items():
        lines += [f"g {name}", *("f " + " ".join(str(c + 1) for c in f) for f in faces)]
    return "\n".join(lines) + "\n"


def bay_window():
    """A living room with a bay in its right wall and a lower ceiling over the bay; cm, y up, screen at -z."""
    plan = [(0, 0), (560, 0), (560, 400), (400, 400), (350, 450), (210, 450), (160, 400), (0, 400)]
    room = [(x, y, 0) for x, y in plan] + [(x, y, 260) for x, y in plan if y <= 400]
    room += [(x, y, 230) for x, y in plan[3:7]]
    # Corners: floor 0-7; ceiling 8-13 from the front left on, without the bay's two; bay's ceiling 14-17.
    top = {0: 8, 1: 9, 2: 10, 3: 11, 6: 12, 7: 13}
    low = {3: 14, 4: 15, 5: 16, 6: 17}
    groups = {
        "floor": [tuple(range(7, -1, -1))],
        "ceiling": [(8, 9, 10, 11, 12, 13)],
        "walls": [
            (0, 1, top[1], top[0]),
            (1, 2, top[2], top[1]),
            (2, 3, low[3], top[3], top[2]),
            (low[3], low[6], top[6], top[3]),
            (6, 7, top[7], top[6], low[6]),
            (7, 0, top[0], top[7]),
        ],
        "bay": [(3, 4, low[4], low[3]), (4, 5, low[5], low[4]), (5, 6, low[6], low[5])],
        "bay-ceiling": [(low[3], low[4], low[5], low[6])],
    }
    # The file's axes: across the room, up, from the screen to the back.
    return obj(
        [(y, z, x) for x, y, z in room], groups, "Living room with a bay window, in centimetres, y up."
    )


ROOM = box_corners((0, 0, 0), (470, 330, 235))


def with_hole():
    """Worked room: 4.7 x 3.3 x 2.35 m, one of two ceiling triangles missing (7.755 m2)."""
    groups = {name: triangles(faces) for name, faces in BOX_FACES.items()}
    groups["ceiling"] = groups["ceiling"][:1]
    return obj([tuple(10 * c for c in v) for v in ROOM], groups, "A room with a hole in its ceiling, in mm.")


def with_partition():
    """A wall without thickness between floor and ceiling, on the long edges of both."""
    x = 300
    vertices = [*ROOM, (x, 0, 0), (x, 330, 0), (x, 0, 235), (x, 330, 235)]
    groups = {
        "floor": [(0, 3, 9, 8), (8, 9, 2, 1)],
        "ceiling": [(4, 10, 11, 7), (10, 5, 6, 11)],
        "left": [(0, 8, 10, 4), (8, 1, 5, 10)],
        "back": [(1, 2, 6, 5)],
        "right": [(2, 9, 11, 6), (9, 3, 7, 11)],
        "front": [(3, 0, 4, 7)],
        "partition": [(8, 9, 11, 10)],
    }
    return obj(vertices, groups, "A room with a wall that has no thickness, in cm.")


def with_second_body():
    post = box_corners((200, 150, 50), (220, 170, 200))
    groups = {
        **BOX_FACES,
        **{f"post-{n}": [tuple(c + 8 for c in f) for f in fs] for n, fs in BOX_FACES.items()},
    }
    return obj([*ROOM, *post], groups, "A room and a post in it, two bodies, in cm.")


def cutting_itself():
    """The back wall has a spike that leaves the room through the front wall."""
    vertices = [*ROOM, (-60, 150, 120)]
    groups = {n: f for n, f in BOX_FACES.items() if n != "back"}
    groups["back"] = [(1, 2, 8), (2, 6, 8), (6, 5, 8), (5, 1, 8)]
    return obj(vertices, groups, "A room whose back wall is pulled through its front wall, in cm.")


def folded():
    """The fan of the ceiling has its middle outside: two of its triangles lie on each other."""
    vertices = [*ROOM, (600, 150, 235)]
    groups = {n: f for n, f in BOX_FACES.items() if n != "ceiling"}
    groups["ceiling"] = [(4, 5, 8), (5, 6, 8), (6, 7, 8), (7, 4, 8)]
    return obj(vertices, groups, "A room whose ceiling is folded back on itself, in cm.")


def one_sided(n=12):
    """A bottle without an inside (the figure-eight immersion of Klein's bottle)."""
    u, v = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    # Half a step off, so that no corner lies where the figure eight crosses itself.
    a, b = 2 * np.pi * u / n, 2 * np.pi * (v + 0.5) / n
    r = 200 + 60 * (np.cos(a / 2) * np.sin(b) - np.sin(a / 2) * np.sin(2 * b))
    z = 60 * (np.sin(a / 2) * np.sin(b) + np.cos(a / 2) * np.sin(2 * b))
    points = np.round(np.stack([r * np.cos(a), r * np.sin(a), z], axis=-1), 1).reshape(-1, 3)

    def at(i, j):
        # Once round, the figure eight has turned over.
        return i * n + j % n if i < n else (-j - 1) % n

    faces = [(at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)) for i in range(n) for j in range(n)]
    return obj(points, {"bottle": triangles(faces)}, "A surface without an inside, in cm.")


def flat():
    return obj(
        [(0, 0, 0), (400, 0, 0), (400, 300, 0), (0, 300, 0)],
        {"floor": [(0, 1, 2, 3)]},
        "A floor alone, in cm.",
    )


def vaulted(pieces=6):
    """A room under a round vault of flat pieces."""
    angle = np.pi * np.arange(pieces + 1) / pieces
    arch = [(165 + 165 * np.cos(t), 120 + 130 * np.sin(t)) for t in angle]
    ring = [(0.0, 0.0), (330.0, 0.0), *arch]
    n = len(ring)
    vertices = [(x, round(y, 1), round(z, 1)) for x in (0, 470) for y, z in ring]
    groups = {
        "front": [tuple(range(n))],
        "back": [tuple(range(2 * n - 1, n - 1, -1))],
        "shell": [(i, n + i, n + (i + 1) % n, (i + 1) % n) for i in range(n)],
    }
    return obj(vertices, groups, "A room under a vault, in cm.")


def files():
    """Text of every mesh file by its place in scenes/."""
    return {
        "bay-window.obj": bay_window(),
        "broken/mesh-hole.obj": with_hole(),
        "broken/mesh-edge-shared.obj": with_partition(),
        "broken/mesh-several-shells.obj": with_second_body(),
        "broken/mesh-self-intersecting.obj": cutting_itself(),
        "broken/mesh-faces-overlap.obj": folded(),
        "broken/mesh-one-sided.obj": one_sided(),
        "broken/mesh-flat.obj": flat(),
        "broken/mesh-curved.obj": vaulted(),
        "broken/mesh-unreadable.obj": "# A face that names a corner which is not there.\nv 0 0 0\nf 1 2 3\n",
        "broken/mesh-room.obj": obj(ROOM, BOX_FACES, "A plain room, in cm; its faces look outwards."),
    }


if __name__ == "__main__":
    for name, text in files().items():
        (SCENES / name).write_text(text, encoding="utf-8")
