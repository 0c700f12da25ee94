"""Outcome -> the document that the page paints. It words and rounds; it computes nothing."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from treatment import bands
from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.materials.library import load_library
from treatment.planning.plan import Evaluation
from treatment.planning.reasons import blocked_reflections
from treatment.planning.targets import CRITERION_DB, CRITERION_MS
from treatment.present.browser_draft import Draft
from treatment.present.browser_work import Outcome, builds_of
from treatment.present.corner_words import corner_points
from treatment.present.documents import finding_documents, numbers
from treatment.present.drawables import drawables
from treatment.present.forms import Drawables
from treatment.present.palette import level_colour
from treatment.present.wording import (
    answer,
    lengths,
    loudest,
    seconds_range,
    strong_firsts,
    surface_title,
    tape_edges,
)
from treatment.scene.checks import TARGET_USES
from treatment.scene.model import Scene
from treatment.scene.screen import screen_corners


def _mm(values: Any) -> Any:
    """Coordinates to the millimetre."""
    return np.round(np.asarray(values, dtype=np.float64), 3).tolist()


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
        ``drawing``, ``walls``, ``panels``, ``numbers``, ``builds``, ``findings``.
    """
    return {
        "stale": outcome.stale,
        "seconds": round(outcome.seconds, 3),
        "drawing": _drawing(outcome.scene),
        "walls": [_wall(outcome, i) for i, s in enumerate(outcome.scene.surfaces) if not s.obstacle],
        "panels": _panels(outcome, draft),
        "numbers": _numbers(outcome),
        "builds": _builds(outcome),
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


def catalogue() -> dict[str, Any]:
    """What does not change while the planner runs: the shipped materials, bands, uses."""
    materials = sorted(load_library().materials.values(), key=lambda m: (m.category, m.description))
    return {
        "bands": [bands.band_label(f) for f in bands.NOMINAL_HZ],
        "uses": list(TARGET_USES),
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


def _ring(r: Rectangle) -> list[list[float]]:
    low_u, low_v, high_u, high_v = r.bounds
    return [[low_u, low_v], [high_u, low_v], [high_u, high_v], [low_u, high_v]]


def _drawing(scene: Scene) -> dict[str, Any]:
    """The room from above, without what a person can drag."""
    floors = [s.polygon for s in scene.surfaces if s.kind == "floor" and not s.obstacle]
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
            ring = _ring(o.rectangle)
            openings.append({"name": o.name, "line": _mm(p.to_room(ring[:2])[:, :2])})
    for k in scene.keep_outs:
        p = scene.surfaces[k.surface].polygon
        ends = np.concatenate(
            [p.to_room(_ring(k.rectangle)), p.to_room(_ring(k.rectangle), max(k.depth, 0.02))]
        )
        keeps.append({"name": k.name, "reason": k.reason, "ring": _hull(ends[:, :2])})
    low, high = scene.enclosure.bounds
    return {
        "low": _mm(low),
        "high": _mm(high),
        "floor": [_mm(np.asarray(p.exterior.coords)[:-1]) for p in shapely.get_parts(whole)],
        "obstacles": [{"name": name, "ring": _hull(np.concatenate(p))} for name, p in solids.items()],
        "openings": openings,
        "keep_outs": keeps,
        "screen": None if scene.screen is None else _mm(screen_corners(scene, scene.screen)[:2, :2]),
        "size": " by ".join(lengths(float(high[i] - low[i]), scene.units) for i in (0, 1, 2)),
    }


def _hull(points: Array) -> list[list[float]]:
    hull = shapely.MultiPoint(points).convex_hull
    if hull.geom_type == "Polygon":
        ring: list[list[float]] = _mm(np.asarray(hull.exterior.coords)[:-1])
        return ring
    return [list(map(float, p)) for p in np.round(points, 3)]


def _wall(outcome: Outcome, index: int) -> dict[str, Any]:
    """One surface, drawn flat: what hangs there, and where sound bounces off it."""
    scene, surface = outcome.scene, outcome.scene.surfaces[index]
    p = surface.polygon
    u_edge, v_edge = tape_edges(scene, index)
    rings = [
        _mm(np.asarray(ring.coords)[:-1])
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
        "frame": {"u": _mm(p.u_axis), "v": _mm(p.v_axis)},
        "rings": rings,
        "from": [u_edge, v_edge],
        "openings": [
            {"name": o.name, "ring": _ring(o.rectangle)} for o in scene.openings if o.surface == index
        ],
        "keep_outs": [
            {"name": k.name, "reason": k.reason, "ring": _ring(k.rectangle)}
            for k in scene.keep_outs
            if k.surface == index
        ],
        "screen": _ring(scene.screen.rectangle) if scene.screen and scene.screen.surface == index else None,
        "bounces": _bounces(outcome.plan.before, outcome.plan.after, index),
    }


def _bounces(before: Evaluation, after: Evaluation, surface: int) -> list[dict[str, Any]]:
    """First-order bounces off one surface: where, and how strong without and with the panels."""
    scene, a = before.scene, before.arrivals
    polygon = scene.surfaces[surface].polygon
    levels = loudest(a.level_db)
    then = _levels(after)
    found = []
    for i in np.flatnonzero((a.order == 1) & (a.surfaces[:, 0] == surface)):
        source, seat = scene.loudspeakers[a.source[i]].name, scene.seats[a.seat[i]].name
        level = then.get((int(a.source[i]), int(a.seat[i]), surface), float(levels[i]))
        found.append(
            {
                "at": _mm(polygon.to_wall(a.points[i, 0])),
                "source": source,
                "seat": seat,
                "before": round(float(levels[i]), 1),
                "after": round(level, 1),
                "ms": round(float(a.delay_ms[i]), 1),
                "colour": level_colour(level),
                "treat": bool(a.delay_ms[i] <= CRITERION_MS and level >= CRITERION_DB),
            }
        )
    return found


def _levels(e: Evaluation) -> dict[tuple[int, int, int], float]:
    a = e.arrivals
    levels = loudest(a.level_db)
    return {
        (int(a.source[i]), int(a.seat[i]), int(a.surfaces[i, 0])): float(levels[i])
        for i in np.flatnonzero(a.order == 1)
    }


def _panels(outcome: Outcome, draft: Draft) -> list[dict[str, Any]]:
    """Panels as hung, with their outline from above; one without a place any more is told, not drawn."""
    scene = outcome.scene
    placed = {p.id: p for p in outcome.placements}
    counted = {p.id for p in outcome.plan.placements}
    found = []
    for panel in draft.panels:
        known = placed.get(panel.id)
        entry: dict[str, Any] = {
            "id": panel.id,
            "build": panel.build,
            "surface": panel.surface,
            "u": panel.u,
            "v": panel.v,
            "turned": panel.turned,
            "locked": panel.locked,
            "counted": panel.id in counted,
            "reasons": list(panel.reasons),
        }
        if known is not None:
            p, ring = scene.surfaces[known.surface].polygon, _ring(known.rectangle)
            body = np.concatenate([p.to_room(ring, known.build.air_gap), p.to_room(ring, known.build.depth)])
            if known.corner is not None:
                body = corner_points(scene, known)
            entry |= {
                "size": [round(known.rectangle.width, 4), round(known.rectangle.height, 4)],
                "words": [lengths(x, scene.units) for x in (panel.u, panel.v)],
                "above": _hull(body[:, :2]),
                "overhead": scene.surfaces[known.surface].kind == "ceiling",
                "price": known.build.price,
            }
        found.append(entry)
    return found


def _builds(outcome: Outcome) -> list[dict[str, Any]]:
    chosen = {b.id for b in outcome.scene.builds}
    return [
        {
            "id": b.id,
            "name": b.description or b.id,
            "size": f"{1000.0 * b.outer_width:.0f} x {1000.0 * b.outer_height:.0f} mm",
            "depth": f"{1000.0 * b.thickness:.0f} mm thick, gap {1000.0 * b.air_gap:.0f} mm",
            "price": b.price,
            "on": list(b.on),
            "chosen": b.id in chosen,
        }
        for b in builds_of(outcome.scene)
    ]


def _numbers(outcome: Outcome) -> dict[str, Any]:
    plan = outcome.plan
    before, after, budget = plan.before, plan.after, plan.scene.budget
    return {
        "answer": list(answer(plan)),
        "volume": f"{after.volume:.1f} m³",
        "surface": f"{after.surface_area:.1f} m²",
        "schroeder": round(after.schroeder_hz),
        "target": {
            "lower": numbers(after.target.lower, 3),
            "upper": numbers(after.target.upper, 3),
            "use": after.target.use,
            "source": after.target.source,
        },
        "before": _times(before),
        "after": _times(after),
        "strong": [strong_firsts(before), strong_firsts(after)],
        "middle": [[round(x, 2) for x in seconds_range(e, bands.band_index(1000))] for e in (before, after)],
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
        "bounds": _mm(d.bounds),
        "faces": [
            {
                "rings": [_mm(ring) for ring in f.rings],
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
                "position": _mm(x.position),
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
                "points": _mm(x.points),
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
                "position": _mm(x.position),
                "text": x.text[:40],
                "group": x.group,
                "rank": x.rank,
                "normal": None if x.normal is None else np.round(x.normal, 5).tolist(),
            }
            for x in d.labels
        ],
    }
