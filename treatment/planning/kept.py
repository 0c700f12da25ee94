"""Space that stays free in a room, and how far panels keep from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.geometry.boxes import Boxes, box_on, boxes_on, cut_by, meets
from treatment.materials.build import PanelBuild
from treatment.planning.corners import corner_body
from treatment.planning.members import grid_of
from treatment.planning.plan import Placement
from treatment.planning.walkways import faces, narrows
from treatment.scene.model import Scene

#: Space kept around a loudspeaker or a head (m).
SPEAKER_SPACE, HEAD_SPACE = 0.25, 0.30
#: Free strip round what is in a surface (m). Common practice.
EDGE_MARGIN: Final = 0.05
#: Panels stay this far from a detector, m. Common practice; local rules may ask for more.
DETECTOR_SPACE: Final = 0.3
#: Insulation stays this far from a recessed lamp, m: 3 in. NEC 410.116.
LAMP_SPACE: Final = 0.0762
#: Least distance of a panel's body from the space kept free, by reason, m; else they may touch.
CLEAR_DISTANCE = MappingProxyType({"detector": DETECTOR_SPACE, "luminaire": LAMP_SPACE})


@dataclass(frozen=True, eq=False)
class Kept:
    """A volume in which nothing may stand.

    Parameters
    ----------
    name : str
        Of the keep-out, loudspeaker or seat.
    reason : str
        As of a keep-out; ``loudspeaker``, ``seat`` or ``panel`` for what stands in the room.
    box : Boxes
        One box.
    distance : float
        How far bodies keep from it, m.
    """

    name: str
    reason: str
    box: Boxes
    distance: float = 0.0


def kept_free(scene: Scene) -> tuple[Kept, ...]:
    """Volumes in which nothing may stand.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    tuple of Kept
        Keep-outs with the space in front of them, loudspeakers, heads.
    """
    found = []
    for k in scene.keep_outs:
        box = box_on(scene.surfaces[k.surface].polygon, k.rectangle, max(k.depth, 0.01))
        found.append(Kept(k.name, k.reason, box, CLEAR_DISTANCE.get(k.reason, 0.0)))
    cube = np.array([[-1.0], [1.0]])
    sounding = [(s.name, s.position) for s in scene.loudspeakers]
    sounding += [(s.name, s.position) for s in scene.subwoofers]
    for name, position in sounding:
        found.append(Kept(name, "loudspeaker", Boxes.between(position + SPEAKER_SPACE * cube)))
    for seat in scene.seats:
        reach = HEAD_SPACE + seat.spread
        found.append(Kept(seat.name, "seat", Boxes.between(seat.position + reach * cube)))
    return tuple(found)


def strip_round(reason: str) -> float:
    """Free strip round a keep-out on its own surface, m.

    Parameters
    ----------
    reason : str
        Of the keep-out.
    """
    return max(EDGE_MARGIN, CLEAR_DISTANCE.get(reason, 0.0))


def bodies_clear(
    scene: Scene,
    surface: int,
    table: Array,
    depth: float,
    kept: Sequence[Kept],
    hanging: Sequence[Placement] = (),
) -> NDArray[np.bool_]:
    """Tell which bodies on a surface stand in the air, clear of everything, and leave room to walk.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    depth : float
        From the surface to the face, m.
    kept : sequence of Kept
        From `kept_free`.
    hanging : sequence of Placement
        Panels that already hang.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    polygon = scene.surfaces[surface].polygon
    boxes = boxes_on(polygon, table, depth)
    triangles, _ = scene.enclosure.triangles
    bad = cut_by(polygon, table, depth, triangles)
    for distance in {k.distance for k in kept}:
        group = Boxes.joined([k.box for k in kept if k.distance == distance])
        bad |= meets(boxes, group, distance).any(axis=1)
    bodies = body_boxes(scene, hanging)
    bad |= meets(boxes, bodies).any(axis=1)
    across = [n for n, p in enumerate(hanging) if p.solid or faces(scene, surface, p.surface)]
    things = Boxes.joined([kept_things(kept), bodies.taken(np.array(across, dtype=np.intp))])
    bad |= narrows(scene, surface, table, depth, things)
    return ~bad


def body_boxes(scene: Scene, placements: Sequence[Placement]) -> Boxes:
    """Bodies of panels, their gaps included; of one across a corner the space behind it too.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    Boxes
        In their order.
    """
    groups: dict[tuple[int, float], list[int]] = {}
    parts, order = [], []
    for n, p in enumerate(placements):
        if p.corner is None:
            groups.setdefault((p.surface, reach_of(scene, p)), []).append(n)
        else:
            parts.append(corner_body(scene, p))
            order.append(n)
    # Alike panels of one surface are made together.
    for (surface, reach), group in groups.items():
        table = np.array([placements[n].rectangle.bounds for n in group])
        parts.append(boxes_on(scene.surfaces[surface].polygon, table, reach))
        order += group
    return Boxes.joined(parts).taken(np.argsort(np.array(order, dtype=np.intp)))


def depth_on(scene: Scene, surface: int, build: PanelBuild) -> float:
    """Depth that a build takes from the room on a surface.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.
    build : PanelBuild
        The panel.

    Returns
    -------
    float
        Body and gap, m; of a tile in a suspended ceiling the body alone, because its gap lies above.
    """
    return build.thickness if grid_of(scene, surface) is not None else build.depth


def reach_of(scene: Scene, placement: Placement) -> float:
    """How far a panel reaches from its surface into the room.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        The panel.

    Returns
    -------
    float
        Depth of a hanging panel, height of a standing one, m.
    """
    if placement.standing:
        return placement.build.outer_height
    return depth_on(scene, placement.surface, placement.build)


def kept_things(kept: Sequence[Kept]) -> Boxes:
    """What stands in the room beside its surfaces: loudspeakers and seats.

    Parameters
    ----------
    kept : sequence of Kept
        From `kept_free`.

    Returns
    -------
    Boxes
        One for each, in their order.
    """
    return Boxes.joined([k.box for k in kept if k.reason in ("loudspeaker", "seat")])
