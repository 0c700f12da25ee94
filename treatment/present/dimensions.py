"""Running dimensions beside a drawing: from the tape's start to a panel, and the panel's own extent.

Each run has a row (or column) of its own, so dimensions never cross. Text that does not fit between
its arrows stands beyond the far end of the run, where the row is empty.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from treatment.present.lettering import shortened, text_width
from treatment.present.palette import INK, MUTED, PANEL_EDGE, RULE
from treatment.present.paper import PITCH, SHEET, Paper, Run, id_list, row_levels
from treatment.present.svg import Drawing
from treatment.present.tape import tape_pair
from treatment.units import format_pair

_SIZE, _SMALL = 2.3, 2.0
_ROOF = 1.5  # text of a column must not rise above this (mm from the top of the sheet)


def draw_rows(d: Drawing, rows: Sequence[Run], paper: Paper) -> None:
    """Draw dimensions across, below the surface.

    Parameters
    ----------
    d : Drawing
        To draw on.
    rows : sequence of Run
        One row each.
    paper : Paper
        Where the surface lies.
    """
    if not rows:
        return
    bottom = paper.box[3]
    away = -1.0 if paper.flip_across else 1.0
    levels = [bottom + y for y in row_levels(rows, paper.compact)]
    places = [_places(run, paper.across) for run in rows]
    for (_, *own), y in zip(places, levels, strict=True):
        for x in own:
            d.line((x, bottom + 0.8), (x, y + 1.0), line=RULE, width=0.15)
    for run, ends, y in zip(rows, places, levels, strict=True):
        _run(d, run, ends, y, away, paper, turned=False)
    # Each start has one line, down to its last row, and its name over the first.
    last = {zero: y for (zero, *_), y in zip(places, levels, strict=True)}
    first = {places[n][0]: (rows[n], levels[n]) for n in reversed(range(len(rows)))}
    anchor = "end" if away < 0.0 else "start"
    for zero, (run, y) in first.items():
        # The line of a start inside the drawing is thin past the rows of other starts.
        top = bottom if y == levels[0] else y - 6.0
        d.line((zero, bottom), (zero, top), line=RULE, width=0.15)
        d.line((zero, top), (zero, last[zero] + 1.5), line=INK, width=0.25)
        words = shortened(f"tape starts at the {run.edge}", 80.0, 2.1)
        d.text(zero + 0.8 * away, y - 4.0, words, size=2.1, anchor=anchor, colour=MUTED, halo=True)


def draw_columns(d: Drawing, columns: Sequence[Run], paper: Paper) -> None:
    """Draw dimensions up or down, at the left of the surface.

    Parameters
    ----------
    d : Drawing
        To draw on.
    columns : sequence of Run
        One column each.
    paper : Paper
        Where the surface lies.
    """
    if not columns:
        return
    left = paper.box[0]
    away = 1.0 if paper.flip_down else -1.0
    levels = [left - 5.0 - PITCH[paper.compact] * i for i in range(len(columns))]
    places = [_places(run, paper.down) for run in columns]
    for (_, *own), x in zip(places, levels, strict=True):
        for y in own:
            d.line((left - 0.8, y), (x - 1.0, y), line=RULE, width=0.15)
    for zero in {y[0] for y in places}:
        last = min(x for y, x in zip(places, levels, strict=True) if y[0] == zero)
        d.line((left, zero), (last - 1.5, zero), line=INK, width=0.25)
    for run, ends, x in zip(columns, places, levels, strict=True):
        _run(d, run, ends, x, away, paper, turned=True)


def _places(run: Run, place: Callable[[float], float]) -> tuple[float, float, float]:
    """Where a run starts, where its panel begins, and where that ends, on paper, mm."""
    low = run.zero + run.start
    return place(run.zero), place(low), place(low + run.extent)


def _run(
    d: Drawing,
    run: Run,
    ends: tuple[float, float, float],
    level: float,
    away: float,
    paper: Paper,
    *,
    turned: bool,
) -> None:
    """Draw both parts of a run along its row or column; `away` is the direction from the tape's start."""
    zero, near, far = ends
    cursor = far + 1.5 * away
    cursor = _beyond(d, cursor, level, away, [(id_list(run.ids), 2.3, INK, True, "ids")], turned=turned)
    for a, b, metres, role in ((zero, near, run.start, "from-edge"), (near, far, run.extent, "extent")):
        colour = INK if role == "from-edge" else PANEL_EDGE
        if abs(b - a) < 0.05:
            continue
        _arrow(d, a, b, level, colour, turned=turned)
        # What is marked with a tape is told to what a tape holds; a panel's own size as it is built.
        first, second = (tape_pair if role == "from-edge" else format_pair)(metres, paper.units)
        lines = [(first, _SIZE, colour, False, role), (second, _SMALL, colour, False, "")]
        if paper.compact:
            lines = [(f"{first} ({second})", 2.1, colour, False, role)]
        length = max(text_width(text, size) for text, size, *_ in lines)
        if abs(b - a) >= length + 1.0:
            for (text, size, *_, name), shift in zip(lines, (-0.7, 2.4), strict=False):
                _write(d, (a + b) / 2.0, level + shift, text, size, "middle", colour, name, turned=turned)
            continue
        end = cursor + away * length
        # A size that finds no room is told in the list; a distance to mark on the wall is never dropped.
        if role == "extent" and not (_ROOF <= end <= SHEET[1 if turned else 0] - _ROOF):
            continue
        cursor = _beyond(d, cursor, level, away, lines, turned=turned)


def _beyond(
    d: Drawing,
    cursor: float,
    level: float,
    away: float,
    lines: Sequence[tuple[str, float, str, bool, str]],
    *,
    turned: bool,
) -> float:
    """Write one or two lines past the end of a run; return where the next text may begin."""
    anchor = "start" if (away > 0.0) != turned else "end"
    shifts = (0.8,) if len(lines) == 1 else (-0.7, 2.4)
    for (text, size, colour, bold, role), shift in zip(lines, shifts, strict=True):
        _write(d, cursor, level + shift, text, size, anchor, colour, role, turned=turned, bold=bold)
    return cursor + away * (max(text_width(text, size) for text, size, *_ in lines) + 2.0)


def _write(
    d: Drawing,
    along: float,
    across: float,
    text: str,
    size: float,
    anchor: str,
    colour: str,
    role: str,
    *,
    turned: bool,
    bold: bool = False,
) -> None:
    x, y = (across, along) if turned else (along, across)
    d.text(
        x, y, text, size=size, anchor=anchor, colour=colour, turned=turned, bold=bold, halo=True, role=role
    )


def _arrow(d: Drawing, a: float, b: float, level: float, colour: str, *, turned: bool) -> None:
    """Draw a line with heads at both ends, or with slanted ticks where heads would meet."""

    def at(along: float) -> tuple[float, float]:
        return (level, along) if turned else (along, level)

    sign = 1.0 if b > a else -1.0
    unit = (0.0, sign) if turned else (sign, 0.0)
    d.line(at(a), at(b), line=colour, width=0.18)
    if abs(b - a) >= 4.0:
        d.tip(at(b), unit, colour=colour)
        d.tip(at(a), (-unit[0], -unit[1]), colour=colour)
        return
    for x, y in (at(a), at(b)):
        d.line((x - 0.6, y + 0.6), (x + 0.6, y - 0.6), line=colour, width=0.3)
