"""What becomes of strong reflections, against counts and energy sums done by hand.

Energies re the direct sound are 10^(L/10), the definition of the level (ISO 80000-8); all else is counting.
"""

from types import SimpleNamespace

import numpy as np
import pytest

from treatment.planning.fate import energy_fall, fate_of
from treatment.planning.statements import outcome_words
from treatment.present.fate_words import fate_words, verdict_words


def arrivals(rows):
    """Of (surface, level from 1 to 8 kHz, verdict), all single bounces from one loudspeaker to one seat."""
    n = len(rows)
    level = np.full((n, 8), -40.0)
    for i, (_, db, _) in enumerate(rows):
        level[i, 4:] = db
    return SimpleNamespace(
        source=np.zeros(n, dtype=np.intp),
        seat=np.zeros(n, dtype=np.intp),
        order=np.ones(n, dtype=np.intp),
        surfaces=np.array([[s, -1] for s, _, _ in rows], dtype=np.intp).reshape(-1, 2),
        names=tuple((f"wall-{s}",) for s, _, _ in rows),
        level_db=level,
        verdict=tuple(v for _, _, v in rows),
    )


#: Two strong ones stay or go; one becomes strong; one is weak in both; one is stopped.
BEFORE = arrivals(
    [(0, 0.0, "treat"), (1, -3.0, "treat"), (2, -11.0, "leave"), (3, -20.0, "leave"), (4, -6.0, "treat")]
)
AFTER = arrivals([(0, -12.0, "leave"), (1, -2.0, "treat"), (2, -9.0, "treat"), (3, -20.0, "leave")])


def evaluation(a):
    fine = SimpleNamespace(lower=np.full(8, np.nan), upper=np.full(8, np.nan))
    return SimpleNamespace(arrivals=a, target=fine, eyring=np.ones(8), sabine=np.ones(8))


def test_what_stays_is_counted_apart_from_what_is_new():
    fate = fate_of(evaluation(BEFORE), evaluation(AFTER))
    assert (fate.before, fate.stay, fate.gone, fate.new) == (3, 1, 1, 1)
    # Louder and strong then: the one that grew from -11 to -9 dB, before the one from -3 to -2 dB.
    assert fate.louder == ((2, 2), (1, 1))
    assert fate_of(evaluation(BEFORE), evaluation(AFTER), 2).before == 0


def test_energy_is_summed_not_decibels():
    """0, -3 and -6 dB are 1 + 0.501 + 0.251; -12 and -2 dB are 0.063 + 0.631: 4.02 dB less, the mean 5.5."""
    fate = fate_of(evaluation(BEFORE), evaluation(AFTER))
    by_hand = 10.0 * np.log10((1.0 + 10**-0.3 + 10**-0.6) / (10**-1.2 + 10**-0.2))
    assert by_hand == pytest.approx(4.02, abs=0.01)
    assert fate.weaker_db == pytest.approx(by_hand, rel=1e-9)


def test_none_and_all_gone():
    nothing = arrivals([(3, -20.0, "leave")])
    assert fate_of(evaluation(nothing), evaluation(nothing)).weaker_db == 0.0
    assert fate_of(evaluation(BEFORE), evaluation(nothing)).weaker_db == np.inf


def test_sentences_count_both():
    scene = SimpleNamespace(
        loudspeakers=(SimpleNamespace(name="L"),), seats=(SimpleNamespace(name="middle"),)
    )
    plan = SimpleNamespace(scene=scene, before=evaluation(BEFORE), after=evaluation(AFTER))
    first, second = fate_words(plan)
    assert "Of 3 single bounces" in first
    assert "1 stays so" in first
    assert "together they carry 4.0 dB less energy" in first
    assert second.startswith("1 more is strong only with the panels.")
    assert "L to middle by wall-2 (-11.0 dB, -9.0 dB with the panels)" in second
    (early, *_) = outcome_words((), plan.before, plan.after)
    assert "of 3 early arrivals" in early
    assert " 1 stay above it" in early
    assert "1 of them are stopped" in early
    assert "1 more are above it only with the panels" in early


def test_what_is_left_is_still_strong():
    assert verdict_words("treat", panels=True) == "still strong"
    assert verdict_words("treat", panels=False) == "treat"
    assert verdict_words("keep", panels=True) == "keep"


def test_energy_and_not_decibels_are_averaged():
    """Two reflections at 0 and -20 dB; the weak one falls by 30 dB, the strong one not: next to nothing."""
    before, after = np.zeros((2, 8)), np.zeros((2, 8))
    before[1], after[1] = -20.0, -50.0
    assert energy_fall(before, after) == pytest.approx(10.0 * np.log10(1.01 / 1.00001), rel=1e-9)
    # Outside 1 to 8 kHz nothing counts.
    after[:, :4] = -60.0
    assert energy_fall(before, after) == pytest.approx(10.0 * np.log10(1.01 / 1.00001), rel=1e-9)
    assert energy_fall(before, before[:0]) == np.inf
    assert energy_fall(before[:0], before[:0]) == 0.0
