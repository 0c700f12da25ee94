"""The first line says so while a cost rests on invented examples, and prices of one's own reach the plan."""

from dataclasses import replace
from pathlib import Path

import pytest

from treatment.materials.prices import EXAMPLE, Price, Prices, example_prices
from treatment.planning.make import Options, with_own_prices
from treatment.present.answer import answer
from treatment.scene.load import load_scene


def noted(plan, *notes):
    cycle = [notes[i % len(notes)] for i in range(len(plan.placements))]
    pairs = zip(plan.placements, cycle, strict=True)
    return replace(plan, placements=tuple(replace(p, build=replace(p.build, price_note=n)) for p, n in pairs))


@pytest.mark.parametrize(
    ("notes", "words"),
    [
        ((EXAMPLE,), ", by example prices: type your own with --prices FILE"),
        ((EXAMPLE, "scene file"), ", partly by example prices"),
        ((f"own prices of its parts, one of 8; {EXAMPLE} for staples",), ", partly by example prices"),
    ],
)
def test_the_first_line_says_whose_prices(plan, notes, words):
    first = answer(noted(plan, *notes))[0]
    assert words in first
    assert "that you set" in first


@pytest.mark.parametrize("note", ["scene file", "own price, 2025-03-31", "own prices of its parts, one of 8"])
def test_nothing_is_said_of_prices_of_ones_own(plan, note):
    assert "example" not in answer(noted(plan, note))[0]


def test_one_price_of_ones_own_reaches_every_build_that_has_the_part():
    """Slabs of 50 mm at 40 instead of the example: 8 panels take one pack of 8, so 40 / 8 a panel."""
    room = load_scene(Path(__file__).parents[2] / "scenes" / "garden-room.toml")[0]
    slab = Price("slab of stone wool 50 mm", 40.0, "pack", "2025-03-31")
    own = {b.id: b for b in with_own_prices(room, Options(prices=Prices((slab,)))).builds}
    shipped = {b.id: b for b in room.builds}
    example = {b.id: b for b in with_own_prices(room, Options(prices=example_prices())).builds}
    pack = 8 * 0.6 * 1.2 * 0.05 * example_prices().find("slab").price
    for name in ("wool-50-gap-50", "wool-50-gap-100"):
        assert own[name].price - example[name].price == pytest.approx((40.0 - pack) / 8, abs=0.011)
        assert EXAMPLE in own[name].price_note
    assert own["wool-100"] is shipped["wool-100"]  # no part of it has a price
