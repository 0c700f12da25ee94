"""Places for something of a usual size, held against checks that the finder does not use."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from treatment.planning.vacant import Wanted, vacant_block, vacant_place
from treatment.scene.load import load_scene

SCENES = Path(__file__).parents[2] / "scenes"
NAMES = [p.stem for p in sorted(SCENES.glob("*.toml"))]
DOOR = Wanted(("back", "right", "left", "front"), (0.82, 2.03), 0.0)


def scene_of(name):
    return load_scene(SCENES / f"{name}.toml")[0]


@pytest.mark.parametrize("name", NAMES)
def test_a_door_lies_on_its_wall_and_off_everything_there(name):
    scene = scene_of(name)
    index, r = vacant_place(scene, DOOR)
    wall = scene.surfaces[index]
    assert wall.kind == "wall"
    # A door begins at the floor, and is as large as asked for.
    corner = wall.polygon.to_room([r.u, r.v])
    assert corner[2] == pytest.approx(scene.enclosure.bounds[0][2], abs=1e-9)
    assert (r.width, r.height) == (0.82, 2.03)
    for p in np.linspace((r.u + 1e-6, r.v + 1e-6), (r.bounds[2] - 1e-6, r.bounds[3] - 1e-6), 9):
        assert scene.enclosure.contains(wall.polygon.to_room(p, 0.01)[None])[0]
    things = [o for o in (*scene.openings, *scene.keep_outs, scene.screen) if o and o.surface == index]
    for thing in things:
        gap = max(
            thing.rectangle.u - r.bounds[2],
            r.u - thing.rectangle.bounds[2],
            thing.rectangle.v - r.bounds[3],
            r.v - thing.rectangle.bounds[3],
        )
        assert gap >= 0.05 - 1e-9


def test_the_back_wall_comes_first_and_the_middle_of_what_is_free():
    scene = scene_of("garden-room")
    index, r = vacant_place(scene, DOOR)
    assert scene.surfaces[index].name == "back"
    # Its swing ends at 1.20 m and a switch at 1.34 m: by tape, the first free tenth is 1.40 m.
    assert r.u == pytest.approx(1.4)


def test_a_wall_that_is_full_is_passed_over():
    scene = scene_of("attic")  # door and swing take the middle of the back wall; the slopes take its sides
    index, _ = vacant_place(scene, DOOR)
    assert scene.surfaces[index].name == "front"
    back = scene.surface_index("back")
    smaller = vacant_place(scene, DOOR, back)
    assert smaller is None or smaller[1].height < 2.03


def test_where_nothing_so_large_fits_it_is_smaller():
    scene = scene_of("attic")
    left = scene.surface_index("left")  # a knee wall, 1 m high
    index, r = vacant_place(scene, Wanted(("left",), (1.0, 1.2)), left)
    assert index == left
    assert r.height == pytest.approx(0.9)
    assert vacant_place(scene, Wanted(("left",), (9.0, 9.0)), left) is None
    # Space for work on electricity does not shrink.
    assert vacant_place(scene, Wanted(("left",), (1.0, 1.2), smaller=False), left) is None


def test_panels_are_left_alone_while_there_is_room_beside_them():
    scene = scene_of("open-living-room")
    index, first = vacant_place(scene, DOOR)
    assert vacant_place(scene, DOOR, also=[(index, first)])[1].overlaps(first) is False
    whole = scene.surfaces[index].polygon.bounds
    everywhere = type(first)(whole[0], whole[1], whole[2] - whole[0], whole[3] - whole[1])
    assert vacant_place(scene, DOOR, index, [(index, everywhere)]) == (index, first)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(
    ("size", "target", "hung"),
    [
        ((0.1, 0.1, 0.0), (0.5, 0.8), False),
        ((0.6, 1.8, 0.9), (1.0, 0.5), False),
        ((2.0, 0.6, 0.3), (0.5, 0.0), True),
    ],
)
def test_a_block_stands_where_a_room_file_may_have_one(name, size, target, hung, tmp_path):
    scene = scene_of(name)
    size = (*size[:2], size[2] or float(np.ptp(scene.enclosure.bounds, axis=0)[2]))
    at, found = vacant_block(scene, [size], target, hung=hung)
    assert found == pytest.approx(size)
    text = (SCENES / f"{name}.toml").read_text(encoding="utf-8")
    text += (
        f'\n[[obstacles]]\nname = "new"\nat = {at.tolist()}\nsize = {found.tolist()}\nmaterial = "steel"\n'
    )
    path = tmp_path / f"{name}.toml"
    path.write_text(text, encoding="utf-8")
    mesh = tomllib.loads(text)["room"].get("file")
    if mesh:
        (tmp_path / mesh).write_bytes((SCENES / mesh).read_bytes())
    made, _ = load_scene(path)  # raises where it has errors
    assert any(s.obstacle == "new" for s in made.surfaces)


def test_a_block_keeps_off_what_is_better_left_alone_where_it_can():
    scene = scene_of("garden-room")
    size, target = (0.1, 0.1, 2.5), (0.45, 0.85)
    bare, _ = vacant_block(scene, [size], target)
    above = (np.array([*(bare[:2] - 0.3), 2.4]), np.array([*(bare[:2] + 0.35), 2.5]))
    at, found = vacant_block(scene, [size], target, also=[above])
    assert found == pytest.approx(size)
    # 5 cm beside it, as between two things on a wall.
    assert np.any((at[:2] >= above[1][:2] + 0.05 - 1e-6) | (at[:2] + 0.1 <= above[0][:2] - 0.05 + 1e-6))
    assert np.hypot(*(at - bare)[:2]) < 0.5
    # What ends below it is not in its way; a ceiling full of panels keeps no post out.
    low, _ = vacant_block(scene, [(0.1, 0.1, 2.3)], target, also=[above])
    assert low[:2] == pytest.approx(bare[:2])
    everywhere = (np.array([0.0, 0.0, 2.4]), np.array([5.4, 3.6, 2.5]))
    anyway, _ = vacant_block(scene, [size], target, also=[everywhere])
    assert anyway == pytest.approx(bare)


def test_there_may_be_no_place_for_a_block():
    assert vacant_block(scene_of("garden-room"), [(9.0, 9.0, 1.0)], (0.5, 0.5)) is None


BOX = """units = "m"

[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.4

[surfaces]
default = "gypsum-board-on-studs"

[[loudspeakers]]
name = "left"
position = [0.6, 1.0, 1.1]

[[seats]]
name = "seat"
position = [3.0, 2.0, 1.1]
"""


def with_recess(folder, **values):
    lines = "".join(f"{k} = {v!r}\n" for k, v in values.items()).replace("'", '"')
    path = folder / "room.toml"
    path.write_text(f'{BOX}\n[[recesses]]\nname = "nook"\n{lines}', encoding="utf-8")
    return load_scene(path)[0]


def test_a_block_does_not_stand_over_a_pit_in_the_floor(tmp_path):
    scene = with_recess(tmp_path, surface="floor", at=[3.6, 0.4], size=[1.2, 1.2], depth=0.4)
    at, size = vacant_block(scene, [(0.6, 0.6, 0.9)], (0.84, 0.25))
    (pit,) = [s.polygon for s in scene.surfaces if s.name == "nook-bottom"]
    corners = pit.to_room(pit.edges[:, 0])[:, :2]
    low, high = corners.min(axis=0), corners.max(axis=0)
    assert np.any((at[:2] >= high - 1e-6) | ((at + size)[:2] <= low + 1e-6))


def test_a_block_does_not_shut_a_recess_off(tmp_path):
    scene = with_recess(tmp_path, surface="right", at=[3.9, 0.0], size=[1.0, 2.0], depth=0.8)
    mouth = scene.recesses[0]
    wall = scene.surfaces[scene.surface_index("right")].polygon
    ends = wall.to_room([[mouth.rectangle.u, 0.0], [mouth.rectangle.bounds[2], 0.0]])[:, 0]
    at, size = vacant_block(scene, [(1.1, 0.6, 2.0)], ((ends.mean()) / 5.0, 1.0))
    beside = at[0] >= ends.max() - 1e-6 or at[0] + size[0] <= ends.min() + 1e-6
    assert beside or at[1] + size[1] <= 4.0 - 0.9 + 1e-6


def test_a_door_does_not_begin_at_the_sill_of_a_niche(tmp_path):
    scene = with_recess(tmp_path, surface="back", at=[0.3, 0.9], size=[3.4, 1.4], depth=0.3)
    index, _ = vacant_place(scene, Wanted(("back",), (0.82, 2.03), 0.0))
    assert scene.surfaces[index].name == "back"
