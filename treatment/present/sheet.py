"""Title, list of panels and foot of a drawing sheet."""

from __future__ import annotations

from collections.abc import Sequence

from treatment.planning.plan import Placement, Plan
from treatment.present.lettering import broken, shortened
from treatment.present.palette import BEFORE, INK, KEEP_OUT, MUTED, PAPER, RULE
from treatment.present.paper import BLOCK, ENTRY, SHEET, TOP, Paper, Run, row_levels
from treatment.present.svg import Drawing
from treatment.present.tape import TapeStart, both_tapes, tape_pair, tape_starts
from treatment.scene.model import Scene
from treatment.units import IMPERIAL, format_imperial, format_metric

_MARGIN = 8.0


def draw_title(d: Drawing, plan: Plan, title: str, paper: Paper) -> None:
    """Write what the sheet shows, over the left edge of the drawing.

    Parameters
    ----------
    d : Drawing
        To draw on.
    plan : Plan
        Names the room.
    title : str
        Surface and how it is seen.
    paper : Paper
        Where the surface lies.
    """
    x = paper.box[0]
    d.text(x, 8.0, shortened(title, SHEET[0] - x - _MARGIN, 5.0), size=5.0, bold=True)
    words = f"{plan.scene.title}  |  scale 1:{paper.scale}"
    d.text(x, 13.0, shortened(words, SHEET[0] - x - _MARGIN, 2.7), size=2.7, colour=MUTED)


def draw_list(
    d: Drawing, scene: Scene, panels: Sequence[Placement], paper: Paper, rows: Sequence[Run]
) -> None:
    """List the panels again as text: what the drawing has no room for is not lost.

    Parameters
    ----------
    d : Drawing
        To draw on.
    scene : Scene
        The room.
    panels : sequence of Placement
        What hangs on the surface.
    paper : Paper
        Where the surface lies.
    rows : sequence of Run
        Dimensions below it.
    """
    if paper.list_at == "nowhere":
        words = "The panels of this sheet are listed in the report."
        d.text(SHEET[0] - _MARGIN, SHEET[1] - 14.0, words, size=2.3, anchor="end", colour=MUTED)
        return
    if paper.list_at == "beside":
        _block(d, scene, panels, SHEET[0] - _MARGIN - BLOCK, TOP + 2.0)
        return
    top = paper.box[3] + max(row_levels(rows, paper.compact), default=0.0) + 12.0
    half = -(-len(panels) // 2) if len(panels) > 2 else len(panels)
    half = max(half, 1)
    for n, start in enumerate(range(0, len(panels), half)):
        _block(d, scene, panels[start : start + half], _MARGIN + n * (BLOCK + 3.0), top)


def _block(d: Drawing, scene: Scene, panels: Sequence[Placement], x: float, top: float) -> None:
    starts, units = (0.0, 10.0, 40.0, 73.0, 102.0), scene.units
    tapes = [tape_starts(scene, p.surface, p.rectangle) for p in panels]
    # One heading where all tapes of a column start alike; else each says where its own does.
    edges = [{pair[k].words for pair in tapes} for k in (0, 1)]
    tops = ["distance, from" if len(words) > 1 else words.pop() for words in edges]
    heads = ("", *tops, "width x height", "depth")
    for start, end, head in zip(starts, (*starts[1:], BLOCK), heads, strict=True):
        lines = broken(head, end - start - 0.5, 2.0, 2)
        for i, line in enumerate(lines):
            d.text(x + start, top - 2.3 * (len(lines) - 1 - i), line, size=2.0, colour=MUTED)
    d.line((x, top + 1.1), (x + BLOCK, top + 1.1), line=RULE)
    for n, (p, pair) in enumerate(zip(panels, tapes, strict=True)):
        marks = [
            _mark(s, c, units, told=h != "distance, from")
            for s, c, h in zip(pair, p.rectangle.bounds, tops, strict=False)
        ]
        r, y, build = p.rectangle, top + 4.2 + ENTRY * n, p.build
        gap = f" + {1000.0 * build.air_gap:.0f}" if build.air_gap > 0.0 else ""
        u, v = marks
        size = (
            f"{format_metric(r.width)[:-2]} x {format_metric(r.height)}",
            f"{format_imperial(r.width)} x {format_imperial(r.height)}",
        )
        depth = f"{1000.0 * build.thickness:.0f}{gap} mm"
        if units in IMPERIAL:
            size = size[::-1]
            gap = f" + {format_imperial(build.air_gap)}" if build.air_gap > 0.0 else ""
            thick = format_imperial(build.thickness)
            depth = f"{thick.removesuffix(' in')}{gap}" if gap else thick
        depth = shortened(f"{depth}{', corner' if p.corner is not None else ''}", BLOCK - starts[-1], 2.3)
        first = (p.id, u[0], v[0], size[0], depth)
        second = ("", u[1], v[1], size[1], shortened(build.id, BLOCK - starts[-1], 1.9))
        for start, one, two in zip(starts, first, second, strict=True):
            d.text(x + start, y, one, size=2.3, bold=start == 0.0)
            if two:
                d.text(x + start, y + 2.7, two, size=1.9, colour=MUTED)


def _mark(start: TapeStart, coordinate: float, units: str, *, told: bool) -> tuple[str, str]:
    """Two lines of a distance: both systems, or both in one and where the tape starts."""
    away = start.reading(coordinate)
    if told:
        return tape_pair(away, units)
    return both_tapes(away, units), shortened(start.name.replace("along the panel's ", ""), 31.0, 1.9)


def draw_foot(d: Drawing, units: str, *, marks: bool) -> None:
    """Draw the check bar and the key.

    Parameters
    ----------
    d : Drawing
        To draw on.
    units : {"m", "cm", "mm", "ft", "in"}
        What the person measures in.
    marks : bool
        Whether reflection points are marked.
    """
    y = SHEET[1] - 8.0
    d.line((_MARGIN, y), (_MARGIN + 100.0, y), line=INK, width=0.4, more='class="check-bar"')
    for i in range(11):
        tall = 1.6 if i % 5 else 2.6
        d.line((_MARGIN + 10.0 * i, y - tall), (_MARGIN + 10.0 * i, y), line=INK, width=0.3)
    bar, below = ("100 mm (3 15/16 in)", "50 mm (2 in)")
    if units in IMPERIAL:
        bar, below = ("3 15/16 in (100 mm)", "2 in (50 mm)")
    words = f"Check bar: must measure {bar} on paper; else print again at 100 %."
    d.text(_MARGIN, y + 3.6, words, size=2.3)
    if marks:
        d.circle(131.0, y - 0.8, 0.75, fill=PAPER, line=BEFORE, width=0.3)
        d.text(133.0, y, "where a strong single bounce lands before treatment", size=2.3, colour=BEFORE)
    d.rect((197.0, y - 2.2, 201.0, y + 0.3), fill=d.hatch(KEEP_OUT), line=KEEP_OUT, width=0.2)
    d.text(202.5, y, "keep free: nothing may hang here", size=2.3, colour=KEEP_OUT)
    words = f"Distances: to the nearest edge. Dashed: level line of cleat or hangers, {below} below the top."
    d.text(131.0, y + 3.6, words, size=2.3, colour=MUTED)
