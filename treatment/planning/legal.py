"""Whether panels that a person placed can hang, or stand, where they are.

What would be dangerous is an error: in front of an electrical board, or off the wall. What is only unwise
is a warning: in a door's swing, over a window, between two studs. What the planner would not do is a note.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations
from typing import Any

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
    around = _Around(scene, placements, kept, bodies)
    for n, p in enumerate(placements):
        if p.corner is None:
            found += [*_alone(scene, p, n, around), *_way(scene, p, n, around)]
    met = meets(bodies, bodies)
    for (n, a), (m, b) in combinations(enumerate(placements), 2):
        same = a.surface == b.surface and a.corner is None and b.corner is None
        if a.rectangle.overlaps(b.rectangle, 1e-3) if same else met[n, m]:
            text = "two panels share the same place"
            found.append(Finding("panels-overlap", "error", f"{a.id}, {b.id}", text, "move one"))
    hung = [p for p in flat if not p.standing]
    return (*found, *review_sight(scene, hung), *review_wishes(scene, hung))


class _Around:
    """What lies round each panel, looked at for all panels of one depth on one surface together."""

    def __init__(
        self, scene: Scene, placements: Sequence[Placement], kept: Sequence[Kept], bodies: Boxes
    ) -> None:
        self.kept, everything = kept, Boxes.joined([k.box for k in kept])
        #: Whether each body stands in each space that stays free, and whether it comes too near to it.
        self.inside = self.near = meets(bodies, everything)
        for distance in {k.distance for k in kept} - {0.0}:
            far = np.array([k.distance == distance for k in kept])
            self.near = np.where(far, meets(bodies, everything, distance), self.near)
        self._regions: dict[tuple[int, str], Any] = {}
        self.cut, self.narrow = np.zeros((2, len(placements)), dtype=bool)
        triangles, _ = scene.enclosure.triangles
        groups: dict[tuple[int, float], list[int]] = {}
        for n, p in enumerate(placements):
            if p.corner is None:
                groups.setdefault((p.surface, reach_of(scene, p)), []).append(n)
        for (surface, reach), group in groups.items():
            table = np.array([placements[n].rectangle.bounds for n in group])
            self.cut[group] = cut_by(scene.surfaces[surface].polygon, table, reach, triangles)
            # A panel does not face its own surface, and no way is asked for behind a standing one.
            others = [n for n, q in enumerate(placements) if q.solid or faces(scene, surface, q.surface)]
            things = Boxes.joined([kept_things(kept), bodies.taken(np.array(others, dtype=np.intp))])
            self.narrow[group] = narrows(scene, surface, table, reach, things)

    def whole(self, scene: Scene, surface: int) -> Any:
        """A surface and a hair round it."""
        return self._region("whole", surface, lambda: scene.surfaces[surface].polygon.region)

    def legal(self, scene: Scene, surface: int) -> Any:
        """Where a panel may hang on a surface, and a hair round it."""
        return self._region("legal", surface, lambda: legal_region(scene, surface))

    def _region(self, kind: str, surface: int, make: Callable[[], Any]) -> Any:
        if (surface, kind) not in self._regions:
            self._regions[surface, kind] = make().buffer(1e-3, join_style="mitre")
        return self._regions[surface, kind]


def _alone(scene: Scene, p: Placement, n: int, around: _Around) -> list[Finding]:
    """What one panel, the nth, collides with."""
    surface = scene.surfaces[p.surface]
    shape = p.rectangle.shape()
    if not around.whole(scene, p.surface).contains(shape):
        text = f"it does not lie on the surface '{surface.name}'"
        open_ = [m.name for m in scene.mouths_in(p.surface) if p.rectangle.overlaps(m.rectangle, 1e-3)]
        if open_:
            text = f"it reaches over the mouth of '{open_[0]}', where '{surface.name}' is open"
        return [Finding("panel-off-surface", "error", p.id, text, "move it, or turn it")]
    table, (triangles, owner) = np.array([p.rectangle.bounds]), scene.enclosure.triangles
    reach = reach_of(scene, p)
    for i in range(len(scene.surfaces)) if around.cut[n] else ():
        if cut_by(surface.polygon, table, reach, triangles[owner == i])[0]:
            text = f"its body reaches into '{scene.surfaces[i].name}'"
            return [Finding("panel-through-surface", "error", p.id, text, "move it, or take a flatter build")]
    found = [*_kept(scene, p, n, around)]
    for o in scene.openings:
        if o.surface == p.surface and shapely.intersection(o.rectangle.shape(), shape).area > 1e-4:
            text = f"it covers part of '{o.name}'"
            found.append(Finding("panel-over-opening", "warning", p.id, text, "can it still be opened?"))
    if p.standing:
        return found or _standing(scene, p, around.kept)
    found += _structure(scene, p)
    if not found and not around.legal(scene, p.surface).contains(shape):
        text = "it hangs closer to an edge than the planner would put it"
        found.append(Finding("panel-near-edge", "note", p.id, text, "check that its fixings have room"))
    return found


def _standing(scene: Scene, p: Placement, kept: Sequence[Kept]) -> list[Finding]:
    """What a standing panel is in the way of."""
    why = can_stand(scene, p.surface, p.rectangle, p.build, kept)
    return [Finding("panel-in-the-way", "warning", p.id, why, "stand it elsewhere")] if why else []


def _kept(scene: Scene, p: Placement, n: int, around: _Around) -> list[Finding]:
    """Space that must stay free and does not."""
    found = []
    for k, inside, near in zip(around.kept, around.inside[n], around.near[n], strict=True):
        if k.reason == "electrical" and inside:
            text = f"it stands in the space that '{k.name}' needs: that space stays free, without exception"
            found.append(Finding("panel-in-electrical-space", "error", p.id, text, "hang it elsewhere"))
        elif k.reason in ("loudspeaker", "seat"):
            continue
        elif inside:
            text = f"it stands in the space kept free for '{k.name}' ({k.reason})"
            hint = "make sure that nothing suffers"
            found.append(Finding("panel-in-kept-space", "warning", p.id, text, hint))
        elif near:
            least = format_length(k.distance, scene.units)
            text = f"it comes nearer than {least} to '{k.name}' ({k.reason})"
            found.append(Finding("panel-near-kept-space", "warning", p.id, text, "local rules rule; move it"))
    return found


def _structure(scene: Scene, p: Placement) -> list[Finding]:
    """What cannot carry a panel."""
    grid = grid_of(scene, p.surface)
    reason = (tile_refusal(grid, p.build, scene.units) if grid is not None else "") or stays(scene, p)
    if not reason:
        return []
    hint = "move it, or put a batten across" if grid is None else "take a build that fills whole tiles"
    return [Finding("panel-without-support", "warning", p.id, reason, hint)]


def _way(scene: Scene, p: Placement, n: int, around: _Around) -> list[Finding]:
    """Ways that a panel, the nth, makes too narrow."""
    if p.standing or not around.narrow[n]:
        return []
    least = format_length(scene.walkways.width, scene.units)
    text = f"it leaves less than {least} to walk through in front of it"
    return [Finding("panel-narrows-way", "warning", p.id, text, "a flatter build, or another place")]
