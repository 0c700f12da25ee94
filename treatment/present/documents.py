"""Evaluation and Plan -> the JSON documents that other people's scripts rely on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from treatment import bands
from treatment.errors import Finding
from treatment.geometry.polygon import Rectangle
from treatment.planning.arrangement import Arrangement, arrangement_of
from treatment.planning.corners import corner_middle, corner_of
from treatment.planning.doubt import doubt_of
from treatment.planning.enough import NEVER, Enough, area_off, enough, last_panel
from treatment.planning.extent import rank_surfaces
from treatment.planning.ledger import ledger_of
from treatment.planning.lists import SurfaceExtent
from treatment.planning.members import fixing_points, framing_of, grid_of, tile_numbers
from treatment.planning.plan import Evaluation, Placement, Plan
from treatment.present.traced_tables import decays_document

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
        "absorption_m2": {
            "total": numbers(ledger_of(e).after),
            "parts": [
                {"name": x.name, "kind": x.kind, "group": x.group, "area_m2": numbers(x.after, 4)}
                for x in ledger_of(e).lines
            ],
        },
        "lacking_m2": {k: numbers(area_off(e, k), 4) for k in ("eyring", "sabine")},
        "objects": [
            {
                "name": o.name,
                "kind": o.kind,
                "count": o.count,
                "material": o.material,
                "area_m2": numbers(o.area),
                "volume_m3": numbers(o.volume),
            }
            for o in scene.objects
        ],
        "reverberation_s": {k: None if v is None else numbers(v) for k, v in e.reverberation.items()},
        "decays": None if e.traced is None else decays_document(e.traced, e),
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
        "materials_relative": numbers(doubt.less),
        "materials_relative_more": numbers(doubt.more),
        "rays_lower": None if doubt.rays is None else numbers(doubt.rays[0]),
        "rays_upper": None if doubt.rays is None else numbers(doubt.rays[1]),
    }


def _placement(plan: Plan, p: Placement) -> dict[str, Any]:
    surface = plan.scene.surfaces[p.surface]
    middle = p.build.outer_height / 2.0 if p.standing else 0.0
    centre = surface.polygon.to_room(np.array(p.rectangle.centre), out=middle)
    if p.corner is not None:
        centre = corner_middle(plan.scene, p)
    return {
        "id": p.id,
        "panel": p.build.id,
        "surface": surface.name,
        "corner_m": numbers([p.rectangle.u, p.rectangle.v]),
        "size_m": numbers([p.rectangle.width, p.rectangle.height]),
        "centre_m": numbers(centre),
        "thickness_m": numbers(p.build.thickness),
        "air_gap_m": numbers(p.build.air_gap),
        "cost": numbers(p.build.price, 2),
        "reasons": list(p.reasons),
        **_support(plan, p),
    }


def _last_panel(plan: Plan) -> dict[str, Any] | None:
    """What the last panel brought."""
    last = last_panel(plan)
    if last is None:
        return None
    return {
        "id": last.id,
        "panel": last.build,
        "added_m2": numbers(last.area, 4),
        "eyring_change_s": numbers(last.time),
        "early_excess_db": None if last.excess_db is None else numbers(last.excess_db, 2),
        "cost": numbers(last.price, 2),
    }


def _enough(e: Enough) -> dict[str, Any]:
    """With how many panels the range is met and overshot; null where no number is."""

    def known(n: int) -> int | None:
        return None if n == NEVER else int(n)

    return {
        "formula": e.formula,
        "planned": e.planned,
        "met_at_panels": [known(n) for n in e.met],
        "overshot_at_panels": [known(n) for n in e.overshot],
        "middle_met_at_panels": known(e.middle_met),
        "middle_overshot_at_panels": known(e.middle_overshot),
    }


def _support(plan: Plan, p: Placement) -> dict[str, Any]:
    """Members or tiles that carry a panel, where the scene names them."""
    framing, grid = framing_of(plan.scene, p.surface), grid_of(plan.scene, p.surface)
    found: dict[str, Any] = {}
    if p.standing:
        found = {"standing": True, "height_m": numbers(p.build.outer_height)}
    if p.corner is not None:
        corner = corner_of(plan.scene, p)
        found = {
            "corner": [plan.scene.surfaces[i].name for i in corner.walls],
            "leg_m": numbers(corner.leg(p.build.outer_width)),
            "mean_gap_m": numbers(corner.gap(p.build.outer_width)),
        }
    if framing is not None and not p.solid:
        points = fixing_points(framing, p.rectangle)
        found["members"] = [{"number": n, "along": framing.along, "at_m": numbers(x)} for n, x in points]
    if grid is not None and not p.solid:
        bounds = plan.scene.surfaces[p.surface].polygon.bounds
        left, right, near, far = tile_numbers(grid, bounds, p.rectangle)
        found["tiles"] = {"columns": [left, right], "rows": [near, far]}
    return found


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
        "advice": list(plan.advice),
        "last_panel": _last_panel(plan),
        "enough": [_enough(enough(plan, formula)) for formula in ("eyring", "sabine")],
        "budgets": [
            {
                "budget": numbers(s.budget, 2),
                "cost": numbers(s.cost, 2),
                "panels": s.panels,
                "early_before": s.early_before,
                "early_after": s.early_after,
                "early_new": s.early_new,
                "early_excess_gone": numbers(s.gone),
                "eyring_before_s": numbers(s.seconds_before),
                "eyring_after_s": numbers(s.seconds),
                "reverberation": s.state,
                "outside_range_s": numbers(s.missing),
                "worth": numbers(s.worth),
                "stop": s.stop,
                "near": s.near,
            }
            for s in plan.budgets
        ],
        "budget_turn": numbers(plan.turn, 2),
        "changes": [{"id": c.id, "change": c.kind} for c in plan.changes],
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
