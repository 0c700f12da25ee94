"""What a plan is worth after each of its panels, and where the gain per money falls off.

One curve, that of the largest budget, judges all budgets: where to stop does not depend on which amounts
stand between. Its upper hull is judged: one panel of a pair alone would make a tooth.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from treatment.planning.objective import score
from treatment.planning.optimise import Selection
from treatment.planning.problem import Problem

#: Money spent, and the objective then.
Point = tuple[float, float]


def worth_curve(problem: Problem, selection: Selection) -> tuple[Point, ...]:
    """Work out the objective after each panel, in the order of benefit.

    Parameters
    ----------
    problem : Problem
        The choice.
    selection : Selection
        Made for it.

    Returns
    -------
    tuple of (float, float)
        Cost with the panels that hang already, and the objective; the room as it is first. Panels that
        stand are its last point, together.
    """
    cost = sum(p.build.price for p in problem.hanging)
    curve, pairs = [(cost, 0.0)], list[tuple[int, int]]()
    for choice in selection.choices:
        pairs.append((choice.site, choice.build))
        cost += problem.builds[choice.build].price
        curve.append((cost, score(problem, pairs).total))
    if selection.standing and selection.score is not None:
        cost += sum(problem.builds[p.build].price for p in selection.standing)
        curve.append((cost, selection.score.total))
    return tuple(curve)


def upper_hull(curve: Sequence[Point]) -> list[Point]:
    """Take the corners of the least concave curve over the points of a curve.

    Parameters
    ----------
    curve : sequence of (float, float)
        In rising cost, from the start on.

    Returns
    -------
    list of (float, float)
        From the first point to the best one; each stretch rises less steeply than the one before.
    """
    hull: list[Point] = []
    for x, y in curve:
        if hull and y <= hull[-1][1]:
            continue  # more money for no more
        if hull and x - hull[-1][0] < 1e-9:
            hull.pop()
        while len(hull) > 1 and _slope(hull[-2], hull[-1]) <= _slope(hull[-1], (x, y)):
            hull.pop()
        hull.append((x, y))
    return hull


def turning(curve: Sequence[Point], share: float) -> float:
    """Find the money after which the gain per money stays below a share of what it is at first.

    Parameters
    ----------
    curve : sequence of (float, float)
        From `worth_curve`.
    share : float
        0 to 1.

    Returns
    -------
    float
        Cost at a corner of the upper hull; where nothing is gained, that of the first point.
    """
    hull = upper_hull(curve)
    if len(hull) < 2:
        return curve[0][0]
    least = share * _slope(hull[0], hull[1])
    return max(b[0] for a, b in pairwise(hull) if _slope(a, b) >= least)


def _slope(a: Point, b: Point) -> float:
    return (b[1] - a[1]) / max(b[0] - a[0], 1e-12)
