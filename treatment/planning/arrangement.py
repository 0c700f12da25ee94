"""Where the loudspeakers stand, against the published places: angles, distances, delays, how far to move."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from treatment.acoustics.layout import Layout, inspect, system_of
from treatment.errors import Finding
from treatment.scene.model import Scene

#: Distances that the listening-room standards ask for (m): loudspeakers and seats from walls, and the front
#: pair from each other. EBU Tech 3276 and ITU-R BS.1116-3, from memory.
SPEAKER_FROM_WALL, SEAT_FROM_WALL = 1.0, 1.5
#: The front pair's paths to the main seat should be equal within this (m). Common practice.
EQUAL_PATHS = 0.02


@dataclass(frozen=True, eq=False)
class Arrangement:
    """Loudspeakers as seen from the seats.

    Parameters
    ----------
    layout : Layout
        Angles, distances, delays, misses and moves, for all seats and loudspeakers.
    seat : int
        Index of the main seat, for which the published angles hold: the one nearest to the middle of all.
    system : str
        System of ITU-R BS.2051 that the channel labels make; empty when there is none.
    findings : tuple of Finding
        What is out of range, unequal or nearer to a wall than the standards like it.
    """

    layout: Layout
    seat: int
    system: str
    findings: tuple[Finding, ...]


def arrangement_of(scene: Scene) -> Arrangement | None:
    """Compare a scene's loudspeakers with the published places.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    Arrangement or None
        None without a loudspeaker or a seat.
    """
    if not scene.loudspeakers or not scene.seats:
        return None
    seats = np.array([s.position for s in scene.seats])
    speakers = np.array([s.position for s in scene.loudspeakers])
    channels = [s.channel for s in scene.loudspeakers]
    system = system_of([c for c in channels if c])
    layout = inspect(seats, speakers, channels, scene.air.speed_of_sound, system)
    away = np.linalg.norm(seats - seats.mean(axis=0), axis=1)
    seat = int(np.argmin(np.round(away, 6)))
    return Arrangement(layout, seat, system, tuple(_findings(scene, layout, seat, system)))


def _findings(scene: Scene, layout: Layout, seat: int, system: str) -> list[Finding]:
    found = []
    for n, speaker in enumerate(scene.loudspeakers):
        if not speaker.channel or np.isnan(layout.azimuth_miss[seat, n]) or layout.right[seat, n]:
            continue
        dx, dy, dz = layout.move[seat, n]
        found.append(
            Finding(
                "loudspeaker-off-its-place",
                "note",
                speaker.name,
                f"azimuth {layout.azimuth[seat, n]:.0f}, elevation {layout.elevation[seat, n]:.0f} degrees "
                f"from '{scene.seats[seat].name}': outside the range of {speaker.channel} in {system} "
                "(ITU-R BS.2051)",
                f"move it by x {dx:+.2f}, y {dy:+.2f}, z {dz:+.2f} m",
            )
        )
    found += _pairs(scene, layout, seat)
    near = []
    walls = [i for i, w in enumerate(scene.surfaces) if w.kind == "wall" and not w.obstacle]
    places = [(s.name, s.position, SPEAKER_FROM_WALL) for s in scene.loudspeakers]
    places += [(s.name, s.position, SEAT_FROM_WALL) for s in scene.seats]
    for name, position, limit in places if walls else ():
        least = float(scene.enclosure.distance_to_surfaces(position)[walls].min())
        if least < limit:
            near.append(f"{name} {least:.2f}")
    if near:
        found.append(
            Finding(
                "nearer-to-walls-than-standards-like",
                "note",
                "loudspeakers, seats",
                f"distance from the nearest wall in m: {', '.join(near)}; the listening-room standards ask "
                f"for {SPEAKER_FROM_WALL:g} m from loudspeakers and {SEAT_FROM_WALL:g} m from seats "
                "(EBU Tech 3276, ITU-R BS.1116-3; from memory)",
                "rooms at home seldom have that; what it costs are the early reflections listed",
            )
        )
    return found


def _pairs(scene: Scene, layout: Layout, seat: int) -> list[Finding]:
    """Left and right loudspeakers whose paths to the main seat differ."""
    found = []
    by_channel = {s.channel: n for n, s in enumerate(scene.loudspeakers) if s.channel}
    for channel, n in by_channel.items():
        twin = by_channel.get(channel.replace("+", "-")) if "+" in channel else None
        if twin is None or channel == "M+000" or twin == n:
            continue
        difference = float(layout.distance[seat, n] - layout.distance[seat, twin])
        if abs(difference) > EQUAL_PATHS:
            left, right = scene.loudspeakers[n].name, scene.loudspeakers[twin].name
            late = 1e3 * abs(difference) / scene.air.speed_of_sound
            found.append(
                Finding(
                    "unequal-pair",
                    "note",
                    f"{left}, {right}",
                    f"their paths to '{scene.seats[seat].name}' differ by {1000.0 * abs(difference):.0f} mm "
                    "(common practice: 20 mm at most)",
                    f"move the nearer one, or delay it by {late:.2f} ms",
                )
            )
    return found
