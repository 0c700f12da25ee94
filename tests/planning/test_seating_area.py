"""Levels over octave and seating area: mirror images of rooms, and averages over many points."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from treatment import bands
from treatment.acoustics.bounces import bounces_of, path_energy
from treatment.acoustics.fresnel import octave_samples
from treatment.acoustics.image_sources import retrace
from treatment.acoustics.zones import AREA_HZ, area_nodes
from treatment.geometry.polygon import Rectangle
from treatment.planning.early import early_field
from treatment.planning.evaluate import evaluate
from treatment.planning.extent import treatment_extents
from treatment.planning.patches import patches_of
from treatment.planning.plan import Placement
from treatment.planning.reflected import reflected_energy, reflection_factors
from treatment.planning.seen import seen_paths
from treatment.scene.load import load_scene

ROOT = Path(__file__).parents[2]
WIDTH = 3.6


@pytest.fixture(scope="module")
def garden():
    """The garden room without what is not alike on both sides, with three loudspeakers."""
    scene, _ = load_scene(ROOT / "scenes" / "garden-room.toml")
    speakers = tuple(s for s in scene.loudspeakers if s.name in ("L", "C", "R"))
    return replace(scene, openings=(), keep_outs=(), loudspeakers=speakers)


def panels(scene):
    """Panels on left and right wall, ceiling and front wall, off the room's middle."""
    build = max(scene.builds, key=lambda b: float(b.material.capped[4]))
    names = [s.name for s in scene.surfaces]
    at = {"left": (1.1, 0.6), "right": (2.0, 0.4), "ceiling": (1.3, 0.9), "front": (0.5, 0.7)}
    return [
        Placement(f"P{k}", build, names.index(name), Rectangle(u, v, 0.636, 1.236))
        for k, (name, (u, v)) in enumerate(at.items())
    ]


def mirrored(scene, placements):
    """The room seen in a mirror on its side wall: all sides of it are alike."""
    flip = np.array([1.0, -1.0, 1.0])
    side = np.array([0.0, WIDTH, 0.0])
    names = [s.name for s in scene.surfaces]
    other = {"left": "right", "right": "left"}
    turned = []
    for p in placements:
        name = names[p.surface]
        r = p.rectangle
        if name == "ceiling":
            r = replace(r, v=WIDTH - r.v - r.height)
        elif name == "front":
            r = replace(r, u=WIDTH - r.u - r.width)
        turned.append(replace(p, surface=names.index(other.get(name, name)), rectangle=r))
    speakers = tuple(replace(s, position=side + flip * s.position) for s in scene.loudspeakers)
    seats = tuple(replace(s, position=side + flip * s.position) for s in scene.seats)
    return replace(scene, loudspeakers=speakers, seats=seats), turned


def test_the_mirror_image_of_a_room_has_the_same_levels(garden):
    other, turned = mirrored(garden, panels(garden))
    one, two = evaluate(garden, panels(garden)).arrivals, evaluate(other, turned).arrivals
    swap = {"left": "right", "right": "left", "P0": "P0"}
    key = {
        (int(a), int(b), n): level
        for a, b, n, level in zip(two.source, two.seat, two.names, two.level_db, strict=True)
    }
    assert len(key) == len(one.order)
    for a, b, n, level in zip(one.source, one.seat, one.names, one.level_db, strict=True):
        back = tuple(swap.get(x, x) for x in n)
        assert key[int(a), int(b), back] == pytest.approx(level, abs=1e-6), n


def test_the_mirror_image_of_a_room_asks_for_the_same_fields(garden):
    other, _ = mirrored(garden, [])
    ceiling = [s.name for s in garden.surfaces].index("ceiling")
    fields = []
    for scene in (garden, other):
        extent = next(x for x in treatment_extents(scene) if x.surface == ceiling)
        fields.append({(a.source, a.seat): a.field for a in extent.arrivals})
    for ends, field in fields[0].items():
        twin = fields[1][ends]
        assert (twin.width, twin.height) == pytest.approx((field.width, field.height), abs=1e-9)


def dense(scene, paths, patches):
    """Mean energy over 25 points of each area and 15 frequencies of each octave."""
    sources = np.array([s.position for s in scene.loudspeakers])
    grid = (np.arange(5) + 0.5) / 2.5 - 1.0
    seats, spread = np.array([s.position for s in scene.seats]), scene.seats[0].spread
    hertz, total = octave_samples(15), np.zeros((len(paths), 8))
    for x in grid:
        for y in grid:
            heads = seats + spread * np.array([x, y, 0.0])
            moved = retrace(scene.enclosure, paths, sources, heads[paths.receiver])
            bounces = bounces_of(scene.enclosure, moved, sources)
            factor = reflection_factors(scene, bounces, patches, hertz)
            energy = path_energy(moved, bounces, factor.reshape(len(factor), -1))
            total += energy.reshape(len(paths), 8, -1).mean(axis=-1) / 25.0
    return total


def test_few_points_and_frequencies_stand_for_many(garden):
    """First reflections off surfaces with panels: error of the levels against the dense average."""
    paths, _ = seen_paths(garden, np.array([s.position for s in garden.seats]), 1)
    patches = patches_of(garden, panels(garden))
    touched = np.isin(paths.surfaces[:, 0], [p.surface for p in patches])
    paths = paths.taken(np.flatnonzero((paths.order == 1) & touched))
    assert len(paths) > 25
    ours = reflected_energy(garden, paths, patches)
    error = bands.decibels(ours / dense(garden, paths, patches))
    rms = np.sqrt(np.square(error).mean(axis=0))
    assert rms[:4].max() < 0.1
    assert rms[4:7].max() < 0.6
    assert rms[7] < 0.8
    assert np.abs(error[:, :7]).max() < 1.8


def test_gauss_points_are_the_ones_of_two_by_two():
    """Abramowitz & Stegun, table 25.4: nodes at 0.57735 with equal weights; the mean of x**2 is 1/3."""
    nodes = area_nodes(np.zeros((1, 3)), np.ones(1))[0]
    assert nodes[0] == pytest.approx(np.zeros(3))
    assert np.mean(nodes[1:, :2] ** 2, axis=0) == pytest.approx([1 / 3, 1 / 3])
    assert np.mean(nodes[1:, 0] ** 2 * nodes[1:, 1] ** 2) == pytest.approx(1 / 9)
    # Left and right of each other: the same frequencies; together four parts of each octave.
    assert np.all(nodes[1::2, 1] == -nodes[2::2, 1])
    assert np.all(AREA_HZ[0::2] == AREA_HZ[1::2])
    assert np.sort(np.concatenate([AREA_HZ[0], AREA_HZ[2]], axis=1), axis=1) == pytest.approx(
        octave_samples(4)
    )


def test_the_plan_hears_what_the_evaluation_hears(garden):
    """First-order levels of the choice are those of the evaluation, in the bands of the criterion."""
    hanging = tuple(panels(garden))
    field = early_field(garden, hanging)
    arrivals = evaluate(garden, hanging, order=1).arrivals
    energy = field.arrival_energy(field.member_energy(field.bare))
    compared = 0
    for k in range(field.count):
        member = int(np.flatnonzero(field.arrival == k)[0])
        if field.paths.order[member] != 1:
            continue
        same = (arrivals.source == field.paths.source[member]) & (arrivals.order == 1)
        same &= arrivals.seat == field.paths.receiver[member] // 5
        same &= arrivals.surfaces[:, 0] == field.paths.surfaces[member, 0]
        (i,) = np.flatnonzero(same)
        # The choice follows spreading to each point, the evaluation to the centre: a few tenths of a decibel.
        assert bands.decibels(energy[k]) == pytest.approx(arrivals.level_db[i][4:], abs=0.3)
        compared += 1
    assert compared > 15
