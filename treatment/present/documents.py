"""Evaluation and Plan -> the JSON documents that other people's scripts rely on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from treatment import bands
from treatment.errors import Finding
from treatment.geometry.polygon import Rectangle
from treatment.planning.arrangement import Arrangement, arrangement_of
from treatment.planning.doubt import doubt_of
from treatment.planning.extent import rank_surfaces
from treatment.planning.lists import SurfaceExtent
from treatment.planning.plan import Evaluation, Placement, Plan

#: Mark of a plan.json that this program wrote, so that it may write there again.
PLAN_FORMAT = "treatment-plan/1"


def numbers(values: Any, digits: int = 6) -> Any:
    """Array to nested lists of rounded numbers; what is not finite becomes None.

    Parameters
    ----------
    values : array_like
        Any shape.
    digits : int
        Decimals kept.

    Returns
    -------
    float, None or list
        Ready for JSON.
    """
    array = np.asarray(values, dtype=np.float64)
    if array.ndim == 0:
        return round(float(array), digits) if np.isfinite(array) else None
    return [numbers(v, digits) for v in array]


def finding_documents(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Findings as agreed: code, severity, where, message, hint, and the line where it is known.

    Parameters
    ----------
    findings : sequence of Finding
        Any findings.

    Returns
    -------
    list of dict
        In their order.
    """
    return [
        {
            "code": f.code,
            "severity": f.severity,
            "where": f.where,
            "message": f.message,
            "hint": f.hint,
            "line": f.line,
        }
        for f in findings
    ]


def predict_document(evaluation: Evaluation, findings: Sequence[Finding] = ()) -> dict[str, Any]:
    """Evaluation as the document of ``predict --json``.

    Parameters
    ----------
    evaluation : Evaluation
        With or without panels.
    findings : sequence of Finding
        Those of the scene file, put before the evaluation's own.

    Returns
    -------
    dict
        As agreed, with the target range and the assumed bands added.
    """
    e, scene, a = evaluation, evaluation.scene, evaluation.arrivals
    arrangement = arrangement_of(scene)
    return {
        "bands_hz": list(bands.NOMINAL_HZ),
        "room": {
            "title": scene.title,
            "volume_m3": numbers(e.volume),
            "surface_area_m2": numbers(e.surface_area),
            "mean_free_path_m": numbers(e.mean_free_path),
            "speed_of_sound_m_s": numbers(e.speed_of_sound),
            "schroeder_hz": numbers(e.schroeder_hz, 1),
        },
        "surfaces": [
            {
                "name": r.name,
                "kind": r.kind,
                "area_m2": numbers(r.area),
                "material": r.material,
                "absorption": numbers(r.absorption),
                "assumed": [bool(x) for x in r.assumed],
            }
            for r in e.rows
        ],
        "reverberation_s": {k: None if v is None else numbers(v) for k, v in e.reverberation.items()},
        "reverberation_interval_s": _interval(e),
        "target": {
            "use": e.target.use,
            "centre_s": numbers(e.target.centre),
            "lower_s": numbers(e.target.lower),
            "upper_s": numbers(e.target.upper),
            "source": e.target.source,
            "note": e.target.note,
        },
        "arrivals": [
            {
                "source": scene.loudspeakers[int(a.source[i])].name,
                "seat": scene.seats[int(a.seat[i])].name,
                "order": int(a.order[i]),
                "surfaces": list(a.names[i]),
                "points_m": numbers(a.points[i, : int(a.order[i])]),
                "length_m": numbers(a.length[i]),
                "delay_ms": numbers(a.delay_ms[i]),
                "level_db": numbers(a.level_db[i], 4),
                "verdict": a.verdict[i],
                "clearance_m": numbers(a.clearance[i]),
                "azimuth_deg": numbers(a.direction_deg[i, 0], 2),
                "elevation_deg": numbers(a.direction_deg[i, 1], 2),
                "lateral": bool(a.lateral[i]),
            }
            for i in range(len(a.order))
        ],
        "layout": _layout(arrangement),
        "findings": finding_documents(
            [*findings, *e.findings, *(arrangement.findings if arrangement else ())]
        ),
    }


def _layout(arrangement: Arrangement | None) -> dict[str, Any] | None:
    """Loudspeakers as seen from the main seat, against the published places."""
    if arrangement is None:
        return None
    a, seat = arrangement.layout, arrangement.seat
    return {
        "system": arrangement.system,
        "main_seat": seat,
        "azimuth_deg": numbers(a.azimuth, 2),
        "elevation_deg": numbers(a.elevation, 2),
        "distance_m": numbers(a.distance),
        "delay_ms": numbers(1e3 * a.delay, 3),
        "azimuth_miss_deg": numbers(a.azimuth_miss, 2),
        "elevation_miss_deg": numbers(a.elevation_miss, 2),
        "move_m": numbers(a.move),
        "viewing": None
        if arrangement.viewing is None
        else {
            "angle_deg": numbers(arrangement.viewing.angle, 2),
            "up_deg": numbers(arrangement.viewing.up, 2),
            "distance_m": numbers(arrangement.viewing.distance),
            "picture_heights": numbers(arrangement.viewing.heights, 2),
        },
    }


def _interval(evaluation: Evaluation) -> dict[str, Any]:
    """Interval over formulas and materials (k = 2), with its parts."""
    doubt = doubt_of(evaluation)
    return {
        "lower": numbers(doubt.lower),
        "upper": numbers(doubt.upper),
        "formulas_lower": numbers(doubt.formulas[0]),
        "formulas_upper": numbers(doubt.formulas[1]),
        "materials_relative": numbers(doubt.materials),
    }


def _placement(plan: Plan, p: Placement) -> dict[str, Any]:
    surface = plan.scene.surfaces[p.surface]
    return {
        "id": p.id,
        "panel": p.build.id,
        "surface": surface.name,
        "corner_m": numbers([p.rectangle.u, p.rectangle.v]),
        "size_m": numbers([p.rectangle.width, p.rectangle.height]),
        "centre_m": numbers(surface.polygon.to_room(np.array(p.rectangle.centre))),
        "thickness_m": numbers(p.build.thickness),
        "air_gap_m": numbers(p.build.air_gap),
        "cost": numbers(p.build.price, 2),
        "reasons": list(p.reasons),
    }


def _extent(plan: Plan, extent: SurfaceExtent) -> dict[str, Any]:
    """What one surface would need: the rectangle of all zones, and the field that cures each arrival."""
    scene = plan.scene

    def corners(r: Rectangle | None) -> Any:
        return None if r is None else numbers([r.u, r.v, r.width, r.height])

    return {
        "surface": scene.surfaces[extent.surface].name,
        "zones_m": corners(extent.zones),
        "fields_m": corners(extent.fields),
        "lowest_band_hz": extent.lowest_hz,
        "arrivals": [
            {
                "source": scene.loudspeakers[a.source].name,
                "seat": scene.seats[a.seat].name,
                "zone_m": corners(a.zone),
                "field_m": corners(a.field),
            }
            for a in extent.arrivals
        ],
    }


def plan_document(plan: Plan, findings: Sequence[Finding] = ()) -> dict[str, Any]:
    """Plan as the document of plan.json.

    Parameters
    ----------
    plan : Plan
        The plan.
    findings : sequence of Finding
        Those of the scene file.

    Returns
    -------
    dict
        As agreed, with what stays untreated added.
    """
    return {
        "format": PLAN_FORMAT,
        "title": plan.scene.title,
        "placements": [_placement(plan, p) for p in plan.placements],
        "before": predict_document(plan.before, findings),
        "after": predict_document(plan.after, findings),
        "cost": {"total": numbers(plan.cost, 2), "currency": plan.currency},
        "cautions": list(plan.cautions),
        "blocked": [
            {"source": b.source, "seat": b.seat, "surface": b.surface, "by": b.by, "advice": b.advice}
            for b in plan.blocked
        ],
        "steps": list(plan.steps),
        "zones": [_extent(plan, x) for x in plan.extents],
        "seat_moved": [
            {
                "words": s.words,
                "position_m": numbers(s.position),
                "above_criterion_before": s.before,
                "above_criterion_after": s.after,
                "weaker_db": numbers(s.weaker_db, 2),
            }
            for s in plan.shifts
        ],
        "ranking": [
            {
                "seat": plan.scene.seats[r.seat].name,
                "surfaces": list(r.surfaces),
                "before_db": numbers(r.level_db, 2),
                "after_db": [
                    None if (level := after.level_of(name)) is None else numbers(level, 2)
                    for name in r.surfaces
                ],
            }
            for r, after in zip(rank_surfaces(plan.before), rank_surfaces(plan.after), strict=True)
        ],
    }
