"""Outcome -> the document that the page paints. It words and rounds; it computes nothing."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from treatment import bands
from treatment.bands import Array
from treatment.materials.library import load_library
from treatment.measures import area_words, volume_words
from treatment.planning.doubt import doubt_of
from treatment.planning.fate import fate_of
from treatment.planning.plan import Evaluation
from treatment.planning.reasons import blocked_reflections
from treatment.planning.targets import CRITERION_DB, CRITERION_MS
from treatment.present.answer import answer
from treatment.present.browser_draft import Draft
from treatment.present.browser_furniture import FURNITURE, object_entries
from treatment.present.browser_hung import (
    build_entries,
    corner_entries,
    hull_of,
    mm,
    panel_entries,
    ring_of,
)
from treatment.present.browser_kinds import kinds_document
from treatment.present.browser_work import Outcome
from treatment.present.documents import finding_documents, numbers
from treatment.present.drawables import drawables
from treatment.present.forms import Drawables
from treatment.present.palette import level_colour
from treatment.present.seconds import seconds_interval, seconds_range
from treatment.present.tape import tape_starts
from treatment.present.wording import (
    lengths,
    loudest,
    surface_title,
)
from treatment.scene.checks import TARGET_USES
from treatment.scene.model import Scene
from treatment.scene.screen import screen_corners


def outcome_document(outcome: Outcome, draft: Draft) -> dict[str, Any]:
    """Everything that follows from a draft.

    Parameters
    ----------
    outcome : Outcome
        Of the draft.
    draft : Draft
        For the panels' locks.

    Returns
    -------
    dict
        ``drawing``, ``walls``, ``corners``, ``panels``, ``numbers``, ``builds``, ``objects``, ``findings``.
    """
    return {
        "stale": outcome.stale,
        "seconds": round(outcome.seconds, 3),
        "drawing": _drawing(outcome.scene),
        "walls": _walls(outcome),
        "corners": corner_entries(outcome.scene),
        "panels": panel_entries(outcome, draft),
        "numbers": _numbers(outcome),
        "builds": build_entries(outcome),
        "objects": object_entries(outcome.scene),
        "findings": finding_documents(outcome.findings),
    }


def solid_document(outcome: Outcome) -> dict[str, Any]:
    """The room in the round, and what no panel can meet: they follow the numbers, for they take as long.

    Parameters
    ----------
    outcome : Outcome
        Of the draft.

    Returns
    -------
    dict
        ``solid``: plain shapes; ``blocked``: sentences.
    """
    blocked = blocked_reflections(outcome.scene, outcome.plan.after)
    return {
        "solid": _solid(drawables(outcome.plan)),
        "blocked": [
            f"{b.source} to {b.seat} by {b.surface}: {b.by}. {b.advice[:1].upper()}{b.advice[1:]}."
            for b in blocked
        ],
    }


def catalogue(units: str) -> dict[str, Any]:
    """What does not change while the planner runs: the shipped materials, bands, uses.

    Parameters
    ----------
    units : str
        As the scene says: of what is told beside kept-free spaces.

    Returns
    -------
    dict
        For the page.
    """
    materials = sorted(load_library().materials.values(), key=lambda m: (m.category, m.description))
    return {
        "bands": [bands.band_label(f) for f in bands.NOMINAL_HZ],
        "uses": list(TARGET_USES),
        "furniture": sorted(FURNITURE),
        **kinds_document(units),
        "criterion": {"ms": CRITERION_MS, "db": CRITERION_DB},
        "materials": [
            {
                "id": m.id,
                "name": m.description or m.id,
                "kind": m.category,
                "absorption": numbers(m.absorption, 2),
            }
            for m in materials
        ],
    }


def _drawing(scene: Scene) -> dict[str, Any]:
    """The room from above, without what a person can drag."""
    floors = [s.polygon for s in scene.surfaces if s.ground]
    parts = [
        shapely.Polygon(p.to_room(np.asarray(part.exterior.coords))[:, :2])
        for p in floors
        for part in shapely.get_parts(p.region)
    ]
    whole = shapely.union_all(parts)
    solids: dict[str, list[Array]] = {}
    for s in scene.surfaces:
        if s.obstacle:
            solids.setdefault(s.obstacle, []).append(s.polygon.to_room(s.polygon.edges[:, 0])[:, :2])
    openings, keeps = [], []
    for o in scene.openings:
        p = scene.surfaces[o.surface].polygon
        if abs(float(p.normal[2])) < 0.7:
            ring = ring_of(o.rectangle)
            openings.append({"name": o.name, "line": mm(p.to_room(ring[:2])[:, :2])})
    for k in scene.keep_outs:
        p = scene.surfaces[k.surface].polygon
        ends = np.concatenate(
            [p.to_room(ring_of(k.rectangle)), p.to_room(ring_of(k.rectangle), max(k.depth, 0.02))]
        )
        keeps.append({"name": k.name, "reason": k.reason, "ring": hull_of(ends[:, :2])})
    low, high = scene.enclosure.bounds
    own = scene.hall[1] - scene.hall[0]
    return {
        "low": mm(low),
        "high": mm(high),
        "floor": [mm(np.asarray(p.exterior.coords)[:-1]) for p in shapely.get_parts(whole)],
        "obstacles": [{"name": name, "ring": hull_of(np.concatenate(p))} for name, p in solids.items()],
        "openings": openings,
        "keep_outs": keeps,
        "screen": None if scene.screen is None else mm(screen_corners(scene, scene.screen)[:2, :2]),
        "size": " by ".join(lengths(float(own[i]), scene.units) for i in (0, 1, 2)),
    }


def _walls(outcome: Outcome) -> list[dict[str, Any]]:
    bounces = _bounces(outcome.plan.before, outcome.plan.after)
    surfaces = enumerate(outcome.scene.surfaces)
    return [_wall(outcome, i, bounces.get(i, [])) for i, s in surfaces if not s.obstacle]


def _wall(outcome: Outcome, index: int, bounces: list[dict[str, Any]]) -> dict[str, Any]:
    """One surface, drawn flat: what hangs there, and where sound bounces off it."""
    scene, surface = outcome.scene, outcome.scene.surfaces[index]
    p = surface.polygon
    starts = tape_starts(scene, index)
    rings = [
        mm(np.asarray(ring.coords)[:-1])
        for part in shapely.get_parts(p.region)
        for ring in (part.exterior, *part.interiors)
    ]
    return {
        "name": surface.name,
        "title": surface_title(surface),
        "kind": surface.kind,
        "material": surface.material.id,
        "area": round(p.area, 2),
        "mirrored": p.mirrored,
        "frame": {"u": mm(p.u_axis), "v": mm(p.v_axis)},
        "rings": rings,
        "from": [start.name for start in starts],
        "start": [round(start.at, 4) for start in starts],
        "openings": [
            {"name": o.name, "ring": ring_of(o.rectangle)} for o in scene.openings if o.surface == index
        ],
        "keep_outs": [
            {"name": k.name, "reason": k.reason, "ring": ring_of(k.rectangle)}
            for k in scene.keep_outs
            if k.surface == index
        ],
        "screen": ring_of(scene.screen.rectangle) if scene.screen and scene.screen.surface == index else None,
        "bounces": bounces,
    }


def _bounces(before: Evaluation, after: Evaluation) -> dict[int, list[dict[str, Any]]]:
    """First-order bounces by surface: where, and how strong without and with the panels."""
    scene, a = before.scene, before.arrivals
    levels, then = loudest(a.level_db), _levels(after)
    found: dict[int, list[dict[str, Any]]] = {}
    first = a.order == 1
    for surface in np.unique(a.surfaces[first, 0]).tolist():
        chosen = np.flatnonzero(first & (a.surfaces[:, 0] == surface))
        at = mm(scene.surfaces[surface].polygon.to_wall(a.points[chosen, 0]))
        for i, point in zip(chosen.tolist(), at, strict=True):
            level = then.get((int(a.source[i]), int(a.seat[i]), surface), float(levels[i]))
            entry = {
                "at": point,
                "source": scene.loudspeakers[a.source[i]].name,
                "seat": scene.seats[a.seat[i]].name,
                "before": round(float(levels[i]), 1),
                "after": round(level, 1),
                "ms": round(float(a.delay_ms[i]), 1),
                "colour": level_colour(level),
                "treat": bool(a.delay_ms[i] <= CRITERION_MS and level >= CRITERION_DB),
            }
            found.setdefault(surface, []).append(entry)
    return found


def _levels(e: Evaluation) -> dict[tuple[int, int, int], float]:
    a = e.arrivals
    levels = loudest(a.level_db)
    return {
        (int(a.source[i]), int(a.seat[i]), int(a.surfaces[i, 0])): float(levels[i])
        for i in np.flatnonzero(a.order == 1)
    }


def _numbers(outcome: Outcome) -> dict[str, Any]:
    plan = outcome.plan
    before, after, budget = plan.before, plan.after, plan.scene.budget
    fate = fate_of(before, after, 1)
    return {
        "answer": list(answer(plan)),
        "advice": len(plan.advice),
        "volume": volume_words(after.volume, plan.scene.units).replace("m3", "m³"),
        "surface": area_words(after.surface_area, plan.scene.units).replace("m2", "m²"),
        "schroeder": round(max(before.schroeder_hz, after.schroeder_hz)),
        "target": {
            "lower": numbers(after.target.lower, 3),
            "upper": numbers(after.target.upper, 3),
            "use": after.target.use,
            "source": after.target.source,
        },
        "before": _times(before),
        "after": _times(after),
        "strong": [fate.before, fate.stay + fate.new],
        "middle": [
            [round(x, 2) for x in seconds_interval(e, bands.band_index(1000))] for e in (before, after)
        ],
        "holds": doubt_of(after).holds,
        "cost": round(plan.cost, 2),
        "budget": budget.amount if budget else None,
        "currency": plan.currency,
        "cautions": list(plan.cautions),
    }


def _times(e: Evaluation) -> dict[str, Any]:
    spans = [seconds_range(e, k) for k in range(bands.COUNT)]
    return {
        "low": [round(low, 3) for low, _ in spans],
        "high": [round(high, 3) for _, high in spans],
        "formulas": {k: numbers(t, 3) for k, t in e.reverberation.items() if t is not None},
    }


def _solid(d: Drawables) -> dict[str, Any]:
    """Plain shapes for the painter in the page."""
    return {
        "bounds": mm(d.bounds),
        "faces": [
            {
                "rings": [mm(ring) for ring in f.rings],
                "normal": np.round(f.normal, 5).tolist(),
                "facing": None if f.facing is None else np.round(f.facing, 5).tolist(),
                "colour": f.colour,
                "opacity": f.opacity,
                "name": f.name,
                "group": f.group,
                "detail": f.detail,
            }
            for f in d.faces
        ],
        "dots": [
            {
                "position": mm(x.position),
                "radius": x.radius,
                "colour": x.colour,
                "name": x.name,
                "group": x.group,
                "detail": x.detail,
            }
            for x in d.dots
        ],
        "lines": [
            {
                "points": mm(x.points),
                "colour": x.colour,
                "name": x.name,
                "group": x.group,
                "source": x.source,
                "seat": x.seat,
                "detail": x.detail,
            }
            for x in d.lines
        ],
        "labels": [
            {
                "position": mm(x.position),
                "text": x.text[:40],
                "group": x.group,
                "rank": x.rank,
                "normal": None if x.normal is None else np.round(x.normal, 5).tolist(),
            }
            for x in d.labels
        ],
    }
