"""What a room with standing panels is worth: every trial is a room of its own, worked out anew.

What such a panel does, hides paths, sends back its own, absorbs with both faces, adds up with nothing. So the
early part of the objective is the panels' full model in the furnished room, over the areas of the heads, and
the reverberation is that of the evaluation. Only the *rank* of a place, by which trials are put in order and
left out, takes the panel for something that stops sound and absorbs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.zones import seat_samples
from treatment.bands import Array
from treatment.geometry.boxes import Boxes
from treatment.planning.early import early_field
from treatment.planning.enough import with_panels
from treatment.planning.kept import Kept, bodies_clear, kept_free
from treatment.planning.means import means, needs
from treatment.planning.objective import SIDE_WORTH, Score, odd, score, untidy
from treatment.planning.plan import Placement
from treatment.planning.problem import Problem
from treatment.planning.sight import ClearSpace, clear_spaces
from treatment.planning.standing import can_stand, crossed, furnished, in_sight
from treatment.planning.standing_places import Place, cut_paths, mirrored
from treatment.planning.standing_trial import Trial, Unit, absorption_of, ground_of, kept_sides, times_with
from treatment.planning.swaps import Pairs
from treatment.planning.walkways import at_least_a_way
from treatment.scene.model import Scene

#: Trials: at most so many, and fewer where each takes long (loudspeakers times seats).
_MOST_TRIALS, _LEAST_TRIALS, _TRIAL_WORK = 24, 6, 360

#: Paths that pass a panel nearer than this (m) lose by its edges: a part of the first Fresnel zone at 1 kHz.
PENUMBRA: Final = 0.20


@dataclass(eq=False)
class Trials:
    """What all trials of one choice share.

    Parameters
    ----------
    problem : Problem
        The choice.
    room : Scene
        The room; where it asks for no clear width, with the usual one.
    kept, sight : tuple
        Space that stays free.
    receivers, sources : numpy.ndarray
        Points of the areas of heads, and loudspeakers, m.
    start, misfit : float
        Early excess and misfit of the reverberation before the choice.
    sides : list of numpy.ndarray
        Legs of reflections that shall stay, each of shape (2, 3), m.
    left : int
        Trials that may still be made.
    """

    problem: Problem
    room: Scene
    kept: tuple[Kept, ...]
    sight: tuple[ClearSpace, ...]
    receivers: Array
    sources: Array
    start: float
    misfit: float
    sides: list[Array]
    left: int
    _now: Trial | None = None
    _cuts: dict[tuple[int, ...], NDArray[np.bool_]] = field(default_factory=dict)
    _stands: dict[tuple[object, ...], bool] = field(default_factory=dict)
    _losses: dict[tuple[int, ...], list[tuple[float, Pairs, float]]] = field(default_factory=dict)

    @classmethod
    def of(cls, problem: Problem) -> Trials:
        """Prepare the trials of a choice.

        Parameters
        ----------
        problem : Problem
            The choice.
        """
        room = at_least_a_way(problem.room)
        cost = len(room.loudspeakers) * len(room.seats)
        return cls(
            problem,
            room,
            kept_free(room),
            clear_spaces(room),
            seat_samples(
                np.array([s.position for s in room.seats]), np.array([s.spread for s in room.seats])
            ),
            np.array([s.position for s in room.loudspeakers]),
            problem.early.total(problem.early.bare),
            float(problem.misfit(problem.absorption_area)),
            kept_sides(room, problem.hanging),
            int(np.clip(_TRIAL_WORK // cost, _LEAST_TRIALS, _MOST_TRIALS)),
        )

    def panels(self, pairs: Pairs, places: Sequence[Place]) -> tuple[Placement, ...]:
        """All panels of a set as placements without reasons.

        Parameters
        ----------
        pairs : list of (site, build)
            What hangs.
        places : sequence of Place
            Where panels stand.
        """
        builds, s = self.problem.builds, self.problem.sites
        hung = (
            Placement(f"hung {n}", builds[b], int(s.surface[g]), s.at(g), corner=s.across(g))
            for n, (g, b) in enumerate(pairs)
        )
        standing = (p.placement(builds, f"standing {n}") for n, p in enumerate(places))
        return (*self.problem.hanging, *hung, *standing)

    def work_out(self, pairs: Pairs, units: tuple[Unit, ...]) -> Trial:
        """Work out what a set of panels is worth, in the room that they make.

        Parameters
        ----------
        pairs : list of (site, build)
            What hangs.
        units : tuple of Unit
            Where panels stand, in the order of choice.
        """
        problem = self.problem
        places = [p for unit in units for p in unit]
        everything = self.panels(pairs, places)
        early = early_field(furnished(problem.room, everything), everything)
        area, times = with_panels(problem.room, everything)
        gone = 1.0 - early.total(early.bare) / self.start if self.start > 0.0 else 0.0
        off = float(problem.misfit_of_times(np.asarray(times["eyring"])))
        rest = 1.0 - off / self.misfit if self.misfit > 0.0 else 0.0
        sites = np.array([s for s, _ in pairs], dtype=np.intp)
        known = {ground_of(p) for p in problem.earlier if p.standing}
        moved = int((~problem.known[sites]).sum()) if problem.known.any() else 0
        moved += sum(ground_of(p) not in known for p in everything[-len(places) :]) if known and places else 0
        lone = sum(self._lone(pairs, places, n) for n in range(len(places)))
        found = Score(
            gone,
            rest,
            int(odd(problem, pairs).sum()) + lone,
            int(untidy(problem.sites, sites).sum()),
            moved,
        )
        return Trial(pairs, units, found, early, area)

    def _lone(self, pairs: Pairs, places: Sequence[Place], n: int) -> bool:
        """Whether a panel's twin on the other side could stand and does not."""
        twin = mirrored(self.room, places[n])
        if any(twin.key == p.key for p in places):
            return False
        return self.stands(pairs, places, twin)

    def free_ground(self, places: Sequence[Place]) -> NDArray[np.bool_]:
        """Tell which places are clear of all that is in the room already: a quick look at many at once.

        Parameters
        ----------
        places : sequence of Place
            n places.

        Returns
        -------
        numpy.ndarray
            Shape (n,), bool; where it is True, `stands` has the last word.
        """
        builds, free = self.problem.builds, np.zeros(len(places), dtype=bool)
        for kind in sorted({(p.floor, p.build) for p in places}):
            mine = [n for n, p in enumerate(places) if (p.floor, p.build) == kind]
            table = np.array([places[n].rectangle.bounds for n in mine])
            height = builds[kind[1]].outer_height
            free[mine] = bodies_clear(self.room, kind[0], table, height, self.kept, self.problem.hanging)
        for n in np.flatnonzero(free):
            bounds = places[int(n)].bounds(self.room, builds)
            free[n] = not in_sight(self.room, Boxes.between(bounds))
        return free

    def stands(self, pairs: Pairs, places: Sequence[Place], place: Place) -> bool:
        """Tell whether a panel may stand at a place beside others.

        Parameters
        ----------
        pairs : list of (site, build)
            What hangs.
        places : sequence of Place
            Where panels stand.
        place : Place
            Where one more would.
        """
        key = (tuple(pairs), tuple(p.key for p in places), place.key)
        if key not in self._stands:
            builds = self.problem.builds
            bounds = place.bounds(self.room, builds)
            ends = np.array(self.sides).reshape(-1, 2, 3)
            free = not crossed(bounds, ends[:, 0], ends[:, 1]).any()
            self._stands[key] = free and not can_stand(
                self.room,
                place.floor,
                place.rectangle,
                builds[place.build],
                self.kept,
                self.panels(pairs, places),
                self.sight,
            )
        return self._stands[key]

    def rank(self, now: Trial, unit: Unit) -> float:
        """Objective if panels only stopped sound and absorbed: what they send back, and costs, left out.

        Parameters
        ----------
        now : Trial
            What hangs and stands already.
        unit : Unit
            Where panels would stand.
        """
        problem = self.problem
        builds = [problem.builds[p.build] for p in unit]
        early = 0.0
        for margin in (0.0, PENUMBRA) if self.start > 0.0 else ():
            stopped = np.any([self._stopped(now, p, margin) for p in unit], axis=0)
            # Half of what passes near its edges counts: it is weaker, but it is not gone.
            early += 0.5 * float(now.early.weight @ (now.excess - now.excess_without(stopped))) / self.start
        floor = problem.room.surfaces[unit[0].floor].material.absorption
        there = [problem.builds[p.build] for p in now.places]
        area = now.area + np.sum([absorption_of(b, floor) for b in builds], axis=0)
        # Both without the space behind panels across corners, so that the difference is that of this unit.
        off = [
            float(problem.misfit_of_times(times_with(problem, x, standing)))
            for x, standing in ((now.area, there), (area, [*there, *builds]))
        ]
        side = SIDE_WORTH * (off[0] - off[1]) / self.misfit if self.misfit > 0.0 else 0.0
        return now.score.total + early + side

    def _stopped(self, now: Trial, place: Place, margin: float) -> NDArray[np.bool_]:
        """Paths above the criterion that a panel, wider by a margin, stands in; kept for the latest trial."""
        if self._now is not now:
            self._now, self._cuts = now, {}
        key = (*place.key, round(1e3 * margin))
        if key not in self._cuts:
            bounds = place.bounds(self.room, self.problem.builds) + margin * np.array([[-1.0], [1.0]])
            self._cuts[key] = cut_paths(bounds, now.early.paths, self.receivers, self.sources)
        return self._cuts[key]

    def freed(self, pairs: Pairs, places: Sequence[Place], unit: Unit) -> tuple[Pairs, float] | None:
        """Hung panels that stay when a unit is paid for, and what the objective loses with the others.

        Parameters
        ----------
        pairs : list of (site, build)
            What hangs.
        places : sequence of Place
            Where panels stand.
        unit : Unit
            What is to be paid for.

        Returns
        -------
        tuple of (list, float) or None
            The panels that lose least per money give way first, none of an earlier plan's; None when even all
            together are not enough.
        """
        problem = self.problem
        used = needs(problem.builds)
        standing = [p.build for p in (*places, *unit)]
        short = used[standing].sum(axis=0) + used[[b for _, b in pairs]].sum(axis=0)
        short = short - means(problem.scene, problem.hanging)
        if np.all(short <= 1e-9):
            return pairs, 0.0
        gone: set[tuple[int, int]] = set()
        for _, panels, _ in self._by_worth(pairs):
            if any(problem.known[site] for site, _ in panels):
                continue  # what an earlier plan hung there stays
            gone |= set(panels)
            short = short - used[[b for _, b in panels]].sum(axis=0)
            if np.all(short <= 1e-9):
                rest = [p for p in pairs if p not in gone]
                return rest, score(problem, pairs).total - score(problem, rest).total
        return None

    def _by_worth(self, pairs: Pairs) -> list[tuple[float, Pairs, float]]:
        """Hung panels, twins together, by what the objective loses with them per money."""
        key = tuple(x for p in pairs for x in p)
        if key not in self._losses:
            problem = self.problem
            whole, found = score(problem, pairs).total, []
            for site, build in pairs:
                twin = (int(problem.sites.mirror[site]), build)
                unit = [(site, build), twin] if twin[0] != site and twin in pairs else [(site, build)]
                if len(unit) == 2 and twin[0] < site:
                    continue
                loss = whole - score(problem, [p for p in pairs if p not in unit]).total
                price = sum(problem.builds[b].price for _, b in unit)
                found.append((loss / max(price, 0.01), unit, loss))
            self._losses[key] = sorted(found, key=lambda f: (f[0], f[1]))
        return self._losses[key]
