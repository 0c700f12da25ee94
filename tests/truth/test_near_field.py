"""The whole field of a room against images: sums over modes must not depend on where they end.

With the same decay at every mode the modal sum is the Green function of a hard room with a complex wave
number, ``k c = sqrt(w^2 - 2 j delta w)``, and that is a sum over images, ``exp(-j k R) / R``, exact in a
box and in whatever mirrors build up from boxes (Allen and Berkley, J. Acoust. Soc. Am. 65 (1979) 943,
appendix; Kuttruff, Room Acoustics, section 4.1). It shares nothing with the modes.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from treatment.acoustics.modal_response import level_db, mean_spatial_variance, modal_pressure, mode_damping
from treatment.acoustics.modes import Modes, box_modes, room_modes
from treatment.acoustics.near_field import room_pressure
from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.shapes import box, extrude
from treatment.planning.bass import predict_bass
from treatment.planning.bass_advice import advise_bass
from treatment.scene.load import load_scene, resolve_scene

C = 343.0
R1 = np.array([6.0, 4.0, 2.7])
DECAY = np.full(8, 0.2)
FREQUENCY = np.array([20.0, 33.0, 47.0, 63.5, 80.0, 101.0, 120.0, 141.0, 160.0, 250.0, 280.0])
SOURCES = np.array([[0.3, 0.3, 0.25], [0.3, 2.1, 0.25], [3.1, 0.3, 0.25]])
# Two seats, and a listener 0.45 m from the first source and 0.3 m from a wall.
RECEIVERS = np.array([[3.5, 1.3, 1.2], [4.5, 2.7, 1.2], [0.7, 0.3, 0.45]])


def images(size: Array, source: Array, receiver: Array, farthest: float = 110.0) -> NDArray[np.complex128]:
    """Sum over the images of a box; what is cut off has decayed by exp(-11)."""
    along = []
    for axis in range(3):
        turns = (
            2.0 * size[axis] * np.arange(-math.ceil(farthest / size[axis] / 2), farthest / size[axis] / 2 + 1)
        )
        along.append(np.concatenate([turns + source[axis], turns - source[axis]]) - receiver[axis])
    x, y, z = along
    squared = x[:, None, None] ** 2 + y[None, :, None] ** 2 + z[None, None, :] ** 2
    away = np.sqrt(squared[squared < farthest**2])
    omega = 2.0 * math.pi * FREQUENCY
    wave = np.sqrt(omega**2 - 2j * 3.0 * math.log(10.0) / DECAY[0] * omega) / C
    return np.array([(np.exp(-1j * k * away) / away).sum() for k in wave])


def off(found: NDArray[np.complex128], exact: NDArray[np.complex128], highest: float) -> float:
    """Largest difference of levels, dB."""
    return float(np.abs(level_db(found) - level_db(exact))[..., highest >= FREQUENCY].max())


def astray(found: NDArray[np.complex128], exact: NDArray[np.complex128], highest: float) -> float:
    """Largest error over the rms pressure at its frequency: a dip of 30 dB has no level to speak of."""
    rms = np.sqrt(np.mean(np.abs(exact) ** 2, axis=(0, 1)))
    return float((np.abs(found - exact) / rms)[..., highest >= FREQUENCY].max())


@pytest.fixture(scope="module")
def exact() -> NDArray[np.complex128]:
    return np.array([[images(R1, s, r) for r in RECEIVERS] for s in SOURCES])


@pytest.mark.parametrize("kind", ["cosines", "trial functions"])
def test_a_box_agrees_with_its_images(exact: NDArray[np.complex128], kind: str) -> None:
    room = Enclosure(box(*R1))
    modes = box_modes(np.zeros(3), R1, C, 500.0) if kind == "cosines" else room_modes(room, C)
    found = room_pressure(room, modes, SOURCES, RECEIVERS, FREQUENCY, DECAY, C)
    assert off(found, exact, 160.0) < 0.1
    assert astray(found, exact, 0.6 * modes.reach_hz) < 0.06
    # A plain sum over the same modes is off by more than that.
    plain = modal_pressure(modes, SOURCES, RECEIVERS, FREQUENCY, mode_damping(modes, DECAY), C)
    assert off(plain, exact, 160.0) > 0.5


def test_where_the_sum_ends_does_not_matter(exact: NDArray[np.complex128]) -> None:
    room = Enclosure(box(*R1))
    for reach in (350.0, 700.0):
        modes = box_modes(np.zeros(3), R1, C, reach)
        found = room_pressure(room, modes, SOURCES, RECEIVERS, FREQUENCY, DECAY, C)
        assert astray(found, exact, 0.6 * reach) < 0.06


def test_a_prism_agrees_with_the_box_that_its_mirror_makes() -> None:
    # Half of a square: its field is that of the square with the source and its image in the diagonal.
    a, height = 4.2, 2.4
    room = Enclosure(extrude([(0.0, 0.0), (a, 0.0), (0.0, a)], height))
    sources = np.array([[0.4, 0.5, 0.3], [1.9, 1.9, 0.5]])  # the second 0.28 m from the diagonal wall
    receivers = np.array([[2.2, 0.9, 1.2], [0.8, 2.4, 1.1], [1.6, 2.1, 0.8]])
    size = np.array([a, a, height])
    both = np.array([[images(size, s, r) + images(size, np.array([a - s[1], a - s[0], s[2]]), r)
                      for r in receivers] for s in sources])  # fmt: skip
    found = room_pressure(room, room_modes(room, C), sources, receivers, FREQUENCY, DECAY, C)
    assert off(found, both, 160.0) < 0.1


def test_the_field_at_a_driver_is_finite() -> None:
    room = Enclosure(box(*R1))
    modes = box_modes(np.zeros(3), R1, C, 500.0)
    at = room_pressure(room, modes, SOURCES[:1], SOURCES[:1], FREQUENCY, DECAY, C)
    assert np.isfinite(at).all()


@pytest.mark.parametrize(
    ("places", "variance"),
    [
        ([(0, 0)], 32.7),
        ([(0, 2)], 17.2),
        ([(0, 2), (6, 2)], 37.2),
        ([(3, 0), (3, 4)], 19.6),
        ([(0, 0), (6, 0), (0, 4), (6, 4)], 21.7),
    ],
)
def test_mean_spatial_variance_is_that_of_the_independent_script(
    places: list[tuple[float, float]], variance: float
) -> None:
    # As in test_modes.py, but for the whole field: that script's sums end at six half waves along each axis.
    room, modes = Enclosure(box(*R1)), box_modes(np.zeros(3), R1, C, 500.0)
    seats = np.array([[x, y, 1.2] for x, y in itertools.product((3.5, 4.0, 4.5), (1.3, 2.0, 2.7))])
    sources = np.array([[np.clip(x, 0.3, 5.7), np.clip(y, 0.3, 3.7), 0.25] for x, y in places])
    pressure = room_pressure(room, modes, sources, seats, np.arange(20.0, 80.5, 2.0), np.full(8, 0.4), C)
    assert float(mean_spatial_variance(level_db(pressure.sum(axis=0)))) == pytest.approx(variance, rel=0.01)


def test_the_range_displayed_changes_nothing() -> None:
    scene, _ = load_scene(resolve_scene("garden-room"))
    short, long = (predict_bass(scene, frequency_hz=np.arange(20.0, top + 0.5)) for top in (80.0, 300.0))
    n = len(short.response.frequency_hz)
    np.testing.assert_allclose(short.response.combined, long.response.combined[:, :n], rtol=1e-9)
    assert short.response.spatial_variance == pytest.approx(long.response.spatial_variance, rel=1e-9)
    best = [advise_bass(b).places for b in (short, long)]
    for one, other in zip(*best, strict=True):
        np.testing.assert_array_equal(one.positions, other.positions)


def test_an_attic_is_converged() -> None:
    """Fewer trial functions: half of the volume in wave numbers. The rest is the frequencies' own error."""
    scene, _ = load_scene(resolve_scene("attic"))
    room, seats = scene.enclosure, np.array([s.position for s in scene.seats])
    subs = np.array([s.position for s in scene.subwoofers or scene.loudspeakers])
    frequency = np.arange(20.0, 80.5)

    def level(modes: Modes) -> Array:
        return level_db(room_pressure(room, modes, subs, seats, frequency, DECAY, C))

    whole = room_modes(room, C)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("treatment.acoustics.modes._MOST", 450)
        fewer = room_modes(room, C)
    assert fewer.reach_hz < 0.85 * whole.reach_hz
    assert np.abs(level(whole) - level(fewer)).max() < 0.5
