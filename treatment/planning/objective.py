"""The one objective of the choice, in the open: what a set of panels is worth.

Two shares that the set takes away, of the early excess and of the reverberation's misfit, less small costs:
for a panel without its twin on the other side, for one that lines up with no other, for one at a place that
an earlier plan did not use. Everything is a part of the whole: 0.01 is a hundredth of all early excess.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.fresnel import Complex
from treatment.bands import Array
from treatment.planning.candidates import Sites
from treatment.planning.problem import Problem
from treatment.planning.state import factor_change

#: Worth of the whole misfit of the reverberation against the whole early excess.
SIDE_WORTH = 0.3
#: Cost of a panel whose twin, left for right, could hang but does not.
ODD_COST = 0.006
#: Cost of a panel that lines up with none on its own or the facing wall (looks).
UNTIDY_COST = 0.002
#: Cost of a panel at a new place, when an earlier plan is changed.
MOVED_COST = 0.02
#: Edges this near to one line are aligned (m).
_LINE = 0.005


@dataclass(frozen=True)
class Score:
    """Worth of a set of panels.

    Parameters
    ----------
    early : float
        Share of the early excess, weighted by seat and loudspeaker, that is gone, 0 to 1.
    reverberation : float
        Share of the misfit of the reverberation that is gone; below 0 when it grows.
    odd, untidy, moved : int
        Panels without their twin, out of line, at a new place.
    """

    early: float
    reverberation: float
    odd: int
    untidy: int
    moved: int

    @property
    def total(self) -> float:
        """The objective: the larger, the better."""
        costs = ODD_COST * self.odd + UNTIDY_COST * self.untidy + MOVED_COST * self.moved
        return self.early + SIDE_WORTH * self.reverberation - costs


def score(problem: Problem, chosen: Iterable[tuple[int, int]]) -> Score:
    """Work out what a set of panels is worth, with the full model.

    Parameters
    ----------
    problem : Problem
        The choice.
    chosen : iterable of (site, build)
        The panels.

    Returns
    -------
    Score
        Gains of panels on one reflection are not added up in dB: their shares are.
    """
    pairs = list(chosen)
    sites = np.array([s for s, _ in pairs], dtype=np.intp)
    factor, area = factor_with(problem, pairs), problem.absorption_area
    for site, build in pairs:
        area = area + problem.added_area[site, build]
    start, misfit = problem.early.total(problem.early.bare), float(problem.misfit(problem.absorption_area))
    early = 1.0 - problem.early.total(factor) / start if start > 0.0 else 0.0
    rest = 1.0 - float(problem.misfit(area)) / misfit if misfit > 0.0 else 0.0
    moved = int((~problem.known[sites]).sum()) if problem.known.any() else 0
    return Score(early, rest, int(odd(problem, pairs).sum()), int(untidy(problem.sites, sites).sum()), moved)


def factor_with(problem: Problem, chosen: Iterable[tuple[int, int]]) -> Complex:
    """Reflection factors of the bounces with a set of panels, shape (m, 4).

    Parameters
    ----------
    problem : Problem
        The choice.
    chosen : iterable of (site, build)
        The panels.
    """
    factor = problem.early.bare.copy()
    for site, build in chosen:
        bounce, change = factor_change(problem, site, build)
        factor[bounce] += change
    return factor


def odd(problem: Problem, chosen: Iterable[tuple[int, int]]) -> NDArray[np.bool_]:
    """Tell which panels lack their twin on the other side, where the room has a place for it.

    Parameters
    ----------
    problem : Problem
        The choice.
    chosen : iterable of (site, build)
        The panels, p of them.

    Returns
    -------
    numpy.ndarray
        Shape (p,), bool. A panel in the middle is its own twin.
    """
    pairs = list(chosen)
    taken = set(pairs)
    mirror = problem.sites.mirror
    return np.array(
        [mirror[s] not in (-1, s) and (int(mirror[s]), b) not in taken for s, b in pairs], dtype=bool
    )


def untidy(sites: Sites, chosen: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Tell which panels are out of line with all others.

    Parameters
    ----------
    sites : Sites
        All places.
    chosen : numpy.ndarray
        Where panels hang, shape (p,).

    Returns
    -------
    numpy.ndarray
        Shape (p,), bool. Lined up are two panels of one surface with an edge on one line, and two panels of
        different surfaces with their lowest or highest points at one height. A single panel is in line.
    """
    if len(chosen) < 2:
        return np.zeros(len(chosen), dtype=bool)
    return ~lined_up(sites, chosen, chosen, itself=True)


def lined_up(
    sites: Sites, asked: NDArray[np.intp], others: NDArray[np.intp], *, itself: bool = False
) -> NDArray[np.bool_]:
    """Tell which places line up with one of some others.

    Parameters
    ----------
    sites : Sites
        All places.
    asked, others : numpy.ndarray
        Indices of places, shapes (p,) and (o,).
    itself : bool
        Whether both lists are the same; a place is then not compared with itself.

    Returns
    -------
    numpy.ndarray
        Shape (p,), bool.
    """
    edges: Array = sites.rectangle
    flush = np.abs(edges[asked][:, None] - edges[others][None]) < _LINE
    own, other = (sites.body.taken(which).bounds[:, :, 2] for which in (asked, others))
    level = np.abs(own[:, None] - other[None]) < _LINE
    same = sites.surface[asked][:, None] == sites.surface[others][None]
    found = np.where(same, flush.any(axis=2), level.any(axis=2))
    if itself:
        found &= ~np.eye(len(asked), dtype=bool)
    return np.asarray(found.any(axis=1), dtype=bool)
