"""What absorbs, against the formulas run backwards and against sums by hand."""

import csv
import io
from dataclasses import replace

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.enough import NEVER, area_of_times, area_off, enough, last_panel, times_of_area
from treatment.planning.evaluate import evaluate
from treatment.planning.ledger import ledger_of
from treatment.planning.lists import Step
from treatment.planning.make import assemble
from treatment.planning.plan import Placement
from treatment.planning.standing import footprint
from treatment.present.absorbed import absorption_table, enough_table, enough_words, greatest, what_did_it
from treatment.scene.load import load_scene

ROOM = """title = "ledger"
panels = ["slab"]
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.5
[surfaces]
default = "hard"
floor = "rug"
[materials.hard]
absorption = [0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1, 0.1]
source = "typed"
[materials.rug]
absorption = [0.0, 0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.5]
source = "typed"
[materials.wool]
absorption = [0.05, 0.3, 0.7, 0.9, 1.0, 1.0, 1.0, 1.0]
source = "typed"
[builds.slab]
width = 1.0
height = 1.0
thickness = 0.1
material = "wool"
price = 20
[[obstacles]]
name = "chest"
at = [4.0, 0.0, 0.0]
size = [1.0, 1.0, 1.0]
material = "hard"
[[objects]]
name = "sofa"
absorption_area_m2 = [0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.7, 0.7]
volume_m3 = 0.5
[[loudspeakers]]
name = "L"
position = [1.0, 1.0, 1.2]
[[seats]]
name = "seat"
position = [3.2, 2.0, 1.1]
[target]
use = "living-room"
"""


@pytest.fixture
def scene(tmp_path):
    path = tmp_path / "room.toml"
    path.write_text(ROOM)
    return load_scene(path)[0]


def panels(scene, number):
    left = scene.surface_index("left")
    return tuple(
        Placement(
            f"P{i + 1}",
            scene.builds[0],
            left,
            Rectangle(0.1 + 1.1 * (i % 3), 0.1 + 1.15 * (i // 3), 1.0, 1.0),
        )
        for i in range(number)
    )


def test_the_sum_is_what_sabines_time_asks_for(scene):
    """T = 24 ln10/c V'/(A + A_obj + 4mV'), run backwards from the times before and after."""
    before, after = evaluate(scene), evaluate(scene, panels(scene, 3))
    ledger = ledger_of(before, after)
    factor = 55.2620 / scene.air.speed_of_sound * (50.0 - 1.0 - 0.5)
    assert ledger.before == pytest.approx(factor / before.sabine, rel=1e-5)
    assert ledger.after == pytest.approx(factor / after.sabine, rel=1e-5)
    assert sum(ledger.share(x) for x in ledger.lines) == pytest.approx(1.0)
    assert sum(ledger.by_group().values()) == pytest.approx(ledger.after)


def test_lines_by_hand(scene):
    """At 500 Hz: the chest shows three faces of 1 m2, stands on 1 m2 of rug, and hides 1 m2 of two walls."""
    ledger = ledger_of(evaluate(scene), evaluate(scene, panels(scene, 2)))
    was = {x.name: float(x.before[3]) for x in ledger.lines}
    now = {x.name: float(x.after[3]) for x in ledger.lines}
    assert was["chest"] == pytest.approx(0.3)
    assert was["floor"] == pytest.approx(0.2 * 19.0)
    assert was["back"] == pytest.approx(0.1 * 9.0)
    assert was["left"] == pytest.approx(0.1 * 11.5)
    assert was["sofa"] == now["sofa"] == pytest.approx(0.5)
    # Two panels of 1 m2 at 0.9, and their wall without them.
    assert now["P1"] == now["P2"] == pytest.approx(0.9)
    assert was["P1"] == 0.0
    assert now["left"] == pytest.approx(0.1 * 9.5)
    # At 63 Hz the wool takes 0.05, the wall behind it 0.1: the wall's value holds, and it is the wall's.
    assert [float(x.after[0]) for x in ledger.lines if x.name in ("P1", "P2")] == [0.0, 0.0]
    left = next(x for x in ledger.lines if x.name == "left")
    assert left.after[0] == pytest.approx(0.1 * 11.5)
    assert "panels" not in {k for k, v in ledger.by_group().items() if v[0] > 0.0}
    # ISO 9613-1 at 500 Hz, 20 degrees C, 50 %: 0.6294e-3/m.
    assert was["air"] == pytest.approx(4 * 0.6294e-3 * 48.5, rel=0.005)


def test_schroeder_frequency_counts_the_air_alone(scene):
    # 2000 sqrt(T/V) Hz (Schroeder & Kuttruff 1962): of 50 m3 sofa and chest take 1.5 m3.
    e = evaluate(scene)
    middle = np.mean([e.sabine[3:5], e.eyring[3:5]])
    assert e.schroeder_hz == pytest.approx(2000.0 * np.sqrt(middle / 48.5), rel=1e-9)


def test_times_and_areas_are_inverse(scene):
    e = evaluate(scene)
    area = np.linspace(2.0, 60.0, 8)
    for formula in ("eyring", "sabine"):
        assert area_of_times(e, times_of_area(e, area, formula), formula) == pytest.approx(area)


@pytest.mark.parametrize("formula", ["eyring", "sabine"])
def test_the_area_that_lacks_brings_the_time_to_the_edge(scene, formula):
    """Added to the floor, by the formula of `evaluate` itself; the living-room range ends at 0.6 s."""
    e = evaluate(scene)
    lacks = area_off(e, formula)
    assert np.isnan(lacks[[0, 1, 7]]).all()
    above = np.flatnonzero(lacks > 0.0)
    assert len(above) >= 2
    floor = scene.surfaces[scene.surface_index("floor")]
    more = replace(
        floor.material, absorption=floor.material.absorption + np.nan_to_num(lacks) / floor.polygon.area
    )
    index = scene.surface_index("floor")
    surfaces = (*scene.surfaces[:index], replace(floor, material=more), *scene.surfaces[index + 1 :])
    cured = evaluate(replace(scene, surfaces=surfaces))
    assert cured.reverberation[formula][above] == pytest.approx(0.6, rel=1e-6)


def test_enough_is_what_evaluating_one_by_one_finds(scene):
    plan = assemble(scene, panels(scene, 6))
    e = enough(plan)
    times = [evaluate(scene, plan.placements[:n]).eyring for n in range(7)]
    assert e.times[:7] == pytest.approx(np.array(times), rel=1e-9)
    for band in (3, 4, 5):
        by_hand = [n for n in range(7) if times[n][band] <= 0.6]
        if by_hand:
            assert e.met[band] == by_hand[0]
        else:
            assert e.met[band] > 6
    # 0.7 less 0.1 of wall: at 250 Hz each panel adds as much as the one before.
    steps = np.diff(area_of_times(plan.before, e.times, "eyring")[:, 2])
    assert steps == pytest.approx(0.6)
    assert e.overshot[3] > e.met[3] > 0
    # 63 Hz has no range, and 5 % is less than the wall's 10 %: the panel adds nothing there.
    assert e.met[0] == e.overshot[0] == NEVER
    assert e.times[-1, 0] == pytest.approx(e.times[0, 0])


def test_the_last_panel(scene):
    plan = assemble(scene, panels(scene, 3))
    last = last_panel(plan)
    assert last.id == "P3"
    assert last.area == pytest.approx([0.0, 0.2, 0.6, 0.8, 0.9, 0.9, 0.9, 0.9])
    two = evaluate(scene, plan.placements[:2]).eyring
    assert last.time == pytest.approx(plan.after.eyring - two)
    assert last.excess_db is None
    steps = tuple(Step(n, 20.0 * n, 10.0 - 3.0 * n, two) for n in range(4))
    assert last_panel(replace(plan, progress=steps)).excess_db == pytest.approx(3.0)
    assert last_panel(assemble(scene, ())) is None


def test_tables_and_words(scene):
    plan = assemble(scene, panels(scene, 3))
    frame = absorption_table(plan.before, plan.after)
    rows = list(csv.DictReader(io.StringIO(frame.to_csv(index=False))))
    total = rows.pop()
    for column in ("before_500_hz_m2", "after_500_hz_m2", "exposed_after_m2"):
        assert sum(float(r[column]) for r in rows) == pytest.approx(float(total[column]), abs=2e-3)
    assert float(total["exposed_after_m2"]) == pytest.approx(plan.after.surface_area, abs=1e-3)
    assert len(enough_table(plan)) == 18
    words = " ".join(what_did_it(plan))
    assert "The last panel, P3 (slab), adds 0.20 m2 of absorption at 125 Hz and 0.90 m2 at 1 kHz" in words
    ledger = ledger_of(plan.before, plan.after)
    share = 100 * ledger.by_part()["floor"][4] / ledger.after[4]
    assert f"floor {share:.0f} %" in greatest(ledger)[1]


def test_words_of_a_dead_room(scene):
    """A range that lies above what the bare room does: too dead without any panel, and said so."""
    plan = assemble(scene, panels(scene, 2))
    target = replace(plan.after.target, lower=plan.before.eyring + 1.0, upper=plan.before.eyring + 2.0)
    dead = replace(plan, after=replace(plan.after, target=target))
    words = enough_words(dead)
    assert "too dead without any panel" in words[0]
    assert any("the room is too dead at" in w for w in words)


def test_standing_panels_are_panels(tmp_path):
    """A screen is a solid: its sides are one line of the panels, and the sum stays Sabine's."""
    path = tmp_path / "screen.toml"
    path.write_text(ROOM.replace("price = 20", 'price = 20\non = ["free-standing"]'))
    room = load_scene(path)[0]
    build = room.builds[0]
    screen = Placement(
        "P1", build, room.surface_index("floor"), footprint(build, (2.5, 3.0), True), standing=True
    )
    before, after = evaluate(room), evaluate(room, (screen,))
    ledger = ledger_of(before, after)
    (line,) = [x for x in ledger.lines if x.name == "P1"]
    assert line.group == "panels"
    assert not line.before.any()
    factor = 55.2620 / room.air.speed_of_sound
    assert ledger.after == pytest.approx(factor * (after.volume - 0.5) / after.sabine, rel=1e-5)
    plan = assemble(room, (screen,))
    assert enough(plan).times[:2] == pytest.approx(np.array([before.eyring, after.eyring]), rel=1e-9)
    assert last_panel(plan).time == pytest.approx(after.eyring - before.eyring)
