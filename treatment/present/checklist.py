"""One page to print and take to the room: what to hang in which order, and what to measure."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from treatment import bands
from treatment.planning.fixings import FACTOR
from treatment.planning.plan import Plan
from treatment.planning.targets import CRITERION_MS
from treatment.present.hanging import hanging_rows
from treatment.present.pages import page
from treatment.present.seconds import seconds_interval
from treatment.present.tables import matched
from treatment.present.wording import is_level, loudest, surface_words

#: So many panels have a line on the page; beyond, the page says how many are in the report only.
MOST_PANELS: Final = 32
#: So many reflections have a line.
MOST_CHECKS: Final = 8
#: With more panels than this the type is small and fewer reflections have a line.
_CROWDED: Final = 26
_WORDS: Final = (
    "Line: cleat or hangers, above the floor. Fixings: how many, each rated for at least this (factor "
    f"{FACTOR:g}). Overhead first, then wall by wall, the lowest row first, left to right as you face it. "
    "P1 is of most use: if you hang only some, hang the lowest numbers. "
    "Overhead through the rails' ends or the frame into battens or joists, never into board alone."
)
_CHECKED_HZ: Final = (125, 500, 2000)
_STEPS: Final = (
    "Look for doors, lamps, pipes and cables.",
    "Find and mark studs, joists and battens.",
    "Make panels as report.html draws them; weigh each kind.",
    "Tick off saw cuts and cloth by cuts.csv and stock.csv.",
    "Mark a level line for each row; measure twice.",
    "Hold up a paper of the panel's size; sit down and look.",
    "Fix, then pull: no fixing may move.",
    "Measure again, same places, same level.",
)


def main_seat(plan: Plan) -> int:
    """Index of the seat where one measures: the nearest to the middle of all seats.

    Parameters
    ----------
    plan : Plan
        With at least one seat.

    Returns
    -------
    int
        The first of equals.
    """
    places = np.array([s.position for s in plan.scene.seats])
    away = np.linalg.norm(places - places.mean(axis=0), axis=1)
    return int(np.argmin(np.round(away, 6)))


def check_rows(plan: Plan, most: int = MOST_CHECKS) -> list[dict[str, Any]]:
    """Strongest early reflections at the main seat, as predicted.

    Parameters
    ----------
    plan : Plan
        Any plan.
    most : int
        How many at most.

    Returns
    -------
    list of dict of str to object
        ``source``, ``seat``, ``surface``, ``delay``, ``before``, ``after`` as text, the strongest before
        treatment first; bounces of first order within the criterion's time.
    """
    if not plan.scene.seats:
        return []
    scene, a, seat = plan.scene, plan.before.arrivals, main_seat(plan)
    found: list[tuple[float, float, dict[str, Any]]] = []
    for i, j in matched(plan.before, plan.after):
        if a.order[i] != 1 or a.seat[i] != seat or not 0.0 < a.delay_ms[i] <= CRITERION_MS:
            continue
        level = float(loudest(a.level_db[i]))
        row = {
            "source": scene.loudspeakers[a.source[i]].name,
            "seat": scene.seats[seat].name,
            "surface": a.names[i][0],
            "delay": f"{a.delay_ms[i]:.2f} ms",
            "before": f"{level:.1f} dB",
            "after": "" if j is None else f"{float(loudest(plan.after.arrivals.level_db[j])):.1f} dB",
        }
        found.append((-round(level, 3), float(a.delay_ms[i]), row))
    return [row for *_, row in sorted(found, key=lambda f: f[:2])[:most]]


def checklist_html(plan: Plan, units: str | None = None) -> str:
    """Write the page.

    Parameters
    ----------
    plan : Plan
        Any plan.
    units : str, optional
        What the person measures in; default the scene's unit.

    Returns
    -------
    str
        HTML that needs no other file and prints on one page of A4 or Letter.
    """
    rows = hanging_rows(plan, units)
    shown = rows[:MOST_PANELS]
    more = len(rows) - len(shown)
    crowded = len(shown) > _CROWDED
    checks = check_rows(plan, MOST_CHECKS // 2 if crowded else MOST_CHECKS)
    # Few panels leave room for type that is easy to read on a ladder.
    size = 8.6 if len(shown) <= 14 else 7.6 if len(shown) <= 20 else 6.3 if crowded else 6.8
    return page(
        "checklist.html",
        title=plan.scene.title,
        size=size,
        steps=_STEPS,
        groups=_groups(plan, shown),
        more=f"And {more} more panels: see the hanging list in report.html." if more else "",
        words=_WORDS,
        checks=checks,
        seat=checks[0]["seat"] if checks else "",
        times=_times(plan),
        cautions=_cautions(plan),
    )


def _groups(plan: Plan, rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Rows by surface and by where their tape starts."""
    known = {surface_words(x): x for x in plan.scene.surfaces}
    groups: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for r in rows:
        groups.setdefault((r["surface"], r["u_words"], r["v_words"]), []).append(r)
    found = []
    for (surface, u_from, v_from), members in groups.items():
        if is_level(known[surface]):
            heading = f"{surface}: near and far edge {u_from}, then {v_from}"
        else:
            # On two walls of four the tape starts at the right hand: "left" would be the farther edge.
            side = members[0]["near_edge"]
            heading = f"{surface}: {u_from} (at your {side} as you face it), and {v_from}"
        found.append({"heading": heading[:1].upper() + heading[1:], "rows": members})
    return found


def _times(plan: Plan) -> list[dict[str, str]]:
    rows = []
    for hz in _CHECKED_HZ:
        band = bands.band_index(hz)
        before, after = (seconds_interval(e, band) for e in (plan.before, plan.after))
        rows.append(
            {
                "band": f"{hz} Hz",
                "before": f"{before[0]:.2f}-{before[1]:.2f} s",
                "after": f"{after[0]:.2f}-{after[1]:.2f} s",
            }
        )
    return rows


def _cautions(plan: Plan) -> str:
    topics = "; ".join(c.split(":", 1)[0] for c in plan.cautions)
    return (
        f"Read the cautions in report.html: {topics}. Local codes decide; electricity, gas, structure and "
        "asbestos are for licensed trades."
    )
