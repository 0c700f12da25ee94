"""Double slopes in recordings: told where they are, not told where chance bends a decay.

The recordings are white noise under a known envelope, ``10^(-6 t/T1) + 10^(L/10) 10^(-6 t/T2)``: two
reverberant fields that do not mix (Kuttruff, Room Acoustics, section 5.8 on coupled rooms; from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.planning.recording import Recording
from treatment.planning.verify import judge_recording

RATE = 48_000


def noise(seed: int, fast: float, slow: float | None = None, level_db: float = 0.0) -> Recording:
    t = np.arange(int(1.3 * RATE)) / RATE
    energy = 10.0 ** (-6.0 * t / fast)
    if slow is not None:
        energy = energy + 10.0 ** (level_db / 10.0 - 6.0 * t / slow)
    drawn = np.sqrt(energy) * np.random.default_rng(seed).standard_normal(len(t))
    return Recording(frozen(np.concatenate([np.zeros(480), drawn])), RATE, 1, False)


def told(recording: Recording) -> list[str]:
    """Bands in which a bend is told."""
    found = [f.where for f in judge_recording(recording).findings if f.code == "double-slope"]
    return found[0].split(", ") if found else []


@pytest.mark.parametrize(
    ("fast", "slow", "level_db"), [(0.2, 1.2, -15.0), (0.25, 0.9, -12.0), (0.3, 1.0, -20.0)]
)
def test_two_slopes_are_told_in_every_draw(fast: float, slow: float, level_db: float) -> None:
    for seed in range(4):
        assert {"500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz"} <= set(told(noise(seed, fast, slow, level_db)))


@pytest.mark.parametrize("time", [0.2, 0.4, 0.8])
def test_chance_bends_are_not_told(time: float) -> None:
    assert [b for seed in range(10) for b in told(noise(seed, time))] == []
