"""Panels that stand on the floor: real solids of the room, and where they may stand.

A standing panel is a box like an obstacle of the scene: its sides are surfaces of the enclosure. So it stops
the image-source paths that it stands in, sends back paths of its own by what its sides are made of, and both
of its faces count in the reverberation. What bends round its edges is left out: sound whose wavelength is not
small against the panel passes it, so in the bass it shadows less than the rays say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.zones import seat_samples
from treatment.bands import Array
from treatment.geometry.boxes import Boxes, box_on, boxes_on, cut_by, meets
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.geometry.shapes import solid_box, subtract_contacts
from treatment.materials.build import PanelBuild
from treatment.planning.corners import corner_sides
from treatment.planning.kept import Kept, bodies_clear, body_boxes, kept_things
from treatment.planning.passable import cut_off
from treatment.planning.plan import Placement
from treatment.planning.sight import ClearSpace, clear_spaces, unhindered
from treatment.planning.walkways import SHOULDERS, STEP
from treatment.scene.model import Scene, Surface

#: Nothing stands nearer to a door or a passage than this (m): the width of a leaf. Common practice.
DOOR_SPACE: Final = 0.90
#: Feet are as deep as this share of the panel's height, and this high (m). Common practice.
FEET_SHARE: Final = 1.0 / 3.0
FEET_HEIGHT: Final = 0.06
#: Why most places are none.
IN_THE_WAY: Final = "it reaches into a surface, a panel, or space that is kept free"
#: The back and the front of a panel have a normal like this; what is less is an edge.
_FLAT: Final = 0.99
#: Openings one walks through.
WALKED: Final = ("door", "opening")


def furnished(scene: Scene, placements: Sequence[Placement]) -> Scene:
    """Put the standing panels, and those across corners, into the room as solids.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels; those that hang flat are left aside.

    Returns
    -------
    Scene
        The same when no panel is a solid. Else its first surfaces are those of the room, in their order,
        then the sides of such panels, named and owned like obstacles by the panels' ids.

    Raises
    ------
    GeometryError
        When a panel stands outside the room or hides a surface.
    """
    solid = [p for p in placements if p.solid]
    if not solid:
        return scene
    sides = [s for p in solid for s in (_sides(scene, p) if p.standing else corner_sides(scene, p))]
    made = [*scene.surfaces, *sides]
    polygons = [s.polygon for s in made]
    left = subtract_contacts(polygons, len(scene.surfaces))
    surfaces = tuple(
        replace(s, polygon=polygon) for s, polygon in zip(made, left, strict=True) if polygon is not None
    )
    return replace(scene, enclosure=Enclosure(tuple(s.polygon for s in surfaces)), surfaces=surfaces)


def _sides(scene: Scene, p: Placement) -> list[Surface]:
    """Sides of a standing panel."""
    low, size = _extent(scene, p)
    front = _front(scene, p)
    made = []
    for side in solid_box(low.tolist(), size.tolist()):
        plain = float(side.normal @ front) < _FLAT and p.build.back is not None
        made.append(Surface(p.id, side, p.build.back if plain else p.build.material, obstacle=p.id))  # type: ignore[arg-type]
    return made


def _extent(scene: Scene, p: Placement) -> tuple[Array, Array]:
    """Lowest corner and size of a standing panel in the room."""
    low, high = box_on(scene.surfaces[p.surface].polygon, p.rectangle, p.build.outer_height).bounds[0]
    return low, high - low


def _front(scene: Scene, p: Placement) -> Array:
    """Direction of the absorbing face: toward the middle of the seats."""
    low, size = _extent(scene, p)
    across = np.eye(3)[int(np.argmin(size[:2]))]
    seats = [s.position for s in scene.seats] or [*scene.hall]
    toward = np.mean(seats, axis=0) - low - size / 2.0
    return np.asarray(across if toward @ across >= 0.0 else -across)


def footprint(build: PanelBuild, centre: tuple[float, float], along_u: bool) -> Rectangle:
    """Ground that a standing panel covers.

    Parameters
    ----------
    build : PanelBuild
        The panel.
    centre : tuple of float
        In the floor's wall coordinates, m.
    along_u : bool
        Whether its width runs along u.

    Returns
    -------
    Rectangle
        Frame included, feet not.
    """
    size = (build.outer_width, build.thickness)
    width, depth = size if along_u else size[::-1]
    return Rectangle(centre[0] - width / 2.0, centre[1] - depth / 2.0, width, depth)


def feet_depth(build: PanelBuild) -> float:
    """How deep the feet of a standing panel are, front to back, so that it does not topple.

    Parameters
    ----------
    build : PanelBuild
        The panel.

    Returns
    -------
    float
        A third of its height (common practice), and no less than its thickness, m.
    """
    return max(build.thickness, FEET_SHARE * build.outer_height)


def feet_ground(rectangle: Rectangle, build: PanelBuild) -> Rectangle:
    """Ground that a standing panel covers with its feet, which stick out alike at the front and the back.

    Parameters
    ----------
    rectangle : Rectangle
        Ground under its body.
    build : PanelBuild
        The panel.

    Returns
    -------
    Rectangle
        In the same coordinates.
    """
    more = (feet_depth(build) - build.thickness) / 2.0
    along_u = abs(rectangle.width - build.outer_width) <= abs(rectangle.height - build.outer_width)
    du, dv = (0.0, more) if along_u else (more, 0.0)
    return Rectangle(
        rectangle.u - du, rectangle.v - dv, rectangle.width + 2.0 * du, rectangle.height + 2.0 * dv
    )


def can_stand(
    scene: Scene,
    floor: int,
    rectangle: Rectangle,
    build: PanelBuild,
    kept: Sequence[Kept],
    others: Sequence[Placement] = (),
    sight: Sequence[ClearSpace] | None = None,
) -> str:
    """Why a panel cannot stand at a place.

    Parameters
    ----------
    scene : Scene
        The room.
    floor : int
        Index of the floor.
    rectangle : Rectangle
        Ground that it covers, in the floor's wall coordinates.
    build : PanelBuild
        The panel.
    kept : sequence of Kept
        From `kept_free`.
    others : sequence of Placement
        Panels that hang or stand already.
    sight : sequence of ClearSpace, optional
        From `clear_spaces`, when it is at hand.

    Returns
    -------
    str
        In words; empty when it can.
    """
    polygon, table = scene.surfaces[floor].polygon, np.array([rectangle.bounds])
    height = build.outer_height
    body = box_on(polygon, rectangle, height)
    if not polygon.region.buffer(1e-6).contains(rectangle.shape()):
        return "it does not stand on the floor"
    if not bodies_clear(scene, floor, table, height, kept, others)[0]:
        return IN_THE_WAY
    ground = feet_ground(rectangle, build)
    feet, feet_table = box_on(polygon, ground, FEET_HEIGHT), np.array([ground.bounds])
    if not polygon.region.buffer(1e-6).contains(ground.shape()):
        return "its feet do not stand on the floor"
    # The space before a board or in a door's swing stays free down to the floor, wherever it begins.
    column = box_on(polygon, ground, height)
    swept = any(meets(column, k.box)[0, 0] for k in kept if k.reason in ("electrical", "door-swing"))
    if swept or not bodies_clear(scene, floor, feet_table, FEET_HEIGHT, kept, others)[0]:
        return "its feet reach into a surface, a panel, or space that is kept free"
    for o in scene.openings:
        door = o.material.open or o.material.category in WALKED
        before = box_on(scene.surfaces[o.surface].polygon, o.rectangle, DOOR_SPACE)
        if door and (meets(body, before)[0, 0] or meets(feet, before)[0, 0]):
            return f"it stands in front of '{o.name}'"
    if in_sight(scene, body):
        return "it stands between a loudspeaker, or the screen, and a seat"
    for space in clear_spaces(scene) if sight is None else sight:
        if not unhindered(polygon, table, height, [space])[0]:
            return space.words
    if _narrow(scene, rectangle, floor, height, kept, others):
        return "it makes a way too narrow"
    things = Boxes.joined([kept_things(kept), body_boxes(scene, others)]).bounds
    if cut_off(scene, _to_floor(scene, things), body.bounds):
        return "it closes a way"
    return ""


def _to_floor(scene: Scene, bounds: Array) -> Array:
    """Seats and loudspeakers down to the floor, but not what hangs above heads."""
    reached = bounds.copy()
    low = float(scene.hall[0, 2])
    reached[reached[:, 0, 2] < low + scene.walkways.height, 0, 2] = low
    return reached


def in_sight(scene: Scene, body: Boxes) -> bool:
    """Tell whether a body stands in the direct sound or between the seats and the screen.

    Parameters
    ----------
    scene : Scene
        The room.
    body : Boxes
        One box along the room's axes.

    Returns
    -------
    bool
        True when a line from any point of a head's area to a loudspeaker, or to the front wall between the
        outermost loudspeakers in front of the seats, passes through it.
    """
    if not scene.seats:
        return False
    seats = np.array([s.position for s in scene.seats])
    heads = seat_samples(seats, np.array([s.spread for s in scene.seats]))
    aims = [s.position for s in scene.loudspeakers]
    ahead = [a for a in aims if a[0] < seats[:, 0].min()]
    if ahead:
        left, right = min(a[1] for a in ahead), max(a[1] for a in ahead)
        level = float(np.mean([a[2] for a in ahead]))
        aims += [np.array([scene.hall[0, 0], y, level]) for y in np.linspace(left, right, 9)]
    if not aims:
        return False
    start = np.repeat(heads, len(aims), axis=0)
    end = np.tile(np.array(aims), (len(heads), 1))
    return bool(crossed(body.bounds[0], start, end).any())


def crossed(bounds: Array, start: Array, end: Array) -> NDArray[np.bool_]:
    """Tell which lines pass through a box along the room's axes.

    Parameters
    ----------
    bounds : numpy.ndarray
        Lowest and highest corner, shape (2, 3), m.
    start, end : numpy.ndarray
        Shape (k, 3), m.

    Returns
    -------
    numpy.ndarray
        Shape (k,), bool.
    """
    step = end - start
    step = np.where(np.abs(step) < 1e-12, 1e-12, step)
    first, second = (bounds[0] - start) / step, (bounds[1] - start) / step
    enter = np.minimum(first, second).max(axis=1)
    leave = np.maximum(first, second).min(axis=1)
    return np.asarray((enter < leave) & (leave > 0.0) & (enter < 1.0), dtype=bool)


def _narrow(
    scene: Scene,
    rectangle: Rectangle,
    floor: int,
    height: float,
    kept: Sequence[Kept],
    others: Sequence[Placement],
) -> bool:
    """Whether too little room is left to walk past any side of a standing panel."""
    ways = scene.walkways
    if not ways.width:
        return False
    low, high = box_on(scene.surfaces[floor].polygon, rectangle, height).bounds[0]
    things = Boxes.joined([kept_things(kept), body_boxes(scene, others)])
    triangles, _ = scene.enclosure.triangles
    for side in solid_box(low.tolist(), (high - low).tolist()):
        if abs(float(side.normal[2])) > 0.5:
            continue
        u0, v0, u1, v1 = side.bounds
        table = np.array([[u0, v0 + STEP, u1, min(v1, v0 + ways.height)]])

        def something(far: float, side: Polygon = side, table: Array = table) -> bool:
            solid = bool(cut_by(side, table, far, triangles)[0])
            return solid or bool(meets(boxes_on(side, table, far), things).any())

        if something(ways.width) and not something(SHOULDERS):
            return True
    return False
