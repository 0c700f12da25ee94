"""Lines up what was chosen: panels that nearly share a line, a middle or a gap come to share it.

The choice is free to hang panels on any of its places; a person with a level wants lines. So after the choice
small moves are made, one at a time, each of which leaves less disorder, every panel legal, twins twins, and
what was covered covered, for next to nothing of the objective. Panels that hang already, and those of an
earlier plan, stay: the others are lined up with them. Nothing is random.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, decibels
from treatment.planning.evaluate import evaluate
from treatment.planning.legal import review_placements
from treatment.planning.memory import Memory
from treatment.planning.more_places import MorePlaces, Wish
from treatment.planning.objective import Score, factor_with, score
from treatment.planning.optimise import Selection
from treatment.planning.order import Bounds
from treatment.planning.pairing import same_paths
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.problem import Problem
from treatment.planning.standing_trials import Trials
from treatment.planning.state import blocked_by
from treatment.planning.swaps import Pairs
from treatment.planning.targets import CRITERION_BANDS, CRITERION_DB
from treatment.planning.tidy_moves import REACH, Move, TidyMoves
from treatment.planning.whole_choice import start_again

#: All moves together may cost this share of the objective. A tape that is 25 mm off costs as much: see
#: docs/method/planning.md.
SHARE: Final = 0.005
#: A reflection counts as covered up to this much above the criterion (dB, loudest octave): half of what is
#: heard at least (common practice), so that a hair's breadth of level holds nothing up.
HAIR_DB: Final = 0.5
#: A move may cost this much for each line, missing image or uneven gap that it saves: a panel whose three
#: lines are put right, half of what one without its twin costs.
LINE_COST: Final = 0.001


def tidied(problem: Problem, selection: Selection) -> tuple[Problem, Selection]:
    """Line up the panels of a choice.

    Parameters
    ----------
    problem : Problem
        What was to be chosen.
    selection : Selection
        What was chosen.

    Returns
    -------
    problem : Problem
        With the places that panels were moved to.
    selection : Selection
        With the same panels in the same order, what each gains worked out anew, and how many were moved. The
        same objects where nothing is put right. Tidied again, it stays as it is.
    """
    if selection.score is None or len(selection.choices) == 0:
        return problem, selection
    work = _Tidying(problem, selection)
    while work.step():
        pass
    hung = [(c.site, c.build) for c in selection.choices]
    if work.pairs == hung or not work.as_good_with_standing():
        return problem, selection
    problem = work.places.problem
    there = zip(selection.choices, work.pairs, strict=True)
    return problem, replace(
        selection,
        choices=tuple(start_again(problem, tuple(replace(c, site=s) for c, (s, _) in there)).chosen),
        score=score(problem, work.pairs) if work.whole is None else work.whole,
        aligned=sum(a != b for a, b in zip(work.first, work.pairs, strict=True)),
        as_chosen=tuple(work.first),
    )


class _Tidying:
    """The panels as they hang now, and what each step may do with them."""

    def __init__(self, problem: Problem, selection: Selection) -> None:
        self.places, self.selection = MorePlaces(problem), selection
        self.moves = TidyMoves(problem)
        self.memory = Memory()
        #: Where the panels hang now, and where they hung as chosen.
        self.pairs: Pairs = [(c.site, c.build) for c in selection.choices]
        self.first = list(selection.as_chosen) or list(self.pairs)
        self.value = score(problem, self.pairs).total
        first = score(problem, self.first).total
        self.least = first - SHARE * abs(first)
        self.whole: Score | None = None
        self.was = self._evaluated(self.first)
        self.covered = self._level(self.first) <= CRITERION_DB
        self.faults = self._faults(self.was.placements)

    def step(self) -> bool:
        """Make the best move that may be made; False where there is none."""
        moves = self.moves.find(self.places.problem, self.pairs)
        wishes = [self._wish(n, bounds) for m in moves for n, bounds in m.places.items()]
        sites = iter(self.places.add(wishes))
        for move in moves:
            at = {n: next(sites) for n in move.places}
            if min(at.values()) >= 0 and self._made(move, at):
                return True
        return False

    def as_good_with_standing(self) -> bool:
        """Whether the objective of all, in the room with what stands there, loses no more than it may."""
        if not self.selection.standing:
            return True
        trials = Trials.of(self.places.problem)
        units = tuple((p,) for p in self.selection.standing)
        before, after = (trials.work_out(pairs, units).score for pairs in (self.first, self.pairs))
        self.whole = after
        return after.total >= before.total - SHARE * abs(before.total)

    def _made(self, move: Move, at: dict[int, int]) -> bool:
        """Make a move if it spoils nothing."""
        pairs = [(at.get(n, site), build) for n, (site, build) in enumerate(self.pairs)]
        if not self._near(pairs, at) or self._clash(pairs, at):
            return False
        value = score(self.places.problem, pairs).total
        if value < max(self.least, self.value - LINE_COST * move.saved) - 1e-9:
            return False
        if (self.covered & (self._level(pairs) > CRITERION_DB + HAIR_DB)).any():
            return False
        then = self._evaluated(pairs)
        if self._faults(then.placements) - self.faults or uncovered(self.was, then).any():
            return False
        self.pairs, self.value = pairs, value
        return True

    def _near(self, pairs: Pairs, moved: Iterable[int]) -> bool:
        """Whether panels hang near to where they were chosen."""
        table = self.places.problem.sites.rectangle
        return all(np.abs(table[pairs[n][0]] - table[self.first[n][0]]).max() <= REACH for n in moved)

    def _clash(self, pairs: Pairs, moved: Iterable[int]) -> bool:
        problem, sites = self.places.problem, [s for s, _ in pairs]
        return any(
            blocked_by(problem, sites[n])[[s for k, s in enumerate(sites) if k != n]].any() for n in moved
        )

    def _level(self, pairs: Pairs) -> Array:
        """Of every early arrival over the whole area of heads, loudest octave, dB re direct."""
        e = self.places.problem.early
        energy = e.arrival_energy(e.member_energy(factor_with(self.places.problem, pairs)))
        return np.asarray(decibels(energy).max(axis=1, initial=-np.inf))

    def _evaluated(self, pairs: Pairs) -> Evaluation:
        problem = self.places.problem
        s, builds = problem.sites, problem.builds
        hung = (
            Placement(f"hung {n}", builds[b], int(s.surface[g]), s.at(g), corner=s.across(g))
            for n, (g, b) in enumerate(pairs)
        )
        standing = (p.placement(builds, f"standing {n}") for n, p in enumerate(self.selection.standing))
        return evaluate(problem.room, (*problem.hanging, *hung, *standing), memory=self.memory)

    def _faults(self, placements: Sequence[Placement]) -> set[tuple[str, str]]:
        return {(f.code, f.where) for f in review_placements(self.places.problem.room, placements)}

    def _wish(self, n: int, bounds: Bounds) -> Wish:
        site, build = self.pairs[n]
        return int(self.places.problem.sites.surface[site]), bounds, build


def uncovered(before: Evaluation, after: Evaluation) -> NDArray[np.bool_]:
    """Tell which reflections at the seats' centres stop being covered.

    Parameters
    ----------
    before, after : Evaluation
        Of one room.

    Returns
    -------
    numpy.ndarray
        Of those before, shape (n,), bool: the criterion would not treat it, and now does, by more than
        `HAIR_DB` in some octave.
    """
    a, b = before.arrivals, after.arrivals
    again = same_paths(a, b)
    loud = b.level_db[:, CRITERION_BANDS].max(axis=1, initial=-np.inf) > CRITERION_DB + HAIR_DB
    loud &= np.array([v == "treat" for v in b.verdict], dtype=bool)
    was = np.array([v == "treat" for v in a.verdict], dtype=bool)
    found, out = again >= 0, np.zeros(len(was), dtype=bool)
    out[found] = ~was[found] & loud[again[found]]
    return out
