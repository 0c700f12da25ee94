"""The early choice as an integer programme, and a bound that no plan can beat.

On a *linearised* objective: each panel takes from each arrival what it would take alone, panels add up, and
no arrival gives more than its whole excess. That is a capped coverage problem; HiGHS solves it through scipy.
Its relaxation (panels may be fractions, left and right may differ) bounds the linearised gain of every plan
from the same columns (worthwhile sites, best builds) for the same money. The true gain is not linear, so the
chosen plan is evaluated with the full model and compared with the greedy one there; the better is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.planning.early import excess
from treatment.planning.problem import Problem

#: Builds that enter the programme: the best by gain per money.
_BUILDS = 2
#: Sites whose gain is below this share of the best site's are left out.
_LEAST_SITE = 0.05
#: HiGHS stops at this relative gap; limits on nodes, not on time, keep the answer the same everywhere.
_GAP, _NODES, _SECONDS = 0.02, 400, 30.0


@dataclass(frozen=True)
class Bound:
    """How far a plan is from the best possible one, on the linearised early objective.

    Parameters
    ----------
    value : float
        The plan's linearised gain, dB summed over arrivals.
    bound : float
        No plan from the same sites for the same money gains more.
    """

    value: float
    bound: float

    @property
    def gap(self) -> float:
        """Relative distance from the bound, 0 to 1."""
        return max(0.0, 1.0 - self.value / self.bound) if self.bound > 0.0 else 0.0


@dataclass(frozen=True, eq=False)
class Programme:
    """Columns and rows of the programme; n columns, a arrivals.

    Parameters
    ----------
    site, build : numpy.ndarray
        What each column hangs, shape (n,).
    price : numpy.ndarray
        Of each column, shape (n,).
    gain : scipy sparse array
        What each column takes from each arrival alone, shape (a, n), dB.
    cap : numpy.ndarray
        Excess of each arrival in the bare room, shape (a,), dB.
    clashes : scipy sparse array
        Rows of columns of which at most one may be chosen, shape (c, n).
    """

    site: NDArray[np.intp]
    build: NDArray[np.intp]
    price: Array
    gain: Any
    cap: Array
    clashes: Any

    def value(self, chosen: NDArray[np.bool_]) -> float:
        """Return the linearised gain of a choice, dB.

        Parameters
        ----------
        chosen : numpy.ndarray
            Shape (n,), bool.
        """
        return float(np.minimum(self.gain @ chosen.astype(np.float64), self.cap).sum())


def state_programme(
    problem: Problem, gains: Array, tried: Sequence[int], always: Sequence[tuple[int, int]] = ()
) -> Programme:
    """Write a problem down as a programme.

    Parameters
    ----------
    problem : Problem
        The choice.
    gains : numpy.ndarray
        What each tried build takes from an arrival in each group of the coverage alone, shape (z, k), dB.
    tried : sequence of int
        Indices of the builds, k of them.
    always : sequence of (site, build)
        Columns that must be there, such as those of a plan whose value is asked for.

    Returns
    -------
    Programme
        With the sites that are worth a column.
    """
    from scipy import sparse

    q = problem.cover
    positive = np.maximum(gains, 0.0)
    prices = np.array([max(problem.builds[k].price, 0.01) for k in tried])
    order = np.argsort(-positive.sum(axis=0) / prices, kind="stable")[:_BUILDS]
    by_site = np.zeros((len(problem.sites), len(tried)))
    np.add.at(by_site, q.group_site, positive)
    columns: dict[tuple[int, int], None] = dict.fromkeys((int(s), int(b)) for s, b in always)
    for j in order:
        fits = problem.allowed[:, tried[j]] & (by_site[:, j] > _LEAST_SITE * by_site[:, j].max())
        columns.update(dict.fromkeys((int(s), int(tried[j])) for s in np.flatnonzero(fits)))
    site = np.array([c[0] for c in columns], dtype=np.intp)
    build = np.array([c[1] for c in columns], dtype=np.intp)
    place = {int(k): j for j, k in enumerate(tried)}
    starts = np.searchsorted(q.group_site, np.arange(len(problem.sites) + 1))
    rows, cols, values = [], [], []
    for n, (s, b) in enumerate(zip(site, build, strict=True)):
        groups = np.arange(starts[s], starts[s + 1])
        some = groups[positive[groups, place[int(b)]] > 1e-3]
        rows.append(q.group_arrival[some])
        cols.append(np.full(len(some), n))
        values.append(positive[some, place[int(b)]])
    e = problem.early
    shape = (e.count, len(site))
    matrix = sparse.csr_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(cols))), shape=shape
    )
    price = np.array([max(problem.builds[b].price, 0.01) for b in build])
    cap = excess(e.arrival_energy(e.member_energy(e.bare)))
    return Programme(site, build, price, matrix, cap, _clashes(problem, site))


def _clashes(problem: Problem, site: NDArray[np.intp]) -> Any:
    """Rows of columns of which one at most may be chosen.

    They cover a common point (rectangles that overlap pairwise share one), or their bodies meet across a
    corner of the room.
    """
    from scipy import sparse

    rectangle, surface = problem.sites.rectangle[site], problem.sites.surface[site]
    rows: list[NDArray[np.intp]] = []
    seen = set()
    for i in np.unique(surface):
        m = np.flatnonzero(surface == i)
        for u in np.unique(np.round(rectangle[m, 0], 4)) + 1e-3:
            across = m[(rectangle[m, 0] < u) & (rectangle[m, 2] > u)]
            for v in np.unique(np.round(rectangle[across, 1], 4)) + 1e-3:
                over = across[(rectangle[across, 1] < v) & (rectangle[across, 3] > v)]
                key = over.tobytes()
                if len(over) > 1 and key not in seen:
                    seen.add(key)
                    rows.append(over)
    for n in range(len(site)):
        rest = np.arange(n + 1, len(site))
        rest = rest[surface[rest] != surface[n]]
        meets = problem.sites.clashing(int(site[n]), site[rest])
        rows.extend(np.array([n, k]) for k in rest[meets])
    lengths = [len(r) for r in rows]
    index = np.concatenate(rows) if rows else np.zeros(0, dtype=np.intp)
    row = np.repeat(np.arange(len(rows)), lengths)
    return sparse.csr_array((np.ones(len(index)), (row, index)), shape=(len(rows), len(site)))


def solve(
    problem: Problem, programme: Programme, money: float, extra: Array, *, gap: float = _GAP
) -> tuple[NDArray[np.bool_], float]:
    """Solve the programme, left and right alike where the room allows it, and bound it.

    Parameters
    ----------
    problem : Problem
        The choice.
    programme : Programme
        From `state_programme`.
    money : float
        What may be spent.
    extra : numpy.ndarray
        Side gain of each column in dB, shape (n,); it settles ties and does not enter the bound.
    gap : float
        Relative gap at which the solver may stop.

    Returns
    -------
    chosen : numpy.ndarray
        Shape (n,), bool; nothing chosen when the solver finds no plan.
    bound : float
        No choice for this money has a larger `Programme.value`, whether alike or not.
    """
    from scipy import sparse
    from scipy.optimize import Bounds, LinearConstraint, milp

    n, a = len(programme.site), len(programme.cap)
    rows = [
        LinearConstraint(sparse.hstack([-programme.gain, sparse.eye_array(a)]), -np.inf, 0.0),
        LinearConstraint(np.concatenate([programme.price, np.zeros(a)])[None], -np.inf, money + 1e-9),
    ]
    if programme.clashes.shape[0]:
        wide = sparse.hstack([programme.clashes, sparse.csr_array((programme.clashes.shape[0], a))])
        rows.append(LinearConstraint(wide, -np.inf, 1.0))
    spare = problem.most_area - problem.absorption_area
    for b in np.flatnonzero(np.isfinite(spare)):
        added = problem.added_area[programme.site, programme.build, b]
        limit = max(float(spare[b]), 0.0)
        rows.append(LinearConstraint(np.concatenate([added, np.zeros(a)])[None], -np.inf, limit))
    upper = np.concatenate([np.ones(n), programme.cap])
    early = np.concatenate([np.zeros(n), -np.ones(a)])
    relaxed = milp(early, constraints=rows, bounds=Bounds(0.0, upper))
    if relaxed.x is None:
        return np.zeros(n, dtype=bool), float(programme.cap.sum())
    alike, blocked = _alike(problem, programme)
    if alike.shape[0]:
        rows.append(LinearConstraint(sparse.hstack([alike, sparse.csr_array((alike.shape[0], a))]), 0.0, 0.0))
    upper[:n][blocked] = 0.0
    whole = np.concatenate([np.ones(n), np.zeros(a)])
    wished = early - np.concatenate([extra, np.zeros(a)])
    found = milp(
        wished,
        constraints=rows,
        bounds=Bounds(0.0, upper),
        integrality=whole,
        options={"mip_rel_gap": gap, "node_limit": _NODES, "time_limit": _SECONDS},
    )
    chosen = np.zeros(n, dtype=bool) if found.x is None else np.asarray(found.x[:n] > 0.5, dtype=bool)
    return chosen, float(-relaxed.fun)


def _alike(problem: Problem, programme: Programme) -> tuple[Any, NDArray[np.bool_]]:
    """Equations that tie twins left and right, and columns whose twin would overlap them."""
    from scipy import sparse

    column = {
        (int(s), int(b)): n for n, (s, b) in enumerate(zip(programme.site, programme.build, strict=True))
    }
    blocked = np.zeros(len(programme.site), dtype=bool)
    ties = []
    for (s, b), n in column.items():
        twin = int(problem.sites.mirror[s])
        if twin in (-1, s) or (twin, b) not in column:
            continue
        if not problem.apart[s]:
            blocked[n] = True
        elif n < column[(twin, b)]:
            ties.append((n, column[(twin, b)]))
    row = np.repeat(np.arange(len(ties)), 2)
    index = np.array(ties, dtype=np.intp).reshape(-1)
    sign = np.tile([1.0, -1.0], len(ties))
    return sparse.csr_array((sign, (row, index)), shape=(len(ties), len(programme.site))), blocked
