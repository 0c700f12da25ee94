"""Whether panels that a person placed can hang, or stand, where they are.

What would be dangerous is an error: in front of an electrical board, or off the wall. What is only unwise
is a warning: in a door's swing, over a window, between two studs. What the planner would not do is a note.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely

from treatment.errors import Finding
from treatment.geometry.boxes import Boxes, cut_by, meets
from treatment.planning.corner_sites import across_corners
from treatment.planning.kept import Kept, body_boxes, kept_free, kept_things, reach_of
from treatment.planning.members import grid_of, tile_refusal
from treatment.planning.places import legal_region, stays
from treatment.planning.plan import Placement
from treatment.planning.sight import review_sight
from treatment.planning.standing import can_stand
from treatment.planning.walkways import faces, narrows
from treatment.planning.wishes import review_wishes
from treatment.scene.model import Scene
from treatment.units import format_length


def review_placements(scene: Scene, placements: Sequence[Placement]) -> tuple[Finding, ...]:
    """Review panels that were placed by hand or in another version of the room.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    tuple of Finding
        Errors and warnings, each with the panel's id in ``where``.
    """
    across, homeless = across_corners(scene, placements)
    found = list(across)
    placements = [p for p in placements if p.id not in homeless]
    kept = kept_free(scene)
    bodies = body_boxes(scene, placements)
    flat = [p for p in placements if p.corner is None]
    for n, p in enumerate(placements):
        if p.corner is not None:
            continue
        found += _alone(scene, p, bodies.taken(np.array([n])), kept)
        others = [q for q in placements if q is not p and (q.solid or faces(scene, p.surface, q.surface))]
        found += _way(scene, p, kept, others)
    met = meets(bodies, bodies)
    for (n, a), (m, b) in combinations(enumerate(placements), 2):
        same = a.surface == b.surface and a.corner is None and b.corner is None
        if a.rectangle.overlaps(b.rectangle, 1e-3) if same else met[n, m]:
            text = "two panels share the same place"
            found.append(Finding("panels-overlap", "error", f"{a.id}, {b.id}", text, "move one"))
    hung = [p for p in flat if not p.standing]
    return (*found, *review_sight(scene, hung), *review_wishes(scene, hung))


def _alone(scene: Scene, p: Placement, body: Boxes, kept: Sequence[Kept]) -> list[Finding]:
    """What one panel collides with."""
    surface = scene.surfaces[p.surface]
    shape = p.rectangle.shape()
    if not surface.polygon.region.buffer(1e-3, join_style="mitre").contains(shape):
        text = f"it does not lie on the surface '{surface.name}'"
        return [Finding("panel-off-surface", "error", p.id, text, "move it, or turn it")]
    table, (triangles, owner) = np.array([p.rectangle.bounds]), scene.enclosure.triangles
    reach = reach_of(scene, p)
    inside = cut_by(surface.polygon, table, reach, triangles)[0]
    for i in range(len(scene.surfaces)) if inside else ():
        if cut_by(surface.polygon, table, reach, triangles[owner == i])[0]:
            text = f"its body reaches into '{scene.surfaces[i].name}'"
            return [Finding("panel-through-surface", "error", p.id, text, "move it, or take a flatter build")]
    found = [*_kept(scene, p, body, kept)]
    for o in scene.openings:
        if o.surface == p.surface and shapely.intersection(o.rectangle.shape(), shape).area > 1e-4:
            text = f"it covers part of '{o.name}'"
            found.append(Finding("panel-over-opening", "warning", p.id, text, "can it still be opened?"))
    if p.standing:
        return found or _standing(scene, p, kept)
    found += _structure(scene, p)
    if not found and not legal_region(scene, p.surface).buffer(1e-3, join_style="mitre").contains(shape):
        text = "it hangs closer to an edge than the planner would put it"
        found.append(Finding("panel-near-edge", "note", p.id, text, "check that its fixings have room"))
    return found


def _standing(scene: Scene, p: Placement, kept: Sequence[Kept]) -> list[Finding]:
    """What a standing panel is in the way of."""
    why = can_stand(scene, p.surface, p.rectangle, p.build, kept)
    return [Finding("panel-in-the-way", "warning", p.id, why, "stand it elsewhere")] if why else []


def _kept(scene: Scene, p: Placement, body: Boxes, kept: Sequence[Kept]) -> list[Finding]:
    """Space that must stay free and does not."""
    found = []
    for k in kept:
        if k.reason == "electrical" and meets(body, k.box)[0, 0]:
            text = f"it stands in the space that '{k.name}' needs: that space stays free, without exception"
            found.append(Finding("panel-in-electrical-space", "error", p.id, text, "hang it elsewhere"))
        elif k.reason in ("loudspeaker", "seat"):
            continue
        elif meets(body, k.box)[0, 0]:
            text = f"it stands in the space kept free for '{k.name}' ({k.reason})"
            hint = "make sure that nothing suffers"
            found.append(Finding("panel-in-kept-space", "warning", p.id, text, hint))
        elif meets(body, k.box, k.distance)[0, 0]:
            least = format_length(k.distance, scene.units)
            text = f"it comes nearer than {least} to '{k.name}' ({k.reason})"
            found.append(Finding("panel-near-kept-space", "warning", p.id, text, "local rules rule; move it"))
    return found


def _structure(scene: Scene, p: Placement) -> list[Finding]:
    """What cannot carry a panel."""
    grid = grid_of(scene, p.surface)
    reason = (tile_refusal(grid, p.build) if grid is not None else "") or stays(scene, p)
    if not reason:
        return []
    hint = "move it, or put a batten across" if grid is None else "take a build that fills whole tiles"
    return [Finding("panel-without-support", "warning", p.id, reason, hint)]


def _way(scene: Scene, p: Placement, kept: Sequence[Kept], across: Sequence[Placement]) -> list[Finding]:
    """Ways that a panel makes too narrow."""
    things = Boxes.joined([kept_things(kept), body_boxes(scene, across)])
    table = np.array([p.rectangle.bounds])
    if p.standing or not narrows(scene, p.surface, table, reach_of(scene, p), things)[0]:
        return []
    least = format_length(scene.walkways.width, scene.units)
    text = f"it leaves less than {least} to walk through in front of it"
    return [Finding("panel-narrows-way", "warning", p.id, text, "a flatter build, or another place")]
