"""Why no panel hangs at a point of a surface, in words, and what works there instead."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np
import shapely

from treatment.bands import Array
from treatment.geometry.boxes import boxes_on, cut_by, meets
from treatment.geometry.polygon import Rectangle
from treatment.planning.candidates import NOT_FOR_PANELS, may_hang
from treatment.planning.kept import EDGE_MARGIN, Kept, depth_on, kept_free, kept_things, strip_round
from treatment.planning.members import framing_of, grid_of, snapped, tile_refusal
from treatment.planning.walkways import narrows
from treatment.scene.model import Scene
from treatment.units import format_length


@dataclass(frozen=True)
class Hindrance:
    """What keeps panels away from a point.

    Parameters
    ----------
    by : str
        What it is.
    advice : str
        What works instead, before anything is computed.
    rectangle : Rectangle or None
        Where nothing may hang, in the surface's wall coordinates; None when that is no rectangle of it.
    depth : float
        How far it must stay free into the room, m.
    opening : int or None
        Index of the opening that it is.
    """

    by: str
    advice: str
    rectangle: Rectangle | None = None
    depth: float = 0.0
    opening: int | None = None


def hindrance_at(scene: Scene, surface: int, wall: Array) -> Hindrance | None:
    """Find what keeps panels away from a point.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.
    wall : numpy.ndarray
        The point, shape (2,), m.

    Returns
    -------
    Hindrance or None
        None when a panel could hang there: then money or other panels decide.
    """

    def on(rectangle: Rectangle, margin: float) -> bool:
        low_u, low_v, high_u, high_v = rectangle.grown(margin).bounds
        return bool(low_u <= wall[0] <= high_u and low_v <= wall[1] <= high_v)

    for k in scene.keep_outs:
        if k.surface == surface and on(k.rectangle, strip_round(k.reason)):
            near = "" if on(k.rectangle, 0.0) else "the strip kept round "
            return Hindrance(f"{near}{k.title}", "nothing may hang here", k.rectangle, k.depth)
    for i, o in enumerate(scene.openings):
        if o.surface == surface and on(o.rectangle, EDGE_MARGIN):
            return Hindrance(f"{o.name} (opening)", "no panel can hang here", o.rectangle, 0.0, i)
    s = scene.surfaces[surface]
    if s.obstacle:
        return Hindrance(f"{s.name} (obstacle)", "wrap it or move the seat")
    if s.kind == "floor":
        return Hindrance("the floor", "a thick rug on an underlay between loudspeaker and seat")
    if s.material.category in NOT_FOR_PANELS:
        return Hindrance(f"{s.name} ({s.material.category})", "no panel can hang here")
    return _no_room(scene, surface, wall) or _no_support(scene, surface)


def _no_room(scene: Scene, surface: int, wall: Array) -> Hindrance | None:
    """What stands where the body of even the flattest panel would be."""
    deep = [depth_on(scene, surface, b) for b in scene.builds if may_hang(scene, surface, b)]
    if not deep:
        return None
    depth, polygon = min(deep), scene.surfaces[surface].polygon
    if not polygon.region.buffer(-EDGE_MARGIN).contains(shapely.Point(wall)):
        return None  # at an edge the panel ends beside the point
    # Every panel over the point has this piece of body there.
    spot = np.array([[*(wall - 0.02), *(wall + 0.02)]])
    body, kept = boxes_on(polygon, spot, depth), kept_free(scene)
    for k in kept:
        if meets(body, k.box, k.distance)[0, 0]:
            if k.reason in ("loudspeaker", "seat"):
                return Hindrance(f"the space kept round '{k.name}'", _aside(scene, surface, k, depth))
            return Hindrance(f"the space in front of {k.name}", "nothing may hang here")
    triangles, owner = scene.enclosure.triangles
    if cut_by(polygon, spot, depth, triangles)[0]:
        inside = next(
            (
                s.name
                for i, s in enumerate(scene.surfaces)
                if cut_by(polygon, spot, depth, triangles[owner == i])[0]
            ),
            "",
        )
        return Hindrance(f"{inside} (in front of it)", "a flatter panel, or move what stands there")
    if narrows(scene, surface, spot, depth, kept_things(kept))[0]:
        least = format_length(scene.walkways.width, scene.units)
        by = f"the way past it (less than {least} would be left)"
        return Hindrance(by, "a flatter panel, or move the seat")
    return None


def _aside(scene: Scene, surface: int, kept: Kept, depth: float) -> str:
    """How far a loudspeaker or a seat must go from a surface so that a panel fits behind it."""
    polygon = scene.surfaces[surface].polygon
    corners = np.array([[x, y, z] for x, y, z in product(*kept.box.bounds[0].T)])
    # In steps that a person moves a stand by, and never less than it takes.
    short = max(0.05, depth - float(polygon.height_above(corners).min()))
    far = format_length(0.05 * np.ceil(short / 0.05 - 1e-9), scene.units)
    if kept.reason == "loudspeaker" and polygon.normal[2] < -0.99:
        return f"no panel fits above '{kept.name}': build it into the ceiling, or hang it {far} lower"
    return f"no panel fits between it and '{kept.name}': move that {far} away from there"


def _no_support(scene: Scene, surface: int) -> Hindrance | None:
    """What no build that is known can be fixed to."""
    grid, framing = grid_of(scene, surface), framing_of(scene, surface)
    suited = [b for b in scene.builds if scene.surfaces[surface].kind in b.on]
    if grid is not None and suited and all(tile_refusal(grid, b) for b in suited):
        why = tile_refusal(grid, suited[0], scene.units)
        by = f"the suspended ceiling ({suited[0].id}: {why})"
        return Hindrance(by, "give a build that fills whole tiles")
    if framing is not None and suited:
        bounds = scene.surfaces[surface].polygon.bounds
        low, high = bounds[framing.axis], bounds[framing.axis + 2]
        sizes = {x for b in suited for x in (b.outer_width, b.outer_height)}
        if not any(len(snapped(framing, low, high - x, x)) for x in sizes):
            apart = format_length(framing.spacing, scene.units)
            return Hindrance(
                f"studs or joists {apart} apart: no build reaches two", "screw battens across and give those"
            )
    return None
