"""Early reflections by surface, in words: how large a treatment, which surface matters, what is taste.

Nothing here computes physics; it words numbers that a plan or an evaluation already holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from treatment import bands
from treatment.geometry.polygon import Rectangle
from treatment.measures import in_feet
from treatment.planning.extent import SeatRanking, rank_surfaces
from treatment.planning.lists import ArrivalExtent, SurfaceExtent
from treatment.planning.plan import Evaluation, Plan
from treatment.planning.targets import CRITERION_DB, CRITERION_MS, CRITERION_SOURCE
from treatment.present.tape import TapeStart, tape, tape_pair, tape_starts
from treatment.present.wording import counted, listed, surface_title, surface_words
from treatment.scene.model import Scene
from treatment.units import format_imperial

#: Rows of the table of single reflections; all of them stand in zones.csv.
MOST_ROWS = 24


def span_words(low: float, high: float, units: str = "m") -> tuple[str, str]:
    """Word a stretch of the tape in both systems.

    Parameters
    ----------
    low, high : float
        Readings, m.
    units : str
        What the person measures in: its system comes first.

    Returns
    -------
    tuple of str
        Metres, and feet and inches: ``1.20 to 2.85 m``; one reading where both are the same millimetre.
    """
    if high - low < 5e-4:
        return tape_pair(low, units)
    both = f"{tape(low)[:-2]} to {tape(high)}", f"{format_imperial(low)} to {format_imperial(high)}"
    return both[::-1] if in_feet(units) else both


def size_words(rectangle: Rectangle, units: str = "m") -> tuple[str, str]:
    """Word the size of a rectangle in both systems.

    Parameters
    ----------
    rectangle : Rectangle
        In wall coordinates, m.
    units : str
        What the person measures in: its system comes first.

    Returns
    -------
    tuple of str
        Metres, and feet and inches, or the other way round.
    """
    w, h = rectangle.width, rectangle.height
    both = f"{tape(w)[:-2]} x {tape(h)}", f"{format_imperial(w)} x {format_imperial(h)}"
    return both[::-1] if in_feet(units) else both


def extent_rows(plan: Plan) -> list[dict[str, Any]]:
    """Rows of the table of surfaces: where reflections land, how large a treatment cures them all.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict
        One for each surface with first reflections above the criterion, the most concerned first.
    """
    rows = extents_words(plan.scene, plan.extents)
    for row, x in zip(rows, plan.extents, strict=True):
        hung = [p.id for p in plan.placements if p.surface == x.surface]
        row["hung"] = listed(hung) if hung else "no panel"
    return rows


def extents_words(scene: Scene, extents: Sequence[SurfaceExtent]) -> list[dict[str, Any]]:
    """Word where reflections land on each surface, and how large a treatment cures them all.

    Parameters
    ----------
    scene : Scene
        The room.
    extents : sequence of SurfaceExtent
        Of this room.

    Returns
    -------
    list of dict
        One for each; lengths in both systems, from where the tape starts.
    """
    rows = []
    for x in extents:
        starts = tape_starts(scene, x.surface, _around(x.zones, x.fields))
        row: dict[str, Any] = {
            "surface": surface_title(scene.surfaces[x.surface]),
            "who": who_words(scene, x.arrivals),
            "u_from": starts[0].words,
            "v_from": starts[1].words,
            "zones": _tape(x.zones, starts, scene.units),
            "fields": None if x.fields is None else _tape(x.fields, starts, scene.units),
            "size": None if x.fields is None else size_words(x.fields, scene.units),
            "uncured": x.uncured,
            "count": len(x.arrivals),
        }
        rows.append(row)
    return rows


def _around(one: Rectangle, other: Rectangle | None) -> Rectangle:
    """Rectangle round two, or the first."""
    if other is None:
        return one
    a, b = one.bounds, other.bounds
    u, v = min(a[0], b[0]), min(a[1], b[1])
    return Rectangle(u, v, max(a[2], b[2]) - u, max(a[3], b[3]) - v)


def _tape(r: Rectangle, starts: tuple[TapeStart, TapeStart], units: str) -> dict[str, tuple[str, str]]:
    u, v = starts
    low_u, low_v, high_u, high_v = r.bounds
    return {
        "u": span_words(u.reading(low_u), u.reading(high_u), units),
        "v": span_words(v.reading(low_v), v.reading(high_v), units),
    }


def who_words(scene: Scene, arrivals: Sequence[ArrivalExtent]) -> str:
    """Whose sound a surface sends to whom: ``L, C and R to all seats``.

    Parameters
    ----------
    scene : Scene
        The room.
    arrivals : sequence of ArrivalExtent
        Of one surface.

    Returns
    -------
    str
        A phrase.
    """
    sources = [scene.loudspeakers[i].name for i in sorted({a.source for a in arrivals})]
    seats = [scene.seats[i].name for i in sorted({a.seat for a in arrivals})]
    every = len(seats) == len(scene.seats) > 1
    return f"{listed(sources)} to {'all seats' if every else listed(seats)}"


def arrival_rows(plan: Plan) -> list[dict[str, Any]]:
    """Rows of the table of single reflections: the least field that cures each.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict
        One for each surface and loudspeaker with a first reflection above the criterion; ``cells`` by seat,
        None where the seat has none.
    """
    scene = plan.scene
    rows = []
    for x in plan.extents:
        for source in sorted({a.source for a in x.arrivals}):
            own = {a.seat: _cell(scene, x.surface, a) for a in x.arrivals if a.source == source}
            row: dict[str, Any] = {
                "surface": surface_words(scene.surfaces[x.surface]),
                "source": scene.loudspeakers[source].name,
                "cells": [own.get(k) for k in range(len(scene.seats))],
            }
            rows.append(row)
    return rows


def _cell(scene: Scene, surface: int, a: ArrivalExtent) -> dict[str, str]:
    """Size of the field and where its middle is; where the sound lands when no field is enough."""
    where = a.zone if a.field is None else a.field
    starts = tape_starts(scene, surface, where)
    u, v = (tape(s.reading(x), scene.units) for s, x in zip(starts, where.centre, strict=True))
    size = "none" if a.field is None else size_words(a.field, scene.units)[0]
    return {"size": size, "centre": f"{u}, {v}"}


def lowest_band(extents: Sequence[SurfaceExtent]) -> str:
    """Octave band down to which the fields cure.

    Parameters
    ----------
    extents : sequence of SurfaceExtent
        Of one room.

    Returns
    -------
    str
        ``1 kHz``; empty without extents.
    """
    return bands.band_label(extents[0].lowest_hz) if extents else ""


def ranking_rows(before: Evaluation, after: Evaluation | None = None) -> list[dict[str, Any]]:
    """Rows of the ranking: what each surface sends early to each seat.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same with panels.

    Returns
    -------
    list of dict
        ``surface``, and ``cells`` by seat: level before, level after (empty without), and whether the
        surface is the seat's strongest; the surface that is strongest at any seat first.
    """
    ranking = rank_surfaces(before)
    then = rank_surfaces(after) if after is not None else None
    best: dict[str, float] = {}
    for r in ranking:
        for name, level in zip(r.surfaces, r.level_db, strict=True):
            best[name] = max(best.get(name, -np.inf), float(level))
    rows = []
    for name in sorted(best, key=lambda n: -best[n]):
        cells = []
        for k, r in enumerate(ranking):
            was = r.level_of(name)
            now = then[k].level_of(name) if then is not None else None
            first = bool(r.surfaces) and r.surfaces[0] == name
            cells.append({"before": _level(was), "after": _level(now), "first": first})
        rows.append({"surface": _words_of(before.scene, name), "cells": cells})
    return rows


def _level(value: float | None) -> str:
    return "" if value is None else f"{value:.1f}"


def _words_of(scene: Scene, name: str) -> str:
    """Name of a surface or obstacle inside a sentence."""
    return next((surface_words(s) for s in scene.surfaces if s.name == name), name)


def strongest_words(scene: Scene, ranking: SeatRanking, after: SeatRanking | None = None) -> str:
    """Word a seat's ranking in one sentence, the three strongest surfaces.

    Parameters
    ----------
    scene : Scene
        The room.
    ranking : SeatRanking
        As it is.
    after : SeatRanking, optional
        With panels.

    Returns
    -------
    str
        A sentence; empty where no early reflection reaches the seat.
    """
    parts = []
    for name, level in list(zip(ranking.surfaces, ranking.level_db, strict=True))[:3]:
        now = after.level_of(name) if after is not None else None
        change = f", {now:.1f} with the panels" if now is not None else ""
        parts.append(f"{_words_of(scene, name)} ({level:.1f} dB re direct{change})")
    if not parts:
        return ""
    return f"Most of what reaches '{scene.seats[ranking.seat].name}' early comes by {listed(parts)}."


def criterion_words() -> str:
    """Word the early-reflection criterion with its source.

    Returns
    -------
    str
        A sentence.
    """
    return (
        f"Wanted: what arrives within {CRITERION_MS:g} ms behind the direct sound is {-CRITERION_DB:g} dB "
        f"weaker than it, or more, in every octave from 1 to 8 kHz. Source: {CRITERION_SOURCE}."
    )


def lateral_words(evaluation: Evaluation) -> str:
    """Count the strong early reflections that come from the side.

    Parameters
    ----------
    evaluation : Evaluation
        Any.

    Returns
    -------
    str
        A sentence; empty when there is none.
    """
    a = evaluation.arrivals
    first = a.order == 1
    strong = np.array([v == "treat" for v in a.verdict], dtype=bool) & first
    kept = int((np.array([v == "keep" for v in a.verdict], dtype=bool) & first).sum())
    side = int((strong & a.lateral).sum())
    words = f"{counted(kept, 'single bounce')} by the side walls {_is(kept)} kept. " if kept else ""
    if side:
        words += (
            f"{counted(side, 'single bounce')} of {int(strong.sum())} above the criterion "
            f"{'comes' if side == 1 else 'come'} from the side{' by other surfaces' if kept else ''}: "
            f"whether to treat {'it' if side == 1 else 'them'} is a matter of taste."
        )
    return words.strip()


def _is(number: int) -> str:
    return "is" if number == 1 else "are"


def wish_words(scene: Scene) -> str:
    """Say that side reflections are kept, where the scene wishes so.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    str
        A sentence; empty without the wish.
    """
    if not scene.keep_side_reflections:
        return ""
    return (
        "Side reflections are kept, as the scene wishes (keep_side_reflections): what the side walls send "
        "from the side is neither treated nor counted, and no panel hangs where it lands. Ceiling, front and "
        "rear wall and the amount of absorption get advice as ever."
    )


def shift_words(plan: Plan) -> str:
    """Say in a sentence what a moved main seat changes.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    str
        Empty where no move was tried.
    """
    if len(plan.shifts) < 2:
        return ""
    still = plan.shifts[0]
    others = [f"{s.after} of {s.before} {s.words}" for s in plan.shifts[1:]]
    return (
        f"First reflections that stay above the criterion at the main seat: {still.after} of {still.before} "
        f"{still.words}, {listed(others)}."
    )
