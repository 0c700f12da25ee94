"""Greedy choice under the budget, in two stages: early arrivals, then reverberation.

Each step takes the panel, or the left-right pair of panels, that buys most per unit of money,
and works out the gains anew, because panels on one reflection are not additive in dB. The order of the
choices is the order of their benefit. Nothing is random: the same scene gives the same plan.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.fresnel import Complex
from treatment.bands import Array
from treatment.planning.early import excess
from treatment.planning.problem import BAND_WORTH, Problem
from treatment.planning.targets import CRITERION_BANDS, outside

#: What keeps left and right alike, a pair or a panel in the middle, may cost this much more per gain.
PAIR_BONUS = 1.25
#: A place that an earlier plan used may cost this much more per gain: a plan changes as little as it can.
KNOWN_BONUS = 1.3
#: Early panels stop when a step buys less per money than this share of what the best step bought.
EARLY_STOP = 0.10
#: Reverberation panels stop when a step brings the objective down by less than this share.
REVERBERATION_STOP = 0.01
#: What a step does for the reverberation counts this much in the early stage: it settles which of the
#: builds that cure a reflection alike is hung there.
SIDE_WORTH = 0.3
#: A panel at a reflection point must act evenly: at 500 Hz at least this much of its value at 2 kHz.
#: A thin one only dulls the reflection (Toole, JAES 54 (2006) 451, read in a quotation).
EVEN_SHARE = 0.8
#: No more panels than this: beyond it a person would build a different room.
MOST_PANELS = 60
#: Sites per panel size on which every build is tried; the rest are ranked with a reference panel.
SHORT_LIST = 40
#: Absorption of that reference panel.
REFERENCE_ABSORPTION = 0.95


@dataclass(frozen=True, eq=False)
class Choice:
    """One chosen panel and what it did.

    Parameters
    ----------
    site, build : int
        Indices into the sites and the builds.
    purpose : str
        ``early`` or ``reverberation``.
    gain : float
        Early: weighted excess taken away, dB. Reverberation: part of the objective taken away.
    before, after : numpy.ndarray
        Eyring's reverberation time before and after this step, shape (8,), s.
    """

    site: int
    build: int
    purpose: str
    gain: float
    before: Array
    after: Array


@dataclass(eq=False)
class State:
    """What has been chosen so far.

    Parameters
    ----------
    factor : numpy.ndarray
        Reflection factor of each bounce, complex, shape (m, 4).
    absorption_area : numpy.ndarray
        Of the room, shape (8,), m2.
    free : numpy.ndarray
        Sites that can still be used, shape (g,), bool.
    left : float
        Money.
    reference : numpy.ndarray
        Gain of the reference panel in each group, shape (z,), dB.
    chosen : list of Choice
        In the order of choice.
    """

    factor: Complex
    absorption_area: Array
    free: NDArray[np.bool_]
    left: float
    reference: Array
    chosen: list[Choice] = field(default_factory=list)


def start_state(problem: Problem) -> State:
    """State before anything is chosen.

    Parameters
    ----------
    problem : Problem
        From `state_problem`.

    Returns
    -------
    State
        With the money that the kept panels leave.
    """
    budget = problem.scene.budget
    state = State(
        problem.early.bare.copy(),
        problem.absorption_area.copy(),
        np.ones(len(problem.sites), dtype=bool),
        (budget.amount if budget else np.inf) - sum(p.build.price for p in problem.hanging),
        np.zeros(len(problem.cover.group_site)),
    )
    _rank_again(problem, state, np.ones(problem.early.count, dtype=bool))
    return state


def _rank_again(problem: Problem, state: State, changed: NDArray[np.bool_]) -> None:
    """Work out the reference panel's gain in all groups of the changed arrivals."""
    groups = np.flatnonzero(changed[problem.cover.group_arrival])
    returned = np.full(4, np.sqrt(1.0 - REFERENCE_ABSORPTION))
    state.reference[groups] = group_gains(problem, state.factor, groups, returned[None])[:, 0]


def group_gains(problem: Problem, factor: Complex, groups: NDArray[np.intp], returned: Array) -> Array:
    """Early excess that panels would take away in groups of site and arrival.

    Parameters
    ----------
    problem : Problem
        The choice.
    factor : numpy.ndarray
        Reflection factor of each bounce so far, complex, shape (m, 4).
    groups : numpy.ndarray
        Indices of groups of the coverage, shape (z,).
    returned : numpy.ndarray
        Pressure reflection factors of the panels, shape (k, 4).

    Returns
    -------
    numpy.ndarray
        Shape (z, k), dB.
    """
    e, q = problem.early, problem.cover
    row = np.full(len(q.group_site), -1)
    row[groups] = np.arange(len(groups))
    pairs = np.flatnonzero(row[q.group] >= 0)
    gains = np.zeros((len(groups), len(returned)))
    if len(pairs) == 0:
        return gains
    bounce = q.bounce[pairs]
    member = e.bounces.path[bounce]
    energy = e.member_energy(factor)
    arrivals = e.arrival_energy(energy)
    before = excess(arrivals)
    start = np.flatnonzero(np.concatenate([[True], np.diff(q.group[pairs]) != 0]))
    whole = arrivals[q.group_arrival[groups]]
    now = np.square(np.abs(factor[bounce]))
    bare = problem.wall_factor[e.bounces.surface[bounce]]
    rest = energy[member] / np.maximum(now, 1e-12)
    for k, panel in enumerate(returned):
        then = np.square(np.abs(factor[bounce] + q.share[pairs] * np.minimum(panel - bare, 0.0)))
        change = np.add.reduceat(rest * (then - now), start, axis=0)
        gains[:, k] = before[q.group_arrival[groups]] - excess(np.maximum(whole + change, 1e-9))
    return gains


def early_gains(
    problem: Problem, factor: Complex, sites: NDArray[np.intp], builds: NDArray[np.bool_]
) -> Array:
    """Early excess that each build would take away at some sites.

    Parameters
    ----------
    problem : Problem
        The choice.
    factor : numpy.ndarray
        Reflection factor of each bounce so far, complex, shape (m, 4).
    sites : numpy.ndarray
        Indices of the sites, shape (s,).
    builds : numpy.ndarray
        Which builds to try, shape (k,), bool; the others get 0.

    Returns
    -------
    numpy.ndarray
        Shape (s, k), dB, summed over arrivals.
    """
    row = np.full(len(problem.sites), -1)
    row[sites] = np.arange(len(sites))
    groups = np.flatnonzero(row[problem.cover.group_site] >= 0)
    tried = np.flatnonzero(builds)
    absorption = np.array([problem.builds[k].material.capped[CRITERION_BANDS] for k in tried]).reshape(-1, 4)
    each = group_gains(problem, factor, groups, np.sqrt(1.0 - absorption))
    gains = np.zeros((len(sites), len(problem.builds)))
    where = row[problem.cover.group_site[groups]]
    for column, k in enumerate(tried):
        gains[:, k] = np.bincount(where, each[:, column], minlength=len(sites))
    return gains


def even_builds(problem: Problem) -> NDArray[np.bool_]:
    """Builds that act evenly from 500 Hz up; all of them when none does.

    Parameters
    ----------
    problem : Problem
        The choice.

    Returns
    -------
    numpy.ndarray
        Shape (k,), bool.
    """
    a = np.array([b.material.capped for b in problem.builds])
    even = a[:, bands.band_index(500)] >= EVEN_SHARE * a[:, bands.band_index(2000)]
    return even if even.any() else np.ones(len(a), dtype=bool)


def _short_list(problem: Problem, state: State) -> NDArray[np.intp]:
    """Best sites of each size by the reference panel, with their mirrored partners."""
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


def early_stage(problem: Problem, state: State) -> None:
    """Take the best step per money until the next one is not worth it.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        Changed in place.
    """
    tried = even_builds(problem) & problem.allowed.any(axis=0)
    start = problem.early.total(problem.early.bare)
    if start <= 0.0:
        return
    misfit = float(problem.misfit(problem.absorption_area))
    best = 0.0
    while len(state.chosen) < MOST_PANELS:
        listed = _short_list(problem, state)
        if len(listed) == 0:
            return
        early = early_gains(problem, state.factor, listed, tried)
        now = float(problem.misfit(state.absorption_area))
        side = now - problem.misfit(state.absorption_area + problem.added_area[listed])
        # Two of it must fit: the best step may be a pair.
        after = state.absorption_area + 2.0 * problem.added_area[listed]
        early = np.where(np.all(after <= problem.most_area, axis=-1), early, 0.0)
        worth = early / start + np.where(early > 0.0, SIDE_WORTH * side / max(misfit, 1e-9), 0.0)
        step = _best_step(problem, state, listed, np.maximum(worth, 0.0))
        if step is None:
            return
        rows, build, _ = step
        bought = sum(float(early[r, build]) for r in rows) / (len(rows) * _price(problem, build))
        best = max(best, bought)
        if bought < EARLY_STOP * best:
            return
        for r in rows:
            take(problem, state, int(listed[r]), build, "early", float(early[r, build]))


def reverberation_stage(problem: Problem, state: State) -> None:
    """Add panels, evenly over the room, until the range is met or more would not help.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        Changed in place.
    """
    everywhere = np.arange(len(problem.sites))
    even = np.asarray(even_builds(problem))
    while len(state.chosen) < MOST_PANELS:
        now = float(problem.misfit(state.absorption_area))
        off = outside(problem.times(state.absorption_area), problem.target)
        if not off[BAND_WORTH > 0.0].any():
            return
        gains = now - problem.misfit(state.absorption_area + problem.added_area)
        wished = np.where(even, gains * _spread(problem, state)[:, None], 0.0)
        step = _best_step(problem, state, everywhere, wished)
        if step is None:
            return
        sites, build, _ = step
        total = np.sum([problem.added_area[s, build] for s in sites], axis=0)
        if now - float(problem.misfit(state.absorption_area + total)) < REVERBERATION_STOP * now:
            return
        for site in sites:
            take(problem, state, site, build, "reverberation", float(gains[site, build]))


def _spread(problem: Problem, state: State) -> Array:
    """Mild preference, 0.8 to 1.1, for surfaces that carry little yet and for rows that line up."""
    s = problem.sites
    carried = np.zeros(len(problem.scene.surfaces))
    for c in state.chosen:
        carried[s.surface[c.site]] += problem.builds[c.build].face_area
    for p in (q for q in problem.hanging if not q.standing):
        carried[p.surface] += p.rectangle.area
    area = np.array([x.polygon.area for x in problem.scene.surfaces])
    even = 1.0 - 0.2 * np.minimum(carried / area / 0.5, 1.0)[s.surface]
    lines = np.zeros(len(s))
    for c in state.chosen:
        same = s.surface == s.surface[c.site]
        level = np.isclose(s.rectangle[:, 1], s.rectangle[c.site, 1])
        lines[same & level] = 0.1
    return np.asarray(even + lines)


def _price(problem: Problem, build: int) -> float:
    return max(problem.builds[build].price, 0.01)


def _best_step(
    problem: Problem, state: State, listed: NDArray[np.intp], gains: Array
) -> tuple[tuple[int, ...], int, float] | None:
    """Best single panel or left-right pair per money: rows of the list, build, gain; or None."""
    prices = np.array([_price(problem, k) for k in range(len(problem.builds))])
    row = np.full(len(problem.sites) + 1, -1)
    row[listed] = np.arange(len(listed))
    allowed = problem.allowed[listed] & state.free[listed][:, None]
    single = np.where(allowed & (prices <= state.left + 1e-9), gains, 0.0)
    partner = row[problem.sites.mirror[listed]]
    has = (partner >= 0) & problem.apart[listed]
    other = gains[partner]
    fits = (
        (allowed & allowed[partner] & has[:, None])
        & (2.0 * prices <= state.left + 1e-9)
        & (np.minimum(gains, other) > 0.0)
    )
    gains = gains * np.where(problem.known[listed], KNOWN_BONUS, 1.0)[:, None]
    single = single * np.where(problem.known[listed], KNOWN_BONUS, 1.0)[:, None]
    other = gains[partner]
    in_the_middle = problem.sites.mirror[listed] == listed
    score_single = single / prices * np.where(in_the_middle, PAIR_BONUS, 1.0)[:, None]
    score_pair = np.where(fits, gains + other, 0.0) / (2.0 * prices) * PAIR_BONUS
    i, k = np.unravel_index(int(np.argmax(score_single)), score_single.shape)
    j, q = np.unravel_index(int(np.argmax(score_pair)), score_pair.shape)
    if max(score_single[i, k], score_pair[j, q]) <= 0.0:
        return None
    if score_pair[j, q] >= score_single[i, k]:
        return (int(j), int(partner[j])), int(q), float(gains[j, q] + other[j, q])
    return (int(i),), int(k), float(single[i, k])


def take(problem: Problem, state: State, site: int, build: int, purpose: str, gain: float) -> None:
    """Hang one panel: pay, change the bounces and the absorption, block what it covers.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        Changed in place.
    site, build : int
        Indices.
    purpose : str
        ``early`` or ``reverberation``.
    gain : float
        What it takes away, as in `Choice`.
    """
    s, e, q, b = problem.sites, problem.early, problem.cover, problem.builds[build]
    before = problem.times(state.absorption_area)
    own = q.site == site
    bounce = q.bounce[own]
    panel = np.sqrt(1.0 - b.material.capped[CRITERION_BANDS])
    change = np.minimum(panel - problem.wall_factor[e.bounces.surface[bounce]], 0.0)
    state.factor[bounce] += q.share[own] * change
    changed = np.zeros(e.count, dtype=bool)
    changed[e.arrival[e.bounces.path[bounce]]] = True
    _rank_again(problem, state, changed)
    state.absorption_area = state.absorption_area + problem.added_area[site, build]
    state.free &= ~s.clashing(site)
    state.left -= b.price
    after = problem.times(state.absorption_area)
    state.chosen.append(Choice(site, build, purpose, gain, before, after))
