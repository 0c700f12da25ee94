"""The outline of what was clicked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from treatment.bands import Array
from treatment.present.native.reading import arrival_of
from treatment.present.native.zones import zone_band, zone_faces

if TYPE_CHECKING:
    from treatment.present.native.desk import Desk


def highlight_of(desk: Desk) -> tuple[Array, ...]:
    """Outline what was clicked.

    Parameters
    ----------
    desk : Desk
        Its state says what.

    Returns
    -------
    tuple of numpy.ndarray
        Closed lines, each (k, 3), m; a path is open. Empty where nothing is picked, or is not there now.
    """
    if len(desk.state.picked) != 2:
        return ()
    kind, name = desk.state.picked
    if kind == "path":
        now = desk.now or desk.before
        index = arrival_of(now, name) if now else None
        if now is None or index is None:
            return ()
        a = now.arrivals
        bounces = a.points[index][: int(a.order[index])]
        ends = desk.scene.loudspeakers[int(a.source[index])], desk.scene.seats[int(a.seat[index])]
        return (np.vstack([ends[0].position, *bounces, ends[1].position]),)
    if kind == "zone":
        held = [desk.zones[int(i)] for i in name.split(",")]
        return tuple(
            np.vstack([r, r[:1]])
            for f in zone_faces(desk.scene, held, zone_band(desk.state), ("zone",))
            for r in f.rings
        )
    found = [f for f in desk.shapes.faces if f.group == kind and f.name == name and desk.shown(f)]
    return tuple(np.vstack([r, r[:1]]) for f in found for r in f.rings)
