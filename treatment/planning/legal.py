"""Whether panels that a person placed can hang where they are.

What would be dangerous is an error: in front of an electrical board, or off the wall. What is only unwise
is a warning: in a door's swing, over a window, closer to an edge than the planner would go.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
import shapely

from treatment.bands import Array
from treatment.errors import Finding
from treatment.planning.candidates import body_bounds, legal_region
from treatment.planning.plan import Placement
from treatment.planning.sight import review_sight
from treatment.planning.wishes import review_wishes
from treatment.scene.model import Scene


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
    found = []
    bodies = [body_bounds(scene.surfaces[p.surface].polygon, p.rectangle, p.build.depth) for p in placements]
    for p, body in zip(placements, bodies, strict=True):
        found += _alone(scene, p, body)
    for (a, body_a), (b, body_b) in combinations(zip(placements, bodies, strict=True), 2):
        same = a.surface == b.surface
        if a.rectangle.overlaps(b.rectangle, 1e-3) if same else _share(body_a, body_b):
            found.append(
                Finding(
                    "panels-overlap",
                    "error",
                    f"{a.id}, {b.id}",
                    "two panels share the same place",
                    "move one",
                )
            )
    return (*found, *review_sight(scene, placements), *review_wishes(scene, placements))


def _alone(scene: Scene, p: Placement, body: Array) -> list[Finding]:
    """What one panel collides with."""
    surface = scene.surfaces[p.surface]
    shape = p.rectangle.shape()
    if not surface.polygon.region.buffer(1e-3, join_style="mitre").contains(shape):
        text = f"it does not lie on the surface '{surface.name}'"
        return [Finding("panel-off-surface", "error", p.id, text, "move it, or turn it")]
    found = []
    for k in scene.keep_outs:
        space = body_bounds(scene.surfaces[k.surface].polygon, k.rectangle, max(k.depth, 0.01))
        if not _share(body, space):
            continue
        if k.reason == "electrical":
            text = f"it stands in the space that '{k.name}' needs: that space stays free, without exception"
            found.append(Finding("panel-in-electrical-space", "error", p.id, text, "hang it elsewhere"))
        else:
            text = f"it stands in the space kept free for '{k.name}' ({k.reason})"
            found.append(
                Finding("panel-in-kept-space", "warning", p.id, text, "make sure that nothing suffers")
            )
    for o in scene.openings:
        if o.surface == p.surface and shapely.intersection(o.rectangle.shape(), shape).area > 1e-4:
            text = f"it covers part of '{o.name}'"
            found.append(Finding("panel-over-opening", "warning", p.id, text, "can it still be opened?"))
    if not found and not legal_region(scene, p.surface).buffer(1e-3, join_style="mitre").contains(shape):
        text = "it hangs closer to an edge than the planner would put it"
        found.append(Finding("panel-near-edge", "note", p.id, text, "check that its fixings have room"))
    return found


def _share(a: Array, b: Array, slack: float = 1e-3) -> bool:
    """Whether two boxes in the room share space."""
    return bool(np.all(np.minimum(a[1], b[1]) - np.maximum(a[0], b[0]) > slack))
