"""Whether a panel may stand across a corner, and where one may."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from treatment.errors import Finding, GeometryError
from treatment.geometry.boxes import Boxes, box_on, boxes_on, cut_by, meets
from treatment.geometry.corners import Corner, back_plane
from treatment.materials.build import PanelBuild
from treatment.planning.candidates import NOT_FOR_PANELS
from treatment.planning.corners import (
    angle_refusal,
    corner_body,
    corner_frame,
    corner_of,
    corner_placement,
    corners_of,
    strips,
)
from treatment.planning.kept import EDGE_MARGIN, Kept, body_boxes, kept_free, kept_things
from treatment.planning.places import FLOOR_MARGIN, STEP_U, TAPE_STEP
from treatment.planning.plan import Placement
from treatment.planning.sight import ClearSpace, clear_spaces, unhindered
from treatment.planning.standing import DOOR_SPACE, WALKED
from treatment.planning.walkways import SHOULDERS, STEP
from treatment.planning.wishes import kept_zones, outside_kept_zones
from treatment.scene.model import Scene
from treatment.units import format_length

#: Off the surface by less than this is on it (m).
_SLACK: Final = 1e-3


@dataclass(frozen=True, eq=False)
class Surroundings:
    """What a panel across a corner must leave alone, worked out once for many places.

    Parameters
    ----------
    kept : tuple of Kept
        From `kept_free`.
    spaces : tuple of ClearSpace
        From `clear_spaces`.
    zones : tuple of (int, shapely geometry)
        From `kept_zones`.
    corners : tuple of Corner
        Of the room.
    """

    kept: tuple[Kept, ...]
    spaces: tuple[ClearSpace, ...]
    zones: tuple[tuple[int, Any], ...]
    corners: tuple[Corner, ...]


def surroundings_of(scene: Scene) -> Surroundings:
    """Work out what a panel across a corner must leave alone.

    Parameters
    ----------
    scene : Scene
        The room, without panels.
    """
    return Surroundings(kept_free(scene), clear_spaces(scene), kept_zones(scene), corners_of(scene))


def review_corner(scene: Scene, p: Placement, around: Surroundings) -> list[Finding]:
    """Review a panel across a corner.

    Parameters
    ----------
    scene : Scene
        The room.
    p : Placement
        With a second wall.
    around : Surroundings
        Of the room.

    Returns
    -------
    list of Finding
        Errors and warnings, other panels aside.
    """
    try:
        off = _off_walls(scene, p, around)
    except GeometryError as error:
        off = error.message
    if off:
        return [Finding("panel-off-surface", "error", p.id, off, "name two walls that meet, or move it")]
    plane, table, depth = corner_frame(scene, p)
    triangles, owner = scene.enclosure.triangles
    free = ~np.isin(owner, _walls(p))
    if cut_by(plane, table, depth, triangles[free])[0]:
        found = [i for i in np.unique(owner[free]) if cut_by(plane, table, depth, triangles[owner == i])[0]]
        text = f"its body reaches into '{scene.surfaces[int(found[0])].name}'"
        return [Finding("panel-through-surface", "error", p.id, text, "move it, or take a smaller build")]
    return [
        *_in_front(scene, p, around),
        *_hindering(scene, p, around),
        *_in_the_way(scene, p, around),
    ]


def _walls(p: Placement) -> list[int]:
    return [p.surface, p.surface if p.corner is None else p.corner]


def _off_walls(scene: Scene, p: Placement, around: Surroundings) -> str:
    """Why a panel does not stand across a corner of the room at all."""
    corner, names = corner_of(scene, p), [scene.surfaces[i].name for i in _walls(p)]
    # Anywhere else than at a corner of the room two planes meet behind walls, or in the air.
    there = [
        c
        for c in around.corners
        if set(c.walls) == set(corner.walls) and np.hypot(*(c.foot - corner.foot)[:2]) < 5.0 * _SLACK
    ]
    if not there:
        return f"'{names[0]}' and '{names[1]}' do not meet in an inner corner"
    if refused := angle_refusal(there[0]):
        return refused
    pieces = strips(scene, p)
    if max(abs(a - b) for a, b in zip(p.rectangle.bounds, pieces[0][1].bounds, strict=True)) > 5.0 * _SLACK:
        return f"its place on '{names[0]}' is not what this build takes of it in the corner"
    for wall, strip in pieces:
        region = scene.surfaces[wall].polygon.region.buffer(_SLACK, join_style="mitre")
        if not region.contains(strip.shape()):
            return f"'{scene.surfaces[wall].name}' does not reach over its whole back"
        if scene.surfaces[wall].material.category in NOT_FOR_PANELS:
            return f"'{scene.surfaces[wall].name}' carries no panel"
    return ""


def _in_front(scene: Scene, p: Placement, around: Surroundings) -> list[Finding]:
    """Openings that it covers, boards and detectors that it comes too near to."""
    body, found = corner_body(scene, p), []
    for o in scene.openings:
        for wall, strip in strips(scene, p):
            near = o.surface == wall and strip.grown(EDGE_MARGIN - _SLACK).overlaps(o.rectangle)
            if near and strip.overlaps(o.rectangle, _SLACK):
                text = f"it covers part of '{o.name}'"
                found.append(Finding("panel-over-opening", "error", p.id, text, "choose another corner"))
            elif near:
                text = f"it comes nearer than {format_length(EDGE_MARGIN, scene.units)} to '{o.name}'"
                found.append(Finding("panel-near-edge", "note", p.id, text, "can it still be opened?"))
    for k in around.kept:
        if not meets(body, k.box, k.distance)[0, 0]:
            continue
        if k.reason == "electrical":
            text = f"it stands in the space that '{k.name}' needs: that space stays free, without exception"
            found.append(Finding("panel-in-electrical-space", "error", p.id, text, "choose another corner"))
        elif k.reason in ("loudspeaker", "seat"):
            text = f"it comes too near to '{k.name}'"
            found.append(Finding("panel-in-the-way", "warning", p.id, text, "choose another corner"))
        else:
            text = f"it stands in or too near to the space kept free for '{k.name}' ({k.reason})"
            found.append(Finding("panel-in-kept-space", "warning", p.id, text, "make sure nothing suffers"))
    return found


def _hindering(scene: Scene, p: Placement, around: Surroundings) -> list[Finding]:
    """Sight, direct sound and side reflections that it is in the way of."""
    plane, table, depth = corner_frame(scene, p)
    found: dict[str, Finding] = {}
    for space in around.spaces:
        if not unhindered(plane, table, depth, (space,))[0]:
            found.setdefault(
                space.code, Finding(space.code, "warning", p.id, space.words, "choose another corner")
            )
    pieces = strips(scene, p)
    if not all(outside_kept_zones(w, np.array([r.bounds]), around.zones)[0] for w, r in pieces):
        text = "it covers a side reflection that you wish to keep (keep_side_reflections)"
        code = "panel-over-kept-reflection"
        found[code] = Finding(code, "warning", p.id, text, "choose another corner")
    return list(found.values())


def _in_the_way(scene: Scene, p: Placement, around: Surroundings) -> list[Finding]:
    """Doors that it stands before, and ways that it makes too narrow."""
    body, found = corner_body(scene, p), []
    for o in scene.openings:
        door = o.material.open or o.material.category in WALKED
        if door and meets(body, box_on(scene.surfaces[o.surface].polygon, o.rectangle, DOOR_SPACE))[0, 0]:
            text = f"it stands in front of '{o.name}'"
            found.append(Finding("panel-in-the-way", "warning", p.id, text, "choose another corner"))
    if _narrows(scene, p, around.kept):
        least = format_length(scene.walkways.width, scene.units)
        text = f"it leaves less than {least} to walk past it"
        found.append(Finding("panel-narrows-way", "warning", p.id, text, "choose another corner"))
    return found


def _narrows(scene: Scene, p: Placement, kept: Sequence[Kept]) -> bool:
    """Whether something stands nearer to its face than people need to walk, where they could without it.

    The way runs round the corner, past the line between the ends of the legs.
    """
    ways = scene.walkways
    plane, table, depth = corner_frame(scene, p)
    floor = float(scene.hall[0, 2]) - float(plane.origin[2])
    if not ways.width or floor + ways.height <= 0.0:
        return False
    column = np.array([[table[0, 0], floor + STEP, table[0, 2], floor + ways.height]])
    things = kept_things(kept)
    bounds = things.bounds.copy()
    bounds[bounds[:, 0, 2] < float(scene.hall[0, 2]) + ways.height, 0, 2] = float(scene.hall[0, 2])
    things = Boxes.between(bounds)
    triangles, owner = scene.enclosure.triangles
    triangles = triangles[~np.isin(owner, _walls(p))]

    def something(out: float, far: float) -> bool:
        boxes = boxes_on(plane, column, far, out)
        return bool(cut_by(plane, column, far, triangles, out)[0] or meets(boxes, things).any())

    back = depth - p.build.thickness
    return something(depth, ways.width) and not something(back, SHOULDERS)


def legal_bottoms(
    scene: Scene,
    corner: Corner,
    build: PanelBuild,
    around: Surroundings,
    others: Sequence[Placement] = (),
) -> tuple[float, ...]:
    """Heights at which a panel may stand across a corner.

    Parameters
    ----------
    scene : Scene
        The room.
    corner : Corner
        From `corners_of`.
    build : PanelBuild
        The panel.
    around : Surroundings
        Of the room.
    others : sequence of Placement
        Panels that are there already.

    Returns
    -------
    tuple of float
        Of its lower edge above the corner's foot, m, ascending: on the floor, in steps of 0.15 m from
        `FLOOR_MARGIN` on, and one above the other. None that a review would say anything about.
    """
    if "corner" not in build.on or angle_refusal(corner):
        return ()
    size, room = (build.outer_width, build.outer_height), corner.height - build.outer_height
    if room < -1e-9:
        return ()
    atop = np.ceil(size[1] / TAPE_STEP - 1e-9) * TAPE_STEP
    steps = [0.0, *np.arange(FLOOR_MARGIN, room + 1e-9, STEP_U), *np.arange(atop, room + 1e-9, atop)]
    bottoms = np.unique(np.round(steps, 4))
    plane = back_plane(corner, size[0], 0.0, size[1])
    table = np.column_stack(
        [np.zeros(len(bottoms)), bottoms, np.full(len(bottoms), size[0]), bottoms + size[1]]
    )
    depth = corner.setback(size[0]) + build.thickness
    free = unhindered(plane, table, depth, around.spaces)
    free &= ~meets(boxes_on(plane, table, depth), body_boxes(scene, others)).any(axis=1)
    # Sight and direct sound are seen to, for all heights at once.
    around = replace(around, spaces=())
    found = []
    for bottom in bottoms[free].tolist():
        if not review_corner(scene, corner_placement(scene, corner, build, bottom, ""), around):
            found.append(bottom)
    return tuple(found)


def across_corners(scene: Scene, placements: Sequence[Placement]) -> tuple[list[Finding], set[str]]:
    """Review all panels across corners.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels.

    Returns
    -------
    findings : list of Finding
        Other panels aside.
    homeless : set of str
        Ids of those whose two walls make no corner: they have no body.
    """
    mine = [p for p in placements if p.corner is not None]
    if not mine:
        return [], set()
    around = surroundings_of(scene)
    found = [f for p in mine for f in review_corner(scene, p, around)]
    homeless = set()
    for p in mine:
        try:
            corner_of(scene, p)
        except GeometryError:
            homeless.add(p.id)
    return found, homeless
