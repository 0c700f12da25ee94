"""The order of hanging, and for each panel the marks to put on its surface."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from treatment.materials.stock import stock_for
from treatment.planning.carriers import Carrier, carrier_for
from treatment.planning.fixings import Fixing, fixing_for
from treatment.planning.members import grid_of
from treatment.planning.plan import Placement, Plan
from treatment.present.carrier_words import gap_words, overhead_words
from treatment.present.support_words import support_words
from treatment.present.tape import TapeStart, tape, tape_starts
from treatment.present.wording import is_level, surface_words

#: The line of the cleat or of the hangers runs this far below a panel's top edge (m). Common practice.
LINE_BELOW_TOP: Final = 0.05

ORDER_WORDS: Final = (
    "Overhead first: you need the floor free for the ladder, and dust falls. Then wall by wall, the lowest "
    "row first and from left to right as you face the wall, so that one level line serves a row. The numbers "
    "P1, P2, ... are the order of benefit: if you hang only some, hang those first."
)
_STANDING_LAST: Final = (
    " Panels that stand on the floor have the last numbers, whatever they bring: they are chosen with all "
    "others in place, so what one of them brings has no rank among those before. progress.csv has it."
)


def order_words(plan: Plan) -> str:
    """Say in which order panels are hung, and what their numbers mean.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    str
        Sentences.
    """
    return ORDER_WORDS + (_STANDING_LAST if any(p.standing for p in plan.placements) else "")


@dataclass(frozen=True)
class Hung:
    """One panel in the order of hanging; lengths in m.

    Parameters
    ----------
    order : int
        From 1.
    id, build, surface : str
        Panel, kind and surface in words.
    u_from, v_from : TapeStart
        Where the tape starts.
    near_edge : str
        Which edge of the panel the first distance goes to, as one faces the surface.
    u, u_far : float
        From `u_from` to the panel's near and far edge.
    v, v_far : float
        From `v_from` to its near (lower) and far (upper) edge.
    bottom, top : float
        Height of its lowest and highest edge above the floor.
    line : float or None
        Height above the floor of the line that carries it on a wall.
    line_kind : str
        ``cleat`` where the gap has room for one, ``hangers``, or empty.
    carrier : Carrier or None
        Rails and what holds on to them.
    fixing : Fixing or None
        How many fixings, and their rating.
    mass : float
        In kg; 0 when not known.
    overhead : bool
        Whether it hangs over heads.
    """

    order: int
    id: str
    build: str
    surface: str
    u_from: TapeStart
    v_from: TapeStart
    near_edge: str
    u: float
    u_far: float
    v: float
    v_far: float
    bottom: float
    top: float
    line: float | None
    line_kind: str
    carrier: Carrier | None
    fixing: Fixing | None
    mass: float
    overhead: bool


def hang_order(plan: Plan) -> tuple[Placement, ...]:
    """Put the panels into the order of hanging; `ORDER_WORDS` says why.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of Placement
        Overhead first, then by wall, lowest row first, left to right as one faces the wall.
    """

    def key(p: Placement) -> tuple[Any, ...]:
        surface = plan.scene.surfaces[p.surface]
        across = -p.rectangle.u if surface.polygon.mirrored else p.rectangle.u
        return (surface.kind != "ceiling", p.surface, round(p.rectangle.v, 3), round(across, 3))

    return tuple(sorted(plan.placements, key=key))


def hang_sheet(plan: Plan) -> tuple[Hung, ...]:
    """Marks for every panel, in the order of hanging.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of Hung
        Lengths in m, not yet rounded.
    """
    floor = float(plan.scene.hall[0, 2])
    return tuple(_hung(plan, p, n + 1, floor) for n, p in enumerate(hang_order(plan)))


def _hung(plan: Plan, p: Placement, order: int, floor: float) -> Hung:
    surface = plan.scene.surfaces[p.surface]
    low_u, low_v, high_u, high_v = p.rectangle.bounds
    corners = surface.polygon.to_room([[low_u, low_v], [high_u, low_v], [high_u, high_v], [low_u, high_v]])
    bottom, top = float(corners[:, 2].min()) - floor, float(corners[:, 2].max()) - floor
    if p.standing:
        top = p.build.outer_height
    on_wall = surface.kind == "wall" and p.corner is None
    carrier = carrier_for(p, plan.scene, plan.scene.stock or stock_for(plan.scene.units))
    cleat = carrier is not None and carrier.kind == "cleat"
    below = carrier.line if carrier is not None and cleat else LINE_BELOW_TOP
    u_from, v_from = tape_starts(plan.scene, p.surface, p.rectangle)
    side = "right" if surface.polygon.mirrored else "left"
    return Hung(
        order=order,
        id=p.id,
        build=p.build.id,
        surface=surface_words(surface),
        u_from=u_from,
        v_from=v_from,
        near_edge="near" if is_level(surface) else side,
        u=u_from.reading(low_u),
        u_far=u_from.reading(high_u),
        v=v_from.reading(low_v),
        v_far=v_from.reading(high_v),
        bottom=bottom,
        top=top,
        line=float(surface.polygon.to_room([low_u, high_v - below])[2]) - floor if on_wall else None,
        line_kind=("cleat" if cleat else "hangers") if on_wall else "",
        carrier=carrier,
        fixing=fixing_for(p.build, surface.kind) if grid_of(plan.scene, p.surface) is None else None,
        mass=p.build.mass,
        overhead=surface.kind == "ceiling",
    )


def hanging_rows(plan: Plan, units: str | None = None) -> list[dict[str, Any]]:
    """Hanging sheet as text.

    Parameters
    ----------
    plan : Plan
        Any plan.
    units : str, optional
        What the person measures in; default the scene's unit.

    Returns
    -------
    list of dict of str to object
        In the order of hanging. Every length as one marks it (``u``, ``u_far``, ``v``, ``bottom``, ...),
        and again in the other system (``u_other``, ...). ``u`` and ``u_far`` are the panel's nearer and
        farther edge, both from `u_from`; `near_edge` says at which hand that is as one faces the wall.
        ``u_words`` and ``v_words`` say the same as `u_from` and `v_from` as a phrase behind a distance.
    """
    units = units or plan.scene.units
    other = "m" if units in {"ft", "in"} else "ft"
    rows = []
    placements = {p.id: p for p in plan.placements}
    for h in hang_sheet(plan):
        row: dict[str, Any] = {
            "order": h.order,
            "id": h.id,
            "panel": h.build,
            "surface": h.surface,
            "u_from": h.u_from.name,
            "v_from": h.v_from.name,
            "u_words": h.u_from.words,
            "v_words": h.v_from.words,
            "near_edge": h.near_edge,
            "overhead": h.overhead,
            "line_kind": h.line_kind,
            "mass": f"{h.mass:.1f} kg" if h.mass > 0.0 else "weigh it",
            "fixings": _fixing_words(h),
            "how": _how(h, units),
        }
        placement = placements[h.id]
        row["support"] = support_words(plan.scene, placement, lambda x: tape(x, units))
        if grid_of(plan.scene, placement.surface) is not None and not placement.standing:
            row |= {"how": row["support"], "fixings": "the grid"}
        elif placement.standing:
            row |= {"how": row["support"], "fixings": "feet"}
        elif placement.corner is not None:
            held = "its frame to an upright batten" if placement.build.frame_thickness else "it"
            row["how"] = f"{row['support']}; screw {held} on each wall"
        elif row["support"]:
            row["how"] = f"{row['how']}; {row['support']}"
        lengths = {name: getattr(h, name) for name in ("u", "u_far", "v", "v_far", "bottom", "top", "line")}
        for name, value in lengths.items():
            row[name] = "" if value is None else tape(value, units)
            row[f"{name}_other"] = "" if value is None else tape(value, other)
        rows.append(row)
    return rows


def _fixing_words(h: Hung) -> str:
    if h.fixing is None:
        return "as described"
    rated = f" x {h.fixing.rating:.0f} kg" if h.fixing.rating else ", weigh it first"
    return f"{h.fixing.count}{rated}"


def _how(h: Hung, units: str) -> str:
    """What carries the panel."""
    if h.overhead:
        return "as described" if h.carrier is None else overhead_words(h.carrier, units)
    if not h.line_kind:
        return "stands on the floor"
    if h.fixing is None:
        return "no frame: hang as described"
    return f"{h.line_kind}{gap_words(h.carrier, units)}"
