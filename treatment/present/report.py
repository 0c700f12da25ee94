"""Plan -> one HTML file to read on a screen or to print and take along. It computes no number."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import Any

import numpy as np
from markupsafe import Markup

from treatment import bands
from treatment.measures import area_words, cell, in_feet, length_words, speed_words, volume_words
from treatment.planning.doubt import doubt_of, doubt_words
from treatment.planning.plan import Evaluation, Plan
from treatment.present.absorbed import ledger_rows, what_did_it
from treatment.present.answer import answer
from treatment.present.changes_words import change_rows, changes_words
from treatment.present.elevations import elevation_svg, treated_surfaces
from treatment.present.fate_words import verdict_words
from treatment.present.figures import assumed_bands
from treatment.present.hanging import order_words
from treatment.present.money_curve import budget_rows, plan_charts, stop_words
from treatment.present.pages import page
from treatment.present.pairs import blocked_groups
from treatment.present.palette import PAPER
from treatment.present.panel_drawing import kinds_of, panel_svg, stock_of
from treatment.present.panel_legend import making_steps
from treatment.present.plan_view import plan_view_svg
from treatment.present.report_lists import cutting_lists, loads, panel_rows, shopping_lists
from treatment.present.report_parts import early_section, layout_section
from treatment.present.tables import matched
from treatment.present.themes import colours_css, theme_script, theme_script_hash
from treatment.present.traced_tables import traced_rows, traced_words
from treatment.present.wording import loudest, money

_WORDED = ("below-schroeder", "bands-assumed", "target-outside-source", "marginal-path")
#: The table of reflections holds this many; all of them stand in arrivals.csv.
_MOST_ROWS = 24


def report_html(
    plan: Plan,
    *,
    picture: bytes | None = None,
    notes: tuple[str, ...] = (),
    charts: Mapping[str, str | bytes] | None = None,
) -> str:
    """Write the report: the answer first, then drawings, lists, charts, method and doubts.

    Parameters
    ----------
    plan : Plan
        Any plan.
    picture : bytes, optional
        PNG of the room.
    notes : tuple of str
        What was left out, and why.
    charts : mapping of str to str or bytes, optional
        Charts as SVG, or as PNG for a printer, where they have been drawn already; see `plan_charts`.

    Returns
    -------
    str
        HTML that needs no other file.
    """
    scene = plan.scene
    if charts is None:
        charts = plan_charts(plan)
    return page(
        "report.html",
        title=scene.title,
        colours=Markup(colours_css()),
        drawing_paper=PAPER,
        theme_script=Markup(theme_script()),
        theme_hash=Markup(theme_script_hash()),
        answer=answer(plan),
        steps=plan.steps,
        notes=notes,
        picture="data:image/png;base64," + base64.b64encode(picture).decode() if picture else "",
        plan_view=_drawing(plan_view_svg(plan, standalone=False)),
        elevations=[_drawing(elevation_svg(plan, i, standalone=False)) for i in treated_surfaces(plan)],
        reverberation_chart=_drawing(charts["reverberation"]),
        arrivals_chart=_drawing(charts["arrivals"]),
        absorption_chart=_drawing(charts["absorption"]),
        doubts=[
            f"{state}: {words}"
            for state, e in (("As it is", plan.before), ("With panels", plan.after))
            for words in doubt_words(doubt_of(e), e.schroeder_hz)
        ],
        traced_words=[
            f"{state}: {words}"
            for state, e in (("As it is", plan.before), ("With panels", plan.after))
            for words in traced_words(e)
        ],
        traced=traced_rows(plan),
        what_did_it=what_did_it(plan),
        absorbed=ledger_rows(plan),
        area_unit="sq ft sabins" if in_feet(scene.units) else "m2",
        in_feet=in_feet(scene.units),
        band_labels=[bands.band_label(f) for f in bands.NOMINAL_HZ],
        reverberation=_reverberation(plan),
        panels=panel_rows(plan),
        arrivals=_arrivals(plan),
        most_rows=_MOST_ROWS,
        changes=change_rows(plan),
        changes_words=changes_words(plan),
        cost=money(plan, plan.cost),
        **shopping_lists(plan),
        **cutting_lists(plan),
        order_words=order_words(plan),
        stands=any(p.standing for p in plan.placements),
        made=made_section(plan),
        loads=loads(plan),
        progress_chart=_drawing(charts["progress"]) if "progress" in charts else "",
        budgets_chart=_drawing(charts["budgets"]) if "budgets" in charts else "",
        budgets=budget_rows(plan),
        stop_words=stop_words(plan),
        cautions=plan.cautions,
        blocked=blocked_groups(plan),
        mass=_mass(plan),
        before=_facts(plan.before),
        schroeder=f"{plan.before.schroeder_hz:.0f} Hz as it is and {plan.after.schroeder_hz:.0f} Hz",
        holds=doubt_of(plan.after).holds,
        target=plan.after.target,
        early=early_section(plan),
        layout=layout_section(plan),
        assumed=", ".join(assumed_bands(plan.after)),
        findings=_findings(plan),
        builds=_builds(plan),
    )


def made_section(plan: Plan) -> list[dict[str, Any]]:
    """How each kind of panel is made and held.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict of str to object
        ``name``, ``drawing``, ``steps``.
    """
    stock, units = stock_of(plan), plan.scene.units
    return [
        {
            "name": k.name,
            "drawing": _drawing(panel_svg(k, stock, units=units, standalone=False)),
            "steps": making_steps(k.build, k.carrier),
        }
        for k in kinds_of(plan)
    ]


def _drawing(chart: str | bytes) -> Markup:
    """Mark a drawing as safe: its makers escape every text that a scene may hold."""
    if isinstance(chart, bytes):
        return Markup(f'<img alt="" src="data:image/png;base64,{base64.b64encode(chart).decode()}">')
    svg = chart
    # Inside a page the name spaces are implied; without them the page holds no address at all.
    for space in (' xmlns="http://www.w3.org/2000/svg"', ' xmlns:xlink="http://www.w3.org/1999/xlink"'):
        svg = svg.replace(space, "", 1)
    return Markup(svg)


def _seconds(values: Any) -> list[str]:
    return [f"{v:.2f}" if np.isfinite(v) else "" for v in np.asarray(values, dtype=np.float64)]


def _reverberation(plan: Plan) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    for state, evaluation in (("as it is", plan.before), ("with panels", plan.after)):
        for formula, times in evaluation.reverberation.items():
            if times is not None:
                rows.append(
                    {"name": f"{state}, {formula.capitalize()}", "values": _seconds(times), "kind": state[:2]}
                )
        for formula, times in evaluation.extended.items():
            name = f"{state}, {formula.capitalize()} by direction"
            rows.append({"name": name, "values": _seconds(times), "kind": state[:2]})
        doubt = doubt_of(evaluation)
        for end, times in (("from", doubt.lower), ("to", doubt.upper)):
            name = f"{state}, {doubt.holds}, {end}"
            rows.append({"name": name, "values": _seconds(times), "kind": state[:2]})
    target = plan.after.target
    rows.append({"name": "target, lower limit", "values": _seconds(target.lower), "kind": "target"})
    rows.append({"name": "target, upper limit", "values": _seconds(target.upper), "kind": "target"})
    return rows


def _arrivals(plan: Plan) -> list[dict[str, Any]]:
    """First-order reflections that the criterion marks before treatment, strongest left first."""
    scene, a, b = plan.scene, plan.before.arrivals, plan.after.arrivals
    rows: list[tuple[float, dict[str, Any]]] = []
    for i, j in matched(plan.before, plan.after):
        if a.order[i] != 1 or a.verdict[i] != "treat" or j is None:
            continue
        was, now = float(loudest(a.level_db[i])), float(loudest(b.level_db[j]))
        point = a.points[i, 0]
        rows.append(
            (
                now,
                {
                    "source": scene.loudspeakers[a.source[i]].name,
                    "seat": scene.seats[a.seat[i]].name,
                    "surface": a.names[i][0],
                    "panel": b.names[j][0] if b.names[j][0] != a.names[i][0] else "",
                    "place": ", ".join(cell(float(c), scene.units) for c in point),
                    "delay": f"{a.delay_ms[i]:.2f}",
                    "was": f"{was:.1f}",
                    "now": f"{now:.1f}",
                    "verdict": verdict_words(b.verdict[j], panels=True)
                    + (", from the side" if a.lateral[i] else ""),
                },
            )
        )
    rows.sort(key=lambda r: -r[0])
    return [row for _, row in rows]


def _mass(plan: Plan) -> str:
    known = [p.build.mass for p in plan.placements if p.build.mass > 0.0]
    if not known:
        return ""
    words = f"{sum(known):.0f} kg in all, {max(known):.1f} kg the heaviest panel"
    missing = len(plan.placements) - len(known)
    return words + (f" ({missing} without a known mass)" if missing else "")


def _facts(e: Evaluation) -> dict[str, str]:
    return {
        "volume": volume_words(e.volume, e.scene.units),
        "area": area_words(e.surface_area, e.scene.units),
        "free path": length_words(e.mean_free_path, e.scene.units),
        "speed of sound": speed_words(e.speed_of_sound, e.scene.units),
    }


def _findings(plan: Plan) -> list[Any]:
    """Findings of both evaluations, each once, without those that the report words itself."""
    found = {(f.code, f.where, f.message): f for f in (*plan.before.findings, *plan.after.findings)}
    return [f for f in found.values() if f.code not in _WORDED]


def _builds(plan: Plan) -> list[dict[str, Any]]:
    kinds = {p.build.id: p.build for p in plan.placements}
    return [
        {
            "id": b.id,
            "description": b.description,
            "basis": b.basis,
            "absorption": [f"{x:.2f}" for x in b.material.absorption],
            "source": b.material.provenance.source,
        }
        for b in kinds.values()
    ]
