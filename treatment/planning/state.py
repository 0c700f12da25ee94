"""What has been chosen so far, and what hanging one more panel changes."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.fresnel import Complex
from treatment.bands import Array
from treatment.planning.gains import group_gains
from treatment.planning.means import means, needs
from treatment.planning.problem import Problem
from treatment.planning.targets import CRITERION_BANDS

#: Absorption of the reference panel by which sites are ranked.
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
    left : numpy.ndarray
        Money, number of panels and kg that may still be used, shape (3,); see `means`.
    reference : numpy.ndarray
        Gain of the reference panel in each group, shape (z,), dB.
    chosen : list of Choice
        In the order of choice.
    """

    factor: Complex
    absorption_area: Array
    free: NDArray[np.bool_]
    left: Array
    reference: Array
    chosen: list[Choice] = field(default_factory=list)

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Site and build of each choice."""
        return [(c.site, c.build) for c in self.chosen]


def start_state(problem: Problem) -> State:
    """State before anything is chosen.

    Parameters
    ----------
    problem : Problem
        From `state_problem`.

    Returns
    -------
    State
        With the money, number and mass that the kept panels leave; nothing is ranked yet.
    """
    return State(
        problem.early.bare.copy(),
        problem.absorption_area.copy(),
        np.ones(len(problem.sites), dtype=bool),
        means(problem.scene, problem.hanging),
        np.zeros(len(problem.cover.group_site)),
    )


def rank_again(problem: Problem, state: State, changed: NDArray[np.bool_]) -> None:
    """Work out the reference panel's gain in all groups of some arrivals.

    Parameters
    ----------
    problem : Problem
        The choice.
    state : State
        Changed in place.
    changed : numpy.ndarray
        Of which arrivals, shape (a,), bool.
    """
    groups = np.flatnonzero(changed[problem.cover.group_arrival])
    returned = np.full(4, np.sqrt(1.0 - REFERENCE_ABSORPTION))
    state.reference[groups] = group_gains(problem, state.factor, groups, returned[None])[:, 0]


def factor_change(problem: Problem, site: int, build: int) -> tuple[NDArray[np.intp], Complex]:
    """What a panel changes of the reflection factors: it adds up over panels.

    Parameters
    ----------
    problem : Problem
        The choice.
    site, build : int
        Indices.

    Returns
    -------
    bounce : numpy.ndarray
        Which bounces, shape (q,).
    change : numpy.ndarray
        Of their factors, shape (q, 4).
    """
    q = problem.cover
    low, high = np.searchsorted(q.site, [site, site + 1])
    bounce = q.bounce[low:high]
    panel = np.sqrt(1.0 - problem.builds[build].material.capped[CRITERION_BANDS])
    change = np.minimum(panel - problem.wall_factor[problem.sites.surface[site]], 0.0)
    return bounce, q.share[low:high] * change


def blocked_by(problem: Problem, site: int) -> NDArray[np.bool_]:
    """Sites that a panel takes, its own among them.

    Parameters
    ----------
    problem : Problem
        The choice.
    site : int
        Where it hangs.

    Returns
    -------
    numpy.ndarray
        Shape (g,), bool.
    """
    if site not in problem.blocked:
        problem.blocked[site] = problem.sites.clashing(site)
    return problem.blocked[site]


def take(
    problem: Problem, state: State, site: int, build: int, purpose: str, gain: float, *, rank: bool = False
) -> None:
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
    rank : bool
        Whether the sites are ranked again.
    """
    before = problem.times(state.absorption_area)
    bounce, change = factor_change(problem, site, build)
    state.factor[bounce] += change
    if rank:
        changed = np.zeros(problem.early.count, dtype=bool)
        changed[problem.early.arrival[problem.early.bounces.path[bounce]]] = True
        rank_again(problem, state, changed)
    state.absorption_area = state.absorption_area + problem.added_area[site, build]
    state.free &= ~blocked_by(problem, site)
    state.left = state.left - needs([problem.builds[build]])[0]
    after = problem.times(state.absorption_area)
    state.chosen.append(Choice(site, build, purpose, gain, before, after))
