"""A small chart on the side card: reverberation by octave, as a range of formulas and as rays found it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from treatment import bands
from treatment.planning.doubt import doubt_of
from treatment.planning.plan import Evaluation
from treatment.present.native.card import Card
from treatment.present.native.state import LOUDEST, ViewState
from treatment.present.palette import AFTER, BEFORE, INK, MUTED, PAPER, RULE, TARGET, WALL
from treatment.present.ray_times import RayTimes
from treatment.present.svg import Box
from treatment.present.traced_tables import with_error

#: Octaves in short, as they stand below the chart.
SHORT: Final = ("63", "125", "250", "500", "1k", "2k", "4k", "8k")
_SMALL: Final = 10.5
#: How far points of rays stand aside of the middle of their octave, in columns: before left, after right.
_ASIDE: Final = 0.24
#: The chart is at most this many times as high as Eyring's longest time, if rays find no longer one.
_MOST: Final = 1.5


@dataclass(frozen=True)
class RaysHere:
    """Traced times that belong to what is shown.

    Parameters
    ----------
    before, now : RayTimes or None
        Of the room as it is, and with the panels that hang; None where no rays were sent.
    whole : bool
        False where rays were sent, but not for the step that is shown.
    """

    before: RayTimes | None = None
    now: RayTimes | None = None
    whole: bool = True


def reverberation_chart(
    card: Card,
    box: Box,
    before: Evaluation | None,
    now: Evaluation | None,
    state: ViewState,
    rays: RaysHere,
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
    rays : RaysHere
        Drawn as points with two standard errors to both sides.
    """
    left, top, right, bottom = box[0] + 30.0, box[1] + 6.0, box[2], box[3] - 18.0
    card.area((left, top, right, bottom), PAPER, line=RULE)
    known = now or before
    if known is None:
        return
    states = [(e, c) for e, c in ((before, BEFORE), (None if now is before else now, AFTER)) if e is not None]
    target = known.target
    sent = [r for r in (rays.before, rays.now) if r is not None]
    highest = max(
        float(np.nanmax(target.upper)),
        # A formula that runs away must not press all others down: what is above the frame is cut off.
        *(min(float(e.spread[1].max()), _MOST * float(e.eyring.max())) for e, _ in states),
        *(float(np.nan_to_num(r.t30 + 2.0 * np.nan_to_num(r.error)).max()) for r in sent),
    )
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
    # Below the Schroeder frequency single modes decide: greyed, on the axis of octaves; the higher of two.
    schroeder = max(e.schroeder_hz for e in (before, now) if e is not None)
    edge = float(np.clip(np.log2(schroeder / 62.5) + 0.5, 0.0, bands.COUNT))
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
    for evaluation, colour in states:
        low_high = evaluation.spread
        edges = [[(x(k), y(float(t))) for k, t in enumerate(times)] for times in low_high]
        card.shape([*edges[0], *reversed(edges[1])], colour, alpha=0.16 if evaluation is not known else 0.26)
    doubt = doubt_of(known)
    for k in range(bands.COUNT):
        ends = [(x(k), y(float(doubt.lower[k]))), (x(k), y(float(doubt.upper[k])))]
        card.line(ends, states[-1][1], 1.2, alpha=0.75)
    for evaluation, colour in states:
        at = [(x(k), y(float(t))) for k, t in enumerate(evaluation.eyring)]
        _times(card, at, colour, dashed=evaluation is not known, square=evaluation is not before)
    for found, colour, sense in ((rays.before, BEFORE, -1.0), (rays.now, AFTER, 1.0)):
        if found is None:
            continue
        for k, (seconds, error) in enumerate(zip(found.t30, np.nan_to_num(found.error), strict=True)):
            if np.isfinite(seconds):
                reach = (y(float(seconds - 2.0 * error)), y(float(seconds + 2.0 * error)))
                _ray_point(card, x(k + sense * _ASIDE), y(float(seconds)), reach, colour)


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
    if square:
        card.marks(at, 2.8, colour, square=True)
    else:
        card.marks(at, 3.0, PAPER, colour)


def _ray_point(card: Card, x: float, y: float, reach: tuple[float, float], colour: str) -> None:
    """A diamond, and a line with a foot at both ends as far as the error reaches; within the diamond none."""
    for size, fill in ((4.6, PAPER), (3.6, colour)):
        card.shape([(x, y - size), (x + size, y), (x, y + size), (x - size, y)], fill)
    if abs(reach[1] - reach[0]) > 7.2:
        card.line([(x, reach[0]), (x, reach[1])], INK, 1.0)
        for end in reach:
            card.line([(x - 2.5, end), (x + 2.5, end)], INK, 1.0)


def times_words(now: Evaluation | None, state: ViewState, rays: RaysHere) -> str:
    """Say the times of the chosen band.

    Parameters
    ----------
    now : Evaluation or None
        Of the step that is shown.
    state : ViewState
        With a chosen band or without.
    rays : RaysHere
        What rays found.

    Returns
    -------
    str
        Heading of the chart: with a band the interval of its time in s, and the rays' time with one
        standard error.
    """
    if now is None or state.band == LOUDEST:
        return "Reverberation by octave"
    k, doubt = state.band, doubt_of(now)
    low, high = (f"{float(t[k]):.2f}" for t in (doubt.lower, doubt.upper))
    words = f"{SHORT[k]} Hz: {low} to {high} s" if low != high else f"{SHORT[k]} Hz: {low} s"
    found = rays.now if state.step else rays.before
    told = "" if found is None else with_error(float(found.t30[k]), float(found.error[k]), 2)
    return f"{words}, rays {told} s" if told else words


def chart_key(card: Card, left: float, top: float, *, treated: bool, rays: RaysHere) -> None:
    """Say what the marks of the chart mean, in two rows.

    Parameters
    ----------
    card : Card
        Where to draw.
    left, top : float
        In units.
    treated : bool
        Whether panels hang.
    rays : RaysHere
        Whether points of rays are to be explained.
    """

    def words(x: float, text: str) -> float:
        card.text(x, middle, text, _SMALL, colour=MUTED, anchor="lm")
        return x + card.measure(text, _SMALL) + 12.0

    colour = AFTER if treated else BEFORE
    middle = top + 7.0
    card.dot(left + 5.0, middle, 3.0, fill=PAPER, line=BEFORE)
    x = words(left + 12.0, "as it is")
    if treated:
        card.area((x, middle - 2.8, x + 5.6, middle + 2.8), AFTER)
        x = words(x + 9.0, "now")
    x = words(x - 6.0, "(Eyring)")
    card.area((x, middle - 5.0, x + 10.0, middle + 5.0), TARGET, alpha=0.35, line=TARGET, width=0.8)
    x = words(x + 14.0, "target")
    card.area((x, middle - 5.0, x + 10.0, middle + 5.0), WALL, line=RULE, width=0.8)
    card.area((x, middle - 5.0, x + 10.0, middle + 5.0), MUTED, alpha=0.13)
    words(x + 14.0, "guide only")
    middle += 16.0
    card.area((left, middle - 5.0, left + 10.0, middle + 5.0), colour, alpha=0.26)
    x = words(left + 14.0, "all formulas")
    card.line([(x + 2.0, middle - 6.0), (x + 2.0, middle + 6.0)], colour, 1.2, alpha=0.75)
    x = words(x + 8.0, "doubt")
    if rays.before is not None:
        _ray_point(card, x + 3.0, middle, (middle - 6.5, middle + 6.5), colour if rays.whole else BEFORE)
        words(x + 11.0, "rays, ± 2 errors" if rays.whole else "rays: before and after only")
