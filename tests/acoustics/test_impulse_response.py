"""Impulse responses against pyfar, pyroomacoustics and decays that are known."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pyfar
import pyroomacoustics
import pytest

from treatment import bands
from treatment.acoustics.decay import backward_curve, decay_figures
from treatment.acoustics.early_sound import early_arrivals, early_sound, expected_sound
from treatment.acoustics.impulse_response import (
    measured_decay,
    octave_signals,
    onset,
)
from treatment.bands import Array

RATE = 48_000
SIZE = [5.4, 3.6, 2.5]
SOURCE, SEAT = [0.45, 0.75, 1.1], [3.55, 1.9, 1.2]


def noise_decay(seconds: float, seed: int, noise_db: float = -200.0, length: float = 1.6) -> Array:
    """White noise under an exponential, and a noise floor below its start."""
    rng = np.random.default_rng(seed)
    n = int(length * RATE)
    decay = rng.standard_normal(n) * 10.0 ** (-3.0 * np.arange(n) / RATE / seconds)
    return np.concatenate([np.zeros(1000), decay]) + 10.0 ** (noise_db / 20.0) * rng.standard_normal(n + 1000)


def shoebox(order: int) -> Array:
    """Second implementation: images of a box, absorption 0.3 everywhere, no air."""
    room = pyroomacoustics.ShoeBox(
        SIZE, fs=RATE, materials=pyroomacoustics.Material(0.3), max_order=order, air_absorption=False
    )
    room.add_source(SOURCE)
    room.add_microphone(SEAT)
    room.compute_rir()
    return np.array(room.rir[0][0])


def test_onset_is_pyfars() -> None:
    # ISO 3382-1, 5.3.2; pyfar looks for the last sample below the threshold before the peak.
    for seed in range(5):
        signal = noise_decay(0.4, seed, noise_db=-60.0)
        mine = onset(signal)
        theirs = float(pyfar.dsp.find_impulse_response_start(pyfar.Signal(signal, RATE), threshold=20)[0])
        assert abs(mine - theirs) <= 1


def test_octave_filters_pass_their_band() -> None:
    # IEC 61260-1: 0 dB at midband, 3 dB down at the edges of a Butterworth filter.
    t = np.arange(RATE) / RATE
    for k, middle in enumerate(bands.EXACT_HZ[:7]):
        for frequency, wanted, room in (
            (middle, 0.0, 0.05), (bands.LOWER_EDGE_HZ[k], -3.01, 0.1), (bands.UPPER_EDGE_HZ[k], -3.01, 0.1),
        ):  # fmt: skip
            tone = np.sin(2.0 * np.pi * frequency * t)
            out = octave_signals(tone, RATE)[k][RATE // 4 : 3 * RATE // 4]
            assert 10.0 * np.log10(2.0 * np.mean(out**2)) == pytest.approx(wanted, abs=room)


def test_octave_filters_are_pyfars_backwards() -> None:
    # pyfar's bank of the same order, on the reversed signal.
    signal = noise_decay(0.3, 3, length=0.5)
    bank = pyfar.dsp.filter.fractional_octave_bands(
        pyfar.Signal(signal[::-1], RATE), 1, frequency_range=(125, 4000), order=3
    )
    mine = octave_signals(signal, RATE)[1:7]
    theirs = bank.time[:, 0, ::-1] if bank.time.ndim == 3 else bank.time[:, ::-1]
    for a, b in zip(mine, theirs, strict=True):
        assert np.sum((a - b) ** 2) < 0.01 * np.sum(b**2)


def test_bands_above_half_the_rate_are_not_read() -> None:
    signal = noise_decay(0.4, 1)[::3]
    found = measured_decay(signal, RATE // 3)
    assert np.isnan(found.peak_to_noise_db[7])
    assert np.isnan(decay_figures(found.decay).t20[7])
    assert np.isfinite(found.peak_to_noise_db[:6]).all()


@pytest.mark.parametrize("noise_db", [-200.0, -55.0])
def test_times_come_back(noise_db: float) -> None:
    # Mean over 12 noises; one alone strays by about 0.9/sqrt(B T): 2 to 7 % from 500 Hz to 8 kHz.
    times = [decay_figures(measured_decay(noise_decay(0.5, s, noise_db), RATE).decay) for s in range(12)]
    t20 = np.array([f.t20 for f in times])
    t30 = np.array([f.t30 for f in times])
    np.testing.assert_allclose(t20[:, 3:].mean(axis=0), 0.5, rtol=0.03)
    known = np.isfinite(t30)
    assert known[:, 3:].mean() > 0.9
    np.testing.assert_allclose(np.nanmean(t30[:, 3:], axis=0), 0.5, rtol=0.03)


def test_noise_makes_no_time_longer_without_saying_so() -> None:
    # 42 dB between peak and noise: T20 holds, T30 is refused (ISO 3382-1, 5.3.3: 35 and 45 dB).
    found = [measured_decay(noise_decay(0.5, s, -40.0), RATE) for s in range(6)]
    figures = [decay_figures(m.decay) for m in found]
    assert np.isnan([f.t30[4] for f in figures]).all()
    assert np.nanmean([f.t20[4] for f in figures]) == pytest.approx(0.5, rel=0.04)
    assert np.mean([m.peak_to_noise_db[4] for m in found]) == pytest.approx(40.0, abs=2.0)
    # The knee is where the decay falls to the noise: 40 dB down, 0.333 s.
    assert np.mean([m.knee_s[5] for m in found]) == pytest.approx(0.333, rel=0.08)


def test_noise_is_taken_out_and_the_end_made_good() -> None:
    # The same noises with and without a floor 37 dB down. Left in, the floor makes T20 4 % longer.
    clean = np.array([decay_figures(measured_decay(noise_decay(0.5, s), RATE).decay).t20 for s in range(8)])
    found = [measured_decay(noise_decay(0.5, s, -37.0), RATE) for s in range(8)]
    noisy = np.array([decay_figures(m.decay).t20 for m in found])
    assert np.nanmean((noisy / clean - 1.0)[:, 4:]) == pytest.approx(0.0, abs=0.015)
    # Where the recording ends in noise the curve still falls as the decay does: 60 dB in 0.5 s.
    for m in found:
        curve = backward_curve(m.decay.energy[6])
        knee = float(m.knee_s[6])
        assert np.interp(knee, np.arange(len(curve)) * m.decay.step, curve) == pytest.approx(
            -60.0 * knee / 0.5, abs=2.5
        )


def test_clarity_of_an_exponential() -> None:
    # Closed form, T = 0.4 s: D50 0.822, C50 6.65 dB, C80 11.72 dB, Ts 29.0 ms.
    figures = [decay_figures(measured_decay(noise_decay(0.4, s, -60.0), RATE).decay) for s in range(12)]
    for name, wanted, room in (
        ("d50", 0.822, 0.01),
        ("c50", 6.65, 0.25),
        ("c80", 11.72, 0.35),
        ("ts", 0.02895, 0.001),
    ):
        assert np.mean([getattr(f, name)[5:] for f in figures]) == pytest.approx(wanted, abs=room)


@pytest.mark.parametrize("lead", [0, 480, 48_000])
def test_the_direct_sound_counts(lead: int) -> None:
    """White noise under an exponential, and a direct sound of four times its energy (6 dB).

    Closed form, T = 0.4 s: D50 = (4 + 0.822)/5 = 0.964; filters run backwards ring before time zero.
    """
    figures = []
    for seed in range(12):
        tail = noise_decay(0.4, seed, -80.0)[1000:]
        tail[0] += 2.0 * np.sqrt(np.sum(tail**2))
        measured = measured_decay(np.concatenate([np.zeros(lead), tail]), RATE)
        figures.append(decay_figures(measured.decay).d50)
        later = decay_figures(measured.later).d50
    assert np.mean(figures, axis=0)[2:] == pytest.approx(np.full(6, 0.964), abs=0.012)
    assert later[5:] == pytest.approx(np.full(3, 0.822), abs=0.05)


def test_time_of_a_simulated_room_is_pyroomacoustics() -> None:
    signal = shoebox(30)
    figures = decay_figures(measured_decay(np.concatenate([signal, np.zeros(4000)]), RATE).decay)
    filtered = octave_signals(signal, RATE)
    for band in (4, 5):
        theirs = pyroomacoustics.experimental.measure_rt60(
            filtered[band][onset(signal) :], fs=RATE, decay_db=30
        )
        assert figures.t30[band] == pytest.approx(theirs, rel=0.06)


def test_single_bounces_of_a_box_are_found() -> None:
    # Images by hand: mirrored source, distance, 0.7 of the energy.
    direct = np.linalg.norm(np.subtract(SOURCE, SEAT))
    expected = []
    for axis in range(3):
        for wall in (0.0, SIZE[axis]):
            image = np.array(SOURCE)
            image[axis] = 2.0 * wall - image[axis]
            length = np.linalg.norm(image - SEAT)
            expected.append((1000.0 * (length - direct) / pyroomacoustics.constants.get("c"),
                             20.0 * np.log10(direct / length) + 10.0 * np.log10(0.7)))  # fmt: skip
    expected.sort()
    found = early_arrivals(early_sound(shoebox(1), RATE))
    delays = 1000.0 * found.delay_s
    # The first three (floor, left, front: 2.1 to 2.5 ms) lie too close together to be told apart.
    alone = [e for e in expected if min(abs(e[0] - o[0]) for o in expected if o is not e) > 0.8]
    assert len(alone) >= 2
    for delay, level in alone:
        k = int(np.argmin(np.abs(delays - delay)))
        assert delays[k] == pytest.approx(delay, abs=0.06)
        assert found.level_db[k] == pytest.approx(level, abs=0.7)
    assert len(delays) <= len(expected)


def test_what_merges_is_by_the_window_closed_form() -> None:
    # Raised cosines of half width 0.3 ms: 0.5 ms apart they leave a dip of 1 + cos(150 deg) = 0.134, -8.7 dB.
    apart = early_arrivals(expected_sound(np.array([0.005, 0.0055]), np.array([-3.0, -5.0])))
    np.testing.assert_allclose(apart.delay_s, [0.005, 0.0055], atol=2e-5)
    np.testing.assert_allclose(apart.level_db, [-3.0, -5.0], atol=0.01)
    # At the same place energies add: two of -6.02 dB make -3.01 dB.
    merged = early_arrivals(expected_sound(np.array([0.005, 0.005]), np.array([-6.0206, -6.0206])))
    np.testing.assert_allclose(merged.level_db, [-3.0103], atol=0.01)
    assert len(early_arrivals(expected_sound(np.array([0.005, 0.0054]), np.array([-3.0, -3.0]))).delay_s) == 1


def test_an_arrival_rises_out_of_a_stronger_one() -> None:
    # In the dense images of a whole room, as the docstring promises: a dip of 2 dB between any two.
    sound = early_sound(shoebox(20), RATE)
    decibels = 10.0 * np.log10(np.maximum(sound.smoothed(0.0003), 1e-12))
    found = early_arrivals(sound)
    at = np.round(found.delay_s * RATE).astype(int) + sound.direct
    assert len(at) > 8
    for i, j in pairwise(at):
        lower = min(decibels[i], decibels[j])
        assert lower - decibels[i : j + 1].min() >= 2.0 - 1e-9
