"""Why each panel hangs where it hangs, in words, and what no panel can reach."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from treatment import bands
from treatment.geometry.polygon import Rectangle
from treatment.planning.candidates import EDGE_MARGIN
from treatment.planning.optimise import Choice
from treatment.planning.plan import Blocked, Evaluation, Placement
from treatment.planning.problem import Problem
from treatment.scene.model import Scene

#: A panel is said to take part in a reflection from this share on.
_NAMED_SHARE = 0.15
_TWO_KHZ = bands.band_index(2000) - bands.band_index(1000)


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
    first = len(problem.hanging) + 1
    made = []
    for n, choice in enumerate(choices):
        reasons = [*_early_reasons(problem, choice), *_reverberation_reasons(choice)]
        made.append(
            Placement(
                f"P{first + n}",
                problem.builds[choice.build],
                int(problem.sites.surface[choice.site]),
                problem.sites.at(choice.site),
                tuple(reasons),
            )
        )
    return tuple(made)


def _early_reasons(problem: Problem, choice: Choice) -> list[str]:
    """Which reflections a panel takes part in, the strongest three routes first."""
    scene, e, q = problem.scene, problem.early, problem.cover
    own = np.flatnonzero(q.site == choice.site)
    if len(own) == 0:
        return []
    share = np.zeros(len(e.bounces.path))
    share[q.bounce[own]] = q.share[own, _TWO_KHZ]
    by_path = np.zeros(len(e.paths))
    np.maximum.at(by_path, e.bounces.path, share)
    found: dict[tuple[int, ...], dict[int, list[float]]] = {}
    delays: dict[tuple[int, ...], float] = {}
    for zone in e.zones:
        mean = float(by_path[zone.paths].mean())
        if mean < _NAMED_SHARE or problem.sites.surface[choice.site] != zone.surface:
            continue
        key = (zone.source, *zone.route)
        found.setdefault(key, {}).setdefault(zone.seat, []).append(mean)
        delays[key] = min(delays.get(key, np.inf), zone.delay_ms)
    ranked = sorted(found.items(), key=lambda item: -sum(max(v) for v in item[1].values()))
    words = []
    for key, seats in ranked[:3]:
        source = scene.loudspeakers[key[0]].name
        route = " and ".join(scene.surfaces[i].name for i in key[1:])
        names = ", ".join(scene.seats[i].name for i in sorted(seats))
        most = max(max(v) for v in seats.values())
        words.append(
            f"takes up to {100.0 * most:.0f} % (at 2 kHz) of the reflection of {source} off "
            f"{route} to {names}, "
            f"{delays[key]:.1f} ms after the direct sound"
        )
    if len(ranked) > 3:
        words.append(f"and takes part in {len(ranked) - 3} more early reflections")
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


def blocked_reflections(scene: Scene, after: Evaluation) -> tuple[Blocked, ...]:
    """First reflections that stay above the criterion because nothing may hang at their point.

    Parameters
    ----------
    scene : Scene
        The room.
    after : Evaluation
        With all panels.

    Returns
    -------
    tuple of Blocked
        What stays, and what works instead.
    """
    found = []
    a = after.arrivals
    for i in range(len(a.order)):
        if a.order[i] != 1 or a.verdict[i] != "treat":
            continue
        surface = scene.surfaces[int(a.surfaces[i, 0])]
        wall = surface.polygon.to_wall(a.points[i, 0])
        by, advice = _in_the_way(scene, int(a.surfaces[i, 0]), wall)
        if by:
            found.append(
                Blocked(
                    scene.loudspeakers[int(a.source[i])].name,
                    scene.seats[int(a.seat[i])].name,
                    surface.name,
                    by,
                    advice,
                )
            )
    return tuple(found)


def _in_the_way(scene: Scene, surface: int, wall: np.ndarray) -> tuple[str, str]:
    """What keeps panels away from a point, and what works instead."""

    def on(rectangle: Rectangle) -> bool:
        low_u, low_v, high_u, high_v = rectangle.grown(EDGE_MARGIN).bounds
        return bool(low_u <= wall[0] <= high_u and low_v <= wall[1] <= high_v)

    for k in scene.keep_outs:
        if k.surface == surface and on(k.rectangle):
            return (
                f"{k.name} ({k.reason})",
                "nothing may hang here; move the seat or the loudspeaker so that the point leaves the "
                "kept-free space, or stand a movable absorber outside it",
            )
    for o in scene.openings:
        if o.surface == surface and on(o.rectangle):
            return (
                f"{o.name} (opening)",
                "a heavy curtain that can be drawn across, or a movable absorber, works where no "
                "panel can be",
            )
    if scene.surfaces[surface].obstacle:
        return (f"{scene.surfaces[surface].name} (obstacle)", "wrap it or move the seat")
    if scene.surfaces[surface].kind == "floor":
        return ("the floor", "a thick rug on an underlay between loudspeaker and seat")
    return "", ""
