"""Greedy choice within the limits, in two stages: early arrivals, then reverberation.

Each step takes the panel, or the left-right pair of panels, that buys most per unit of cost (money, or
number or mass where these are limited), and works out the gains anew, because panels on one reflection are
not additive in dB. Nothing is random: the same scene gives the same plan.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.planning.gains import early_gains, even_builds, steady_builds
from treatment.planning.means import costs, needs
from treatment.planning.objective import SIDE_WORTH, lined_up
from treatment.planning.problem import BAND_WORTH, Problem
from treatment.planning.state import State, rank_again, take
from treatment.planning.targets import outside

#: What keeps left and right alike, a pair or a panel in the middle, may cost this much more per gain.
PAIR_BONUS = 1.25
#: A place that an earlier plan used may cost this much more per gain: a plan changes as little as it can.
KNOWN_BONUS = 1.3
#: A place in line with a panel that hangs may cost this much more per gain (looks).
LINE_BONUS = 1.05
#: Early panels stop when a step buys less per cost than this share of what the best step bought.
EARLY_STOP = 0.10
#: Reverberation panels stop when a step brings the objective down by less than this share.
REVERBERATION_STOP = 0.01
#: No more panels than this: beyond it a person would build a different room.
MOST_PANELS = 60
#: Sites per panel size on which every build is tried; the rest are ranked with a reference panel.
SHORT_LIST = 40


def short_list(problem: Problem, state: State) -> NDArray[np.intp]:
    """Best sites of each size by the reference panel, with their mirrored partners.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        With its ranking.

    Returns
    -------
    numpy.ndarray
        Indices of sites, ascending.
    """
    s = problem.sites
    gain = np.bincount(problem.cover.group_site, state.reference, minlength=len(s))
    gain[~state.free] = 0.0
    size = np.round(s.rectangle[:, 2:] - s.rectangle[:, :2], 3)
    _, group = np.unique(size, axis=0, return_inverse=True)
    listed = []
    for g in range(int(group.max()) + 1):
        members = np.flatnonzero((group.ravel() == g) & (gain > 0.0))
        listed.append(members[np.argsort(-gain[members], kind="stable")[:SHORT_LIST]])
    sites = np.concatenate(listed)
    partners = s.mirror[sites]
    return np.unique(np.concatenate([sites, partners[partners >= 0]]))


def early_stage(problem: Problem, state: State, cost: Array | None = None) -> None:
    """Take the best step per cost until the next one is not worth it.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        Changed in place.
    cost : numpy.ndarray, optional
        Of each build, shape (k,), by which gains are compared; default its price.
    """
    cost = costs(problem.builds, state.left)[0] if cost is None else cost
    start = problem.early.total(problem.early.bare)
    if start <= 0.0:
        return
    rank_again(problem, state, np.ones(problem.early.count, dtype=bool))
    best = 0.0
    while len(state.chosen) < MOST_PANELS:
        found = _early_step(problem, state, start, cost)
        if found is None:
            return
        sites, build, gains = found
        bought = sum(gains) / (len(sites) * float(cost[build]))
        best = max(best, bought)
        if bought < EARLY_STOP * best:
            return
        for site, gain in zip(sites, gains, strict=True):
            take(problem, state, site, build, "early", gain, rank=True)


def _early_step(
    problem: Problem, state: State, start: float, cost: Array
) -> tuple[tuple[int, ...], int, tuple[float, ...]] | None:
    """Best step against early arrivals: sites, build, early gains in dB; None when nothing gains."""
    tried = even_builds(problem) & problem.allowed.any(axis=0)
    listed = short_list(problem, state)
    if len(listed) == 0 or not tried.any():
        return None
    misfit = float(problem.misfit(problem.absorption_area))
    early = early_gains(problem, state.factor, listed, tried)
    now = float(problem.misfit(state.absorption_area))
    side = now - problem.misfit(state.absorption_area + problem.added_area[listed])
    # Two of it must fit: the best step may be a pair.
    after = state.absorption_area + 2.0 * problem.added_area[listed]
    early = np.where(np.all(after <= problem.most_area, axis=-1), early, 0.0)
    worth = early / start + np.where(early > 0.0, SIDE_WORTH * side / max(misfit, 1e-9), 0.0)
    step = best_step(problem, state, listed, np.maximum(worth, 0.0), cost)
    if step is None:
        return None
    rows, build = step
    sites, gains = tuple(int(listed[r]) for r in rows), tuple(float(early[r, build]) for r in rows)
    return sites, build, gains


def reverberation_stage(problem: Problem, state: State) -> None:
    """Add panels, evenly over the room, until the range is met or more would not help.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        Changed in place.
    """
    while len(state.chosen) < MOST_PANELS:
        step = _reverberation_step(problem, state)
        if step is None:
            return
        sites, build = step
        now = float(problem.misfit(state.absorption_area))
        for site in sites:
            gain = now - float(problem.misfit(state.absorption_area + problem.added_area[site, build]))
            take(problem, state, site, build, "reverberation", gain)


def _reverberation_step(problem: Problem, state: State) -> tuple[tuple[int, ...], int] | None:
    """Best step for the reverberation: sites and build; None when the range is met or nothing helps."""
    now = float(problem.misfit(state.absorption_area))
    off = outside(problem.times(state.absorption_area), problem.target)
    if not off[BAND_WORTH > 0.0].any():
        return None
    gains = now - problem.misfit(state.absorption_area + problem.added_area)
    wished = np.where(steady_builds(problem), gains * _spread(problem, state)[:, None], 0.0)
    cost = costs(problem.builds, state.left)[0]
    everywhere = np.arange(len(problem.sites))
    step = best_step(problem, state, everywhere, wished, cost)
    if step is None:
        return None
    sites, build = step
    total = np.sum([problem.added_area[s, build] for s in sites], axis=0)
    if now - float(problem.misfit(state.absorption_area + total)) < REVERBERATION_STOP * now:
        return None
    return sites, build


def next_wish(problem: Problem, state: State, early: bool) -> int | None:
    """Build that would be hung next if nothing were limited.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        When the choice has ended.
    early : bool
        Whether the early stage ended before a step was not worth it any more.

    Returns
    -------
    int or None
        Index of the build; None when no further panel helps.
    """
    if len(state.chosen) >= MOST_PANELS:
        return None
    left, state.left = state.left, np.full(3, np.inf)
    try:
        step = _reverberation_step(problem, state)
        if step is None and early:
            rank_again(problem, state, np.ones(problem.early.count, dtype=bool))
            start = problem.early.total(problem.early.bare)
            found = (
                _early_step(problem, state, start, costs(problem.builds, left)[0]) if start > 0.0 else None
            )
            step = found[:2] if found else None
    finally:
        state.left = left
    return None if step is None else step[1]


def _spread(problem: Problem, state: State) -> Array:
    """Mild preference, 0.8 to 1, for surfaces that carry little yet."""
    s = problem.sites
    carried = np.zeros(len(problem.scene.surfaces))
    for c in state.chosen:
        carried[s.surface[c.site]] += problem.builds[c.build].face_area
    for p in (q for q in problem.hanging if not q.solid):
        carried[p.surface] += p.rectangle.area
    area = np.array([x.polygon.area for x in problem.scene.surfaces])
    return np.asarray(1.0 - 0.2 * np.minimum(carried / area / 0.5, 1.0)[s.surface])


def best_step(
    problem: Problem, state: State, listed: NDArray[np.intp], gains: Array, cost: Array
) -> tuple[tuple[int, ...], int] | None:
    """Best single panel or left-right pair per cost.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        What hangs, and what may still be used.
    listed : numpy.ndarray
        Sites to try, shape (s,).
    gains : numpy.ndarray
        Of each build on each of them, shape (s, k).
    cost : numpy.ndarray
        Of each build, shape (k,).

    Returns
    -------
    tuple of (rows, build) or None
        Rows of the list, one or two, and the build; None when nothing gains or is within the limits.
    """
    s = problem.sites
    used = needs(problem.builds)
    one, two = (np.all(n * used <= state.left + 1e-9, axis=1) for n in (1.0, 2.0))
    row = np.full(len(s) + 1, -1)
    row[listed] = np.arange(len(listed))
    allowed = problem.allowed[listed] & state.free[listed][:, None]
    partner = row[s.mirror[listed]]
    has = (partner >= 0) & problem.apart[listed]
    preferred = np.where(problem.known[listed], KNOWN_BONUS, 1.0)
    hung = np.array([c.site for c in state.chosen], dtype=np.intp)
    if len(hung):
        preferred = preferred * np.where(lined_up(s, listed, hung), LINE_BONUS, 1.0)
    wished = gains * preferred[:, None]
    in_the_middle = s.mirror[listed] == listed
    single = np.where(allowed & one, wished, 0.0) * np.where(in_the_middle, PAIR_BONUS, 1.0)[:, None] / cost
    fits = allowed & allowed[partner] & has[:, None] & two & (np.minimum(gains, gains[partner]) > 0.0)
    pair = np.where(fits, wished + wished[partner], 0.0) * PAIR_BONUS / (2.0 * cost)
    i, k = (int(x) for x in np.unravel_index(int(np.argmax(single)), single.shape))
    j, q = (int(x) for x in np.unravel_index(int(np.argmax(pair)), pair.shape))
    if max(single[i, k], pair[j, q]) <= 0.0:
        return None
    return ((j, int(partner[j])), q) if pair[j, q] >= single[i, k] else ((i,), k)
