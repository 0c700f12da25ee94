"""Objects and people in every formula, against hand calculations and identities."""

import numpy as np
import pytest

from treatment.acoustics import reverberation
from treatment.errors import SceneError
from treatment.planning.doubt import doubt_of
from treatment.planning.evaluate import evaluate
from treatment.planning.problem import state_problem
from treatment.scene.load import load_scene

ROOM = """title = "furnished"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 3.0
[surfaces]
default = "even"
[materials.even]
absorption = [0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2]
source = "typed"
[[loudspeakers]]
name = "L"
position = [1.0, 1.0, 1.2]
[[seats]]
name = "seat"
position = [3.6, 2.4, 1.1]
"""
CHEST = """[[objects]]
name = "chest"
count = 2
absorption_area_m2 = [2, 2, 2, 2, 2, 2, 2, 2]
volume_m3 = 3.0
"""
SURFACE, ALL = (
    2 * (20.0 + 15.0 + 12.0),
    ("sabine", "eyring", "millington", "fitzroy", "arau-puchades", "kuttruff"),
)


def room(tmp_path, more="", text=ROOM):
    path = tmp_path / "room.toml"
    path.write_text(text + more)
    return load_scene(path)[0]


def test_sabine_is_that_of_the_standard(tmp_path):
    """EN 12354-6:2003, (1) and (5), by hand: 60 m3 of which 6 displaced, walls 18.8 m2, objects 4 m2."""
    scene = room(tmp_path, CHEST)
    m = scene.air.power_attenuation()
    want = 55.2620 / scene.air.speed_of_sound * 54.0 / (0.2 * SURFACE + 4.0 + 4.0 * m * 54.0)
    got = evaluate(scene).reverberation
    assert got["sabine"] == pytest.approx(want, rel=1e-4)
    own = reverberation.with_objects(
        60.0, np.array([SURFACE]), np.full((1, 8), 0.2), scene.air.speed_of_sound, m, 6.0, np.full(8, 4.0)
    )
    assert got["sabine"] == pytest.approx(own, rel=1e-12)


def test_every_formula_takes_them(tmp_path):
    """With one coefficient all logarithmic formulas are one: -S ln(1 - 0.2) + A_obj, by hand."""
    scene = room(tmp_path, CHEST)
    m = scene.air.power_attenuation()
    want = 55.2620 / scene.air.speed_of_sound * 54.0 / (-SURFACE * np.log(0.8) + 4.0 + 4.0 * m * 54.0)
    times = evaluate(scene).reverberation
    for name in ALL[1:]:
        assert times[name] == pytest.approx(want, rel=1e-4), name
    problem = state_problem(scene)
    assert problem.times(problem.absorption_area) == pytest.approx(times["eyring"], rel=1e-12)


def test_published_person_and_seating_area(tmp_path):
    """A seated person takes 0.44 m2 at 500 Hz (Engineering Noise Control, table 6.2, cited by a library);
    well-upholstered seats take 0.77 of their floor there (same), of which the floor gave 0.2 already."""
    sofa = '[[objects]]\nname = "sofa"\nmaterial = "seats-well-upholstered-empty"\nsize = [2.0, 0.9]\n'
    scene = room(tmp_path, "occupied = true\n" + sofa)
    areas = {o.name: o.count * o.area[3] for o in scene.objects}
    assert areas == pytest.approx({"sofa": 1.8 * (0.77 - 0.2), "people in the seats": 0.44})


def test_a_hard_object_absorbs_its_volume_to_two_thirds(tmp_path):
    """EN 12354-6:2003, formula (4), from memory: 0.125 m3 -> 0.25 m2."""
    scene = room(tmp_path, '[[objects]]\nname = "chest"\nvolume_m3 = 0.125\n')
    assert scene.objects[0].area == pytest.approx(0.25)


def test_their_doubt_widens_the_interval_as_drawn_areas_do(tmp_path):
    """At 63 Hz, where half of 8 m2 each is in doubt: the range of 95 of 100 of Eyring's times."""
    e = evaluate(room(tmp_path, CHEST.replace("[2, 2, 2, 2, 2, 2, 2, 2]", "[8, 8, 8, 8, 8, 8, 8, 8]")))
    assert e.scene.objects[0].uncertainty[0] > 4.0
    air = 4.0 * e.scene.air.power_attenuation()[0] * 54.0

    def logarithm(walls, objects):
        return np.log(-SURFACE * np.log(1.0 - walls) + objects + air)

    rng = np.random.default_rng(1)
    # The walls' 0.2 is wrong by half at most, as laboratories at 63 Hz differ by 0.21.
    parts = [logarithm(rng.normal(0.2, 0.05, 40_000), 16.0), logarithm(0.2, rng.normal(16.0, 4.0, 40_000))]
    likely = logarithm(0.2, 16.0)
    low, high = np.sqrt(
        np.sum([np.square(np.percentile(x, [2.275, 97.725]) - likely) for x in parts], axis=0)
    )
    doubt = doubt_of(e)
    assert -np.log1p(-doubt.less[0]) == pytest.approx(low, rel=0.03)
    assert np.log1p(doubt.more[0]) == pytest.approx(high, rel=0.03)


def test_a_crowded_room_is_said_to_be_one(tmp_path):
    crowded = evaluate(room(tmp_path, CHEST.replace("count = 2", "count = 5")))
    assert any(f.code == "objects-crowd" for f in crowded.findings)
    assert not any(f.code == "objects-crowd" for f in evaluate(room(tmp_path, CHEST)).findings)


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ('material = "person-seated"\nsize = [1.0, 1.0]\n', "object-unclear"),
        ('material = "person-seated"\nabsorption_area_m2 = [1, 1, 1, 1, 1, 1, 1, 1]\n', "object-unclear"),
        ("", "object-unclear"),
        ('material = "person-seatd"\n', "unknown-material"),
        ("volume_m3 = 1.0\ncount = 2.5\n", "number-out-of-range"),
        ("volume_m3 = 1.0\ncount = 0\n", "number-out-of-range"),
        ("volume_m3 = 31.0\n", "objects-fill-room"),
    ],
)
def test_slips(tmp_path, more, code):
    with pytest.raises(SceneError) as caught:
        room(tmp_path, '[[objects]]\nname = "thing"\n' + more)
    assert [f.code for f in caught.value.findings if f.severity == "error"] == [code]
