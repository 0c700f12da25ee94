"""Builds side by side: arithmetic by hand, order, words, and what is kept apart."""

import io
import math
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from treatment.bands import frozen
from treatment.materials.builds import load_builds
from treatment.materials.library import load_library
from treatment.planning.comparison import compare_builds, lacking_area, what_it_does
from treatment.planning.enough import area_off
from treatment.planning.evaluate import evaluate
from treatment.present.compare import print_comparison
from treatment.scene.load import load_scene

LIBRARY = load_library()
BUILDS = load_builds(LIBRARY)


SCENE = """title = "lack"
[room]
shape = "box"
length = 5.0
width = 4.0
height = 2.5
[surfaces]
default = "concrete-smooth-unpainted"
[budget]
amount = 100
currency = "EUR"
"""


@pytest.fixture(scope="module")
def box(tmp_path_factory):
    path = tmp_path_factory.mktemp("lack") / "room.toml"
    path.write_text(SCENE)
    return evaluate(load_scene(path)[0])


@pytest.fixture
def room(box):
    """A room of 50 m3 and 85 m2 whose times and upper limits are told."""

    def made(times, upper):
        return replace(
            box,
            reverberation={**box.reverberation, "sabine": frozen(times), "eyring": frozen(times)},
            target=replace(box.target, lower=frozen(np.full(8, 0.01)), upper=frozen(upper)),
        )

    return made


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


def test_what_a_room_lacks(room):
    # Eyring: A = S (1 - exp(-55.26 V/(c T S))) with V = 50 m3, S = 85 m2, c = 343.2 m/s: 0.8 s is 9.490 m2,
    # 0.4 s is 17.922 m2; by Sabine they are 10.06 and 20.13. The air absorbs 0.02 m2 at 125 Hz.
    asked = room([0.8] * 8, [math.nan] + [0.4] * 6 + [0.9])
    lacks = lacking_area(asked)
    assert lacks[1] == pytest.approx(8.432, rel=0.001)
    assert lacks[[0, 7]].tolist() == [0.0, 0.0]
    # What the prediction says is lacking, and the comparison, is one number.
    np.testing.assert_array_equal(lacks[1:7], area_off(asked, "eyring")[1:7])
    said = io.StringIO()
    print_comparison(Console(file=said, width=200), compare_builds(BUILDS, LIBRARY, asked))
    assert "By Eyring's formula the room lacks 8.4 m2 at 125 Hz" in said.getvalue()


def test_a_room_that_lacks_bass_wants_the_deep_build_first(room):
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


def test_a_room_that_lacks_nothing_is_sorted_by_price_per_sabin(room):
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
