"""How a panel is made, drawn: a cut to scale with named parts, its back, and the order of making it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.stock import Stock, stock_for
from treatment.planning.carriers import Carrier, carrier_for
from treatment.planning.plan import Plan
from treatment.present.palette import AFTER, BEFORE, INK, MUTED, PAPER, RULE, TARGET, WALL
from treatment.present.panel_legend import legend, short_words, size_words
from treatment.present.panel_section import Shape, section
from treatment.present.svg import Drawing

WIDTH: Final = 180.0
#: Paper to size: 1 : 2.5; across a corner, where nothing may be left out, 1 : 5.
_SCALE: Final = 0.4
_CORNER_SCALE: Final = 0.2
_BACK_SCALE: Final = 0.05
#: So much of each end is drawn where a panel is longer (m), with this gap between (mm on paper).
_END: Final = 0.175
_BREAK: Final = 5.0
_TIMBER, _SHEET, _WOOL, _METAL = "#e6cf9f", "#b98a52", "#f4e7b8", "#6f7b83"
_LINES: Final = {
    "cloth": (AFTER, "", 0.7),
    "fleece": (TARGET, "1.4 0.8", 0.5),
    "wire": (BEFORE, "0.5 0.9", 0.6),
}
_LEAST: Final = 6.2  # mm from one number to the next


@dataclass(frozen=True)
class Kind:
    """One way in which a build hangs in a plan.

    Parameters
    ----------
    build : PanelBuild
        With a frame.
    carrier : Carrier
        Of the first of its panels.
    panels : tuple of str
        Which ones.
    """

    build: PanelBuild
    carrier: Carrier
    panels: tuple[str, ...]

    @property
    def name(self) -> str:
        """Part of a file's name: the build's id and on what it hangs."""
        place = {"cleat": "wall", "plates": "wall", "corner": "corner"}.get(self.carrier.kind, "overhead")
        return f"{self.build.id}-{place}"


def stock_of(plan: Plan) -> Stock:
    """What is sold where the plan's room is."""
    return plan.scene.stock or stock_for(plan.scene.units)


def kinds_of(plan: Plan) -> list[Kind]:
    """Builds of a plan by what carries them.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of Kind
        In the order of their first panels; none for what has no frame, or stands.
    """
    found: dict[tuple[str, str], tuple[PanelBuild, Carrier, list[str]]] = {}
    for p in plan.placements:
        carrier = carrier_for(p, plan.scene, stock_of(plan))
        if carrier is not None:
            found.setdefault((p.build.id, carrier.kind), (p.build, carrier, []))[2].append(p.id)
    return [Kind(build, carrier, tuple(ids)) for build, carrier, ids in found.values()]


@dataclass(frozen=True)
class _View:
    """Cut coordinates to paper; upright on a wall, lying overhead and across a corner."""

    length: float
    upright: bool
    scale: float
    x: float
    y: float
    broken: bool

    @property
    def size(self) -> float:
        """Length on paper, mm."""
        if not self.broken:
            return 1000.0 * self.scale * self.length
        return 2000.0 * self.scale * _END + _BREAK

    def along(self, a: float) -> float:
        k = 1000.0 * self.scale
        if not self.broken or a <= _END:
            return k * min(a, _END if self.broken else a)
        return max(self.size - k * (self.length - a), k * _END + _BREAK)

    def point(self, a: float, d: float) -> tuple[float, float]:
        k = 1000.0 * self.scale
        if self.upright:
            return self.x + k * d, self.y + self.size - self.along(a)
        return self.x + self.along(a), self.y + k * d


def panel_svg(kind: Kind, stock: Stock, *, units: str, standalone: bool = True) -> str:
    """Draw how the panels of one kind are made.

    Parameters
    ----------
    kind : Kind
        From `kinds_of`.
    stock : Stock
        What is sold.
    units : str
        What the person measures in: stands first beside every size.
    standalone : bool
        True for a file in real millimetres, False for a part of a web page.

    Returns
    -------
    str
        SVG, 180 mm wide.
    """
    build, carrier = kind.build, kind.carrier
    length, shapes = section(build, carrier, stock)
    upright, corner = carrier.kind in {"cleat", "plates"}, carrier.kind == "corner"
    scale = _CORNER_SCALE if corner else _SCALE
    broken = not corner and length > 2.0 * _END + 0.06
    rows = legend(build, carrier, stock, units)
    depth = 1000.0 * scale * build.depth
    top = 27.0 if upright else 14.0
    behind = 1000.0 * scale * (length / 2.0 + 0.05 if corner else 0.06) + 2.0
    start = (behind + 3.0, top) if upright else (18.0, top + behind)
    view = _View(length, upright, scale, *start, broken)
    back_high = 1000.0 * _BACK_SCALE * build.outer_height
    text_high = 5.6 * len(rows) + 8.0
    if upright:
        legend_at = (view.x + depth + 22.0, top + 2.0)
        height = max(top + view.size + 16.0, legend_at[1] + text_high + back_high + 16.0)
        back_at = (legend_at[0] + 8.0, height - back_high - 11.0)
    else:
        legend_at = (14.0, view.y + depth + 20.0)
        height = legend_at[1] + max(text_high, back_high + 14.0)
        back_at = (WIDTH - 1000.0 * _BACK_SCALE * build.outer_width - 14.0, legend_at[1] + 5.0)
    d = Drawing(WIDTH, height, f"How {build.id} is made", f"panel-{_key(kind.name)}")
    d.rect((0.0, 0.0, WIDTH, height), fill=PAPER, line="none")
    d.text(4.0, 6.0, f"{build.id}: how it is made and held", size=4.0, bold=True)
    d.text(4.0, 10.6, _caption(kind, scale, units), size=2.6, colour=MUTED)
    for shape in shapes:
        _paint(d, view, shape)
    if broken:
        _break(d, view, depth, 1000.0 * scale * 0.06)
    numbers = {row.part: n + 1 for n, row in enumerate(rows)}
    _number(d, view, shapes, numbers, build.depth if not corner else build.thickness)
    _depths(d, view, build, carrier, units)
    for n, row in enumerate(rows):
        y = legend_at[1] + 5.6 * n
        _ball(d, legend_at[0], y, n + 1)
        d.text(legend_at[0] + 4.0, y + 0.2, row.name, size=2.6, bold=True)
        d.text(legend_at[0] + 4.0, y + 2.9, row.words, size=2.3, colour=MUTED)
    _back(d, kind, back_at, units)
    return d.finish(standalone=standalone)


def _key(name: str) -> str:
    return "".join(c if c.isalnum() and c.isascii() else "-" for c in name)


def _caption(kind: Kind, scale: float, units: str) -> str:
    carrier, gap = kind.carrier, kind.build.air_gap
    if carrier.kind in {"cleat", "plates"}:
        cut = "cut from top to bottom, wall at the left"
    elif carrier.kind == "corner":
        cut = "cut seen from above, the corner at the top"
    else:
        cut = f"cut {'along a rail' if carrier.rails else 'across'}, ceiling at the top"
    shown = ", ".join(kind.panels[:8]) + (" ..." if len(kind.panels) > 8 else "")
    behind = f"air gap {size_words(gap, units)}" if gap and carrier.kind != "corner" else "no gap"
    behind = "the corner behind is air" if carrier.kind == "corner" else behind
    return f"{shown}: {behind}. Scale 1 : {1.0 / scale:g}, {cut}; screws are left out."


def _paint(d: Drawing, view: _View, shape: Shape) -> None:
    points = [view.point(a, depth) for a, depth in shape.points]
    if shape.is_line:
        colour, dash, width = _LINES[shape.fill]
        # Cloth, wire and fleece have next to no thickness: each is drawn a little off what it covers.
        off = {"cloth": 1.3, "wire": 0.6, "fleece": -0.5}[shape.fill]
        if shape.fill == "cloth":
            points = _around(points, off)
            # On the back it lies under rails and fleece, close to the frame.
            back = [view.point(a, depth) for a, depth in (shape.points[0], shape.points[-1])]
            for i, j, (bx, by) in ((0, 1, back[0]), (-1, -2, back[1])):
                x, y = points[j]
                points[i] = (bx - 0.4, by) if view.upright else (bx, by - 0.4)
                points[j] = (bx - 0.4, y) if view.upright else (x, by - 0.4)
        else:
            points = [(x + off, y) if view.upright else (x, y + off) for x, y in points]
        more = f'stroke-dasharray="{dash}"' if dash else ""
        d.path([points], line=colour, width=width, close=False, more=more)
        return
    fills = {
        "timber": _TIMBER,
        "sheet": _SHEET,
        "wool": d.hatch("#c9a94b"),
        "metal": _METAL,
        "wall": WALL,
        "member": PAPER,
    }
    line = RULE if shape.fill in {"member", "wall"} else INK
    if shape.fill == "wool":
        d.path([points], fill=_WOOL, line="none")
    d.path([points], fill=fills[shape.fill], line=line, width=0.25)


def _around(points: Sequence[tuple[float, float]], off: float) -> list[tuple[float, float]]:
    """Move a line that goes round a body away from the body's middle."""
    xs, ys = [p[0] for p in points], [p[1] for p in points]
    cx, cy = (min(xs) + max(xs)) / 2.0, (min(ys) + max(ys)) / 2.0
    return [(x + (off if x > cx else -off), y + (off if y > cy else -off)) for x, y in points]


def _break(d: Drawing, view: _View, depth: float, behind: float) -> None:
    """Paper over the part that is left out, between two zigzag lines."""
    k, foot = 1000.0 * view.scale * _END, view.y + view.size
    low, high = -behind - 1.0, depth + 3.0

    def place(along: float, across: float) -> tuple[float, float]:
        return (view.x + across, foot - along) if view.upright else (view.x + along, view.y + across)

    (x0, y0), (x1, y1) = place(k, low), place(k + _BREAK, high)
    d.rect((min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)), fill=PAPER, line="none")
    for at in (k, k + _BREAK):
        zigzag = [place(at + (0.5 if i % 2 else -0.5), low + (high - low) * i / 8) for i in range(9)]
        d.path([zigzag], line=MUTED, width=0.15, close=False)


def _ball(d: Drawing, x: float, y: float, number: int) -> None:
    d.circle(x, y, 2.1, fill=PAPER)
    d.text(x, y + 0.85, str(number), size=2.4, anchor="middle")


def _number(d: Drawing, view: _View, shapes: Sequence[Shape], numbers: dict[str, int], depth: float) -> None:
    """A number for each part, beyond the face, with a line to the part."""
    spots: dict[str, tuple[float, float]] = {}
    for s in shapes:
        if s.part not in numbers or s.part in spots:
            continue
        spots[s.part] = _anchor(view, s)
    k = 1000.0 * view.scale
    rim = (view.x if view.upright else view.y) + k * depth + 8.0
    axis = 1 if view.upright else 0
    order = sorted(spots, key=lambda part: spots[part][axis])
    places = _spread([spots[p][axis] for p in order], _LEAST)
    for part, place in zip(order, places, strict=True):
        ball = (rim, place) if view.upright else (place, rim)
        d.line(spots[part], ball, width=0.15)
        d.circle(*spots[part], 0.45, fill=INK, line="none")
        _ball(d, *ball, numbers[part])


def _anchor(view: _View, shape: Shape) -> tuple[float, float]:
    if shape.is_line:
        share = {"cloth": 0.155, "fleece": 0.085, "wire": 0.12}[shape.fill]
        (a0, d0), (a1, _) = (shape.points[2], shape.points[3]) if shape.fill == "cloth" else shape.points[:2]
        x, y = view.point(min(a0 + share, (a0 + a1) / 2.0), d0)
        off = {"cloth": 1.3, "wire": 0.6, "fleece": -0.5}[shape.fill]
        return (x + off, y) if view.upright else (x, y + off)
    points = [view.point(a, d) for a, d in shape.points]
    if shape.part == "slab":
        return view.point(0.06, 0.5 * (shape.points[0][1] + shape.points[2][1]))
    if shape.part == "rail" and abs(shape.points[0][0] - shape.points[1][0]) > _END:
        return view.point(0.10, 0.5 * (shape.points[0][1] + shape.points[2][1]))
    if shape.part in {"stud", "joist"}:
        return view.point(view.length - 0.03, shape.points[0][1] + 0.02)
    return sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)


def _spread(wanted: list[float], least: float) -> list[float]:
    """Places as near to the wanted ones as they can be without standing closer than allowed."""
    groups: list[list[float]] = []  # sum of wanted first places, members
    for i, w in enumerate(wanted):
        groups.append([w - i * least, 1.0])
        while len(groups) > 1 and groups[-2][0] / groups[-2][1] > groups[-1][0] / groups[-1][1]:
            total, number = groups.pop()
            groups[-1][0] += total
            groups[-1][1] += number
    places: list[float] = []
    for total, number in groups:
        for _ in range(int(number)):
            places.append(total / number + len(places) * least)
    return places


def _depths(d: Drawing, view: _View, build: PanelBuild, carrier: Carrier, units: str) -> None:
    """Running dimensions away from the surface, at the low end."""
    gap = 0.0 if carrier.kind == "corner" else build.air_gap
    stops = [0.0, *(x for x in (carrier.spacer, gap) if x), gap + build.frame_depth]
    if build.sheet:
        stops.append(gap + build.thickness)
    k = 1000.0 * view.scale
    for n, (low, high) in enumerate(pairwise(stops)):
        words = short_words(high - low, units)
        if view.upright:
            y = view.y + view.size + 4.5
            for x in (low, high):
                d.line((view.x + k * x, y - 3.0), (view.x + k * x, y + 1.0), width=0.15)
            d.line((view.x + k * low, y), (view.x + k * high, y), width=0.18)
            d.text(view.x + k * (low + high) / 2.0, y + 3.2 + 2.8 * (n % 2), words, size=2.2, anchor="middle")
        else:
            x = view.x - 4.5
            for y in (low, high):
                d.line((x - 1.0, view.y + k * y), (x + 3.0, view.y + k * y), width=0.15)
            d.line((x, view.y + k * low), (x, view.y + k * high), width=0.18)
            d.text(x - 1.2, view.y + k * (low + high) / 2.0 + 0.8, words, size=2.2, anchor="end")


def _back(d: Drawing, kind: Kind, at: tuple[float, float], units: str) -> None:
    """The back of the panel, its rails and what holds them."""
    build, carrier = kind.build, kind.carrier
    wide, high = build.outer_width, build.outer_height
    k = 1000.0 * _BACK_SCALE
    x, y = at
    d.rect((x, y, x + k * wide, y + k * high), fill=_TIMBER)
    t = build.frame_thickness
    d.rect((x + k * t, y + k * t, x + k * (wide - t), y + k * (high - t)), fill=d.hatch("#7e8d71"))
    upward = carrier.along >= carrier.across if high >= wide else carrier.along < carrier.across
    for rail in carrier.rails:
        w = carrier.width / 2.0
        if upward:  # rails follow each other up the drawing, and run across it
            box = (x, y + k * (high - rail - w), x + k * wide, y + k * (high - rail + w))
        else:
            box = (x + k * (rail - w), y, x + k * (rail + w), y + k * high)
        d.rect(box, fill=_TIMBER)
    d.text(x, y - 1.6, "its back, 1 : 20", size=2.4)
    d.text(x + k * wide / 2.0, y + k * high + 3.4, size_words(wide, units), size=2.2, anchor="middle")
    d.text(x - 1.4, y + k * high / 2.0, size_words(high, units), size=2.2, anchor="middle", turned=True)
