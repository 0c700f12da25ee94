"""Elevations to scale: every treated surface with its panels, as a person stands before it.

A sheet fits A4 and Letter in landscape. Panels have running dimensions from the edge where the tape
starts: rows below the drawing for the level direction, columns at its left for the other one. Each
row belongs to the panels that share a distance, so dimensions never cross each other.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from treatment.geometry.polygon import Rectangle
from treatment.planning.plan import Placement, Plan
from treatment.present.before_walls import obstacles_before
from treatment.present.corner_words import seen_on
from treatment.present.dimensions import draw_columns, draw_rows
from treatment.present.hanging import LINE_BELOW_TOP
from treatment.present.layout_words import screen_words
from treatment.present.lettering import shortened, text_width
from treatment.present.palette import (
    BEFORE,
    INK,
    KEEP_OUT,
    MUTED,
    OBSTACLE,
    OPENING,
    PANEL,
    PANEL_EDGE,
    PAPER,
    SCREEN,
    WALL,
)
from treatment.present.paper import SHEET, Paper, arranged
from treatment.present.sheet import draw_foot, draw_list, draw_title
from treatment.present.svg import Box, Drawing, meet
from treatment.present.tape import tape_starts
from treatment.present.wording import surface_title, viewed
from treatment.scene.model import Mouth, Scene
from treatment.units import IMPERIAL, format_imperial, format_length, format_metric

_SIZE = 2.3


def treated_surfaces(plan: Plan) -> tuple[int, ...]:
    """Surfaces that get an elevation.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of int
        Indices of surfaces with panels, those across their corners too, ascending.
    """
    corners = {p.corner for p in plan.placements if p.corner is not None}
    return tuple(sorted({p.surface for p in plan.placements} | corners))


def elevation_svg(plan: Plan, surface: int, *, standalone: bool = True, points: bool = True) -> str:
    """Draw one surface with its panels, to scale, in real millimetres.

    Parameters
    ----------
    plan : Plan
        Any plan.
    surface : int
        Index of the surface.
    standalone : bool
        True for a file of its own, False for a part of a web page.
    points : bool
        Whether to mark where strong first reflections land before treatment.

    Returns
    -------
    str
        SVG of the size `SHEET`.
    """
    scene = plan.scene
    panels = seen_on(scene, plan.placements, surface)
    paper, rows, columns = arranged(scene, surface, panels)
    title = f"{surface_title(scene.surfaces[surface])}, {viewed(scene.surfaces[surface])}"
    d = Drawing(*SHEET, title=title, key=f"elevation-{surface}")
    d.rect((0.0, 0.0, *SHEET), fill=PAPER, line="none")
    _surface(d, scene, surface, paper)
    marks = _marks(plan, surface, paper) if points else {}
    for p in panels:
        lined = scene.surfaces[surface].kind == "wall" and p.corner is None
        _panel(d, p, paper, [m for group in marks.values() for m in group], lined=lined)
        if lined:
            _level_line(d, p.rectangle, paper)
    _points(d, plan, marks, paper)
    _sides(d, scene, surface, paper)
    _names(d, scene, surface, paper)
    draw_rows(d, rows, paper)
    draw_columns(d, columns, paper)
    draw_title(d, plan, title, paper)
    draw_list(d, scene, panels, paper, rows)
    draw_foot(d, scene.units, marks=points)
    return d.finish(standalone=standalone)


def _surface(d: Drawing, scene: Scene, index: int, paper: Paper) -> None:
    polygon = scene.surfaces[index].polygon
    rings = [
        [paper.point(*xy) for xy in np.asarray(ring.coords)[:-1]]
        for part in shapely.get_parts(polygon.region)
        for ring in (part.exterior, *part.interiors)
    ]
    d.path(rings, fill=WALL, line=INK, width=0.5)
    for b in obstacles_before(scene, index):
        # Solid where it touches; dashed where it only stands before the surface.
        more = 'fill-opacity="0.5"' if b.distance == 0.0 else 'fill-opacity="0.0" stroke-dasharray="2 1"'
        d.rect(paper.rectangle(b.rectangle), fill=OBSTACLE, line=INK, width=0.3, more=more)
    for m in scene.mouths_in(index):
        d.rect(paper.rectangle(m.rectangle), fill=PAPER, line=INK, width=0.5)
    for o in scene.openings:
        if o.surface == index:
            box = paper.rectangle(o.rectangle)
            d.rect(box, fill=OPENING, line=INK, width=0.25)
            d.line((box[0], box[3]), (box[2], box[1]), line=MUTED, width=0.12)
            d.line((box[0], box[1]), (box[2], box[3]), line=MUTED, width=0.12)
    if scene.screen is not None and scene.screen.surface == index:
        more = 'stroke-dasharray="3 1"' if scene.screen.distance > 0.0 else ""
        line = MUTED if scene.screen.distance > 0.0 else INK
        d.rect(paper.rectangle(scene.screen.rectangle), fill=SCREEN, line=line, width=0.3, more=more)
    for k in scene.keep_outs:
        if k.surface == index:
            more = 'stroke-dasharray="1.4 0.8"'
            d.rect(paper.rectangle(k.rectangle), fill=d.hatch(KEEP_OUT), line=KEEP_OUT, width=0.3, more=more)


def _names(d: Drawing, scene: Scene, index: int, paper: Paper) -> None:
    """Names of openings, recesses and keep-outs: inside where they fit, else beside."""
    things = [(o.rectangle, o.name, INK) for o in scene.openings if o.surface == index]
    things += [(m.rectangle, _mouth_words(m, scene.units), INK) for m in scene.mouths_in(index)]
    things += [
        (k.rectangle, f"{k.title}: keep free", KEEP_OUT) for k in scene.keep_outs if k.surface == index
    ]
    # On a level surface the edge that a tape starts from is named already.
    named = [] if paper.across_is_u else [start.edge for start in tape_starts(scene, index)]
    things += [
        (b.rectangle, b.name, MUTED)
        for b in obstacles_before(scene, index)
        if not any(edge.endswith(f" of the {b.name}") for edge in named)
    ]
    if scene.screen is not None and scene.screen.surface == index:
        things.append((scene.screen.rectangle, screen_words(scene.screen, scene.units), INK))
    for rectangle, words, colour in things:
        box = paper.rectangle(rectangle)
        d.soft.append(box)
        text = shortened(words, 70.0, _SIZE)
        if not any(_inside(d, box, lines, colour) for lines in ([text], text.split(": ", 1))):
            limit = (paper.box[0], paper.box[1] - 3.0, paper.box[2], paper.box[3])
            d.place(box, text, size=_SIZE, colour=colour, within=limit)


def _mouth_words(mouth: Mouth, units: str) -> str:
    """Name of a recess; of a niche also how deep it is."""
    deep = f": {format_length(mouth.depth, units)} deep" if mouth.kind == "niche" else ""
    return f"{mouth.name}{deep}"


def _inside(d: Drawing, box: Box, lines: Sequence[str], colour: str) -> bool:
    """Write lines inside a box where nothing is written yet; tell whether there was room."""
    w, h = max(text_width(line, _SIZE) for line in lines) + 1.0, 3.2 * len(lines) + 0.6
    if w > box[2] - box[0] or h > box[3] - box[1]:
        return False
    cx = (box[0] + box[2]) / 2.0
    free = box[3] - box[1] - h
    for part in (0.5, 0.25, 0.75, 0.05, 0.95):
        top = box[1] + part * free
        place = (cx - w / 2.0, top, cx + w / 2.0, top + h)
        if not any(meet(place, other) for other in d.taken):
            # Hatching would run through the letters.
            d.rect(place, fill=PAPER, line="none", width=0.0, more='fill-opacity="0.9"')
            for i, line in enumerate(lines):
                y = top + 2.5 + 3.2 * i
                d.text(cx, y, line, size=_SIZE, anchor="middle", colour=colour, halo=True)
            d.taken.append(place)
            return True
    return False


def _level(r: Rectangle, paper: Paper) -> Box:
    """Place of the level line that carries a panel, mm."""
    return paper.rectangle(Rectangle(r.u, r.v + r.height - LINE_BELOW_TOP, r.width, 0.0))


def _level_line(d: Drawing, r: Rectangle, paper: Paper) -> None:
    """Draw the level line that carries a panel, with a mark beside each edge to put on the wall."""
    left, y, right, _ = _level(r, paper)
    d.line((left, y), (right, y), line=INK, width=0.15, more='stroke-dasharray="1.2 0.8" class="level"')
    for x, out in ((left, -1.0), (right, 1.0)):
        d.line((x, y), (x + 2.2 * out, y), line=INK, width=0.3, more='class="level-mark"')


def _panel(
    d: Drawing, p: Placement, paper: Paper, marks: Sequence[tuple[float, float]], *, lined: bool
) -> None:
    """Draw a panel; its text stands where no mark is: in the middle, else near the top or bottom."""
    box = paper.rectangle(p.rectangle)
    # A name on the level line would look struck out: text begins below it.
    free = (box[0], _level(p.rectangle, paper)[1] if lined else box[1], box[2], box[3])
    d.rect(box, fill=PANEL, line=PANEL_EDGE, width=0.4, more='fill-opacity="0.85"')
    w = box[2] - box[0]
    cx = (box[0] + box[2]) / 2.0
    wide, high = p.rectangle.width, p.rectangle.height
    name = shortened(p.build.id, w - 1.5, 2.1)
    if p.corner is not None:
        name = shortened("corner", w - 1.5, 2.1)
    metric = [f"{format_metric(wide)[:-2]} x {format_metric(high)}"]
    imperial = [f"{format_imperial(wide)} x", format_imperial(high)]
    size = [*imperial, *metric] if paper.units in IMPERIAL else [*metric, *imperial]
    choices = [[p.id, name, *size], [p.id, name], [p.id]] if w >= 14.0 else [[p.id]]
    found = [_block(lines, free, marks) for lines in choices]
    # As much text as hides no mark and fits; failing that, as little as hides fewest.
    _, top, lines = next((f for f in found if f[0] == 0), min(found, key=lambda f: (f[0], len(f[2]))))
    for i, line in enumerate(lines):
        d.text(cx, top + 2.8 + 3.0 * i, line, size=2.1 if i else 3.2, anchor="middle", bold=not i)
    widest = max(text_width(line, 2.1 if i else 3.2) for i, line in enumerate(lines)) / 2.0
    d.taken.append((cx - widest, top, cx + widest, top + 3.0 * len(lines) + 0.8))
    d.soft.append(box)


def _block(lines: list[str], box: Box, marks: Sequence[tuple[float, float]]) -> tuple[int, float, list[str]]:
    """Choose the height in a panel where lines hide fewest marks: the middle, the top, the bottom.

    Returns how many they hide (many when they do not fit), the top of the text, and the lines.
    """
    tall, middle = 3.0 * len(lines) + 0.8, (box[1] + box[3]) / 2.0
    half = max(text_width(line, 2.1) for line in lines) / 2.0
    cx = (box[0] + box[2]) / 2.0
    if len(lines) > 1 and (tall > box[3] - box[1] or 2.0 * half > box[2] - box[0] - 0.5):
        return 1000, box[1], lines
    tries: list[tuple[int, int, float]] = []
    for top in (middle - tall / 2.0, box[1] + 0.8, box[3] - tall - 0.4):
        hidden = sum(abs(x - cx) < half + 1.0 and top - 0.8 < y < top + tall + 0.8 for x, y in marks)
        tries.append((hidden, len(tries), top))
    best = min(tries)
    return best[0], best[2], lines


def _marks(plan: Plan, index: int, paper: Paper) -> dict[int, list[tuple[float, float]]]:
    """Where strong single bounces land in the room as it is, on paper, by loudspeaker."""
    a, polygon = plan.before.arrivals, plan.scene.surfaces[index].polygon
    found: dict[int, list[tuple[float, float]]] = {}
    for i in range(len(a.order)):
        if a.order[i] == 1 and a.surfaces[i, 0] == index and a.verdict[i] == "treat":
            u, v = polygon.to_wall(a.points[i, 0])
            found.setdefault(int(a.source[i]), []).append(paper.point(float(u), float(v)))
    return found


def _points(d: Drawing, plan: Plan, marks: dict[int, list[tuple[float, float]]], paper: Paper) -> None:
    """Draw a ring for each mark, and the loudspeaker's name beside its first one."""
    for group in marks.values():
        for x, y in group:
            d.circle(x, y, 0.75, fill=PAPER, line=BEFORE, width=0.3)
            d.taken.append((x - 0.9, y - 0.9, x + 0.9, y + 0.9))
    for source, group in marks.items():
        x, y = group[len(group) // 2]
        name = shortened(plan.scene.loudspeakers[source].name, 14.0, 2.0)
        around = (x - 0.6, y - 0.6, x + 0.6, y + 0.6)
        d.place(around, name, size=2.0, colour=BEFORE, within=paper.box, needed=False)


def _sides(d: Drawing, scene: Scene, index: int, paper: Paper) -> None:
    """Name the walls around a level surface, where left and right are easily exchanged."""
    if paper.across_is_u:
        return
    box = paper.box
    u, v = tape_starts(scene, index)
    y = paper.down(u.at) - 1.2
    d.text((box[0] + box[2]) / 2.0, y, u.edge, size=2.6, anchor="middle", bold=True, halo=True)
    x = paper.across(v.at) + (3.4 if paper.flip_across else -1.4)
    half = 0.5 * text_width(v.edge, 2.6)
    middle = (box[1] + box[3]) / 2.0
    d.text(x, middle + half, v.edge, size=2.6, bold=True, turned=True, halo=True)
    d.taken.append((x - 3.0, middle - half, x + 1.0, middle + half))
