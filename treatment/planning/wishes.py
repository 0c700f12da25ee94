"""First reflections from the side that shall stay, where the scene wishes so: not treated, not hung over.

A reflection is kept when its last bounce is off a side wall and it reaches the seat from the side. A *side
wall* is one whose normal lies nearer to left and right than to front and back.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely
from numpy.typing import NDArray

from treatment.acoustics.bounces import bounces_of
from treatment.acoustics.directions import arrivals_from
from treatment.acoustics.image_sources import Paths
from treatment.acoustics.zones import seat_samples
from treatment.bands import Array
from treatment.errors import Finding
from treatment.planning.plan import Placement
from treatment.planning.seen import seen_paths
from treatment.scene.model import Scene

#: Sine of the azimuth from which on a reflection counts as lateral: 30 degrees off the median plane.
LATERAL: Final = 0.5
#: Highest elevation of a lateral reflection, degrees.
LATERAL_UP: Final = 30.0
#: Panels stay this far (m) off where kept reflections land: about half the radius of the first Fresnel zone
#: at 1 kHz between a loudspeaker and a seat some metres from the wall. This project's choice.
MARGIN: Final = 0.30


def is_lateral(order: NDArray[np.intp], direction_deg: Array) -> NDArray[np.bool_]:
    """Tell which reflections reach a seat from the side.

    Parameters
    ----------
    order : numpy.ndarray
        Number of reflections, shape (n,).
    direction_deg : numpy.ndarray
        Azimuth and elevation at the seat, shape (n, 2), degrees.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    side = np.abs(np.sin(np.radians(direction_deg[:, 0]))) >= LATERAL
    return np.asarray((order > 0) & side & (np.abs(direction_deg[:, 1]) < LATERAL_UP), dtype=bool)


def side_walls(scene: Scene) -> NDArray[np.bool_]:
    """Tell which surfaces are side walls.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    numpy.ndarray
        Shape (surfaces,), bool.
    """
    normals = scene.enclosure.normals
    wall = np.array([s.kind == "wall" and not s.obstacle for s in scene.surfaces], dtype=bool)
    return np.asarray(wall & (np.abs(normals[:, 1]) > np.abs(normals[:, 0])), dtype=bool)


def kept_paths(scene: Scene, paths: Paths, receivers: Array) -> NDArray[np.bool_]:
    """Tell which paths shall stay as they are.

    Parameters
    ----------
    scene : Scene
        The room.
    paths : Paths
        From its loudspeakers.
    receivers : numpy.ndarray
        Where they end, shape (r, 3), m.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool; all false where the scene does not wish so.
    """
    if not scene.keep_side_reflections or len(paths) == 0:
        return np.zeros(len(paths), dtype=bool)
    sources = np.array([s.position for s in scene.loudspeakers]).reshape(-1, 3)
    lateral = is_lateral(paths.order, arrivals_from(paths, sources, receivers))
    last = paths.surfaces[np.arange(len(paths)), np.maximum(paths.order - 1, 0)]
    return np.asarray(lateral & side_walls(scene)[last], dtype=bool)


def kept_zones(scene: Scene) -> tuple[tuple[int, Any], ...]:
    """Where first reflections land that shall stay, with the margin round them.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    tuple of (int, shapely geometry)
        Surface and area in its wall coordinates, one for each loudspeaker, seat and side wall.
    """
    if not scene.keep_side_reflections or not scene.seats or not scene.loudspeakers:
        return ()
    positions = np.array([s.position for s in scene.seats])
    receivers = seat_samples(positions, np.array([s.spread for s in scene.seats]))
    paths, _ = seen_paths(scene, receivers, 1)
    paths = paths.taken(np.flatnonzero(kept_paths(scene, paths, receivers)))
    bounces = bounces_of(scene.enclosure, paths, np.array([s.position for s in scene.loudspeakers]))
    each = len(receivers) // len(scene.seats)
    groups: dict[tuple[int, int, int], list[int]] = {}
    for b, p in enumerate(bounces.path):
        key = (int(bounces.surface[b]), int(paths.source[p]), int(paths.receiver[p]) // each)
        groups.setdefault(key, []).append(b)
    return tuple(
        (surface, shapely.MultiPoint(bounces.wall[b]).convex_hull.buffer(MARGIN))
        for (surface, _, _), b in groups.items()
    )


def outside_kept_zones(surface: int, table: Array, zones: Sequence[tuple[int, Any]]) -> NDArray[np.bool_]:
    """Tell which rectangles on a surface leave the kept reflections alone.

    Parameters
    ----------
    surface : int
        Index of the surface.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    zones : sequence of (int, shapely geometry)
        As from `kept_zones`.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    areas = [area for where, area in zones if where == surface]
    if not areas or len(table) == 0:
        return np.ones(len(table), dtype=bool)
    boxes = shapely.box(*table.T)
    return np.asarray(~shapely.intersects(boxes, shapely.union_all(areas)), dtype=bool)


def review_wishes(scene: Scene, placements: Sequence[Placement]) -> list[Finding]:
    """Review panels placed by hand for reflections that they were to leave alone.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    list of Finding
        Warnings, with the panel's id in ``where``.
    """
    found = []
    zones = kept_zones(scene)
    for p in placements:
        if any(where == p.surface and p.rectangle.shape().intersects(area) for where, area in zones):
            text = "it covers a side reflection that you wish to keep (keep_side_reflections)"
            found.append(Finding("panel-over-kept-reflection", "warning", p.id, text, "hang it elsewhere"))
    return found
