"""Panels that stand in the room, against mirror geometry, Sabine's sum and boxes worked out by hand."""

import json
from dataclasses import replace

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.cautions import cautions_for
from treatment.planning.evaluate import evaluate
from treatment.planning.kept import kept_free
from treatment.planning.legal import review_placements
from treatment.planning.make import assemble
from treatment.planning.plan import Placement
from treatment.planning.problem import state_problem
from treatment.planning.reasons import blocked_reflections
from treatment.planning.standing import can_stand, crossed, footprint, furnished
from treatment.present.folder import write_folder
from treatment.present.hanging import hanging_rows
from treatment.present.reopen import read_placements
from treatment.scene.load import load_scene
from treatment.scene.structure import Walkways

ROOM = """title = "standing"
[room]
shape = "box"
length = 6.0
width = 4.0
height = 2.5
[surfaces]
default = "brick-painted"
[[openings]]
name = "door"
surface = "back"
at = [2.5, 0.0]
size = [0.8, 2.0]
material = "door-solid-wood"
[[keep_outs]]
name = "board"
surface = "left"
at = [1.6, 0.5]
size = [0.8, 1.5]
depth = 0.4
reason = "electrical"
[[loudspeakers]]
name = "L"
position = [1.0, 1.0, 1.2]
[[loudspeakers]]
name = "R"
position = [1.0, 3.0, 1.2]
[[seats]]
name = "seat"
position = [4.0, 2.0, 1.2]
spread = 0.1
[builds.wide]
width = 1.2
height = 1.6
thickness = 0.1
layers = [{ airflow_resistivity = 12500, thickness = 0.1 }]
back = "plywood-10mm-panelling"
price = 120
on = ["free-standing"]
[builds.soft]
width = 1.2
height = 1.6
thickness = 0.1
layers = [{ airflow_resistivity = 12500, thickness = 0.1 }]
on = ["free-standing"]
"""
LEFT, FLOOR = 2, 4


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    path = tmp_path_factory.mktemp("standing") / "room.toml"
    path.write_text(ROOM)
    return load_scene(path)[0]


def screen(scene, x, y, name="wide"):
    """Width along x, middle at x, y."""
    build = next(b for b in scene.builds if b.id == name)
    return Placement("P1", build, FLOOR, footprint(build, (x, y), True), standing=True)


def arrival(evaluation, source, *names):
    a = evaluation.arrivals
    found = [
        i
        for i in range(len(a.order))
        if a.names[i] == names and evaluation.scene.loudspeakers[a.source[i]].name == source
    ]
    return found[0] if found else None


def test_it_stops_the_wall_and_reflects_by_itself(scene):
    """Face at y = 0.65: the image of L lies at y = 0.3; the path is hypot(3, 1.7) m long."""
    bare, there = evaluate(scene), evaluate(scene, (screen(scene, 1.7, 0.6),))
    assert arrival(bare, "L", "left") is not None
    assert arrival(there, "L", "left") is None
    i = arrival(there, "L", "P1")
    assert there.arrivals.length[i] == pytest.approx(np.hypot(3.0, 1.7), rel=1e-9)
    assert there.arrivals.points[i, 0] == pytest.approx([1.0 + 3.0 * 0.35 / 1.7, 0.65, 1.2], abs=1e-9)
    # The face absorbs: 10 lg(1 - alpha) and spreading, air left out at 1 kHz (0.005 dB/m).
    build = screen(scene, 1.7, 0.6).build
    expected = 10 * np.log10(1 - build.material.capped[4]) + 20 * np.log10(np.hypot(3, 1) / np.hypot(3, 1.7))
    # A face of 1.2 x 1.6 m, doubled by the floor that it stands on, is not large at 1 kHz.
    shares = [kirchhoff(np.array([1.0, 1.0, 1.2]), there.scene.seats[0].position, f) for f in OCTAVE]
    expected += 10 * np.log10(np.mean(np.square(np.abs(shares))))
    assert there.arrivals.level_db[i, 4] == pytest.approx(expected, abs=0.5)


#: Frequencies that stand for the octave of 1 kHz.
OCTAVE = 1000.0 * 2.0 ** (np.arange(-6, 7) / 13.0)


def kirchhoff(source, seat, frequency):
    """Surface integral over x 1.1 to 2.3, z -1.6 to 1.6 at y = 0.65 (Born & Wolf, 8.3.2)."""
    k = 2 * np.pi * frequency / 343.2
    x, z = (low + (np.arange(n) + 0.5) * 0.01 for low, n in ((1.1, 120), (-1.6, 320)))
    across, up = np.meshgrid(x, z)
    points = np.stack([across, np.full_like(across, 0.65), up], axis=-1)
    r1, r2 = np.linalg.norm(points - source, axis=-1), np.linalg.norm(points - seat, axis=-1)
    oblique = (source[1] - 0.65) / r1 + (seat[1] - 0.65) / r2
    length = np.hypot(seat[0] - source[0], source[1] + seat[1] - 1.3)
    wave = (np.exp(-1j * k * (r1 + r2)) / (r1 * r2) * oblique).sum() * 1e-4 * 1j * k / (4 * np.pi)
    return wave / (np.exp(-1j * k * length) / length)


def test_the_direct_sound_is_stopped_where_it_stands_in_it(scene):
    """From (1, 1) to (4, 2) the line passes (2.5, 1.5)."""
    there = evaluate(scene, (screen(scene, 2.5, 1.5),))
    a = there.arrivals
    direct = {scene.loudspeakers[a.source[i]].name for i in np.flatnonzero(a.order == 0)}
    assert direct == {"R"}


def test_volume_and_sabine_by_hand(scene):
    """1.2 x 0.1 x 1.6 m on the floor: five sides; face of the build, back and edges of plywood."""
    there = evaluate(scene, (screen(scene, 3.0, 0.6),))
    volume = 60.0 - 1.2 * 0.1 * 1.6
    assert there.volume == pytest.approx(volume, rel=1e-12)
    build, brick = screen(scene, 3.0, 0.6).build, scene.surfaces[0].material.absorption
    door = scene.openings[0].material.absorption
    total = brick * (2 * (24 + 15 + 10) - 1.6 - 0.12) + door * 1.6
    total = total + build.material.absorption * 1.92 + build.back.absorption * (1.92 + 0.12 + 2 * 0.16)
    air = 4.0 * scene.air.power_attenuation() * volume
    expected = 24.0 * np.log(10.0) / scene.air.speed_of_sound * volume / (total + air)
    assert there.sabine == pytest.approx(expected, rel=1e-9)
    assert sum(r.area for r in there.rows if r.kind == "panel") == pytest.approx(
        2 * 1.92 + 0.12 + 0.32, rel=1e-9
    )
    # Without a back of its own all sides are like the face.
    soft = evaluate(scene, (screen(scene, 3.0, 0.6, "soft"),))
    assert np.all(soft.sabine[3:6] < there.sabine[3:6] * 0.98)


def test_the_face_looks_at_the_seats(scene):
    for y, normal in ((0.6, 1.0), (3.4, -1.0)):
        made = furnished(scene, (screen(scene, 2.0, y),))
        face = next(s for s in made.surfaces if s.obstacle and s.material.id != "plywood-10mm-panelling")
        assert face.polygon.normal[1] == pytest.approx(normal)
    assert furnished(scene, ()) is scene
    assert [s.name for s in made.surfaces[:6]] == [s.name for s in scene.surfaces]


@pytest.mark.parametrize(
    ("x", "y", "why"),
    [
        (1.7, 0.7, ""),
        (
            1.7,
            0.6,
            "its feet reach",
        ),  # 0.53 m deep, from 0.33 m on, where the board's space ends below it, too
        (1.7, 0.4, "kept free"),  # its back at 0.35 m, the board's space ends at 0.40 m
        (2.5, 1.5, "between a loudspeaker"),
        (5.6, 0.1, "stand on the floor"),  # it would end at x = 6.2 m
        (5.3, 2.9, "'door'"),
        (4.0, 2.2, "kept free"),
    ],
)
def test_where_it_may_stand(scene, x, y, why):
    p = screen(scene, x, y)
    found = can_stand(scene, FLOOR, p.rectangle, p.build, kept_free(scene))
    assert (why in found) if why else (found == "")
    codes = [f.code for f in review_placements(scene, (p,))]
    assert bool(codes) == bool(why)


@pytest.mark.parametrize(("back", "narrow"), [(0.42, False), (0.60, True), (0.72, False)])
def test_a_way_behind_it(scene, back, narrow):
    """0.70 m asked for: 0.42 m is no way for shoulders (0.45 m), 0.60 m too narrow, 0.72 m wide enough."""
    ways = replace(scene, walkways=Walkways(0.70))
    p = screen(ways, 3.1, back + 0.05)
    assert can_stand(scene, FLOOR, p.rectangle, p.build, kept_free(scene)) == ""
    found = can_stand(ways, FLOOR, p.rectangle, p.build, kept_free(ways))
    assert found == ("it makes a way too narrow" if narrow else "")


def test_lines_through_a_box():
    """Slabs by hand: the diagonal passes the unit box, a line beside it and one that ends before do not."""
    box = np.array([[0.0, 0, 0], [1, 1, 1]])
    start = np.array([[-1.0, -1, -1], [-1, 1.1, 0.5], [-1, 0.5, 0.5], [0.5, 0.5, 0.5]])
    end = np.array([[2.0, 2, 2], [2, 1.1, 0.5], [-0.1, 0.5, 0.5], [0.5, 0.5, 0.6]])
    assert crossed(box, start, end).tolist() == [True, False, False, True]


def test_the_offer_before_a_board_can_be_taken(scene):
    """What is offered is typed in as it is told: it stands legally, and the reflection is gone."""
    blocked = blocked_reflections(scene, evaluate(scene), offers=True)
    advice = next(b.advice for b in blocked if b.by.startswith("board") and "free-standing '" in b.advice)
    x0, x1 = (float(t) for t in advice.split(" at x ")[1].split(", y ")[0].replace(" m", "").split(" to "))
    y0, y1 = (float(t) for t in advice.split(", y ")[1].split(" stops ")[0].replace(" m", "").split(" to "))
    name = advice.split("free-standing '")[1].split("'")[0]
    p = screen(scene, (x0 + x1) / 2, (y0 + y1) / 2, name)
    assert p.rectangle.bounds == pytest.approx((x0, y0, x1, y1), abs=2e-3)
    assert y0 >= 0.4 - 1e-3  # outside the space of the board
    assert can_stand(scene, FLOOR, p.rectangle, p.build, kept_free(scene)) == ""
    assert arrival(evaluate(scene), "L", "left") is not None
    assert arrival(evaluate(scene, (p,)), "L", "left") is None
    assert " dB weaker together" in advice


def test_every_blocked_place_is_worked_out(tmp_path):
    """Four places that keep a first reflection: each says what helps, or why nothing does, and once."""
    text = ROOM
    for n, (surface, at) in enumerate(
        [("right", [2.0, 0.5]), ("back", [1.3, 0.8]), ("front", [1.3, 0.8]), ("ceiling", [1.8, 1.0])]
    ):
        text = text.replace(
            "[[loudspeakers]]",
            f'[[keep_outs]]\nname = "thing {n}"\nsurface = "{surface}"\nat = {at}\nsize = [1.3, 1.0]\n'
            'depth = 0.05\nreason = "other"\n[[loudspeakers]]',
            1,
        )
    path = tmp_path / "room.toml"
    path.write_text(text)
    scene = load_scene(path)[0]
    blocked = blocked_reflections(scene, evaluate(scene), offers=True)
    places = {(b.surface, b.by) for b in blocked if b.surface != "floor"}
    assert len(places) >= 4
    for surface, by in places:
        told = [b.advice for b in blocked if (b.surface, b.by) == (surface, by)]
        # Nothing may hang in this room: the other bounce can only say so.
        assert sum("second reflection" in words for words in told) == 1
        if surface != "ceiling":
            assert sum("free-standing" in words for words in told) == 1


def test_what_is_left_with_a_panel_standing_is_told_for_the_room_itself(scene):
    """The board's reflection of L is gone, that of the door stays; the panel's own is no blocked place."""
    p = screen(scene, 1.7, 0.6)
    blocked = blocked_reflections(scene, evaluate(scene, (p,)), offers=True)
    assert not [b for b in blocked if b.source == "L" and b.surface == "left"]
    assert not [b for b in blocked if "P1" in b.by]


def test_plan_files_hold_it_and_read_it_again(scene, tmp_path):
    p = screen(scene, 1.7, 0.6)
    plan = assemble(scene, (p,))
    write_folder(plan, tmp_path / "plan", pictures=False)
    (told,) = json.loads((tmp_path / "plan" / "plan.json").read_text())["placements"]
    assert told["surface"] == "floor"
    assert told["standing"] is True
    assert told["size_m"] == pytest.approx([1.2, 0.1])
    assert told["centre_m"] == pytest.approx([1.7, 0.6, 0.8])
    (again,) = read_placements(scene, tmp_path / "plan")
    assert again.standing
    assert again.rectangle.bounds == pytest.approx(p.rectangle.bounds)
    (row,) = hanging_rows(plan)
    assert row["how"].startswith("stands on the floor, 1.60 m high")
    assert row["top"] == "1.60 m"
    assert any(c.startswith("Standing panels (P1)") for c in cautions_for(scene, (p,)))


def test_new_panels_keep_clear_of_it(scene):
    p = screen(scene, 1.7, 0.6)
    problem = state_problem(scene, (p,))
    bounds = problem.sites.body.bounds
    low, high = np.array([1.1, 0.55, 0.0]), np.array([2.3, 0.65, 1.6])
    common = np.minimum(bounds[:, 1], high) - np.maximum(bounds[:, 0], low)
    assert not np.all(common > 2e-3, axis=1).any()
    assert len(problem.sites) > 100
    assert Rectangle(*p.rectangle.bounds[:2], 1.2, 0.1).overlaps(p.rectangle)
