"""Where and when single reflections arrive in a traced decay: sums over images and a matt wall by hand."""

import numpy as np
import pytest

from treatment.acoustics.ray_images import Ends, from_direct, specular_part
from treatment.acoustics.ray_passes import Stage
from treatment.acoustics.ray_tracing import trace_decay
from treatment.acoustics.tiles import RayPatch, cut_tiles
from treatment.air import Air
from treatment.geometry import shapes
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import Rectangle
from treatment.geometry.rays import Caster

AIR = Air()
SIZE = np.array([5.0, 4.0, 3.0])
SOURCE, SEAT = np.array([1.0, 1.1, 1.2]), np.array([3.5, 2.5, 1.4])
LEFT = 2  # front, back, left, right, floor, ceiling


def room():
    return Enclosure(shapes.box(*SIZE))


def first_images():
    """Image of the source in every wall of the box, in the order of its surfaces."""
    out = []
    for axis in range(3):
        for wall in (0.0, SIZE[axis]):
            image = SOURCE.copy()
            image[axis] = 2.0 * wall - image[axis]
            out.append(image)
    return np.array(out)


def test_specular_paths_arrive_with_the_material_at_their_point():
    enclosure = room()
    absorption = np.tile(np.linspace(0.1, 0.6, 6)[:, None], 8)
    scattering = np.tile(np.linspace(0.3, 0.05, 6)[:, None], 8)
    # The path by the left wall meets it at x = 1 + 2.5 * 1.1 / 3.6 = 1.764, z = 1.261.
    panel = RayPatch(LEFT, Rectangle(1.5, 1.0, 0.6, 0.5), np.full(8, 0.9), np.full(8, 0.02))
    tiles = cut_tiles(enclosure, absorption, scattering, [panel])
    stage = Stage(Caster(tiles.polygons), tiles, 20_000, 0.001)
    ends = Ends(SOURCE[None], SEAT[None])
    made = specular_part(enclosure, AIR, tiles, [panel], ends, 1, stage)[0, 0]
    left = (1.0 - absorption[:, 0]) * (1.0 - scattering[:, 0])
    left[LEFT] = 0.1 * 0.98
    direct = np.linalg.norm(SEAT - SOURCE)
    lengths = np.array([direct, *np.linalg.norm(first_images() - SEAT, axis=1)])
    shares = np.array([1.0, *left])
    energy = shares[:, None] * np.exp(-AIR.power_attenuation() * lengths[:, None]) / lengths[:, None] ** 2
    bins = np.floor((lengths - direct) / 0.001 + 1e-6).astype(int)
    assert len(set(bins.tolist())) == 7
    found = made[:, bins].T
    assert found == pytest.approx(energy, rel=1e-9)
    assert made.sum(axis=1) == pytest.approx(energy.sum(axis=0), rel=1e-9)


def test_time_zero_is_the_direct_sound_for_every_pair():
    rng = np.random.default_rng(3)
    sources, seats = rng.uniform(0.5, 4.5, (2, 3)), rng.uniform(0.5, 4.5, (3, 3))
    step = 0.25
    energy = np.zeros((2, 3, 1, 100))
    energy[..., 60] = 1.0
    moved = from_direct(energy, Ends(sources, seats), step)
    assert moved.sum(axis=-1) == pytest.approx(1.0)
    away = np.linalg.norm(sources[:, None] - seats[None], axis=-1) / step
    assert (moved * np.arange(100)).sum(axis=-1)[..., 0] == pytest.approx(60.0 - away)


def test_one_matt_wall_sends_what_lambert_says_and_when():
    """All walls swallow everything but the left one, which is matt and swallows nothing.

    Lambert's law: the seat gets ``cos1 cos2 / (pi r1^2 r2^2)`` from each piece of the wall, re the free
    field at 1 m, ``(r1 + r2 - d) / c`` behind the direct sound.
    """
    absorption, scattering = np.ones((6, 8)), np.zeros((6, 8))
    absorption[LEFT], scattering[LEFT] = 0.0, 1.0
    traced = trace_decay(
        room(), AIR, absorption, scattering, SOURCE[None], SEAT[None], np.random.default_rng(11),
        precision=1e-6, max_rays=60_000, image_order=2, cells=1500,
    )  # fmt: skip
    n = 400
    x, z = np.meshgrid((np.arange(n) + 0.5) / n * SIZE[0], (np.arange(n) + 0.5) / n * SIZE[2], indexing="ij")
    wall = np.stack([x, np.zeros_like(x), z], axis=-1)
    r1, r2 = (np.linalg.norm(wall - p, axis=-1) for p in (SOURCE, SEAT))
    piece = SIZE[0] * SIZE[2] / n**2
    arrives = SOURCE[1] / r1 * SEAT[1] / r2 / (np.pi * r1**2 * r2**2) * piece
    direct = np.linalg.norm(SEAT - SOURCE)
    delay = (r1 + r2 - direct) / AIR.speed_of_sound
    energy = traced.decay.energy[0, 0, 3].copy()
    times = (np.arange(len(energy)) + 0.5) * traced.decay.step
    loss = np.exp(-AIR.power_attenuation()[3] * direct)
    energy[0] -= loss / direct**2  # the direct sound itself
    assert energy.sum() == pytest.approx(arrives.sum(), rel=0.02)
    assert (energy @ times) / energy.sum() == pytest.approx(
        (arrives * delay).sum() / arrives.sum(), abs=0.5 * traced.decay.step
    )
