"""Zones as coloured areas on the walls."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import shapely

from treatment import bands
from treatment.bands import Array, frozen
from treatment.geometry.polygon import Polygon
from treatment.planning.wall_zones import WallZone
from treatment.present.forms import Face
from treatment.present.native.state import ALL, LOUDEST, ViewState
from treatment.present.palette import ZONE
from treatment.scene.model import Scene

#: How far the paint lies off its wall, above openings, m.
_LIFT: Final = 0.008
#: A seat without spread has points for zones: they are painted this large, m.
_LEAST: Final = 0.03
#: Pieces of a quarter circle at the corners of a reach and of a zone: less than 1 % of its radius is cut off.
_CORNER: Final = {"reach": 8, "zone": 4}
#: Opacity of the zone, and of what a panel should reach beyond it.
ZONE_OPACITY: Final = 0.55
REACH_OPACITY: Final = 0.20


def zone_band(state: ViewState) -> int:
    """Octave for which the reach of a panel is painted.

    Parameters
    ----------
    state : ViewState
        The chosen band.

    Returns
    -------
    int
        Position on the band axis; 1 kHz where no single octave is chosen.
    """
    return bands.band_index(1000) if state.band == LOUDEST else state.band


def chosen_zones(zones: Sequence[WallZone], state: ViewState) -> tuple[WallZone, ...]:
    """Zones of the chosen loudspeaker and seat.

    Parameters
    ----------
    zones : sequence of WallZone
        All of them.
    state : ViewState
        What is chosen.

    Returns
    -------
    tuple of WallZone
        In the same order.
    """
    return tuple(z for z in zones if (state.loudspeaker in (ALL, z.source)) and (state.seat in (ALL, z.seat)))


def zone_faces(
    scene: Scene, zones: Sequence[WallZone], band: int, groups: Sequence[str] = ("reach", "zone")
) -> tuple[Face, ...]:
    """Paint zones: where they overlap they become one area, so that each surface shows its outline.

    Parameters
    ----------
    scene : Scene
        The room.
    zones : sequence of WallZone
        The chosen ones.
    band : int
        Octave for which the reach is painted.
    groups : sequence of str
        What is wanted: ``reach``, ``zone``; the zone is the same for every octave.

    Returns
    -------
    tuple of Face
        Group ``reach`` (light), then group ``zone``.
    """
    faces: list[Face] = []
    for group, opacity, lift in (("reach", REACH_OPACITY, _LIFT), ("zone", ZONE_OPACITY, 1.5 * _LIFT)):
        if group not in groups:
            continue
        for surface in dict.fromkeys(z.surface for z in zones):
            polygon = scene.surfaces[surface].polygon
            mine = [z for z in zones if z.surface == surface]
            by = [float(z.radius[band]) if group == "reach" else _LEAST for z in mine]
            outlines = shapely.buffer([z.outline for z in mine], by, quad_segs=_CORNER[group])
            region = shapely.intersection(shapely.union_all(outlines), polygon.region)
            for part in shapely.get_parts(region):
                if part.geom_type == "Polygon" and part.area > 1e-4:
                    rings = tuple(_ring(polygon, r, lift) for r in (part.exterior, *part.interiors))
                    name = scene.surfaces[surface].name
                    faces.append(Face(rings, polygon.normal, ZONE, opacity, name, group))
    return tuple(faces)


def _ring(polygon: Polygon, ring: Any, lift: float) -> Any:
    flat = np.asarray(shapely.simplify(ring, 0.004).coords)[:-1]
    return frozen(polygon.to_room(flat, lift))


def zones_at(scene: Scene, zones: Sequence[WallZone], point: Array) -> tuple[WallZone, ...]:
    """Zones that hold a point.

    Parameters
    ----------
    scene : Scene
        The room.
    zones : sequence of WallZone
        The chosen ones.
    point : numpy.ndarray
        On a surface, shape (3,), m.

    Returns
    -------
    tuple of WallZone
        The earliest first.
    """
    held = []
    for z in zones:
        polygon = scene.surfaces[z.surface].polygon
        on = abs(float(polygon.height_above(point))) < 2.0 * _LIFT
        if on and z.outline.distance(shapely.Point(polygon.to_wall(point))) <= _LEAST:
            held.append(z)
    return tuple(sorted(held, key=lambda z: z.delay_ms))
