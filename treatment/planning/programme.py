"""The early choice as an integer programme, and a bound that no plan can beat.

On a *linearised* objective: each panel takes from each arrival what it would take alone, panels add up, and
no arrival gives more than its whole excess. That is a capped coverage problem; HiGHS solves it through scipy.
Its relaxation (panels may be fractions, left and right may differ at no cost) bounds the linearised gain of
every plan from the same columns (worthwhile sites, best builds) for the same money. The true gain is not
linear, so the chosen plan is valued with the full model beside the greedy one; the better is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.planning.early import excess
from treatment.planning.means import needs
from treatment.planning.objective import ODD_COST
from treatment.planning.problem import Problem

#: Builds that enter the programme: the best by gain per cost.
_BUILDS = 2
#: Sites whose gain is below this share of the best site's are left out.
_LEAST_SITE = 0.05
#: HiGHS stops at this relative gap or after so many nodes, never by the clock: a slow machine gives the same
#: plan. The shipped rooms are done at the first node, and at the third when asked for no gap at all.
_GAP, _NODES = 0.01, 60
#: Columns of each build, their twins aside, among which the solver seeks whole panels.
_CORE = 120


@dataclass(frozen=True)
class Bound:
    """How far a plan is from the best possible one, on the linearised early objective.

    Parameters
    ----------
    value : float
        The plan's linearised gain, weighted dB summed over arrivals.
    bound : float
        No plan from the same sites for the same money, within the same limits, gains more.
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
        Of each column, above 0, shape (n,).
    used : numpy.ndarray
        Money, number and kg of each column, shape (n, 3).
    gain : scipy sparse array
        What each column takes from each arrival alone, shape (a, n), dB.
    cap : numpy.ndarray
        Excess of each arrival in the bare room, weighted, shape (a,), dB.
    clashes : scipy sparse array
        Rows of columns of which at most one may be chosen, shape (c, n).
    """

    site: NDArray[np.intp]
    build: NDArray[np.intp]
    price: Array
    used: Array
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
    problem: Problem,
    gains: Array,
    tried: Sequence[int],
    always: Sequence[tuple[int, int]] = (),
    cost: Array | None = None,
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
    cost : numpy.ndarray, optional
        Of each build of the problem, shape (k,), by which the best ones are picked; default its price.

    Returns
    -------
    Programme
        With the sites that are worth a column.
    """
    from scipy import sparse

    q = problem.cover
    positive = np.maximum(gains, 0.0)
    # What only goes across corners gains nothing on any surface.
    positive[:, ~problem.allowed[q.group_site][:, list(tried)].any(axis=0)] = 0.0
    prices = np.array([max(problem.builds[k].price, 0.01) for k in tried])
    compared = prices if cost is None else cost[list(tried)]
    order = np.argsort(-positive.sum(axis=0) / compared, kind="stable")[:_BUILDS]
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
    cap = e.weight * excess(e.arrival_energy(e.member_energy(e.bare)))
    used = needs([problem.builds[b] for b in build])
    return Programme(site, build, price, used, matrix, cap, _clashes(problem, site))


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
    problem: Problem, programme: Programme, left: Array, extra: Array, *, gap: float = _GAP
) -> tuple[NDArray[np.bool_], float]:
    """Solve the programme, with a small cost for what is not alike left and right, and bound it.

    Parameters
    ----------
    problem : Problem
        The choice.
    programme : Programme
        From `state_programme`.
    left : numpy.ndarray
        Money, number of panels and kg that may be used, shape (3,); see `means`.
    extra : numpy.ndarray
        Side gain of each column in dB, shape (n,); it settles ties and does not enter the bound.
    gap : float
        Relative gap at which the solver may stop.

    Returns
    -------
    chosen : numpy.ndarray
        Shape (n,), bool; nothing chosen when the solver finds no plan.
    bound : float
        No choice within these limits has a larger `Programme.value`, whether alike or not.
    """
    from scipy import sparse
    from scipy.optimize import Bounds, LinearConstraint, linprog, milp

    n, a = len(programme.site), len(programme.cap)
    rows = _rows(problem, programme, left)
    upper = np.concatenate([np.ones(n), programme.cap])
    early = np.concatenate([np.zeros(n), -np.ones(a)])
    relaxed = milp(
        early,
        constraints=[LinearConstraint(m, -np.inf, high) for m, high in rows],
        bounds=Bounds(0.0, upper),
    )
    if relaxed.x is None:
        return np.zeros(n, dtype=bool), float(programme.cap.sum())
    ties, alone = _twins(problem, programme)
    cost, t = ODD_COST * float(programme.cap.sum()), len(ties)
    wished = np.concatenate([cost * alone - extra, -np.ones(a), np.full(t, cost)])
    # One variable for each pair of twins is at least the difference between them: two odd panels' cost
    # is counted once, for one of them hangs.
    difference = sparse.csr_array(
        (np.tile([1.0, -1.0], t), (np.repeat(np.arange(t), 2), ties.reshape(-1))), shape=(t, n + a)
    )
    wide = [(sparse.hstack([m, sparse.csr_array((m.shape[0], t))]), high) for m, high in rows]
    if t:
        eye = sparse.eye_array(t)
        wide += [(sparse.hstack([sign * difference, -eye]), 0.0) for sign in (1.0, -1.0)]
    matrix = sparse.csr_array(sparse.vstack([m for m, _ in wide]))
    high = np.concatenate([np.broadcast_to(limit, m.shape[0]) for m, limit in wide])
    upper = np.concatenate([upper, np.ones(t)])
    ranges = np.column_stack([np.zeros(n + a + t), upper])
    fractions: Any = linprog(wished, A_ub=matrix, b_ub=high, bounds=ranges)  # type: ignore[call-overload]
    kept = np.ones(n + a + t, dtype=bool)
    if fractions.x is not None:
        kept[:n] = _core(programme, ties, fractions.lower.marginals[:n])
    found = milp(
        wished[kept],
        constraints=[LinearConstraint(matrix[:, kept], -np.inf, high)],
        bounds=Bounds(0.0, upper[kept]),
        integrality=np.concatenate([np.ones(n), np.zeros(a + t)])[kept],
        options={"mip_rel_gap": gap, "node_limit": _NODES},
    )
    chosen = np.zeros(n, dtype=bool)
    if found.x is not None:
        chosen[kept[:n]] = found.x[: int(kept[:n].sum())] > 0.5
    return chosen, float(-relaxed.fun)


def _core(programme: Programme, ties: NDArray[np.intp], reduced_cost: Array) -> NDArray[np.bool_]:
    """Columns that whole panels are sought among, shape (n,), bool.

    What the relaxation does not use, and would use last, is hardly ever in the best choice: of each build
    those of least reduced cost remain (a core problem: Pisinger, Oper. Res. 45 (1997) 758, for knapsacks;
    from memory). Of each build, because a cheaper panel may just use up the money. With a column goes its
    twin. The bound is not touched: it is of all columns.
    """
    core = np.zeros(len(programme.site), dtype=bool)
    for build in np.unique(programme.build):
        mine = np.flatnonzero(programme.build == build)
        core[mine[np.argsort(reduced_cost[mine], kind="stable")[:_CORE]]] = True
    core[ties[core[ties].any(axis=1)]] = True
    return core


def tighter_bound(problem: Problem, programme: Programme, left: Array) -> tuple[NDArray[np.bool_], float]:
    """Bound of the linearised gain with whole panels instead of fractions: slower, and closer.

    Parameters
    ----------
    problem : Problem
        The choice.
    programme : Programme
        From `state_programme`.
    left : numpy.ndarray
        Money, number of panels and kg that may be used, shape (3,).

    Returns
    -------
    chosen : numpy.ndarray
        Best choice that the solver met on the way, without regard to twins, shape (n,), bool.
    bound : float
        What the solver proves at its first nodes; no choice within these limits gains more.
    """
    from scipy.optimize import Bounds, LinearConstraint, milp

    n, a = len(programme.site), len(programme.cap)
    found = milp(
        np.concatenate([np.zeros(n), -np.ones(a)]),
        constraints=[LinearConstraint(m, -np.inf, high) for m, high in _rows(problem, programme, left)],
        bounds=Bounds(0.0, np.concatenate([np.ones(n), programme.cap])),
        integrality=np.concatenate([np.ones(n), np.zeros(a)]),
        options={"mip_rel_gap": 0.005, "node_limit": 1},
    )
    chosen = np.zeros(n, dtype=bool) if found.x is None else np.asarray(found.x[:n] > 0.5, dtype=bool)
    return chosen, float(programme.cap.sum() if found.mip_dual_bound is None else -found.mip_dual_bound)


def _rows(problem: Problem, programme: Programme, left: Array) -> list[tuple[Any, float]]:
    """Rows of the programme and their upper limits: gains, means, clashes, absorption."""
    from scipy import sparse

    a = len(programme.cap)
    rows: list[tuple[Any, float]] = [(sparse.hstack([-programme.gain, sparse.eye_array(a)]), 0.0)]
    limited = np.flatnonzero(np.isfinite(left))
    rows += [(_of_columns(programme.used[:, j], a), max(float(left[j]), 0.0) + 1e-9) for j in limited]
    if programme.clashes.shape[0]:
        rows.append((_of_columns(programme.clashes, a), 1.0))
    spare = problem.most_area - problem.absorption_area
    for b in np.flatnonzero(np.isfinite(spare)):
        added = problem.added_area[programme.site, programme.build, b]
        rows.append((_of_columns(added, a), max(float(spare[b]), 0.0)))
    return rows


def _of_columns(coefficients: Any, arrivals: int) -> Any:
    """Rows that speak of the columns only, with zeros for the arrivals."""
    from scipy import sparse

    block = sparse.csr_array(
        np.atleast_2d(coefficients) if isinstance(coefficients, np.ndarray) else coefficients
    )
    return sparse.hstack([block, sparse.csr_array((block.shape[0], arrivals))])


def _twins(problem: Problem, programme: Programme) -> tuple[NDArray[np.intp], Array]:
    """Pairs of columns that are twins left and right, shape (t, 2); 1 for a column that can have none.

    A column in the middle, or without a mirrored place in the room, is no odd one.
    """
    column = {
        (int(s), int(b)): n for n, (s, b) in enumerate(zip(programme.site, programme.build, strict=True))
    }
    alone = np.zeros(len(programme.site))
    ties = []
    for (s, b), n in column.items():
        twin = int(problem.sites.mirror[s])
        if twin in (-1, s):
            continue
        if (twin, b) not in column or not problem.apart[s]:
            alone[n] = 1.0
        elif n < column[(twin, b)]:
            ties.append((n, column[(twin, b)]))
    return np.array(ties, dtype=np.intp).reshape(-1, 2), alone
