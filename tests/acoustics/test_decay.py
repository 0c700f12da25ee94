"""Quantities of decays against ideal exponentials and known shapes."""

import numpy as np
import pytest

from treatment.acoustics.decay import (
    EnergyDecay,
    backward_curve,
    decay_figures,
    decay_time,
    double_slope,
    figure_errors,
    place_mean,
)

STEP = 0.001


def exponential(*times, length=2.0, step=STEP, weights=None):
    """Energy in each step of a sum of exponentials, exact."""
    edges = np.arange(int(length / step) + 1) * step
    total = 0.0
    for t, w in zip(times, weights or [1.0] * len(times), strict=True):
        total = total + w * np.exp(-6.0 * np.log(10.0) * edges / t)
    return -np.diff(total)


def ideal(*times, **more):
    return EnergyDecay(exponential(*times, **more)[None, None], more.get("step", STEP))


# Closed forms of ISO 3382-1, equations (A.10), (A.11) and (A.13), for exp(-13.8155 t/T).
@pytest.mark.parametrize(
    ("t", "d50", "c50", "c80", "ts_ms"),
    [
        (0.40, 0.82217, 6.650, 11.717, 28.95),
        (0.30, 0.9000, 9.542, 15.890, 21.71),
        (1.0, 0.4988, -0.021, 3.053, 72.38),
    ],
)
def test_an_ideal_exponential(t, d50, c50, c80, ts_ms):
    got = decay_figures(ideal(t))
    assert got.d50[0] == pytest.approx(d50, rel=1e-4)
    assert got.c50[0] == pytest.approx(c50, abs=0.002)
    assert got.c80[0] == pytest.approx(c80, abs=0.002)
    # Within a step the energy is taken at its middle: a step of 1 ms is good to 0.01 ms.
    assert got.ts[0] * 1e3 == pytest.approx(ts_ms, abs=0.02)
    for time in (got.edt, got.t20, got.t30):
        assert time[0] == pytest.approx(t, rel=1e-4)
    assert abs(got.curvature[0]) < 0.01


def test_the_step_does_not_matter():
    fine, coarse = decay_figures(ideal(0.4)), decay_figures(ideal(0.4, step=0.004))
    assert coarse.t30[0] == pytest.approx(fine.t30[0], rel=1e-3)
    assert coarse.c80[0] == pytest.approx(fine.c80[0], abs=0.02)
    # 50 ms lies inside a step of 4 ms; it counts by its share.
    assert coarse.c50[0] == pytest.approx(fine.c50[0], abs=0.05)


def test_a_short_decay_supports_less():
    # T30 needs 45 dB, T20 35 dB, EDT 20 dB (ISO 3382-1, from memory). T = 1 s falls 60 dB a second.
    for length, has in ((0.80, "edt t20 t30"), (0.65, "edt t20"), (0.35, "edt"), (0.15, "")):
        got = decay_figures(
            EnergyDecay(exponential(1.0, length=length)[None, None], STEP, np.array([60.0 * length]))
        )
        for name in ("edt", "t20", "t30"):
            assert np.isfinite(getattr(got, name)[0]) == (name in has.split()), (length, name)


def test_nothing_gives_nothing():
    got = decay_figures(EnergyDecay(np.zeros((1, 2, 100)), STEP))
    assert np.isnan(got.t30).all()
    assert np.isnan(got.d50).all()
    only_direct = np.zeros((1, 1, 100))
    only_direct[..., 0] = 1.0
    got = decay_figures(EnergyDecay(only_direct, STEP))
    assert np.isnan(got.edt[0])
    assert got.d50[0] == 1.0


def test_backward_integration_of_a_known_curve():
    assert backward_curve(np.array([9.0, 0.9, 0.1])) == pytest.approx([0.0, -10.0, -20.0, -np.inf])


def test_a_straight_line_is_found_by_least_squares():
    # numpy's own polynomial fit, on a line with a ripple.
    t = np.arange(1000) * STEP
    curve = -60.0 * t / 0.7 + 0.4 * np.sin(60.0 * t)
    used = (curve <= -5.0) & (curve >= -35.0)
    want = -60.0 / np.polyfit(t[used], curve[used], 1)[0]
    assert decay_time(curve, STEP, -5.0, -35.0) == pytest.approx(want, rel=1e-9)


def test_two_slopes_are_reported():
    bent = ideal(0.3, 1.2, weights=[1.0, 0.01])
    got = decay_figures(bent)
    # 1 % of the energy in the slow part: the bend lies at -20 dB, T30 sees more of it than T20.
    assert got.edt[0] == pytest.approx(0.3, rel=0.1)
    assert got.t30[0] > 1.1 * got.t20[0]
    assert double_slope(bent)[0]
    assert not double_slope(ideal(0.5))[0]


def test_errors_from_parts():
    # The spread of many results, each the mean of ten noisy parts, is what each one's own error says.
    rng = np.random.default_rng(2)
    clean = exponential(0.5, length=0.6, step=0.002)
    results, errors = [], []
    for _ in range(60):
        parts = clean * rng.gamma(2.0, 0.5, (10, 1, len(clean)))
        noisy = EnergyDecay(parts, 0.002)
        results.append(decay_figures(noisy).t30[0])
        errors.append(figure_errors(noisy).t30[0])
    assert np.mean(results) == pytest.approx(0.5, rel=0.01)
    assert np.sqrt(np.mean(np.square(errors))) == pytest.approx(np.std(results), rel=0.3)


def test_mean_over_places():
    parts = np.stack([exponential(0.4), exponential(0.6), np.zeros(2000)])[None, :, None]
    mean, error = place_mean(EnergyDecay(parts, STEP))
    assert mean[0] == pytest.approx(0.5, rel=1e-4)
    assert np.isnan(error[0])
    mean, _ = place_mean(EnergyDecay(parts[:, 1:], STEP))
    assert mean[0] == pytest.approx(0.6, rel=1e-4)
    mean, _ = place_mean(
        EnergyDecay(np.concatenate([parts[:, :1], parts[:, 2:], parts[:, 2:]], axis=1), STEP)
    )
    assert np.isnan(mean[0])
