"""Two parts of the report: early reflections by surface; loudspeakers, seats and the screen."""

from __future__ import annotations

import math
from typing import Any

from treatment.measures import cell
from treatment.planning.arrangement import arrangement_of
from treatment.planning.lists import SeatShift
from treatment.planning.plan import Plan
from treatment.planning.targets import LATERAL_AGAINST, LATERAL_FOR
from treatment.planning.viewing import VIEWING_SOURCES
from treatment.present.early_words import (
    MOST_ROWS,
    arrival_rows,
    criterion_words,
    extent_rows,
    lateral_words,
    lowest_band,
    ranking_rows,
    wish_words,
)
from treatment.present.layout_words import directivity_words, layout_rows, layout_words, seat_rows
from treatment.present.wording import surface_words


def early_section(plan: Plan) -> dict[str, Any]:
    """What the report says about early reflections.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    dict
        For the template ``report-early.html``.
    """
    return {
        "criterion": criterion_words(),
        "lateral": lateral_words(plan.before),
        "against": LATERAL_AGAINST,
        "liked": LATERAL_FOR,
        "wish": wish_words(plan.scene),
        "band": lowest_band(plan.extents),
        "extents": extent_rows(plan),
        "singles": arrival_rows(plan),
        "most_rows": MOST_ROWS,
        "seats": [s.name for s in plan.scene.seats],
        "ranking": ranking_rows(plan.before, plan.after),
        "shifts": shift_rows(plan),
    }


def shift_rows(plan: Plan) -> list[dict[str, str]]:
    """Rows of the table of the moved main seat.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict
        One for each place.
    """
    return [
        {
            "words": s.words,
            "place": ", ".join(cell(float(c), plan.scene.units) for c in s.position),
            "before": str(s.before),
            "after": str(s.after),
            "weaker": f"{s.weaker_db:.1f}" if math.isfinite(s.weaker_db) else "all gone",
            "strongest": _strongest(plan, s),
        }
        for s in plan.shifts
    ]


def _strongest(plan: Plan, shift: SeatShift) -> str:
    if not shift.strongest:
        return "none"
    source, surface = shift.strongest
    by = surface_words(plan.scene.surfaces[surface])
    return f"{shift.strongest_db:.1f} dB, {plan.scene.loudspeakers[source].name} by the {by}"


def layout_section(plan: Plan) -> dict[str, Any]:
    """What the report says about loudspeakers, seats and the screen.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    dict
        For the template ``report-layout.html``; without rows where there is no loudspeaker or no seat.
    """
    scene, arrangement = plan.scene, arrangement_of(plan.scene)
    radiation = directivity_words(scene) or "No loudspeaker is known."
    section: dict[str, Any] = {"radiation": radiation, "rows": []}
    if arrangement is None:
        return section
    viewing = arrangement.viewing
    return section | {
        "words": layout_words(scene, arrangement),
        "main": scene.seats[arrangement.seat].name,
        "rows": layout_rows(scene, arrangement),
        "directed": any(s.directivity is not None for s in scene.loudspeakers),
        "seats": [s.name for s in scene.seats],
        "by_seat": seat_rows(scene, arrangement),
        "viewing": []
        if viewing is None
        else [
            {
                "seat": s.name,
                "angle": f"{viewing.angle[k]:.0f}",
                "up": f"{viewing.up[k]:.0f}",
                "distance": cell(float(viewing.distance[k]), scene.units),
                "heights": f"{viewing.heights[k]:.1f}",
            }
            for k, s in enumerate(scene.seats)
        ],
        "viewing_source": VIEWING_SOURCES,
        "findings": arrangement.findings,
    }
