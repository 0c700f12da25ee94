"""How large the picture is from each seat, against what has been published for cinemas and television."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from treatment.acoustics.layout import subtended
from treatment.bands import Array, frozen
from treatment.errors import Finding
from treatment.scene.model import Scene
from treatment.scene.screen import screen_corners

#: Least horizontal angle at the farthest seat, and steepest look up to the top of the picture (degrees).
LEAST_ANGLE: Final = 30.0
MOST_UP: Final = 35.0
VIEWING_SOURCES: Final = (
    "SMPTE EG 18-1994 asks for at least 30 degrees at the farthest seat (read in trade pages that quote it) "
    "and at most 35 degrees up to the top of the picture (from memory); ITU-R BS.775-3, Fig. 1, draws 33 "
    "degrees at 3 and 48 degrees at 2 picture heights for 16:9"
)


@dataclass(frozen=True, eq=False)
class Viewing:
    """The picture as seen from s seats.

    Parameters
    ----------
    angle : numpy.ndarray
        Horizontal angle that it fills, shape (s,), degrees.
    up : numpy.ndarray
        Elevation of the middle of its upper edge, shape (s,), degrees.
    distance : numpy.ndarray
        Of the eyes from its plane, shape (s,), m.
    heights : numpy.ndarray
        The same in picture heights, shape (s,).
    """

    angle: Array
    up: Array
    distance: Array
    heights: Array


def viewing_of(scene: Scene) -> Viewing | None:
    """Work out how the picture is seen.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    Viewing or None
        None without a screen or a seat. The ears stand for the eyes.
    """
    screen = scene.screen
    if screen is None or not scene.seats:
        return None
    corners = screen_corners(scene, screen)
    eyes = np.array([s.position for s in scene.seats])
    # In room coordinates, for a wall's v need not be height.
    top = corners[np.argsort(corners[:, 2])[2:]].mean(axis=0)
    start, end = (corners[0] + corners[3]) / 2.0, (corners[1] + corners[2]) / 2.0
    away = top - eyes
    up = np.degrees(np.arctan2(away[:, 2], np.hypot(away[:, 0], away[:, 1])))
    plane = scene.surfaces[screen.surface].polygon
    distance = plane.height_above(eyes) - screen.distance
    return Viewing(
        frozen(subtended(eyes, start, end)),
        frozen(up),
        frozen(distance),
        frozen(distance / screen.rectangle.height),
    )


def viewing_findings(scene: Scene, viewing: Viewing | None) -> list[Finding]:
    """Say where the picture is smaller or higher than published guidance likes.

    Parameters
    ----------
    scene : Scene
        The room.
    viewing : Viewing or None
        As from `viewing_of`.

    Returns
    -------
    list of Finding
        Notes.
    """
    found: list[Finding] = []
    if viewing is None:
        return found
    small = [
        f"{s.name} {a:.0f}" for s, a in zip(scene.seats, viewing.angle, strict=True) if a < LEAST_ANGLE - 0.5
    ]
    if small:
        text = f"the screen fills, in degrees: {', '.join(small)}; {VIEWING_SOURCES}"
        hint = f"a wider screen, or seats nearer to it, fill more than {LEAST_ANGLE:g} degrees"
        found.append(Finding("screen-looks-small", "note", "screen", text, hint))
    high = [f"{s.name} {a:.0f}" for s, a in zip(scene.seats, viewing.up, strict=True) if a > MOST_UP + 0.5]
    if high:
        text = (
            f"the top of the screen stands, in degrees above the eyes: {', '.join(high)}; {VIEWING_SOURCES}"
        )
        found.append(
            Finding("screen-looks-high", "note", "screen", text, "hang it lower, or sit further back")
        )
    return found
