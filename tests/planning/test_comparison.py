"""Builds side by side: arithmetic by hand, order, words, and what is kept apart."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.materials.builds import load_builds
from treatment.materials.library import load_library
from treatment.planning.comparison import compare_builds, lacking_area, what_it_does

LIBRARY = load_library()
BUILDS = load_builds(LIBRARY)


def room(times, upper, volume=50.0):
    return SimpleNamespace(
        reverberation={"sabine": frozen(times), "eyring": frozen(times), "millington": None},
        target=SimpleNamespace(upper=frozen(upper)),
        volume=volume,
        speed_of_sound=343.0,
        scene=SimpleNamespace(budget=SimpleNamespace(currency="EUR")),
    )


def line(name, **options):
    comparison = compare_builds(BUILDS, LIBRARY, **options)
    return next(x for x in comparison.lines if x.build.id == name)


def test_price_per_area_and_per_sabin():
    wool = line("wool-50")
    area, alpha = 0.6 * 1.2, wool.build.material.absorption
    assert wool.price_per_m2 == pytest.approx(wool.build.price / area)
    for price, band in zip(wool.price_per_sabin, (1, 3, 5), strict=True):
        # What one panel costs, over what one panel absorbs.
        assert price == pytest.approx(wool.build.price / (area * alpha[band]))
    assert wool.mass_per_m2 == pytest.approx(wool.build.mass / area)
    assert line("wool-50-gap-50").depth == pytest.approx(0.10)


def test_what_a_room_lacks():
    # Sabine: A = 24 ln 10 V/(c T) = 55.26 V/(343 T). 50 m3: 0.8 s is 10.07 m2, 0.4 s is 20.14 m2.
    lacks = lacking_area(room([0.8] * 8, [math.nan] + [0.4] * 6 + [0.9]))
    assert lacks[1:7] == pytest.approx([10.07] * 6, abs=0.01)
    assert lacks[[0, 7]].tolist() == [0.0, 0.0]


def test_a_room_that_lacks_bass_wants_the_deep_build_first():
    bass = compare_builds(BUILDS, LIBRARY, room([0.5, 0.9] + [0.3] * 6, [0.4] * 8))
    treble = compare_builds(BUILDS, LIBRARY, room([0.3] * 6 + [0.9] * 2, [0.4] * 8))
    assert "125 Hz" in bass.order
    order = [x.build.id for x in bass.lines]
    assert order.index("wool-100-gap-100") < order.index("wool-100") < order.index("wool-50")
    assert order[-1] == "felt-25"
    assert [x.build.id for x in treble.lines].index("felt-25") < len(order) - 2
    helps = [x.help for x in bass.lines]
    assert helps == sorted(helps, reverse=True)
    assert bass.currency == "EUR"


def test_a_room_that_lacks_nothing_is_sorted_by_price_per_sabin():
    found = compare_builds(BUILDS, LIBRARY, room([0.3] * 8, [0.4] * 8))
    prices = [x.price_per_sabin[1] for x in found.lines]
    assert prices == sorted(prices)
    assert "lacks nothing" in found.order


def test_without_a_room_the_order_is_kept():
    found = compare_builds(BUILDS, LIBRARY)
    assert [x.build.id for x in found.lines] == [b.id for b in BUILDS]
    assert found.lacking is None
    assert all(math.isnan(x.help) for x in found.lines)


@pytest.mark.parametrize(
    ("alpha", "words"),
    [
        (
            [0.0, 0.1, 0.1, 0.3, 0.6, 0.8, 0.9, 0.9],
            ("at least half at 1 kHz to 8 kHz", "below 500 Hz nearly nothing"),
        ),
        (
            [0.3, 0.6, 0.5, 0.3, 0.1, 0.0, 0.0, 0.0],
            ("at least half at 125 Hz to 250 Hz", "above 500 Hz nearly nothing: the treble comes back"),
        ),
        ([0.1] * 8, ("nearly nothing in any band",)),
        ([0.3] * 7 + [0.4], ("less than half in every band, most at 8 kHz",)),
        (
            [0.2, 0.5, 0.4, 0.5, 0.9, 0.9, 0.9, 0.9],
            ("at least half at 125 Hz and 500 Hz to 8 kHz",),
        ),
    ],
)
def test_words(alpha, words):
    assert what_it_does(np.array(alpha)) == words


def test_measured_rows_stand_beside_the_prediction_and_change_nothing():
    wool = line("wool-50")
    assert {m.id for m in wool.published} >= {"mineral-wool-50mm-48kg-enc", "mineral-board-50mm-40kg-ptb"}
    assert wool.build.basis == "predicted"
    np.testing.assert_array_equal(wool.absorption, wool.build.material.absorption)
    # Another gap, another thickness, another kind: no twin.
    assert not line("wool-50-gap-50").published
    assert all(m.thickness == pytest.approx(0.1) for m in line("wool-100").published)
    assert not line("felt-25").published
    assert not line("glass-fibre-100-measured").published


def test_findings_say_what_the_numbers_are_worth():
    codes = {x.build.id: {f.code for f in x.findings} for x in compare_builds(BUILDS, LIBRARY).lines}
    assert {"predicted-not-measured", "outside-model", "price-invented"} <= codes["wool-100"]
    assert {"bands-assumed", "clipped-at-1"} <= codes["glass-fibre-100-measured"]
    assert "predicted-not-measured" not in codes["glass-fibre-100-measured"]
    assert "sources-disagree" in codes["curtain-heavy"]
    assert "corner-as-flat" in codes["wool-150-corner"]


def test_edge_effect_is_off_by_default():
    plain, edged = line("wool-100"), line("wool-100", edge_effect=True)
    assert np.all(edged.absorption[2:7] > plain.absorption[2:7])
    assert edged.absorption[[0, 1, 7]] == pytest.approx(plain.absorption[[0, 1, 7]])
    assert np.all(edged.uncertainty[2:7] > plain.uncertainty[2:7])
    assert "edge-effect" in {f.code for f in edged.findings}
    np.testing.assert_array_equal(plain.absorption, plain.build.material.absorption)
