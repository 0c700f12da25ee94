"""Mesh rooms: what is mended, what is refused and where, and that a mesh is the room it shows."""

import json
import math
import time
from dataclasses import replace

import numpy as np
import pytest
import trimesh
from meshes import BOX_FACES, SCENES, box_corners, files, obj, triangles

from treatment.errors import SceneError
from treatment.geometry.mend import mend
from treatment.geometry.merge import merge
from treatment.planning.evaluate import evaluate
from treatment.scene.load import load_scene
from treatment.scene.mesh_file import MOST_FACES
from treatment.scene.obj_file import read_obj

TEXT = """title = "Mesh"
[room]
shape = "mesh"
file = {file}
{more}
[surfaces]
default = "gypsum-board-on-studs"
[[loudspeakers]]
name = "L"
position = [0.9, 1.0, 1.1]
[[seats]]
name = "one"
position = [3.4, 1.6, 1.1]
"""
SIZE = (5.0, 3.8, 2.4)


@pytest.fixture
def room(tmp_path):
    """Load a mesh file as a scene."""

    def make(path, more='unit = "m"'):
        scene = tmp_path / "scene.toml"
        scene.write_text(TEXT.format(file=json.dumps(str(path)), more=more), encoding="utf-8")
        return load_scene(scene)

    return make


@pytest.fixture
def refused(room):
    def make(path, more='unit = "m"'):
        with pytest.raises(SceneError) as caught:
            room(path, more)
        return {f.code: f for f in caught.value.findings}

    return make


def box(size=SIZE):
    mesh = trimesh.creation.box(extents=size)
    mesh.apply_translation(np.array(size) / 2.0)
    return mesh


def mended(findings):
    return [f.message for f in findings if f.code == "mesh-mended"]


def test_files_are_those_of_the_script():
    for name, text in files().items():
        assert (SCENES / name).read_text(encoding="utf-8") == text, name


@pytest.mark.parametrize("kind", ["obj", "ply", "stl", "glb", "gltf"])
def test_formats(room, tmp_path, kind):
    mesh = box().subdivide().subdivide()
    if kind in {"glb", "gltf"}:
        # glTF is y up (its specification, 3.4): the room is laid on its back for it.
        mesh.apply_transform(trimesh.transformations.rotation_matrix(-math.pi / 2, [1, 0, 0]))
    path = tmp_path / f"room.{kind}"
    if kind == "gltf":
        for name, data in trimesh.exchange.gltf.export_gltf(trimesh.Scene(mesh)).items():
            (tmp_path / ("room.gltf" if name.endswith(".gltf") else name)).write_bytes(data)
    else:
        mesh.export(path)
    scene, findings = room(path, "" if kind in {"glb", "gltf"} else 'unit = "m"')
    assert [s.name for s in scene.surfaces] == ["front", "back", "left", "right", "floor", "ceiling"]
    # The library's own volume; single precision in STL, PLY and glTF.
    assert scene.enclosure.volume == pytest.approx(abs(mesh.volume), rel=1e-6)
    assert scene.enclosure.area == pytest.approx(mesh.area, rel=1e-6)
    assert scene.enclosure.bounds[1] == pytest.approx(SIZE, abs=1e-5)
    assert any("turned to look into the room" in m for m in mended(findings))


def test_box_given_as_box_plan_and_mesh_predicts_the_same(room, load, box_text, tmp_path):
    given = load(box_text)
    plan = load(
        box_text.replace('"box"', '"plan"').replace(
            "length = 5.0\nwidth = 3.8\n", "corners = [[0, 0], [5, 0], [5, 3.8], [0, 3.8]]\n"
        )
    )
    path = tmp_path / "room.obj"
    path.write_text(obj(box_corners((0, 0, 0), (500, 380, 240)), BOX_FACES, "box"), encoding="utf-8")
    mesh, _ = room(path, 'unit = "cm"')
    mesh = replace(mesh, loudspeakers=given.loudspeakers, seats=given.seats)
    results = [evaluate(scene) for scene in (given, plan, mesh)]
    for other in results[1:]:
        for name, times in results[0].reverberation.items():
            if times is None or other.reverberation[name] is None:
                continue
            assert other.reverberation[name] == pytest.approx(times, rel=1e-9)
        a, b = results[0].arrivals, other.arrivals
        assert len(a.order) == len(b.order)
        assert np.sort(b.length) == pytest.approx(np.sort(a.length), rel=1e-9)
        assert np.sort(b.level_db, axis=0) == pytest.approx(np.sort(a.level_db, axis=0), abs=1e-9)


def test_worked_room_with_a_hole(refused):
    found = refused(SCENES / "broken" / "mesh-hole.obj", 'unit = "mm"')
    message = found["mesh-hole"].message
    # One of the two ceiling triangles of 4.7 x 3.3 m: 7.755 m2; where it is and which corners it has.
    assert "a hole of 7.755 m2" in message
    assert "x 0.000 to 4.700, y 0.000 to 3.300, z 2.350 m" in message
    assert "(4.700, 3.300, 2.350)" in message


@pytest.mark.parametrize("shift", [(0, 0, 0), (-2350, -1650, -1175), (0, 0, -2350)])
def test_a_hole_is_found_wherever_the_file_has_its_origin(refused, tmp_path, shift):
    """A naive signed volume would give 30.37, 33.41 or exactly the true 36.45 m3 here (worked room)."""
    lines = (SCENES / "broken" / "mesh-hole.obj").read_text(encoding="utf-8").splitlines()
    moved = [
        "v " + " ".join(f"{float(c) + s:g}" for c, s in zip(line.split()[1:], shift, strict=True))
        if line.startswith("v ")
        else line
        for line in lines
    ]
    path = tmp_path / "moved.obj"
    path.write_text("\n".join(moved), encoding="utf-8")
    assert "a hole of 7.755 m2" in refused(path, 'unit = "mm"')["mesh-hole"].message


def test_a_wall_wound_backwards_is_turned(room, tmp_path):
    groups = {**BOX_FACES, "right": [f[::-1] for f in BOX_FACES["right"]]}
    path = tmp_path / "turned.obj"
    path.write_text(obj(box_corners((0, 0, 0), (470, 330, 235)), groups, "turned"), encoding="utf-8")
    scene, findings = room(path, 'unit = "cm"')
    # Worked room: 4.7 x 3.3 x 2.35 m.
    assert scene.enclosure.volume == pytest.approx(36.4485, rel=1e-9)
    # Outwards is the common way to wind: the ten others look out of the room.
    assert any("10 faces that looked out of the room were turned" in m for m in mended(findings))
    assert [s.name for s in scene.surfaces] == ["front", "back", "left", "right", "floor", "ceiling"]


def test_cracks_within_the_stated_tolerance_are_closed_and_told(room, refused, tmp_path):
    for gap, fits in [(0.0006, True), (0.004, False)]:
        vertices = [tuple(np.array(v) / 100) for v in box_corners((0, 0, 0), (500, 380, 240))]
        # The ceiling has corners of its own, a little above the walls'.
        vertices += [(x, y, z + gap) for x, y, z in vertices[4:]]
        groups = {**BOX_FACES, "ceiling": [(8, 9, 10, 11)]}
        path = tmp_path / "crack.obj"
        path.write_text(obj(vertices, groups, "crack"), encoding="utf-8")
        if fits:
            scene, findings = room(path)
            assert any(
                "cracks at 4 points were closed, the widest 0.60 mm (1 mm" in m for m in mended(findings)
            )
            assert scene.enclosure.volume == pytest.approx(math.prod(SIZE), rel=1e-3)
        else:
            assert "mesh-hole" in refused(path)


def test_a_point_on_a_neighbours_edge_is_no_hole(room, tmp_path):
    vertices = [*box_corners((0, 0, 0), (500, 380, 240)), (200, 0, 240)]
    # The left wall has a corner in the middle of its upper edge, the ceiling has not.
    groups = {**BOX_FACES, "left": [(0, 1, 5, 8), (0, 8, 4)]}
    path = tmp_path / "tee.obj"
    path.write_text(obj(vertices, groups, "tee"), encoding="utf-8")
    scene, findings = room(path, 'unit = "cm"')
    assert scene.enclosure.volume == pytest.approx(math.prod(SIZE), rel=1e-9)
    assert any("split at 1 points" in m for m in mended(findings))
    assert len(scene.surfaces) == 6


def test_loose_faces_are_left_out_and_told(room, tmp_path):
    vertices = [*box_corners((0, 0, 0), (500, 380, 240)), (100, 100, 100), (150, 100, 100), (100, 150, 100)]
    path = tmp_path / "loose.obj"
    path.write_text(obj(vertices, {**BOX_FACES, "scrap": [(8, 9, 10)]}, "loose"), encoding="utf-8")
    scene, findings = room(path, 'unit = "cm"')
    assert any("1 loose faces, 0.125 m2 at x 1.000 to 1.500" in m for m in mended(findings))
    assert len(scene.surfaces) == 6


def test_faces_given_twice_are_left_out_once(room, tmp_path):
    groups = {**BOX_FACES, "again": [f[::-1] for f in BOX_FACES["floor"]]}
    path = tmp_path / "twice.obj"
    path.write_text(obj(box_corners((0, 0, 0), (500, 380, 240)), groups, "twice"), encoding="utf-8")
    _, findings = room(path, 'unit = "cm"')
    assert any("given twice" in m for m in mended(findings))


def test_a_face_of_many_corners_may_bend_inwards():
    plan = [(0, 0), (7, 0), (7, 3), (5, 3), (5, 5), (0, 5)]
    # From a corner where cutting it like a cake would leave the floor.
    ring = [2, 3, 4, 5, 0, 1]
    raw = read_obj(obj([(x, y, 0) for x, y in plan], {"floor": [ring]}, "L"))
    corners = raw.vertices[raw.faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert np.abs(0.5 * cross[:, 2]).sum() == pytest.approx(7 * 3 + 5 * 2)
    assert np.all(cross[:, 2] > 0)


def test_groups_name_the_surfaces():
    scene, _ = load_scene(SCENES / "bay-window.toml")
    assert [s.name for s in scene.surfaces] == [
        "walls-front", "walls-back", "walls-left", "walls-right", "bay-right", "bay-right-2", "bay-right-3",
        "floor", "ceiling", "bay-ceiling",
    ]  # fmt: skip
    # By hand: 5.6 x 4.0 x 2.6 m and a bay of (2.4 + 1.4) / 2 x 0.5 m2 below 2.3 m.
    assert scene.enclosure.volume == pytest.approx(5.6 * 4.0 * 2.6 + 0.95 * 2.3, rel=1e-9)
    right = scene.surfaces[scene.surface_index("walls-right")].polygon
    assert right.area == pytest.approx(5.6 * 2.6 - 2.4 * 2.3, rel=1e-9)
    assert {s.material.id for s in scene.surfaces if s.name.startswith("walls")} == {"brick-rendered"}


def test_materials_of_the_file_name_surfaces_too():
    text = obj(box_corners((0, 0, 0), (5, 4, 2)), BOX_FACES, "box").replace("g ", "usemtl ")
    assert set(read_obj(text).names) == set(BOX_FACES)


@pytest.mark.parametrize(
    ("up", "forward"), [("z", "-x"), ("y", "-z"), ("-x", "y"), ("z", "y"), ("-z", "x"), ("y", "x")]
)
def test_axes(room, tmp_path, up, forward):
    def axis(text):
        return np.eye(3)["xyz".index(text[-1])] * (-1 if text[0] == "-" else 1)

    # x from the screen, z up, y to the right of someone who faces the screen.
    x, z = -axis(forward), axis(up)
    rows = np.stack([x, np.cross(z, x), z])
    # Unlike sides and a step make every other way round a different room.
    plan = [(0, 0), (500, 0), (500, 300), (350, 300), (350, 380), (0, 380)]
    corners = np.array([(a, b, h) for h in (0, 240) for a, b in plan], dtype=float)
    groups = {
        "floor": [(5, 4, 3, 2, 1, 0)], "ceiling": [(6, 7, 8, 9, 10, 11)],
        "walls": [(i, (i + 1) % 6, (i + 1) % 6 + 6, i + 6) for i in range(6)],
    }  # fmt: skip
    path = tmp_path / "turned.obj"
    path.write_text(obj(corners @ rows + [70, -20, 5], groups, "turned"), encoding="utf-8")
    scene, _ = room(path, f'unit = "cm"\nup = "{up}"\nforward = "{forward}"')
    assert scene.enclosure.bounds == pytest.approx(np.array([[0, 0, 0], SIZE]), abs=1e-9)
    assert list(scene.enclosure.contains(np.array([[4.8, 3.5, 1.0], [4.8, 0.3, 1.0], [3.3, 3.7, 1.0]]))) == [
        False, True, True,
    ]  # fmt: skip


def test_the_files_own_origin(room, tmp_path):
    path = tmp_path / "far.obj"
    path.write_text(obj(box_corners((-100, -50, 0), (400, 330, 240)), BOX_FACES, "far"), encoding="utf-8")
    scene, _ = room(path, 'unit = "cm"\norigin = "file"')
    assert scene.enclosure.bounds == pytest.approx(np.array([[-1, -0.5, 0], [4, 3.3, 2.4]]))


def test_more_than_the_most_faces_is_refused(refused, tmp_path):
    mesh = box()
    while len(mesh.faces) <= MOST_FACES:
        mesh = mesh.subdivide()
    path = tmp_path / "large.ply"
    mesh.export(path)
    finding = refused(path)["mesh-too-large"]
    assert str(MOST_FACES) in finding.message
    assert "furniture" in finding.hint


def test_a_unit_is_asked_for_where_the_file_has_none(refused, tmp_path):
    box().export(tmp_path / "room.ply")
    assert refused(tmp_path / "room.ply", "")["missing-key"].where == "room.unit"
    assert "size-looks-too-small" in refused(tmp_path / "room.ply", 'unit = "mm"')


@pytest.mark.parametrize("kind", ["obj", "ply", "stl", "glb", "gltf"])
@pytest.mark.parametrize(
    "raw", [b"", b"\x00\xff\x10", b"solid\nfacet normal", b"v 0 0\nf 1 2 3", b"ply\nformat"]
)
def test_garbage_is_refused(refused, tmp_path, kind, raw):
    path = tmp_path / f"garbage.{kind}"
    path.write_bytes(raw)
    assert refused(path).keys() & {"mesh-unreadable"}


def test_detailed_mesh_is_told(room, tmp_path):
    sphere = trimesh.creation.icosphere(subdivisions=3, radius=1.9)
    sphere.apply_translation([1.9, 1.9, 1.9])
    sphere.export(tmp_path / "ball.ply")
    scene, findings = room(tmp_path / "ball.ply")
    codes = {f.code for f in findings}
    assert {"mesh-detailed", "mesh-curved"} <= codes
    assert scene.enclosure.volume == pytest.approx(sphere.volume, rel=1e-6)


def test_many_faces_in_a_few_planes_are_merged_in_seconds(room, tmp_path):
    mesh = box()
    while len(mesh.faces) < 49_000:
        mesh = mesh.subdivide()
    mesh.export(tmp_path / "fine.ply")
    start = time.perf_counter()
    scene, _ = room(tmp_path / "fine.ply")
    assert time.perf_counter() - start < 15.0
    assert [len(s.polygon.edges) for s in scene.surfaces] == [4] * 6


@pytest.mark.parametrize("seed", range(3))
def test_bodies_with_bumps_keep_volume_and_area(seed):
    """Boxes joined face to face, cut into random triangles: holes in surfaces, and the library's volume."""
    rng = np.random.default_rng(seed)
    vertices = box_corners((0, 0, 0), (500, 400, 250))
    low = rng.integers([100, 80], [200, 150])
    high = low + rng.integers([60, 60], [200, 180])
    drop = int(rng.integers(20, 120))
    inner = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    vertices += [(x, y, 250) for x, y in inner] + [(x, y, 250 + drop) for x, y in inner]
    # A skylight shaft: the ceiling is a frame round it.
    groups = {**{n: f for n, f in BOX_FACES.items() if n != "ceiling"}}
    groups["ceiling"] = [(4 + i, 4 + (i + 1) % 4, 8 + (i + 1) % 4, 8 + i) for i in range(4)]
    groups["shaft"] = [(8 + i, 8 + (i + 1) % 4, 12 + (i + 1) % 4, 12 + i) for i in range(4)] + [
        (12, 13, 14, 15)
    ]
    faces = np.array([t for fs in groups.values() for t in triangles(fs)])
    mesh = trimesh.Trimesh(np.array(vertices) / 100.0, faces, process=False)
    for _ in range(3):
        mesh = mesh.subdivide()
    skin = mend(mesh.vertices, mesh.faces, np.zeros(len(mesh.faces), dtype=np.intp))
    assert not skin.faults
    merged = merge(skin)
    assert len(merged.polygons) == 11
    from treatment.geometry.enclosure import Enclosure

    room = Enclosure(merged.polygons)
    assert room.volume == pytest.approx(abs(mesh.volume), rel=1e-9)
    assert room.area == pytest.approx(mesh.area, rel=1e-9)
    (ceiling,) = [p for p in merged.polygons if p.region.interiors]
    assert ceiling.region.interiors[0].is_valid
    assert len(ceiling.edges) == 8
