"""Distances between loudspeakers, seats and walls that standards and common practice ask for."""

from __future__ import annotations

from typing import Final

import numpy as np

from treatment.acoustics.layout import Layout
from treatment.errors import Finding
from treatment.measures import cell, in_feet, joined_words, length_words, small_words
from treatment.scene.model import Scene

#: Distances that the listening-room standards ask for (m): loudspeakers and seats from walls; the front pair
#: from each other, at most and where the room suits; the main seat from the front pair, at least, and at most
#: in bases. EBU Tech 3276 and ITU-R BS.1116-3, from memory.
SPEAKER_FROM_WALL, SEAT_FROM_WALL = 1.0, 1.5
BASE: Final = (2.0, 3.0, 4.0)
LISTENING: Final = (2.0, 1.7)
#: The front pair's paths to the main seat should be equal within this (m). Common practice.
EQUAL_PATHS: Final = 0.02
#: A pair's distances from the nearest wall should be equal within this (m), so that first reflections are
#: alike at both ears. Common practice.
EQUAL_WALLS: Final = 0.10
_SOURCES: Final = "(EBU Tech 3276, ITU-R BS.1116-3; from memory)"


def standing_findings(scene: Scene, layout: Layout, seat: int) -> list[Finding]:
    """List what stands unequal, nearer or further than the sources like.

    Parameters
    ----------
    scene : Scene
        The room.
    layout : Layout
        Of its loudspeakers.
    seat : int
        Index of the main seat.

    Returns
    -------
    list of Finding
        Notes.
    """
    return [*_pairs(scene, layout, seat), *_base(scene, layout, seat), *_walls(scene)]


def twins(scene: Scene) -> list[tuple[int, int]]:
    """Find the left and right loudspeakers of each pair, by their channel labels.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    list of (int, int)
        Indices: left, right.
    """
    by_channel = {s.channel: n for n, s in enumerate(scene.loudspeakers) if s.channel}
    return [
        (n, by_channel[twin])
        for channel, n in by_channel.items()
        if "+" in channel and channel != "M+000" and (twin := channel.replace("+", "-")) in by_channel
    ]


def _pairs(scene: Scene, layout: Layout, seat: int) -> list[Finding]:
    """Pairs whose paths to the main seat, or whose distances from walls, differ."""
    found = []
    walls = [i for i, w in enumerate(scene.surfaces) if w.kind == "wall" and not w.obstacle]
    for n, twin in twins(scene):
        left, right = scene.loudspeakers[n], scene.loudspeakers[twin]
        where = f"{left.name}, {right.name}"
        difference = float(layout.distance[seat, n] - layout.distance[seat, twin])
        if abs(difference) > EQUAL_PATHS:
            late = 1e3 * abs(difference) / scene.air.speed_of_sound
            text = (
                f"their paths to '{scene.seats[seat].name}' differ by "
                f"{small_words(abs(difference), scene.units)} (common practice: "
                f"{small_words(EQUAL_PATHS, scene.units)} at most)"
            )
            hint = f"move the nearer one, or delay it by {late:.2f} ms"
            found.append(Finding("unequal-pair", "note", where, text, hint))
        if walls:
            gaps = [
                float(scene.enclosure.distance_to_surfaces(s.position)[walls].min()) for s in (left, right)
            ]
            if abs(gaps[0] - gaps[1]) > EQUAL_WALLS:
                text = (
                    f"their nearest walls are {joined_words(gaps, scene.units, ' and ')} away: first "
                    "reflections reach the seats unlike from left and right"
                )
                hint = "stand both equally far off, or treat the nearer wall more (common practice)"
                found.append(Finding("unequal-walls", "note", where, text, hint))
    return found


def _base(scene: Scene, layout: Layout, seat: int) -> list[Finding]:
    """How far the front pair stands apart, and the main seat from it."""
    front = {s.channel: n for n, s in enumerate(scene.loudspeakers)}
    if not {"M+030", "M-030"} <= set(front):
        return []
    pair = [front["M+030"], front["M-030"]]
    left, right = (scene.loudspeakers[n] for n in pair)
    base = float(np.linalg.norm(left.position - right.position))
    away = float(layout.distance[seat, pair].mean())
    low, high, most = BASE
    nearest, in_bases = LISTENING
    if low <= base <= most and nearest <= away <= in_bases * base:
        return []
    units = scene.units
    text = (
        f"they stand {length_words(base, units)} apart and {length_words(away, units)} from "
        f"'{scene.seats[seat].name}'; the listening-room standards have "
        f"{joined_words((low, high), units, ' to ')} ({length_words(most, units)} where the room suits), "
        f"and {length_words(nearest, units)} to {in_bases:g} times the base {_SOURCES}"
    )
    hint = "rooms at home are often smaller: the stereo angle matters more than the distance"
    return [Finding("base-outside-standards", "note", f"{left.name}, {right.name}", text, hint)]


def _walls(scene: Scene) -> list[Finding]:
    """What stands nearer to a wall than the standards like."""
    near = []
    walls = [i for i, w in enumerate(scene.surfaces) if w.kind == "wall" and not w.obstacle]
    places = [(s.name, s.position, SPEAKER_FROM_WALL) for s in scene.loudspeakers]
    places += [(s.name, s.position, SEAT_FROM_WALL) for s in scene.seats]
    for name, position, limit in places if walls else ():
        least = float(scene.enclosure.distance_to_surfaces(position)[walls].min())
        if least < limit:
            near.append(f"{name} {cell(least, scene.units)}")
    if not near:
        return []
    text = (
        f"distance from the nearest wall{'' if in_feet(scene.units) else ' in m'}: {', '.join(near)}; the "
        f"listening-room standards ask for {length_words(SPEAKER_FROM_WALL, scene.units)} from "
        f"loudspeakers and {length_words(SEAT_FROM_WALL, scene.units)} from seats {_SOURCES}"
    )
    hint = "rooms at home seldom have that; what it costs are the early reflections listed"
    where = "loudspeakers, seats"
    return [Finding("nearer-to-walls-than-standards-like", "note", where, text, hint)]
