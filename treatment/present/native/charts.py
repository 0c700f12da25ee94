"""Two small charts on the side card: reverberation by octave, and early arrivals by delay and level."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np

from treatment import bands
from treatment.planning.doubt import doubt_of
from treatment.planning.plan import Evaluation
from treatment.planning.targets import CRITERION_DB, CRITERION_MS
from treatment.present.native.card import Card
from treatment.present.native.paths import chosen_arrivals, shown_level
from treatment.present.native.state import LOUDEST, ViewState
from treatment.present.palette import AFTER, BEFORE, INK, MUTED, PAPER, RULE, TARGET, WALL
from treatment.present.svg import Box

#: Octaves in short, as they stand below the chart.
SHORT: Final = ("63", "125", "250", "500", "1k", "2k", "4k", "8k")
#: Range of the chart of arrivals.
_MOST_MS: Final = 25.0
_LOWEST_DB: Final = -30.0
_SMALL: Final = 10.5


def reverberation_chart(
    card: Card, box: Box, before: Evaluation | None, now: Evaluation | None, state: ViewState
) -> None:
    """Draw reverberation time by octave against its range.

    Parameters
    ----------
    card : Card
        Where to draw.
    box : tuple of float
        Left, top, right, bottom, in units.
    before, now : Evaluation or None
        The room as it is, and with the panels that hang; None while they are worked out.
    state : ViewState
        The chosen band is marked.
    """
    left, top, right, bottom = box[0] + 30.0, box[1] + 6.0, box[2], box[3] - 18.0
    card.area((left, top, right, bottom), PAPER, line=RULE)
    known = now or before
    if known is None:
        return
    target = known.target
    highest = float(np.nanmax(target.upper))
    for e in (before, now):
        if e is not None:
            highest = max(highest, float(e.eyring.max()))
    highest = 0.1 * np.ceil(1.08 * highest / 0.1)
    column = (right - left) / bands.COUNT

    def x(band: float) -> float:
        return left + (band + 0.5) * column

    def y(seconds: float) -> float:
        return float(bottom - (bottom - top) * min(seconds, highest) / highest)

    step = next(s for s in (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0) if highest / s <= 5.0 or s == 10.0)
    for k in range(1, int(highest / step + 1e-6) + 1):
        card.line([(left, y(k * step)), (right, y(k * step))], RULE, 0.8)
        card.text(left - 5.0, y(k * step), f"{k * step:.1f}", _SMALL, colour=MUTED, anchor="rm")
    card.text(box[0], top - 1.0, "s", _SMALL, colour=MUTED)
    # Below the Schroeder frequency single modes decide: greyed, on the axis of octaves.
    edge = float(np.clip(np.log2(known.schroeder_hz / 62.5) + 0.5, 0.0, bands.COUNT))
    if edge > 0.0:
        card.area((left, top, left + edge * column, bottom), MUTED, alpha=0.13)
    for k in range(bands.COUNT):
        low, high = float(target.lower[k]), float(target.upper[k])
        if np.isfinite(low) and np.isfinite(high):
            box_k = (left + k * column + 2.0, y(high), left + (k + 1) * column - 2.0, y(low))
            card.area(box_k, TARGET, alpha=0.35, line=TARGET, width=0.8)
        strong = k == state.band
        card.text(
            x(k), bottom + 4.0, SHORT[k], _SMALL, bold=strong, colour=INK if strong else MUTED, anchor="ma"
        )
        card.spot((left + k * column, top, left + (k + 1) * column, box[3]), f"band:{k}")
    if state.band != LOUDEST:
        card.area(
            (x(state.band) - column / 2.0, top, x(state.band) + column / 2.0, bottom), line=INK, width=1.2
        )
    if before is not None:
        _times(
            card, [(x(k), y(float(t))) for k, t in enumerate(before.eyring)], BEFORE, dashed=now is not before
        )
    if now is not None:
        doubt = doubt_of(now)
        for k in range(bands.COUNT):
            ends = [(x(k), y(float(doubt.lower[k]))), (x(k), y(float(doubt.upper[k])))]
            card.line(ends, BEFORE if now is before else AFTER, 5.0, alpha=0.28)
    if now is not None and now is not before:
        _times(card, [(x(k), y(float(t))) for k, t in enumerate(now.eyring)], AFTER, square=True)


def _times(
    card: Card, at: list[tuple[float, float]], colour: str, *, dashed: bool = False, square: bool = False
) -> None:
    for (x0, y0), (x1, y1) in pairwise(at):
        length = max(float(np.hypot(x1 - x0, y1 - y0)), 1e-6)
        on, period = (4.0, 7.0) if dashed else (length, length)
        for start in np.arange(0.0, length - 1e-6, period):
            a, b = start / length, min(start + on, length) / length
            ends = [(x0 + a * (x1 - x0), y0 + a * (y1 - y0)), (x0 + b * (x1 - x0), y0 + b * (y1 - y0))]
            card.line(ends, colour, 1.6)
    for px, py in at:
        if square:
            card.area((px - 3.2, py - 3.2, px + 3.2, py + 3.2), colour)
        else:
            card.dot(px, py, 3.4, fill=PAPER, line=colour)


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
        for i in np.argsort(level).tolist():
            ms, db = float(a.delay_ms[index[i]]), float(level[i])
            if ms > _MOST_MS or db < _LOWEST_DB:
                continue
            if evaluation is before:
                card.dot(x(ms), y(db), radius, line=colour, width=0.9)
            else:
                card.area((x(ms) - radius, y(db) - radius, x(ms) + radius, y(db) + radius), colour)
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


def chart_key(card: Card, left: float, top: float, *, treated: bool) -> None:
    """Say what the marks of both charts mean.

    Parameters
    ----------
    card : Card
        Where to draw.
    left, top : float
        In units.
    treated : bool
        Whether panels hang.
    """
    x = left + 5.0
    middle = top + 7.0
    if not treated:
        card.line([(x, middle - 7.0), (x, middle + 7.0)], BEFORE, 5.0, alpha=0.28)
    card.dot(x, middle, 3.4, fill=PAPER, line=BEFORE)
    card.text(
        x + 9.0, middle, "as it is" if treated else "as it is, and doubt", _SMALL, colour=MUTED, anchor="lm"
    )
    x += 66.0
    if treated:
        card.area((x - 3.2, middle - 3.2, x + 3.2, middle + 3.2), AFTER)
        card.line([(x, middle - 7.0), (x, middle + 7.0)], AFTER, 5.0, alpha=0.28)
        card.text(x + 9.0, middle, "now, and doubt", _SMALL, colour=MUTED, anchor="lm")
    x += 112.0
    card.area((x - 5.0, middle - 5.0, x + 5.0, middle + 5.0), TARGET, alpha=0.35, line=TARGET, width=0.8)
    card.text(x + 10.0, middle, "target", _SMALL, colour=MUTED, anchor="lm")
    card.area((x + 57.0, middle - 5.0, x + 67.0, middle + 5.0), WALL, line=RULE, width=0.8)
    card.area((x + 57.0, middle - 5.0, x + 67.0, middle + 5.0), MUTED, alpha=0.13)
    card.text(x + 72.0, middle, "guide only", _SMALL, colour=MUTED, anchor="lm")
