"""What panels would take off the early arrivals, given what hangs already."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.fresnel import Complex
from treatment.bands import Array
from treatment.planning.early import excess
from treatment.planning.problem import Problem
from treatment.planning.targets import CRITERION_BANDS

#: A panel at a reflection point must act evenly: at 500 Hz at least this much of its value at 2 kHz.
#: A thin one only dulls the reflection (Toole, JAES 54 (2006) 451, read in a quotation).
EVEN_SHARE = 0.8
#: Of one that takes less than this share of it at 2 kHz the treble comes back.
DULL_SHARE = 0.5


def group_gains(problem: Problem, factor: Complex, groups: NDArray[np.intp], returned: Array) -> Array:
    """Early excess, weighted, that panels would take away in groups of site and arrival.

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
    energy = e.member_energy(factor)
    arrivals = e.arrival_energy(energy)
    before = excess(arrivals)
    start = np.flatnonzero(np.concatenate([[True], np.diff(q.group[pairs]) != 0]))
    whole = arrivals[q.group_arrival[groups]]
    now = _squared(factor)
    rest = (energy[e.bounces.path] / np.maximum(now, 1e-12))[bounce]
    # |R + F d|**2 - |R|**2 = d (2 Re(R* F) + d |F|**2): the panel's own part d is all that differs by build.
    share, own = q.share[pairs], q.strength[pairs]
    across = (factor.real[bounce] * share.real + factor.imag[bounce] * share.imag) * 2.0
    bare = problem.wall_factor[problem.sites.surface[q.site[pairs]]]
    for k, panel in enumerate(returned):
        part = np.minimum(panel - bare, 0.0)
        change = np.add.reduceat(rest * part * (across + part * own), start, axis=0)
        gains[:, k] = before[q.group_arrival[groups]] - excess(np.maximum(whole + change, 1e-9))
    return gains * e.weight[q.group_arrival[groups], None]


def _squared(values: Complex) -> Array:
    """Squared magnitudes; the root that `numpy.abs` takes is not wanted."""
    return np.square(values.real) + np.square(values.imag)


def early_gains(
    problem: Problem, factor: Complex, sites: NDArray[np.intp], builds: NDArray[np.bool_]
) -> Array:
    """Early excess, weighted, that each build would take away at some sites.

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
        Shape (k,), bool. What works in the treble alone is left out, and what leaves the treble as it is.
    """
    even = _bright(problem) & ~dull_builds(problem)
    return even if even.any() else np.ones(len(even), dtype=bool)


def dull_builds(problem: Problem) -> NDArray[np.bool_]:
    """Builds that send the treble on, as a perforated face does.

    Parameters
    ----------
    problem : Problem
        The choice.

    Returns
    -------
    numpy.ndarray
        Shape (k,), bool. They serve the reverberation of the lower bands, and no early reflection.
    """
    low, high = _middle_and_treble(problem)
    return high < DULL_SHARE * low


def steady_builds(problem: Problem) -> NDArray[np.bool_]:
    """Builds for the reverberation: even ones and dull ones; all of them when none is even.

    Parameters
    ----------
    problem : Problem
        The choice.

    Returns
    -------
    numpy.ndarray
        Shape (k,), bool.
    """
    return even_builds(problem) | dull_builds(problem)


def _bright(problem: Problem) -> NDArray[np.bool_]:
    low, high = _middle_and_treble(problem)
    return np.asarray(low >= EVEN_SHARE * high)


def _middle_and_treble(problem: Problem) -> tuple[Array, Array]:
    a = np.array([b.material.capped for b in problem.builds])
    return a[:, bands.band_index(500)], a[:, bands.band_index(2000)]
