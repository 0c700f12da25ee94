"""Sawing boards: every piece once, every board holds its cuts, and no fewer metres are possible."""

import math
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from treatment.errors import PlanError
from treatment.planning import cut_stock as module
from treatment.planning.cut_stock import cut_stock

TENTHS = 1e-4  # m; the saw's own rounding


def check(sawing, pieces, lengths, kerf, trim):
    """Independent of the planner: what a person with a tape would look at."""
    cut = sorted(i for bar in sawing.bars for i in bar.pieces)
    assert cut == list(range(len(pieces)))
    for bar in sawing.bars:
        assert any(abs(bar.length - x) < TENTHS for x in lengths)
        needed = sum(pieces[i] for i in bar.pieces) + kerf * (len(bar.pieces) - 1) + trim
        assert needed <= bar.length + TENTHS * (len(bar.pieces) + 2)
    assert sawing.bound <= sawing.bought + 1e-9
    assert sawing.waste == pytest.approx(1 - sum(pieces) / sum(b.length for b in sawing.bars), abs=1e-3)


def fewest_millimetres(pieces, lengths, kerf):
    """Brute force in whole mm: the best of all ways to open a board and fill it with any subset."""

    @cache
    def least(left):
        if not left:
            return 0
        best = math.inf
        first, rest = left[0], left[1:]  # some board holds the first piece: try all its companions
        for mask in range(2 ** len(rest)):
            inside = [p for k, p in enumerate(rest) if mask >> k & 1]
            needed = first + sum(inside) + kerf * len(inside)
            fitting = [x for x in lengths if needed <= x]
            if fitting:
                outside = tuple(p for k, p in enumerate(rest) if not mask >> k & 1)
                best = min(best, min(fitting) + least(outside))
        return best

    return least(tuple(sorted(pieces, reverse=True)))


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(150, 1000), min_size=1, max_size=7),
    st.sampled_from([(1000,), (1000, 1500), (1200, 1800, 2400)]),
    st.sampled_from([0, 3, 5]),
)
def test_equals_brute_force(pieces, lengths, kerf):
    metres = [p / 1000 for p in pieces]
    sawing = cut_stock(metres, [x / 1000 for x in lengths], kerf=kerf / 1000)
    check(sawing, metres, [x / 1000 for x in lengths], kerf / 1000, 0.0)
    assert 1000 * sawing.bought == pytest.approx(fewest_millimetres(pieces, lengths, kerf), abs=1e-6)
    assert sawing.bound <= sawing.bought + 1e-9


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.floats(0.08, 1.9), min_size=1, max_size=40),
    st.sampled_from([(2.0,), (2.4, 3.0), (2.0, 2.5, 3.0)]),
    st.sampled_from([0.0, 0.003]),
    st.sampled_from([0.0, 0.01]),
)
def test_any_list_is_sawn_within_one_board_of_the_bound(pieces, lengths, kerf, trim):
    sawing = cut_stock(pieces, lengths, kerf=kerf, trim=trim)
    check(sawing, pieces, lengths, kerf, trim)
    assert sawing.bought - sawing.bound <= max(lengths) + 1e-9


def test_ways_that_are_generated_do_as_well_as_ways_that_are_listed(monkeypatch):
    pieces = [1.236] * 8 + [0.6] * 10 + [0.636] * 4 + [1.836, 1.836, 0.9, 0.9, 0.31, 0.31, 0.31]
    listed = cut_stock(pieces, [2.0, 2.5, 3.0], kerf=0.003, trim=0.01)
    monkeypatch.setattr(module, "_MOST_WAYS", 5)
    generated = cut_stock(pieces, [2.0, 2.5, 3.0], kerf=0.003, trim=0.01)
    check(generated, pieces, [2.0, 2.5, 3.0], 0.003, 0.01)
    assert listed.optimal
    assert listed.bound <= generated.bought <= listed.bought + 3.0
    assert generated.bound <= listed.bought + 1e-9


def test_worked_example_of_a_textbook():
    """Widths of 45, 36, 31 and 14 in from rolls of 100 in, 97, 610, 395 and 211 of each: 453 rolls;
    the linear relaxation gives 452.25 (Chvatal, Linear Programming, 1983, ch. 13; from memory).
    """
    pieces = [0.45] * 97 + [0.36] * 610 + [0.31] * 395 + [0.14] * 211
    sawing = cut_stock(pieces, [1.0])
    assert len(sawing.bars) == 453
    assert sawing.bound == pytest.approx(453.0)


def test_the_kerf_counts():
    assert len(cut_stock([0.6] * 4, [2.4]).bars) == 1
    assert len(cut_stock([0.6] * 4, [2.4], kerf=0.003).bars) == 2
    assert len(cut_stock([0.6] * 4, [2.41], kerf=0.003).bars) == 1  # three cuts: 2.409 m
    assert len(cut_stock([0.6] * 4, [2.41], kerf=0.003, trim=0.01).bars) == 2


def test_same_input_same_plan():
    pieces = [0.7, 0.4, 0.4, 0.33, 1.1, 0.9, 0.2]
    assert cut_stock(pieces, [2.0, 2.5], kerf=0.003) == cut_stock(pieces, [2.0, 2.5], kerf=0.003)


def test_nothing_to_saw():
    assert cut_stock([], [2.4]).bars == ()


@pytest.mark.parametrize("pieces", [[2.5], [2.395], [0.0], [-0.2]])
def test_what_no_board_gives_is_refused(pieces):
    with pytest.raises(PlanError):
        cut_stock(pieces, [2.4], kerf=0.003, trim=0.01)
