"""Slabs, sheets and cloth: every piece once, inside, without overlap, above the bound."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from treatment.errors import PlanError
from treatment.planning.nesting import nest_roll, nest_sheets

sizes = st.lists(st.tuples(st.floats(0.05, 1.2), st.floats(0.05, 1.2)), min_size=1, max_size=14)


def check(nesting, pieces, kerf, turn):
    assert sorted(p.piece for p in nesting.placed) == list(range(len(pieces)))
    for p in nesting.placed:
        w, h = pieces[p.piece]
        assert {round(p.width, 6), round(p.height, 6)} == {round(w, 6), round(h, 6)}
        if not turn:
            assert (p.width, p.height) == pytest.approx((w, h), abs=1e-5)
        assert p.x >= -1e-9
        assert p.y >= -1e-9
        assert p.x + p.width <= nesting.size[0] + 1e-5
        assert p.y + p.height <= nesting.size[1] + 1e-3
    for n, a in enumerate(nesting.placed):
        for b in nesting.placed[n + 1 :]:
            if a.sheet == b.sheet:
                across = max(a.x, b.x) - min(a.x + a.width, b.x + b.width)
                along = max(a.y, b.y) - min(a.y + a.height, b.y + b.height)
                assert max(across, along) >= kerf - 1e-6


@settings(max_examples=60, deadline=None)
@given(sizes, st.sampled_from([0.0, 0.003]), st.booleans())
def test_sheets(pieces, kerf, turn):
    nesting = nest_sheets(pieces, (1.22, 2.44), kerf=kerf, turn=turn)
    check(nesting, pieces, kerf, turn)
    assert {p.sheet for p in nesting.placed} == set(range(nesting.sheets))
    area = math.ceil(sum(w * h for w, h in pieces) / (1.22 * 2.44) - 1e-9)
    assert max(1, area) <= nesting.bound <= nesting.sheets


@settings(max_examples=60, deadline=None)
@given(sizes, st.booleans())
def test_roll(pieces, turn):
    nesting = nest_roll(pieces, 1.5, turn=turn)
    check(nesting, pieces, 0.0, turn)
    area = sum(w * h for w, h in pieces)
    assert area / 1.5 <= nesting.bound + 1e-5
    assert nesting.bound <= nesting.size[1] + 1e-9
    # Rows by falling height: two neighbours fill more than one of them, so the length is below twice the area
    # over the width and one tallest piece (Coffman, Garey, Johnson and Tarjan 1980, the proof for NFDH).
    assert nesting.size[1] <= 2.0 * area / 1.5 + max(h for _, h in pieces) + 1e-5


@pytest.mark.parametrize(
    ("pieces", "sheet", "sheets"),
    [
        ([(0.6, 1.2)] * 5, (0.6, 1.2), 5),  # uncut
        ([(0.6, 0.6)] * 5, (0.6, 1.2), 3),
        ([(1.2, 0.3)] * 4, (0.6, 1.2), 2),  # turned to fit
        ([(0.6, 1.2), (0.6, 0.6), (0.3, 0.6), (0.3, 0.6)], (0.6, 1.2), 2),
        ([(0.61, 0.61)] * 2, (0.8, 1.2), 2),  # larger than half of both sides
    ],
)
def test_counts_that_a_person_sees(pieces, sheet, sheets):
    nesting = nest_sheets(pieces, sheet)
    assert nesting.sheets == sheets
    assert nesting.bound <= sheets


def test_cloth_lies_the_way_that_is_shorter():
    """Five of 0.9 x 1.5 from 1.5 m: turned, 5 rows of 0.9 m; upright, 5 rows of 1.5 m."""
    nesting = nest_roll([(0.9, 1.5)] * 5, 1.5)
    assert nesting.size[1] == pytest.approx(4.5)
    assert nesting.bound == pytest.approx(4.5)
    assert nest_roll([(0.9, 1.5)] * 5, 1.5, turn=False).size[1] == pytest.approx(7.5)


def test_a_mixture_of_turned_and_upright_is_found():
    """Three of 0.6 x 1.0 on 1.2 m: two upright side by side, 1.0 m, and one lying, 0.6 m."""
    assert nest_roll([(0.6, 1.0)] * 3, 1.2).size[1] == pytest.approx(1.6)
    assert nest_roll([(0.6, 1.0)] * 3, 1.2, turn=False).size[1] == pytest.approx(2.0)


def test_kerf_of_a_full_sheet():
    assert nest_sheets([(0.61, 1.22)] * 4, (1.22, 2.44)).sheets == 1
    assert nest_sheets([(0.61, 1.22)] * 4, (1.22, 2.44), kerf=0.003).sheets > 1


@pytest.mark.parametrize("turn", [True, False])
def test_what_does_not_fit_is_refused(turn):
    with pytest.raises(PlanError):
        nest_sheets([(1.3, 1.3)], (1.22, 2.44), turn=turn)
    with pytest.raises(PlanError):
        nest_roll([(1.6, 1.6)], 1.5, turn=turn)


def test_nothing_to_nest():
    assert nest_sheets([], (0.6, 1.2)).sheets == 0
    assert nest_roll([], 1.5).size[1] == 0.0
