"""What a panel may not stand in: the view of the screen, the way of the direct sound, a loudspeaker's front.

Panels are not obstacles to the traced sound: a place where one would be is refused here instead.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.zones import seat_samples
from treatment.bands import Array
from treatment.errors import Finding
from treatment.geometry.convex import share_space
from treatment.geometry.polygon import Polygon
from treatment.planning.plan import Placement
from treatment.scene.model import Loudspeaker, Scene
from treatment.scene.screen import screen_corners

#: Side of the square that is kept clear before a loudspeaker, and how far it is (m). Common practice.
FRONT_WIDTH: Final = 0.30
FRONT_SPACE: Final = 0.50


@dataclass(frozen=True, eq=False)
class ClearSpace:
    """A convex space in which no panel may stand.

    Parameters
    ----------
    hull : numpy.ndarray
        Points whose convex hull it is, shape (n, 3), m.
    words : str
        What a panel there would do.
    code : str
        Of the finding that says so.
    """

    hull: Array
    words: str
    code: str

    @cached_property
    def bounds(self) -> tuple[Array, Array]:
        """Lowest and highest corner, shapes (3,), m."""
        return self.hull.min(axis=0), self.hull.max(axis=0)


def clear_spaces(scene: Scene) -> tuple[ClearSpace, ...]:
    """List the spaces that sight and direct sound need.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    tuple of ClearSpace
        From every seat, the spread of the head included, to the whole screen and to every loudspeaker that
        it hears directly; before every loudspeaker; between wall and screen where no sound passes.
    """
    found = []
    heads = [seat_samples(s.position[None], np.array([s.spread])) for s in scene.seats]
    screen = scene.screen
    if screen is not None:
        picture = screen_corners(scene, screen)
        for seat, head in zip(scene.seats, heads, strict=True):
            words = f"it stands between '{seat.name}' and the screen"
            found.append(ClearSpace(np.vstack([head, picture]), words, "panel-before-screen"))
        if screen.distance > 1e-6 and not screen.sound_passes:
            wall = screen_corners(scene, screen, -screen.distance)
            words = "it hangs behind the screen, which lets no sound pass"
            found.append(ClearSpace(np.vstack([wall, picture]), words, "panel-behind-screen"))
    hidden = _hidden(scene)
    for n, speaker in enumerate(scene.loudspeakers):
        words = f"it stands before loudspeaker {speaker.name}"
        if scene.seats:
            found.append(ClearSpace(_front(scene, speaker), words, "panel-before-loudspeaker"))
        for k, (seat, head) in enumerate(zip(scene.seats, heads, strict=True)):
            if hidden[n, k]:
                continue
            words = f"it stands in the way of the direct sound from {speaker.name} to '{seat.name}'"
            found.append(ClearSpace(np.vstack([speaker.position, head]), words, "panel-in-direct-sound"))
    return tuple(found)


def _hidden(scene: Scene) -> NDArray[np.bool_]:
    """Which loudspeakers do not see which seats, shape (loudspeakers, seats); all are looked at together."""
    speakers = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    seats = np.array([s.position for s in scene.seats]).reshape(-1, 3)
    start, end = np.repeat(speakers, len(seats), axis=0), np.tile(seats, (len(speakers), 1))
    return scene.enclosure.blocked(start, end).reshape(len(speakers), len(seats))


def _front(scene: Scene, speaker: Loudspeaker) -> Array:
    """Corners of the space before a loudspeaker, toward where it is aimed, shape (8, 3), m."""
    middle = np.mean([s.position for s in scene.seats], axis=0)
    way = (middle if speaker.aim is None else speaker.aim) - speaker.position
    way = way / max(float(np.linalg.norm(way)), 1e-9)
    side = np.cross([0.0, 0.0, 1.0], way)
    size = float(np.linalg.norm(side))
    side = side / size if size > 1e-6 else np.array([0.0, 1.0, 0.0])
    over = np.cross(way, side)
    half = FRONT_WIDTH / 2.0
    square = np.array([a * side + b * over for a in (-half, half) for b in (-half, half)])
    return np.concatenate([speaker.position + square, speaker.position + square + FRONT_SPACE * way])


def unhindered(
    polygon: Polygon, table: Array, depth: float, spaces: Sequence[ClearSpace]
) -> NDArray[np.bool_]:
    """Tell which panels of one depth on one surface leave sight and direct sound alone.

    Parameters
    ----------
    polygon : Polygon
        The surface.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    depth : float
        From the surface to the face, m.
    spaces : sequence of ClearSpace
        As from `clear_spaces`.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    free = np.ones(len(table), dtype=bool)
    if len(table) == 0:
        return free
    boxes = centre, half, axes = _boxes(polygon, table, depth)
    for space, close in _near(spaces, *boxes):
        close = close[free[close]]
        free[close] = ~share_space(space.hull, centre[close], half[close], axes)
    return free


def _near(
    spaces: Sequence[ClearSpace], centre: Array, half: Array, axes: Array
) -> Iterator[tuple[ClearSpace, NDArray[np.intp]]]:
    """Spaces and the boxes near them: what is apart along an axis of the room needs no second look."""
    if not spaces or len(centre) == 0:
        return
    low, high = (np.array([s.bounds[k] for s in spaces]) for k in (0, 1))
    reach = half @ np.abs(axes)
    top, bottom = centre + reach, centre - reach
    # Of all boxes together, most spaces are far already.
    some = np.all((top.max(axis=0) >= low) & (bottom.min(axis=0) <= high), axis=1)
    for n in np.flatnonzero(some).tolist():
        close = np.flatnonzero(np.all((top >= low[n]) & (bottom <= high[n]), axis=1))
        if len(close):
            yield spaces[n], close


def _boxes(polygon: Polygon, table: Array, depth: float) -> tuple[Array, Array, Array]:
    """Panels of one depth as boxes: middles, half-lengths, axes."""
    middle = (table[:, :2] + table[:, 2:]) / 2.0
    half = np.column_stack([(table[:, 2:] - table[:, :2]) / 2.0, np.full(len(table), depth / 2.0)])
    axes = np.stack([polygon.u_axis, polygon.v_axis, polygon.normal])
    return polygon.to_room(middle, depth / 2.0), half, axes


def review_sight(scene: Scene, placements: Sequence[Placement]) -> list[Finding]:
    """Review panels placed by hand for what they stand in.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    list of Finding
        Warnings, one for each panel and kind of hindrance, the panel's id in ``where``.
    """
    # Panels of one depth on one surface are looked at together: a drag in a viewer waits for this.
    groups: dict[tuple[int, float], list[Placement]] = {}
    for p in placements:
        groups.setdefault((p.surface, p.build.depth), []).append(p)
    found: dict[tuple[str, str], Finding] = {}
    spaces = clear_spaces(scene)
    for (surface, depth), members in groups.items():
        table = np.array([p.rectangle.bounds for p in members])
        boxes = centre, half, axes = _boxes(scene.surfaces[surface].polygon, table, depth)
        for space, close in _near(spaces, *boxes):
            for k in close[share_space(space.hull, centre[close], half[close], axes)]:
                key = (members[k].id, space.code)
                found.setdefault(
                    key, Finding(space.code, "warning", members[k].id, space.words, "hang it elsewhere")
                )
    return list(found.values())
