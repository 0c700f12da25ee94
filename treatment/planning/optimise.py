"""Chooses placements under the budget: early arrivals first, then reverberation.

Greedy: each step takes the panel, or the left-right pair of panels, that buys most per unit of money,
and works out the gains anew, because panels on one reflection are not additive in dB. The order of the
choices is the order of their benefit. Nothing is random: the same scene gives the same plan.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.bands import Array
from treatment.planning.problem import BAND_WORTH, Problem
from treatment.planning.targets import CRITERION_BANDS, outside

#: A pair that keeps left and right alike may cost this much more per gain than a single panel.
PAIR_BONUS = 1.10
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
class _State:
    """What has been chosen so far; `reference` is the gain of the reference panel at each pair."""

    back: Array
    absorption_area: Array
    free: NDArray[np.bool_]
    left: float
    reference: Array
    chosen: list[Choice] = field(default_factory=list)


def choose(problem: Problem) -> tuple[Choice, ...]:
    """Choose panels greedily: first against early arrivals, then for the reverberation.

    Parameters
    ----------
    problem : Problem
        From `state_problem`.

    Returns
    -------
    tuple of Choice
        In the order of their benefit; the cost stays within the scene's budget.
    """
    budget = problem.scene.budget
    if len(problem.sites) == 0:
        return ()
    back = problem.early.wall.copy()
    everything = np.arange(len(problem.cover.site))
    reference = _pair_gains(problem, back, everything, 1.0 - np.full(4, REFERENCE_ABSORPTION))
    state = _State(
        back,
        problem.absorption_area.copy(),
        np.ones(len(problem.sites), dtype=bool),
        budget.amount if budget else np.inf,
        reference,
    )
    _early_stage(problem, state)
    _reverberation_stage(problem, state)
    return tuple(state.chosen)


def _pair_gains(problem: Problem, back: Array, pairs: NDArray[np.intp], returned: Array) -> Array:
    """Early excess that a panel would take away at each pair of site and bounce, dB, weighted."""
    e, q = problem.early, problem.cover
    bounce = q.bounce[pairs]
    path = e.bounces.path[bounce]
    gains = np.zeros(len(pairs))
    level = e.levels(back)
    excess = e.excess_of(level)
    live = np.flatnonzero(excess[path] > 0.0)
    bounce, path, share = bounce[live], path[live], q.share[pairs[live]]
    change = returned - problem.wall_returned[e.bounces.surface[bounce]]
    after = np.maximum(back[bounce] + share * change, 0.01)
    moved = level[path] + 10.0 * np.log10(after / back[bounce])
    gains[live] = e.weight[path] * (excess[path] - e.excess_of(moved))
    return gains


def early_gains(problem: Problem, back: Array, sites: NDArray[np.intp], builds: NDArray[np.bool_]) -> Array:
    """Early excess that each build would take away at some sites.

    Parameters
    ----------
    problem : Problem
        The choice.
    back : numpy.ndarray
        Energy sent back at each bounce so far, shape (m, 4).
    sites : numpy.ndarray
        Indices of the sites, shape (s,).
    builds : numpy.ndarray
        Which builds to try, shape (k,), bool; the others get 0.

    Returns
    -------
    numpy.ndarray
        Shape (s, k), dB, weighted over paths.
    """
    row = np.full(len(problem.sites), -1)
    row[sites] = np.arange(len(sites))
    pairs = np.flatnonzero(row[problem.cover.site] >= 0)
    where = row[problem.cover.site[pairs]]
    gains = np.zeros((len(sites), len(problem.builds)))
    for k in np.flatnonzero(builds):
        b = problem.builds[k]
        each = _pair_gains(problem, back, pairs, 1.0 - b.material.capped[CRITERION_BANDS])
        gains[:, k] = np.bincount(where, each, minlength=len(sites))
    return gains


def _even(problem: Problem) -> NDArray[np.bool_]:
    """Builds that act evenly from 500 Hz up; all of them when none does."""
    a = np.array([b.material.capped for b in problem.builds])
    even = a[:, bands.band_index(500)] >= EVEN_SHARE * a[:, bands.band_index(2000)]
    return even if even.any() else np.ones(len(a), dtype=bool)


def _short_list(problem: Problem, state: _State) -> NDArray[np.intp]:
    """Best sites of each size by the reference panel, with their mirrored partners."""
    s = problem.sites
    gain = np.bincount(problem.cover.site, state.reference, minlength=len(s))
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


def _early_stage(problem: Problem, state: _State) -> None:
    """Take the best step per money until the next one is not worth it."""
    tried = _even(problem) & problem.allowed.any(axis=0)
    start = problem.early.total(problem.early.wall)
    if start <= 0.0:
        return
    misfit = float(problem.misfit(problem.absorption_area))
    best = 0.0
    while len(state.chosen) < MOST_PANELS:
        listed = _short_list(problem, state)
        if len(listed) == 0:
            return
        early = early_gains(problem, state.back, listed, tried)
        now = float(problem.misfit(state.absorption_area))
        side = now - problem.misfit(state.absorption_area + problem.added_area[listed])
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
            _take(problem, state, int(listed[r]), build, "early", float(early[r, build]))


def _reverberation_stage(problem: Problem, state: _State) -> None:
    """Add panels, evenly over the room, until the range is met or more would not help."""
    everywhere = np.arange(len(problem.sites))
    while len(state.chosen) < MOST_PANELS:
        now = float(problem.misfit(state.absorption_area))
        off = outside(problem.times(state.absorption_area), problem.target)
        if not off[BAND_WORTH > 0.0].any():
            return
        gains = now - problem.misfit(state.absorption_area + problem.added_area)
        step = _best_step(problem, state, everywhere, gains * _spread(problem, state)[:, None])
        if step is None:
            return
        sites, build, _ = step
        total = np.sum([problem.added_area[s, build] for s in sites], axis=0)
        if now - float(problem.misfit(state.absorption_area + total)) < REVERBERATION_STOP * now:
            return
        for site in sites:
            _take(problem, state, site, build, "reverberation", float(gains[site, build]))


def _spread(problem: Problem, state: _State) -> Array:
    """Mild preference, 0.8 to 1.1, for surfaces that carry little yet and for rows that line up."""
    s = problem.sites
    carried = np.zeros(len(problem.scene.surfaces))
    for c in state.chosen:
        carried[s.surface[c.site]] += problem.builds[c.build].face_area
    for p in problem.hanging:
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
    problem: Problem, state: _State, listed: NDArray[np.intp], gains: Array
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
    score_single = single / prices
    score_pair = np.where(fits, gains + other, 0.0) / (2.0 * prices) * PAIR_BONUS
    i, k = np.unravel_index(int(np.argmax(score_single)), score_single.shape)
    j, q = np.unravel_index(int(np.argmax(score_pair)), score_pair.shape)
    if max(score_single[i, k], score_pair[j, q]) <= 0.0:
        return None
    if score_pair[j, q] >= score_single[i, k]:
        return (int(j), int(partner[j])), int(q), float(gains[j, q] + other[j, q])
    return (int(i),), int(k), float(single[i, k])


def _take(problem: Problem, state: _State, site: int, build: int, purpose: str, gain: float) -> None:
    """Hang one panel: pay, change the bounces and the absorption, block what it covers."""
    s, e, q, b = problem.sites, problem.early, problem.cover, problem.builds[build]
    before = problem.times(state.absorption_area)
    own = q.site == site
    bounce = q.bounce[own]
    change = (1.0 - b.material.capped[CRITERION_BANDS]) - problem.wall_returned[e.bounces.surface[bounce]]
    state.back[bounce] = np.maximum(state.back[bounce] + q.share[own] * change, 0.01)
    touched = np.zeros(len(e.paths), dtype=bool)
    touched[e.bounces.path[bounce]] = True
    again = np.flatnonzero(touched[e.bounces.path[q.bounce]])
    state.reference[again] = _pair_gains(
        problem, state.back, again, 1.0 - np.full(change.shape[1] if len(change) else 4, REFERENCE_ABSORPTION)
    )
    state.absorption_area = state.absorption_area + problem.added_area[site, build]
    common = np.minimum(s.body[:, 1], s.body[site, 1]) - np.maximum(s.body[:, 0], s.body[site, 0])
    same = s.surface == s.surface[site]
    flat = np.minimum(s.rectangle[:, 2:], s.rectangle[site, 2:]) - np.maximum(
        s.rectangle[:, :2], s.rectangle[site, :2]
    )
    taken = np.asarray(np.where(same, np.all(flat > 1e-6, axis=1), np.all(common > 1e-3, axis=1)), dtype=bool)
    state.free &= ~taken
    state.left -= b.price
    after = problem.times(state.absorption_area)
    state.chosen.append(Choice(site, build, purpose, gain, before, after))
