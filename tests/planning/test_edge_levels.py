"""Levels at edges in an evaluation: the attic's knee wall, whose point lies 16 mm below the fold."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from treatment import bands
from treatment.acoustics.fresnel import SAMPLE_HZ
from treatment.geometry.polygon import Rectangle
from treatment.planning.early import early_field
from treatment.planning.evaluate import evaluate
from treatment.planning.patches import Patch
from treatment.planning.reflected import reflection_factors
from treatment.planning.seen import seen_paths
from treatment.scene.load import load_scene

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def attic():
    """The worked room: 6.0 x 4.2 m, knee walls of 1 m, slopes of 45 degrees (hand geometry)."""
    scene, _ = load_scene(ROOT / "scenes" / "attic.toml")
    speaker = replace(scene.loudspeakers[0], position=np.array([0.6, 1.1, 0.95]), directivity=None)
    seat = replace(scene.seats[0], position=np.array([3.9, 2.1, 1.05]), spread=0.0)
    return replace(scene, loudspeakers=(speaker,), seats=(seat,))


def knee_wall(scene):
    return next(i for i, s in enumerate(scene.surfaces) if s.name == "left")


def test_a_reflection_at_a_fold_has_half_its_pressure(attic):
    arrivals = evaluate(attic, order=1).arrivals
    (i,) = np.flatnonzero((arrivals.order == 1) & (arrivals.surfaces[:, 0] == knee_wall(attic)))
    assert arrivals.clearance[i] == pytest.approx(0.016, abs=0.001)
    direct = arrivals.length[i] - arrivals.delay_ms[i] / 1e3 * attic.air.speed_of_sound
    # 20 lg(d0/d) + 10 lg(1 - alpha) - air, and then the half-plane's -6 dB (Born & Wolf, 11.5), a little less
    # that far inside, and 0.6 dB for the last 20 mm.
    whole = 20 * np.log10(direct / arrivals.length[i])
    whole = whole + bands.decibels(1 - attic.surfaces[knee_wall(attic)].material.capped)
    whole = whole - (arrivals.length[i] - direct) * attic.air.attenuation_db_per_m()
    share = arrivals.level_db[i] - whole
    assert np.all(share > -7.0)
    assert np.all(share < -4.0)
    # The choice of panels sees the same arrival at the same level.
    field = early_field(attic)
    member = np.flatnonzero(field.paths.surfaces[:, 0] == knee_wall(attic))
    member = member[field.paths.order[member] == 1]
    energy = field.arrival_energy(field.member_energy(field.bare))[field.arrival[member[0]]]
    assert bands.decibels(energy) == pytest.approx(arrivals.level_db[i, 4:], abs=0.3)


def test_a_panel_up_to_the_fold_takes_all_that_is_left(attic):
    """Shares are linear: where a patch covers a surface with a rim, its own factor replaces the wall's."""
    wall = knee_wall(attic)
    surface = attic.surfaces[wall]
    paths, bounces = seen_paths(attic, np.array([attic.seats[0].position]), 1)
    (k,) = np.flatnonzero(bounces.surface == wall)
    one = bounces.taken(np.array([k]))
    assert len(paths) > 4
    low_u, low_v, high_u, high_v = surface.polygon.bounds
    felt = replace(surface.material, absorption=np.full(8, 0.96))
    cover = Patch("all", "panel", wall, Rectangle(low_u, low_v, high_u - low_u, high_v - low_v), felt, "felt")
    bare, covered = (
        np.mean(
            [np.abs(reflection_factors(attic, one, p, SAMPLE_HZ[:, n])[0]) ** 2 for n in range(5)], axis=0
        )
        for p in ((), (cover,))
    )
    drop = 10 * np.log10(covered / bare)
    expected = 10 * np.log10(0.04 / (1 - surface.material.capped))
    assert drop[5:] == pytest.approx(expected[5:], abs=1.5)


def test_a_passage_does_not_make_the_sum_jump():
    """A reflection off the wall beside an open passage is lost in it; the seat moves by millimetres."""
    scene, _ = load_scene(ROOT / "scenes" / "open-living-room.toml")
    passage = next(o for o in scene.openings if o.material.open)
    polygon = scene.surfaces[passage.surface].polygon
    u, v = passage.rectangle.bounds[0], passage.rectangle.centre[1]
    speaker, seat = (polygon.to_room(np.array([[u + d, v]]))[0] + 1.2 * polygon.normal for d in (-1.0, 1.0))
    speakers = (replace(scene.loudspeakers[0], position=speaker, directivity=None),)
    along = polygon.u_axis / 1000.0
    seats = tuple(replace(scene.seats[0], position=seat + k * along, spread=0.0) for k in range(-8, 9))
    arrivals = evaluate(replace(scene, loudspeakers=speakers, seats=seats), order=1).arrivals
    energy, count = np.zeros((len(seats), 8)), np.zeros(len(seats))
    np.add.at(energy, arrivals.seat, bands.energy_ratio(arrivals.level_db))
    np.add.at(count, arrivals.seat, 1)
    assert np.ptp(count) == 1
    assert (np.abs(np.diff(energy, axis=0)) / energy[1:]).max() < 0.012
