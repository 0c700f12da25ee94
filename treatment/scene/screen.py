"""The picture: where it hangs, and what stands between it and the eyes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from treatment.bands import Array
from treatment.errors import Finding
from treatment.geometry.convex import share_space
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.scene.codes import finding, nearest
from treatment.scene.document import Document
from treatment.scene.fittings import Fitted
from treatment.scene.model import Loudspeaker, Scene, Screen, Subwoofer
from treatment.scene.obstacles import outside_area
from treatment.scene.outline import Shell
from treatment.scene.outside import outside_words
from treatment.scene.schema import ScreenEntry
from treatment.units import format_length

#: Half of the least cube that any loudspeaker fills around its place (m).
_CABINET: Final = 0.05
#: Lines of sight end this far before the picture (m), so that what it hangs on does not cut them.
_BEFORE: Final = 0.01
#: Rooms larger than this (m) are slips of the unit.
_LARGEST: Final = 1000.0


def make_screen(
    document: Document, shell: Shell, fitted: Fitted, unit: str, findings: list[Finding]
) -> Screen | None:
    """Put the screen before its surface.

    Parameters
    ----------
    document : Document
        What the file says.
    shell : Shell
        The room.
    fitted : Fitted
        The room with its obstacles.
    unit : str
        For messages.
    findings : list of Finding
        Taken along; what is wrong is added.

    Returns
    -------
    Screen or None
        None when there is none, or none that fits.
    """
    entry = document.table("screen", ScreenEntry)
    if entry is None:
        return None
    if entry.surface not in shell.names or entry.surface not in fitted.names:
        message = f'the screen is on "{entry.surface[:60]}", which the room does not have'
        where = "screen.surface" if "surface" in entry.model_fields_set else "screen"
        findings.append(finding("unknown-surface", where, message, nearest(entry.surface, shell.names)))
        return None
    rectangle = Rectangle(*entry.at, *entry.size)
    # A screen may hang before a recess.
    whole = shell.whole(entry.surface)
    if outside_area(rectangle.shape(), whole.region):
        message = outside_words("the screen", rectangle, entry.surface, whole, unit)
        hint = "at is its lower corner, measured along the surface and up; size is width, then height"
        findings.append(finding("screen-outside-surface", "screen.at", message, hint))
        return None
    return Screen(fitted.names.index(entry.surface), rectangle, entry.distance, entry.sound_passes)


def screen_corners(scene: Scene, screen: Screen, out: float = 0.0) -> Array:
    """Corners of the picture in the room.

    Parameters
    ----------
    scene : Scene
        The room.
    screen : Screen
        Its screen.
    out : float
        Further into the room than the picture, m.

    Returns
    -------
    numpy.ndarray
        Shape (4, 3), m, in the order round the rectangle from its lowest readings.
    """
    low_u, low_v, high_u, high_v = screen.rectangle.bounds
    flat = np.array([[low_u, low_v], [high_u, low_v], [high_u, high_v], [low_u, high_v]])
    return scene.surfaces[screen.surface].polygon.to_room(flat, screen.distance + out)


def check_screen(scene: Scene) -> Iterator[Finding]:
    """Check what stands between the seats and the picture.

    Parameters
    ----------
    scene : Scene
        The room and what stands in it.

    Yields
    ------
    Finding
        A seat behind the screen, a loudspeaker behind or before it, a picture that a seat does not see.
    """
    screen = scene.screen
    # What stands outside the room is told elsewhere, and so is a room beyond any size.
    seats = [s for s in scene.seats if _inside(scene, s.position)]
    if screen is None or not seats:
        return
    plane = scene.surfaces[screen.surface].polygon
    behind = [s.name for s in seats if float(plane.height_above(s.position)) <= screen.distance]
    if behind:
        away = format_length(screen.distance, scene.units)
        message = f"the screen stands {away} before its surface: behind {_named(behind)}"
        hint = "distance is how far the picture is from its wall, not from the seats"
        yield finding("screen-beyond-seat", "screen.distance", message, hint)
        return
    eyes = np.array([s.position for s in seats])
    hidden = (
        []
        if screen.sound_passes
        else [s.name for s in scene.loudspeakers if _behind(screen, plane, s.position, eyes)]
    )
    if hidden:
        message = f"{_named(hidden)} would sound through the screen, which lets no sound pass"
        hint = "move the loudspeaker out of its shadow, or write sound_passes = true of a woven screen"
        yield finding("screen-hides-loudspeaker", "screen", message, hint)
    corners = screen_corners(scene, screen)
    equipment: list[Loudspeaker | Subwoofer] = [*scene.loudspeakers, *scene.subwoofers]
    standing = [s for s in equipment if s.name not in hidden and _inside(scene, s.position)]
    cubes = np.full((len(standing), 3), _CABINET)
    places = np.array([s.position for s in standing]).reshape(-1, 3)
    cut: dict[str, list[str]] = {}
    for seat, eye in zip(seats, eyes, strict=True):
        before = share_space(np.vstack([eye, corners]), places, cubes, np.eye(3))
        for s, hides in zip(standing, before, strict=True):
            if hides:
                cut.setdefault(s.name, []).append(seat.name)
        marks = _grid(screen_corners(scene, screen, _BEFORE))
        if scene.enclosure.blocked(np.broadcast_to(eye, marks.shape), marks).any():
            cut.setdefault("a part of the room", []).append(seat.name)
    for what, names in cut.items():
        message = f"{what} stands between the screen and {_named(names)}"
        hint = "move it, or the screen, until every seat sees all of the picture"
        yield finding("screen-blocked", "screen", message, hint)


def _inside(scene: Scene, position: Array) -> bool:
    """Whether a place lies within the bounds of a room of a size that can be."""
    low, high = scene.enclosure.bounds
    return bool(np.all((low <= position) & (position <= high)) and np.all(high - low < _LARGEST))


def _behind(screen: Screen, plane: Polygon, position: Array, eyes: Array) -> bool:
    """Whether the way from a place to any seat leads through the picture."""
    depth = float(plane.height_above(position))
    if depth > screen.distance + 1e-6:
        return False
    low_u, low_v, high_u, high_v = screen.rectangle.bounds
    part = (screen.distance - depth) / (plane.height_above(eyes) - depth)
    u, v = np.moveaxis(plane.to_wall(position + part[:, None] * (eyes - position)), -1, 0)
    return bool(np.any((low_u < u) & (u < high_u) & (low_v < v) & (v < high_v)))


def _grid(corners: Array) -> Array:
    """Three by three points of a rectangle, a hundredth inside its rim, shape (9, 3)."""
    steps = np.array([0.01, 0.5, 0.99])
    across, up = corners[1] - corners[0], corners[3] - corners[0]
    return np.array([corners[0] + a * across + b * up for a in steps for b in steps])


def _named(names: list[str]) -> str:
    shown = [f'"{n}"' for n in names[:4]]
    more = f" and {len(names) - 4} more" if len(names) > 4 else ""
    return ", ".join(shown) + more
