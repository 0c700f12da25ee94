"""Rays beside the formulas."""

import numpy as np
import pytest

from treatment.errors import PlanError
from treatment.planning.evaluate import evaluate
from treatment.planning.trace import trace_scene, with_rays
from treatment.present.traced_tables import decays_document, decays_table, with_error
from treatment.scene.load import load_scene

ROOM = """title = "rays"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 3.0
[surfaces]
default = "even"
[materials.even]
absorption = [0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2]
scattering = [0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
source = "typed"
[[loudspeakers]]
name = "L"
position = [1.0, 1.0, 1.2]
[[seats]]
name = "seat"
position = [3.6, 2.4, 1.1]
"""


def room(tmp_path, text=ROOM):
    path = tmp_path / "room.toml"
    path.write_text(text)
    return load_scene(path)[0]


def test_even_absorption_and_scattering_walls_give_eyrings_time(tmp_path):
    """Diffuse walls, the same everywhere: Eyring's case, but for paths of unequal length."""
    scene = room(tmp_path)
    traced = trace_scene(scene, (), 20_000)
    result = with_rays(evaluate(scene), traced)
    middle = slice(2, 7)
    assert traced.result.reached
    assert result.reverberation["traced"][middle] == pytest.approx(result.eyring[middle], rel=0.08)
    assert not traced.double.any()


def test_the_same_seed_gives_the_same_times(tmp_path):
    scene = room(tmp_path)
    first, again, other = (trace_scene(scene, (), 3000, seed=s) for s in (1, 1, 2))
    assert np.array_equal(first.t30, again.t30, equal_nan=True)
    assert not np.array_equal(first.t30, other.t30, equal_nan=True)


def test_rays_need_someone_who_listens(tmp_path):
    with pytest.raises(PlanError, match="at least one"):
        trace_scene(room(tmp_path, ROOM.split("[[seats]]")[0]), (), 1000)


def test_objects_damp_the_rays_as_they_damp_the_formulas(tmp_path):
    """A_obj/(4V) a metre; diffuse walls, so that Eyring's formula with objects tells the change."""
    sofa = '[[objects]]\nname = "sofa"\nabsorption_area_m2 = [5, 5, 5, 5, 5, 5, 5, 5]\n'
    times = [trace_scene(s, (), 6000).t30[4] for s in (room(tmp_path), room(tmp_path, ROOM + sofa))]
    # By hand: 60 m3, 94 m2 of 0.2, air 1.0745e-3 at 1 kHz (ISO 9613-1).
    walls = 94.0 * 0.22314 + 4.0 * 1.0745e-3 * 60.0
    assert times[1] / times[0] == pytest.approx(walls / (walls + 5.0), rel=0.03)


def test_two_slopes_are_reported_as_such(tmp_path):
    """All absorption on floor and ceiling, walls of flat mirrors: sound between them outlives the rest."""
    text = ROOM.replace(
        "[0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]", "[0.02, 0.02, 0.02, 0.02, 0.02, 0.02, 0.02, 0.02]"
    )
    text = text.replace(
        "[0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2, 0.2]", "[0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.03, 0.03]"
    )
    text = text.replace('default = "even"', 'default = "even"\nfloor = "soft"\nceiling = "soft"')
    text += """[materials.soft]
absorption = [0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.9]
scattering = [0.02, 0.02, 0.02, 0.02, 0.02, 0.02, 0.02, 0.02]
source = "typed"
"""
    scene = room(tmp_path, text)
    traced = trace_scene(scene, (), 4000)
    assert traced.double[2:6].all()
    (found,) = [f for f in with_rays(evaluate(scene), traced).findings if f.code == "double-slope"]
    assert "two slopes at" in found.message
    assert f"{traced.room.edt[4]:.2f} s at first, in {traced.t30[4]:.2f} s later" in found.message


def test_means_over_places_and_their_errors(tmp_path):
    """Means as numpy takes them; errors of means against the scatter of runs with other seeds."""
    text = ROOM + '[[seats]]\nname = "other"\nposition = [3.0, 1.2, 1.1]\n'
    text += '[[loudspeakers]]\nname = "R"\nposition = [1.0, 3.0, 1.2]\n'
    scene = room(tmp_path, text)
    runs = [trace_scene(scene, (), 1500, seed=s, precision=1e-6) for s in range(12)]
    first = runs[0]
    assert first.seats.c50 == pytest.approx(first.places.c50.mean(axis=0))
    assert first.room.ts == pytest.approx(first.places.ts.mean(axis=(0, 1)))
    for name in ("edt", "c50", "ts"):
        stated = np.sqrt(np.mean([getattr(r.room_errors, name)[2:7] ** 2 for r in runs]))
        scatter = np.sqrt(np.var([getattr(r.room, name)[2:7] for r in runs], axis=0, ddof=1).mean())
        # Twelve runs and five bands that share rays know a scatter to about a quarter.
        assert 0.6 < stated / scatter < 1.7, name


def test_table_and_document_hold_every_place_with_its_error(tmp_path):
    scene = room(tmp_path)
    traced = trace_scene(scene, (), 2000)
    e = with_rays(evaluate(scene), traced)
    frame = decays_table(e, e)
    # Seven quantities; the room, the seat, the place; before and after.
    assert len(frame) == 7 * 3 * 2
    row = frame[(frame.state == "after") & (frame.source == "L") & (frame.quantity == "ts")].iloc[0]
    assert row["1000_hz"] == pytest.approx(1e3 * traced.places.ts[0, 0, 4], abs=1e-3)
    assert row["error_1000_hz"] == pytest.approx(1e3 * traced.place_errors.ts[0, 0, 4], abs=1e-3)
    document = decays_document(traced, e)
    assert document["places"][0]["c80_db"] == pytest.approx(list(traced.places.c80[0, 0]), abs=1e-4)
    assert document["room"]["t30_s_error"] == pytest.approx(list(traced.t30_error), abs=1e-4)
    assert with_error(0.4321, 0.0123, 2) == "0.43 ± 0.01"
    assert with_error(0.4321, 0.0023, 2) == "0.432 ± 0.002"
    assert with_error(float("nan"), 0.1, 2) == ""
