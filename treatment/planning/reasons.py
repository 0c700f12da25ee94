"""Why each panel hangs where it hangs, in words, and what no panel can reach."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.zones import SAMPLES
from treatment.geometry.polygon import Rectangle
from treatment.planning.corners import LEFT_OUT
from treatment.planning.lists import Blocked
from treatment.planning.moves import least_moves
from treatment.planning.neighbours import Neighbours
from treatment.planning.offers import Screens
from treatment.planning.part_room import Part
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.problem import Problem
from treatment.planning.relief import with_curtain
from treatment.planning.state import Choice
from treatment.planning.targets import CRITERION_BANDS
from treatment.planning.why_not import Hindrance, hindrance_at
from treatment.scene.model import Scene

#: A panel is said to weaken a reflection from this much on (dB, mean energy from 1 to 8 kHz).
_NAMED_DB = 1.0
#: Round the points of reflections, where what blocks them is no rectangle of its surface (m).
_ROUND = 0.15


def placements_of(problem: Problem, choices: Sequence[Choice]) -> tuple[Placement, ...]:
    """Turn choices into placements with their reasons.

    Parameters
    ----------
    problem : Problem
        The choice.
    choices : sequence of Choice
        In the order of their benefit.

    Returns
    -------
    tuple of Placement
        ``P1``, ``P2``, ... in the same order.
    """
    first = 1 + max((_number(p.id) for p in problem.hanging), default=0)
    made = []
    for n, choice in enumerate(choices):
        reasons = [*_early_reasons(problem, choice), *_reverberation_reasons(choice)]
        corner = problem.sites.across(choice.site)
        reasons += [] if corner is None else [LEFT_OUT]
        made.append(
            Placement(
                f"P{first + n}",
                problem.builds[choice.build],
                int(problem.sites.surface[choice.site]),
                problem.sites.at(choice.site),
                tuple(reasons),
                corner=corner,
            )
        )
    return tuple(made)


def _number(panel: str) -> int:
    """Number in a panel's id; 0 when it has none."""
    digits = "".join(c for c in panel if c.isdigit())
    return int(digits) if digits else 0


def _early_reasons(problem: Problem, choice: Choice) -> list[str]:
    """Which early reflections a panel weakens on its own, the two most concerned routes in full."""
    scene, e, q = problem.scene, problem.early, problem.cover
    own = np.flatnonzero(q.site == choice.site)
    if len(own) == 0:
        return []
    panel = np.sqrt(1.0 - problem.builds[choice.build].material.capped[CRITERION_BANDS])
    factor = e.bare.copy()
    bounce = q.bounce[own]
    change = np.minimum(panel - problem.wall_factor[problem.sites.surface[choice.site]], 0.0)
    factor[bounce] += q.share[own] * change
    before = e.arrival_energy(e.member_energy(e.bare)).mean(axis=1)
    after = e.arrival_energy(e.member_energy(factor)).mean(axis=1)
    taken = bands.decibels(before) - bands.decibels(after)
    groups: dict[tuple[int, ...], dict[int, float]] = {}
    delays: dict[tuple[int, ...], float] = {}
    for arrival in np.unique(e.arrival[e.bounces.path[bounce]]):
        if taken[arrival] < _NAMED_DB:
            continue
        member = int(np.flatnonzero(e.arrival == arrival)[0])
        route = tuple(int(i) for i in e.paths.surfaces[member] if i >= 0)
        key = (int(e.paths.source[member]), *route)
        groups.setdefault(key, {})[int(e.paths.receiver[member]) // SAMPLES] = float(taken[arrival])
        delay = (e.paths.length[member] - e.paths.direct[member]) / scene.air.speed_of_sound * 1e3
        delays[key] = min(delays.get(key, np.inf), float(delay))
    ranked = sorted(groups.items(), key=lambda item: -sum(item[1].values()))
    words = []
    for key, seats in ranked[:2]:
        source = scene.loudspeakers[key[0]].name
        route_words = " and ".join(scene.surfaces[i].name for i in key[1:])
        names = ", ".join(scene.seats[i].name for i in sorted(seats))
        words.append(
            f"on its own takes {max(seats.values()):.0f} dB off what {source} sends by {route_words} "
            f"({delays[key]:.1f} ms late) at {names}"
        )
    if len(ranked) > 2:
        words.append(f"has a part in {len(ranked) - 2} more early reflections")
    return words


def _reverberation_reasons(choice: Choice) -> list[str]:
    """What a panel does to the reverberation, in the band where it does most."""
    change = choice.before - choice.after
    audible = slice(bands.band_index(125), bands.band_index(4000) + 1)
    best = bands.band_index(125) + int(np.argmax(change[audible]))
    text = (
        f"brings the {bands.band_label(bands.NOMINAL_HZ[best])} band from {choice.before[best]:.2f} s to "
        f"{choice.after[best]:.2f} s (Eyring)"
    )
    return [text if choice.purpose == "early" else f"hangs for the reverberation: {text}"]


def blocked_reflections(scene: Scene, after: Evaluation, *, offers: bool = False) -> tuple[Blocked, ...]:
    """First reflections that stay above the criterion because nothing may hang at their point.

    Parameters
    ----------
    scene : Scene
        The room, without its standing panels.
    after : Evaluation
        With all panels.
    offers : bool
        Whether to work out what helps: the least move of the seat or the loudspeaker, a curtain, a panel
        that stands in the room, one beside, one at the other bounce of second reflections. It takes up to
        seven evaluations for each blocked place, of only the loudspeakers and seats concerned.

    Returns
    -------
    tuple of Blocked
        What stays, and what works instead.
    """
    a = after.arrivals
    hindrances = _hindrances(scene, after)
    met: dict[tuple[int, str], list[int]] = {}
    for i, hindrance in hindrances.items():
        met.setdefault((int(a.surfaces[i, 0]), hindrance.by), []).append(i)
    worked_out = _Offers(scene, after) if offers else None
    found = []
    for i, hindrance in hindrances.items():
        surface, advice = int(a.surfaces[i, 0]), hindrance.advice
        if worked_out is not None:
            # What helps against all of them is said once, with the first.
            paths = met.pop((surface, hindrance.by), None)
            offered = [] if paths is None else worked_out.at(np.array(paths, dtype=np.intp), hindrance)
            if hindrance.rectangle is not None:
                offered += least_moves(scene, int(a.source[i]), int(a.seat[i]), surface, hindrance.rectangle)
            for offer in offered:
                advice += f"; {offer}" if offer.startswith("no ") else f"; or {offer}"
        source, seat = scene.loudspeakers[int(a.source[i])].name, scene.seats[int(a.seat[i])].name
        found.append(Blocked(source, seat, scene.surfaces[surface].name, hindrance.by, advice))
    return tuple(found)


def _hindrances(scene: Scene, after: Evaluation) -> dict[int, Hindrance]:
    """What keeps panels from first reflections above the criterion, by arrival."""
    a, found = after.arrivals, {}
    for i in range(len(a.order)):
        if a.order[i] != 1 or a.verdict[i] != "treat":
            continue
        if not scene.loudspeakers[int(a.source[i])].weight * scene.seats[int(a.seat[i])].weight:
            continue
        surface = int(a.surfaces[i, 0])
        if surface >= len(scene.surfaces):
            continue  # a panel that stands in the room
        hindrance = hindrance_at(scene, surface, scene.surfaces[surface].polygon.to_wall(a.points[i, 0]))
        if hindrance is not None:
            found[i] = hindrance
    return found


class _Offers:
    """What is worked out for all reflections that meet one blocked place; what places share is made once."""

    def __init__(self, scene: Scene, after: Evaluation) -> None:
        self._scene, self._after = scene, after
        self._screens, self._neighbours = Screens(scene, after), Neighbours(scene, after)

    def at(self, paths: NDArray[np.intp], hindrance: Hindrance) -> list[str]:
        """Sentence parts; those that begin with ``no`` say why there is nothing."""
        scene, a = self._scene, self._after.arrivals
        surface = int(a.surfaces[paths[0], 0])
        if scene.surfaces[surface].kind == "floor":
            return []
        blocked = hindrance.rectangle
        if blocked is None:
            wall = scene.surfaces[surface].polygon.to_wall(a.points[paths, 0])
            (u, v), size = wall.min(axis=0), np.ptp(wall, axis=0)
            blocked = Rectangle(float(u), float(v), *(float(x) for x in size)).grown(_ROUND)
        part = Part.of(scene, self._after, paths)
        curtain = ""
        if hindrance.opening is not None:
            curtain = with_curtain(part.scene, part.before, hindrance.opening)
        said = (
            curtain,
            self._screens.offer(paths, part, hindrance.depth),
            self._neighbours.beside(paths, part),
            self._neighbours.other_bounce(surface, blocked),
        )
        return [words for words in said if words]
