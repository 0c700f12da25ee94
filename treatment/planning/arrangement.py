"""Where the loudspeakers stand, against the published places: angles, distances, delays, how far to move."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from treatment.acoustics.layout import SYSTEMS, Allowed, Layout, inspect, system_of
from treatment.errors import Finding
from treatment.measures import place_words
from treatment.planning.main_seat import main_seat
from treatment.planning.setup_distances import standing_findings
from treatment.planning.viewing import Viewing, viewing_findings, viewing_of
from treatment.scene.model import Scene


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
        What is out of range, unequal or nearer to a wall than the standards like it, how the screen is seen.
    viewing : Viewing or None
        The picture as seen from the seats; None without a screen.
    """

    layout: Layout
    seat: int
    system: str
    findings: tuple[Finding, ...]
    viewing: Viewing | None = None

    def allowed_of(self, channel: str) -> Allowed | None:
        """Published place of a channel label in the system; None where there is none.

        Parameters
        ----------
        channel : str
            ITU-R BS.2051 label.
        """
        return SYSTEMS.get(self.system, {}).get(channel)


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
    seat = main_seat(scene)
    viewing = viewing_of(scene)
    found = _out_of_range(scene, layout, seat, system)
    found += [*standing_findings(scene, layout, seat), *viewing_findings(scene, viewing)]
    return Arrangement(layout, seat, system, tuple(found), viewing)


def _out_of_range(scene: Scene, layout: Layout, seat: int, system: str) -> list[Finding]:
    found = []
    for n, speaker in enumerate(scene.loudspeakers):
        if not speaker.channel or np.isnan(layout.azimuth_miss[seat, n]) or layout.right[seat, n]:
            continue
        found.append(
            Finding(
                "loudspeaker-off-its-place",
                "note",
                speaker.name,
                f"azimuth {layout.azimuth[seat, n]:.0f}, elevation {layout.elevation[seat, n]:.0f} degrees "
                f"from '{scene.seats[seat].name}': outside the range of {speaker.channel} in {system} "
                "(ITU-R BS.2051)",
                f"move it by {place_words(layout.move[seat, n], scene.units, signed=True)}",
            )
        )
    return found
