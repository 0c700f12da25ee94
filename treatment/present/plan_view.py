"""The room from above, to scale: who sits where, what sounds where, what hangs where."""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import shapely

from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.planning.kept import reach_of
from treatment.planning.plan import Placement, Plan
from treatment.present.corner_words import corner_points
from treatment.present.lettering import shortened, text_width
from treatment.present.palette import (
    INK,
    KEEP_OUT,
    LOUDSPEAKER,
    MUTED,
    OBSTACLE,
    OPENING,
    PANEL,
    PANEL_EDGE,
    PAPER,
    SCREEN,
    SEAT,
    SUBWOOFER,
    WALL,
)
from treatment.present.svg import Box, Drawing, meet
from treatment.present.wording import is_sloped, lengths
from treatment.scene.model import Scene
from treatment.scene.screen import screen_corners

#: What the printed report has room for, mm.
_WIDTH: Final = 180.0
_MOST_HEIGHT: Final = 190.0
_MARGIN: Final = 16.0
_SCALES: Final = (20, 25, 40, 50, 75, 100, 200, 500, 1000)


def plan_view_svg(plan: Plan, *, standalone: bool = True) -> str:
    """Draw the room from above, front wall at the top, left wall at the left.

    Parameters
    ----------
    plan : Plan
        Any plan.
    standalone : bool
        True for a file of its own, False for a part of a web page.

    Returns
    -------
    str
        SVG, 180 mm wide.
    """
    scene = plan.scene
    low, high = scene.enclosure.bounds
    scale = _SCALES[-1]
    for scale in _SCALES:
        k = 1000.0 / scale
        fits_down = k * (high[0] - low[0]) + 2.0 * _MARGIN <= _MOST_HEIGHT
        if k * (high[1] - low[1]) + 2.0 * _MARGIN <= _WIDTH and fits_down:
            break
    k = 1000.0 / scale
    height = k * float(high[0] - low[0]) + 2.0 * _MARGIN + 5.0
    left = (_WIDTH - k * float(high[1] - low[1])) / 2.0

    def paper(points: Any) -> Array:
        """Room coordinates to paper: y runs to the right, x down."""
        p = np.asarray(points, dtype=np.float64)
        return np.stack([left + k * (p[..., 1] - low[1]), _MARGIN + k * (p[..., 0] - low[0])], axis=-1)

    d = Drawing(_WIDTH, height, title=f"Plan view, scale 1:{scale}, front wall at the top", key="plan-view")
    d.rect((0.0, 0.0, _WIDTH, height), fill=PAPER, line="none")
    labels = [*_shell(d, scene, paper), *_fittings(d, scene, paper)]
    for p in plan.placements:
        _panel(d, plan, p, paper)
    labels = [*_equipment(d, scene, paper), *labels]
    # Shapes first, then texts: a label may then keep clear of every shape.
    for p in plan.placements:
        _panel_label(d, plan, p, paper)
    for box, name, mm, colour in labels:
        d.place(box, shortened(name, 45.0, mm), size=mm, colour=colour)
    d.text(_WIDTH / 2.0, 6.0, "front wall", size=3.0, anchor="middle", bold=True)
    own = scene.hall[1] - scene.hall[0]
    size = " by ".join(lengths(float(own[i]), scene.units) for i in (0, 1))
    words = f"from above, scale 1:{scale}; room {size}"
    d.text(_WIDTH / 2.0, height - 2.5, words, size=2.4, anchor="middle", colour=MUTED)
    return d.finish(standalone=standalone)


def _middle(points: Array) -> tuple[float, float]:
    low, high = points.min(axis=0), points.max(axis=0)
    return (float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0)


#: What a label belongs to, its text, size and colour.
Mark = tuple[Box, str, float, str]


def _box(points: Array) -> Box:
    low, high = points.min(axis=0), points.max(axis=0)
    return (float(low[0]), float(low[1]), float(high[0]), float(high[1]))


def _shell(d: Drawing, scene: Scene, paper: Any) -> list[Mark]:
    floors = [s.polygon for s in scene.surfaces if s.ground]
    outlines = [
        shapely.Polygon(p.to_room(np.asarray(part.exterior.coords))[:, :2])
        for p in floors
        for part in shapely.get_parts(p.region)
    ]
    whole = shapely.union_all(outlines)
    rings = [np.asarray(part.exterior.coords)[:-1] for part in shapely.get_parts(whole)]
    d.path([paper(ring) for ring in rings], fill=WALL, line=INK, width=0.7)
    marks = [*_recesses(d, scene, paper, whole), *_folds(d, scene, paper, whole)]
    solids: dict[str, list[Array]] = {}
    for s in scene.surfaces:
        if s.obstacle:
            solids.setdefault(s.obstacle, []).append(s.polygon.to_room(s.polygon.edges[:, 0]))
    for name, parts in solids.items():
        box = _box(paper(np.concatenate(parts)))
        d.rect(box, fill=OBSTACLE, line=INK, width=0.3, more='fill-opacity="0.6"')
        marks.append((box, name, 2.2, MUTED))
    return marks


def _recesses(d: Drawing, scene: Scene, paper: Any, floor: Any) -> list[Mark]:
    """Draw the air of recesses that one does not stand in, dashed, and name all of them."""
    marks: list[Mark] = []
    for m in scene.recesses:
        faces = [s for s in scene.surfaces if s.recess == m.name]
        corners = np.concatenate([s.polygon.to_room(s.polygon.edges[:, 0]) for s in faces])
        ring = paper(corners[:, :2])
        if not any(s.ground for s in faces):
            hull = shapely.MultiPoint(corners[:, :2]).convex_hull
            ring = paper(np.asarray(hull.exterior.coords)[:-1])
            fill = "none" if floor.buffer(1e-3).contains(hull) else WALL
            d.path([ring], fill=fill, line=INK, width=0.3, more='stroke-dasharray="1.2 0.8" class="recess"')
        marks.append((_box(ring), m.name, 2.2, MUTED))
    return marks


def _folds(d: Drawing, scene: Scene, paper: Any, floor: Any) -> list[Mark]:
    """Draw the edges of sloping ceilings inside the room as thin lines, and name the slopes."""
    marks: list[Mark] = []
    drawn: set[tuple[float, ...]] = set()
    for s in scene.surfaces:
        if s.kind != "ceiling" or s.obstacle or not is_sloped(s):
            continue
        for a, b in s.polygon.to_room(s.polygon.edges)[..., :2]:
            on_wall = floor.boundary.distance(shapely.Point((a + b) / 2.0)) < 1e-3
            key = tuple(np.round(sorted([*a, *b]), 3))
            if not on_wall and key not in drawn:
                drawn.add(key)
                first, last = paper(a), paper(b)
                d.line(tuple(first), tuple(last), line=MUTED, width=0.2, more='class="fold"')
        x, y = (float(c) for c in paper(s.polygon.centroid))
        marks.append(((x - 0.4, y - 0.4, x + 0.4, y + 0.4), s.name, 2.2, MUTED))
    return marks


def _fittings(d: Drawing, scene: Scene, paper: Any) -> list[Mark]:
    marks: list[Mark] = []
    for o in scene.openings:
        p = scene.surfaces[o.surface].polygon
        if scene.surfaces[o.surface].kind == "ceiling":
            ring = paper(p.to_room(_corners(o.rectangle)))
            more = 'stroke-dasharray="1.2 0.8" fill-opacity="0.4"'
            d.path([ring], fill=OPENING, line=INK, width=0.2, more=more)
            marks.append((_box(ring), o.name, 2.2, MUTED))
        if scene.surfaces[o.surface].kind != "wall":
            continue
        low_u, low_v, high_u, _ = o.rectangle.bounds
        ends = paper(p.to_room([[low_u, low_v], [high_u, low_v]]))
        d.line(ends[0], ends[1], line=OPENING, width=1.6)
        d.line(ends[0], ends[1], line=INK, width=0.2)
        d.taken.append(_box(ends))
        marks.append((_box(ends - 4.0 * np.array([p.normal[1], p.normal[0]])), o.name, 2.2, MUTED))
    if scene.screen is not None:
        ends = paper(screen_corners(scene, scene.screen))
        d.line(ends[0], ends[1], line=INK, width=1.4)
        d.line(ends[0], ends[1], line=SCREEN, width=0.8)
        d.taken.append(_box(ends))
        marks.append((_box(ends), "screen", 2.2, INK))
    for keep in scene.keep_outs:
        p = scene.surfaces[keep.surface].polygon
        corners = _corners(keep.rectangle)
        box = _box(paper(np.concatenate([p.to_room(corners), p.to_room(corners, keep.depth)])))
        d.rect(box, fill=d.hatch(KEEP_OUT), line=KEEP_OUT, width=0.25, more='stroke-dasharray="1.4 0.8"')
        d.soft.append(box)
        marks.append((box, f"{keep.name} (keep free)", 2.2, KEEP_OUT))
    return marks


def _corners(rectangle: Rectangle) -> list[list[float]]:
    low_u, low_v, high_u, high_v = rectangle.bounds
    return [[low_u, low_v], [high_u, low_v], [high_u, high_v], [low_u, high_v]]


def _solid(plan: Plan, p: Placement) -> Array:
    """Corners of a panel's body in room coordinates, shape (n, 3)."""
    if p.corner is not None:
        return corner_points(plan.scene, p)
    polygon = plan.scene.surfaces[p.surface].polygon
    corners = _corners(p.rectangle)
    reach = reach_of(plan.scene, p)
    back = 0.0 if p.standing else reach - p.build.thickness
    return np.concatenate([polygon.to_room(corners, back), polygon.to_room(corners, reach)])


def _panel(d: Drawing, plan: Plan, p: Placement, paper: Any) -> None:
    overhead = plan.scene.surfaces[p.surface].kind == "ceiling"
    points = paper(_solid(plan, p))
    hull = shapely.MultiPoint(points).convex_hull
    if hull.geom_type != "Polygon":
        return
    ring = np.asarray(hull.exterior.coords)[:-1]
    more = 'stroke-dasharray="1.2 0.8" fill-opacity="0.25"' if overhead else ""
    d.path([ring], fill=PANEL, line=PANEL_EDGE, width=0.35, more=more)
    if not overhead:
        d.taken.append(_box(ring))


def _panel_label(d: Drawing, plan: Plan, p: Placement, paper: Any) -> None:
    """Write a panel's id: in it when it hangs overhead, else outside the room behind its wall."""
    polygon = plan.scene.surfaces[p.surface].polygon
    x, y = _middle(paper(_solid(plan, p)))
    across, along = float(polygon.normal[1]), float(polygon.normal[0])
    flat = float(np.hypot(across, along))
    if plan.scene.surfaces[p.surface].kind == "ceiling" or flat < 0.1:
        words = f"{p.id}, on slope" if is_sloped(plan.scene.surfaces[p.surface]) else p.id
        d.place((x - 0.4, y + 1.0, x + 0.4, y + 1.0), words, size=2.4, bold=True)
        return
    wall_x, wall_y = (float(a) for a in paper(polygon.to_room(p.rectangle.centre)))
    w, h = text_width(p.id, 2.4) + 0.6, 2.8
    for step in range(8):
        away = 2.0 + 0.5 * (w * abs(across) + h * abs(along)) / flat
        away += step * (w * abs(across) + h * abs(along)) / flat
        cx, cy = wall_x - away * across / flat, wall_y - away * along / flat
        box = (cx - w / 2.0, cy - h / 2.0, cx + w / 2.0, cy + h / 2.0)
        if not any(meet(box, other) for other in d.taken):
            break
    d.text(cx, cy + 0.9, p.id, size=2.4, anchor="middle", bold=True, halo=True)
    d.taken.append(box)


def _equipment(d: Drawing, scene: Scene, paper: Any) -> list[Mark]:
    marks: list[Mark] = []
    for seat in scene.seats:
        square = np.array([[-1, -1, 0], [1, -1, 0], [1, 1, 0], [-1, 1, 0]]) * seat.spread + seat.position
        if seat.spread > 0.0:
            d.path([paper(square)], fill=SEAT, line=SEAT, width=0.2, more='fill-opacity="0.25"')
        x, y = (float(a) for a in paper(seat.position))
        d.circle(x, y, 1.5, fill=SEAT, line=PAPER)
        marks.append(((x - 1.6, y - 1.6, x + 1.6, y + 1.6), seat.name, 2.5, SEAT))
    boxes = [(LOUDSPEAKER, 1.7, s.name, s.position) for s in scene.loudspeakers]
    boxes += [(SUBWOOFER, 2.4, s.name, s.position) for s in scene.subwoofers]
    for colour, half, name, position in boxes:
        x, y = (float(a) for a in paper(position))
        box = (x - half, y - half, x + half, y + half)
        d.rect(box, fill=colour, line=PAPER, width=0.25)
        marks.append((box, name, 2.5, colour))
    d.taken += [box for box, *_ in marks]
    return marks
