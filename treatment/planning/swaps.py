"""Exchange: every panel, or left-right pair, is tried at better places with the full objective.

Neither the greedy choice, which never looks back, nor the integer programme, which adds up what is not
additive, sees that two panels beside each other on one strong reflection may be worth more than two on two
reflections. Exchanges do: each is worked out with all the others in place.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.fresnel import Complex
from treatment.bands import Array
from treatment.planning.gains import early_gains
from treatment.planning.means import means, needs
from treatment.planning.objective import ODD_COST, SIDE_WORTH, score
from treatment.planning.problem import Problem
from treatment.planning.state import blocked_by, factor_change

#: Rounds over all panels; mostly the second finds little and a third nothing.
_ROUNDS = 2
#: So many of the most promising exchanges of one panel are worked out in full.
_TRIED = 4
#: Places this near to a panel's own are tried (m), and so many that gain most in the bare room.
_REACH, _STRONG = 0.65, 60
#: An exchange must gain this much of the whole.
_LEAST = 1e-4

Pairs = list[tuple[int, int]]


def exchange(problem: Problem, chosen: Pairs, columns: Pairs) -> Pairs:
    """Improve a choice by exchanging its panels.

    Parameters
    ----------
    problem : Problem
        The choice.
    chosen : list of (site, build)
        Within the limits, and without clashes.
    columns : list of (site, build)
        What may be hung instead.

    Returns
    -------
    list of (site, build)
        At least as good by `score`, within the limits.
    """
    if not chosen or not columns:
        return chosen
    now = score(problem, chosen).total
    strong = set(_strongest(problem, columns))
    for _ in range(_ROUNDS):
        before = now
        for unit in _units(problem, chosen):
            if any(panel not in chosen for panel in unit):
                continue
            rest = [panel for panel in chosen if panel not in unit]
            for other in _promising(problem, rest, _near(problem, columns, unit, strong), unit):
                value = score(problem, [*rest, *other]).total
                if value > now + _LEAST:
                    chosen, now = [*rest, *other], value
                    break
        if now < before + _LEAST:
            break
    return chosen


def _units(problem: Problem, chosen: Pairs) -> list[Pairs]:
    """Left-right pairs together, then every panel alone."""
    units: list[Pairs] = []
    for site, build in chosen:
        twin = (int(problem.sites.mirror[site]), build)
        if twin[0] > site and twin in chosen:
            units.append([(site, build), twin])
    return units + [[panel] for panel in chosen]


def _strongest(problem: Problem, columns: Pairs) -> Pairs:
    """Columns that gain most in the bare room, with their twins."""
    site, build = (np.array(x, dtype=np.intp) for x in zip(*columns, strict=True))
    worth = _worth(problem, problem.early.bare, problem.absorption_area, site, build)
    best = [columns[n] for n in np.argsort(-worth, kind="stable")[:_STRONG]]
    twins = {(int(problem.sites.mirror[s]), b) for s, b in best}
    return [c for c in columns if c in twins or c in set(best)]


def _near(problem: Problem, columns: Pairs, unit: Pairs, strong: set[tuple[int, int]]) -> Pairs:
    """Columns on a unit's surface within reach of it, and the strong ones anywhere."""
    s = problem.sites
    near = np.zeros(len(s), dtype=bool)
    for site, _ in unit:
        away = np.abs(s.rectangle[:, :2] - s.rectangle[site, :2]).max(axis=1)
        near |= (s.surface == s.surface[site]) & (away <= _REACH)
    return [c for c in columns if c in strong or near[c[0]]]


def _promising(problem: Problem, rest: Pairs, columns: Pairs, unit: Pairs) -> Iterator[Pairs]:
    """Best places for one unit beside the rest, in the order of their worth."""
    site = np.array([s for s, _ in columns], dtype=np.intp)
    build = np.array([b for _, b in columns], dtype=np.intp)
    free = np.ones(len(problem.sites), dtype=bool)
    factor, area = problem.early.bare.copy(), problem.absorption_area
    for s, b in rest:
        free &= ~blocked_by(problem, s)
        bounce, change = factor_change(problem, s, b)
        factor[bounce] += change
        area = area + problem.added_area[s, b]
    used = needs(problem.builds)
    left = means(problem.scene, problem.hanging) - used[[b for _, b in rest]].sum(axis=0)
    # What was spent on the unit may be spent again, and no more: the choice stays one for its money.
    left[0] = min(left[0], sum(float(used[b, 0]) for _, b in unit))
    worth = _worth(problem, factor, area, site, build)
    fits = free[site] & np.all(area + problem.added_area[site, build] <= problem.most_area, axis=1)
    column = {panel: n for n, panel in enumerate(columns)}
    twin = np.array(
        [column.get((int(problem.sites.mirror[s]), int(b)), -1) for s, b in zip(site, build, strict=True)]
    )
    own = problem.sites.mirror[site] == site
    single = np.where(fits & np.all(used[build] <= left + 1e-9, axis=1), worth, -np.inf)
    single = single - np.where((problem.sites.mirror[site] >= 0) & ~own, ODD_COST, 0.0)
    paired = fits & (twin >= 0) & problem.apart[site] & ~own & fits[twin]
    paired &= np.all(2.0 * used[build] <= left + 1e-9, axis=1)
    paired &= np.all(area + 2.0 * problem.added_area[site, build] <= problem.most_area, axis=1)
    double = np.where(paired & (site < problem.sites.mirror[site]), worth + worth[twin], -np.inf)
    values = np.concatenate([single, double])
    for n in np.argsort(-values, kind="stable")[: _TRIED + len(unit)]:
        if not np.isfinite(values[n]):
            return
        k = int(n) % len(site)
        found = [columns[k]] if n < len(site) else [columns[k], columns[int(twin[k])]]
        if set(found) != set(unit):
            yield found


def _worth(
    problem: Problem, factor: Complex, area: Array, site: NDArray[np.intp], build: NDArray[np.intp]
) -> Array:
    """What each column adds to the rest, as a part of the whole, shape (n,)."""
    start = problem.early.total(problem.early.bare)
    misfit = max(float(problem.misfit(problem.absorption_area)), 1e-9)
    places, row = np.unique(site, return_inverse=True)
    tried = np.zeros(len(problem.builds), dtype=bool)
    tried[build] = True
    early = early_gains(problem, factor, places, tried)[row, build]
    side = float(problem.misfit(area)) - problem.misfit(area + problem.added_area[site, build])
    return np.asarray(early / max(start, 1e-9) + SIDE_WORTH * side / misfit)
