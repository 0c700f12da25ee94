"""Panels and builds -> the part of the page's document that tells of them."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from treatment.bands import Array
from treatment.geometry.boxes import box_on
from treatment.geometry.polygon import Rectangle
from treatment.planning.corners import strips
from treatment.planning.plan import Placement
from treatment.planning.suggest_solid import open_corners
from treatment.present.browser_draft import Draft
from treatment.present.browser_panels import way_of, ways_of
from treatment.present.browser_work import Outcome
from treatment.present.corner_words import corner_points
from treatment.present.known_builds import builds_of
from treatment.present.panel_legend import short_words
from treatment.present.tape import both_tapes, tape_starts
from treatment.present.wording import lengths
from treatment.scene.model import Scene

#: A standing panel nearer than this to a wall is shown on it, m: it stands before what bounces there.
_NEAR: Final = 0.8


def mm(values: Any) -> Any:
    """Coordinates to the millimetre.

    Parameters
    ----------
    values : array_like
        Any shape, m.
    """
    return np.round(np.asarray(values, dtype=np.float64), 3).tolist()


def ring_of(r: Rectangle) -> list[list[float]]:
    """Corners of a rectangle, in order.

    Parameters
    ----------
    r : Rectangle
        In wall coordinates.
    """
    low_u, low_v, high_u, high_v = r.bounds
    return [[low_u, low_v], [high_u, low_v], [high_u, high_v], [low_u, high_v]]


def hull_of(points: Array) -> list[list[float]]:
    """Outline of points on paper.

    Parameters
    ----------
    points : numpy.ndarray
        Shape (n, 2), m.
    """
    # A line through all points has their hull, and is made much faster than so many points.
    hull = shapely.convex_hull(shapely.linestrings(points))
    if hull.geom_type == "Polygon":
        ring: list[list[float]] = mm(np.asarray(hull.exterior.coords)[:-1])
        return ring
    return [list(map(float, p)) for p in np.round(points, 3)]


def panel_entries(outcome: Outcome, draft: Draft) -> list[dict[str, Any]]:
    """Panels as put up, with their outline from above; one without a place any more is told, not drawn.

    Parameters
    ----------
    outcome : Outcome
        Of the draft.
    draft : Draft
        For the panels' locks.

    Returns
    -------
    list of dict
        ``way`` is ``hang``, ``corner`` or ``stand``; ``on`` are the rectangles that a panel takes of walls,
        ``before`` the outlines of one that stands near a wall.
    """
    placed, units = {p.id: p for p in outcome.placements}, outcome.scene.units
    counted = {p.id for p in outcome.plan.placements}
    found = []
    for panel in draft.panels:
        known = placed.get(panel.id)
        entry: dict[str, Any] = {
            "id": panel.id,
            "build": panel.build,
            "surface": panel.surface,
            "corner": panel.corner,
            "way": way_of(panel),
            "u": panel.u,
            "v": panel.v,
            "turned": panel.turned,
            "locked": panel.locked,
            "counted": panel.id in counted,
            "reasons": list(panel.reasons),
        }
        if known is not None:
            starts = tape_starts(outcome.scene, known.surface, known.rectangle)
            places = zip(starts, (panel.u, panel.v), strict=True)
            entry |= _place(outcome.scene, known) | {
                "words": [f"{both_tapes(s.reading(x), units)} {s.words}" for s, x in places],
                "high": lengths(known.build.outer_height, units),
                "price": known.build.price,
            }
        found.append(entry)
    return found


def _place(scene: Scene, known: Placement) -> dict[str, Any]:
    """Where a panel is, from above and on the walls."""
    p = scene.surfaces[known.surface].polygon
    ring = ring_of(known.rectangle)
    on = [(known.surface, known.rectangle)]
    before: list[dict[str, Any]] = []
    if known.corner is not None:
        above, on = corner_points(scene, known), list(strips(scene, known))
    elif known.standing:
        above, on, before = p.to_room(ring), [], _before(scene, known)
    else:
        above = np.concatenate([p.to_room(ring, known.build.air_gap), p.to_room(ring, known.build.depth)])
    return {
        "size": [round(known.rectangle.width, 4), round(known.rectangle.height, 4)],
        "above": hull_of(above[:, :2]),
        "overhead": scene.surfaces[known.surface].kind == "ceiling",
        "on": [
            {"surface": scene.surfaces[i].name, "u": r.u, "v": r.v, "size": [r.width, r.height]}
            for i, r in on
        ],
        "before": before,
    }


def _before(scene: Scene, known: Placement) -> list[dict[str, Any]]:
    """Outline of a standing panel on the walls that it stands before."""
    low, high = box_on(
        scene.surfaces[known.surface].polygon, known.rectangle, known.build.outer_height
    ).bounds[0]
    corners = np.array(
        [[x, y, z] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])]
    )
    thin = int(np.argmin((high - low)[:2]))
    found = []
    for s in scene.surfaces:
        if s.kind != "wall" or s.obstacle or abs(float(s.polygon.normal[thin])) < 0.9:
            continue
        near = float(s.polygon.height_above(corners).min())
        flat = s.polygon.to_wall(corners)
        outline = shapely.box(*flat.min(axis=0), *flat.max(axis=0))
        if -1e-6 <= near < _NEAR and shapely.intersects(outline, s.polygon.region):
            found.append({"surface": s.name, "ring": hull_of(flat)})
    return found


def corner_entries(scene: Scene) -> list[dict[str, Any]]:
    """Corners of the room that a panel may stand across.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    list of dict
        Names of both walls, and where the corner is from above.
    """
    return [
        {"walls": [scene.surfaces[i].name for i in c.walls], "at": mm(c.foot[:2])}
        for c in open_corners(scene)
    ]


def build_entries(outcome: Outcome) -> list[dict[str, Any]]:
    """Every build, and how it may be put up.

    Parameters
    ----------
    outcome : Outcome
        Of the draft.
    """
    chosen, units = {b.id for b in outcome.scene.builds}, outcome.scene.units
    return [
        {
            "id": b.id,
            "name": b.description or b.id,
            "size": " x ".join(short_words(x, units) for x in (b.outer_width, b.outer_height)),
            "depth": f"{short_words(b.thickness, units)} thick"
            + (f", gap {short_words(b.air_gap, units)}" if b.air_gap else ""),
            "price": b.price,
            "on": list(b.on),
            "ways": list(ways_of(b)),
            "chosen": b.id in chosen,
        }
        for b in builds_of(outcome.scene)
    ]
