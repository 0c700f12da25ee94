"""A small chart on the side card: early arrivals by delay and level."""

from __future__ import annotations

from typing import Final

import numpy as np

from treatment.planning.plan import Evaluation
from treatment.planning.targets import CRITERION_DB, CRITERION_MS
from treatment.present.native.card import Card
from treatment.present.native.paths import chosen_arrivals, shown_level
from treatment.present.native.state import ViewState
from treatment.present.palette import AFTER, BEFORE, MUTED, PAPER, RULE
from treatment.present.svg import Box

#: Range of the chart of arrivals.
_MOST_MS: Final = 25.0
_LOWEST_DB: Final = -30.0
_SMALL: Final = 10.5


def arrivals_chart(
    card: Card, box: Box, before: Evaluation | None, now: Evaluation | None, state: ViewState
) -> str:
    """Draw the early arrivals of the chosen loudspeaker and seat by delay and level.

    Parameters
    ----------
    card : Card
        Where to draw.
    box : tuple of float
        Left, top, right, bottom, in units.
    before, now : Evaluation or None
        The room as it is, and with the panels that hang.
    state : ViewState
        Loudspeaker, seat, band.

    Returns
    -------
    str
        How many of them break the criterion, in words.
    """
    left, top, right, bottom = box[0] + 30.0, box[1] + 6.0, box[2], box[3] - 18.0
    card.area((left, top, right, bottom), PAPER, line=RULE)

    def x(ms: float) -> float:
        return left + (right - left) * min(ms, _MOST_MS) / _MOST_MS

    def y(db: float) -> float:
        return top + (bottom - top) * min(max(-db, 0.0), -_LOWEST_DB) / -_LOWEST_DB

    card.area((left, top, x(CRITERION_MS), y(CRITERION_DB)), BEFORE, alpha=0.10)
    card.line(
        [(left, y(CRITERION_DB)), (x(CRITERION_MS), y(CRITERION_DB)), (x(CRITERION_MS), top)], BEFORE, 1.0
    )
    for mark in (0, 5, 10, 15, 20, 25):
        words, anchor = (f"{mark} ms", "ra") if mark == _MOST_MS else (str(mark), "ma")
        card.text(x(mark), bottom + 4.0, words, _SMALL, colour=MUTED, anchor=anchor)
    for mark in (10, 20, 30):
        card.text(left - 5.0, y(-mark), f"\N{MINUS SIGN}{mark}", _SMALL, colour=MUTED, anchor="rm")
    card.text(box[0] + 2.0, top - 1.0, "dB", _SMALL, colour=MUTED)
    for evaluation, colour in ((before, BEFORE), (None if now is before else now, AFTER)):
        if evaluation is None:
            continue
        a = evaluation.arrivals
        index = chosen_arrivals(a, state, (1, 2))
        level = shown_level(a, state.band)[index]
        radius = 2.6 if len(index) < 120 else 1.7
        delay = a.delay_ms[index]
        drawn = [i for i in np.argsort(level).tolist() if delay[i] <= _MOST_MS and level[i] >= _LOWEST_DB]
        at = [(x(float(delay[i])), y(float(level[i]))) for i in drawn]
        if evaluation is before:
            card.marks(at, radius, line=colour, width=0.9)
        else:
            card.marks(at, radius, colour, square=True)
    return criterion_words(before, now, state)


def criterion_words(before: Evaluation | None, now: Evaluation | None, state: ViewState) -> str:
    """Count the chosen arrivals that break the criterion.

    Parameters
    ----------
    before, now : Evaluation or None
        The room as it is, and with the panels that hang.
    state : ViewState
        Loudspeaker and seat.

    Returns
    -------
    str
        One phrase.
    """
    counts = []
    for evaluation in (before, now):
        if evaluation is not None:
            index = chosen_arrivals(evaluation.arrivals, state, (1, 2))
            counts.append(sum(evaluation.arrivals.verdict[i] == "treat" for i in index))
    if not counts:
        return "being worked out"
    if now is None or now is before:
        return f"{counts[0]} early and strong"
    return (
        f"{counts[-1]} early and strong, {counts[0]} without panels"
        if len(counts) > 1
        else f"{counts[0]} early and strong"
    )
