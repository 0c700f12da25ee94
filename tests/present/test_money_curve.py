"""The chart of what money buys: it ends where the money ends, and its steps are as wide as prices."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.planning.lists import Step
from treatment.planning.plan import Plan
from treatment.present import figures


def test_nothing_is_drawn_beyond_what_is_spent(plan: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    """Prices by hand: eight panels of 31.50, the last of the chart's steps at 252."""
    monkeypatch.setattr(figures, "written", lambda figure, *_: figure)
    progress = tuple(
        Step(k, 31.5 * k, 80.0 - 9.0 * k, frozen(np.full(8, 0.9 - 0.05 * k)))
        for k in range(len(plan.placements) + 1)
    )
    drawn = figures.progress_chart(replace(plan, progress=progress))
    left, right = drawn.axes  # type: ignore[union-attr]
    for axes in (left, right):
        x = np.concatenate(
            [np.asarray(line.get_xdata(), dtype=float) for line in axes.lines if len(line.get_xdata()) != 2]
        )
        assert x.max() == plan.cost == pytest.approx(252.0)
    curve = next(line for line in left.lines if len(line.get_xdata()) > 2)
    assert np.diff(curve.get_xdata()) == pytest.approx(31.5)
    assert curve.get_ydata()[-1] == pytest.approx(100.0 * 8.0 / 80.0)
    # The end is marked: a step without width would not be seen.
    ends = [line for line in left.lines if len(line.get_xdata()) == 1]
    assert [(float(e.get_xdata()[0]), float(e.get_ydata()[0])) for e in ends] == [
        (252.0, pytest.approx(10.0))
    ]
