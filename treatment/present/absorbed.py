"""What absorbs, in words and tables: the greatest parts, the last panel, how many panels are enough."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from treatment import bands
from treatment.bands import Array
from treatment.measures import SQUARE_FOOT, absorption_words, in_feet
from treatment.planning.enough import MIDDLE, NEVER, Enough, area_off, enough, last_panel
from treatment.planning.ledger import Ledger, ledger_of
from treatment.planning.plan import Evaluation, Plan
from treatment.present.tables import BAND_COLUMNS, table
from treatment.present.wording import counted, listed, money

if TYPE_CHECKING:
    import pandas as pd

ABSORPTION_COLUMNS: Final = (
    "name", "kind", "group", "material", "exposed_before_m2", "exposed_after_m2",
    *(f"before_{b}_m2" for b in BAND_COLUMNS),
    *(f"after_{b}_m2" for b in BAND_COLUMNS),
    *(f"before_{b}_share" for b in BAND_COLUMNS),
    *(f"after_{b}_share" for b in BAND_COLUMNS),
)  # fmt: skip
ENOUGH_COLUMNS: Final = ("formula", "band", "planned", "met_at_panels", "overshot_at_panels")
#: Bands at which the greatest parts are named.
_NAMED: Final = (125, 1000)
_FORMULAS: Final = ("eyring", "sabine")


def absorption_table(before: Evaluation, after: Evaluation | None = None) -> pd.DataFrame:
    """List what absorbs, by surface and band, before and after.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same room with panels.

    Returns
    -------
    pandas.DataFrame
        `ABSORPTION_COLUMNS`: equivalent absorption areas in m2 and shares of the whole from 0 to 1; a row
        a thing, ``total`` last.
    """
    ledger = ledger_of(before, after)
    rows: list[dict[str, object]] = []

    def add(head: dict[str, object], was: Array, now: Array) -> None:
        parts = {"before": (was, ledger.before), "after": (now, ledger.after)}
        row = dict(head)
        for state, (area, whole) in parts.items():
            for b, a, w in zip(BAND_COLUMNS, area, whole, strict=True):
                row[f"{state}_{b}_m2"] = round(float(a), 4)
                row[f"{state}_{b}_share"] = round(float(a / w), 4) if w > 0.0 else 0.0
        rows.append(row)

    for x in ledger.lines:
        head: dict[str, object] = {
            "name": x.name,
            "kind": x.kind,
            "group": x.group,
            "material": x.material,
            "exposed_before_m2": round(x.exposed[0], 4),
            "exposed_after_m2": round(x.exposed[1], 4),
        }
        add(head, x.before, x.after)
    sums = [round(sum(x.exposed[k] for x in ledger.lines), 4) for k in (0, 1)]
    total = {"name": "total", "kind": "total", "exposed_before_m2": sums[0], "exposed_after_m2": sums[1]}
    add({**total, "group": "", "material": ""}, ledger.before, ledger.after)
    return table(rows, ABSORPTION_COLUMNS)


def enough_table(plan: Plan) -> pd.DataFrame:
    """List with how many panels each band is in its range, and with how many it is below.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    pandas.DataFrame
        `ENOUGH_COLUMNS`, by formula and band, and for the mean of 500 Hz and 1 kHz; empty where walls and
        ceiling do not hold so many, or the range says nothing.
    """
    rows: list[dict[str, object]] = []
    for formula in _FORMULAS:
        e = enough(plan, formula)
        names = [*BAND_COLUMNS, "mean of 500_hz and 1000_hz"]
        pairs = [*zip(e.met, e.overshot, strict=True), (e.middle_met, e.middle_overshot)]
        for band, (met, over) in zip(names, pairs, strict=True):
            rows.append(
                {
                    "formula": formula,
                    "band": band,
                    "planned": e.planned,
                    "met_at_panels": "" if met == NEVER else int(met),
                    "overshot_at_panels": "" if over == NEVER else int(over),
                }
            )
    return table(rows, ENOUGH_COLUMNS)


def greatest(ledger: Ledger, after: bool = True, most: int = 4, units: str = "m") -> tuple[str, ...]:
    """Name the greatest absorbers at 125 Hz and 1 kHz.

    Parameters
    ----------
    ledger : Ledger
        What absorbs.
    after : bool
        With the panels, or without.
    most : int
        How many are named.
    units : str
        As the scene says.

    Returns
    -------
    tuple of str
        A sentence a band.
    """
    parts = ledger.by_part(after)
    whole = ledger.after if after else ledger.before
    said = []
    for hz in _NAMED:
        k = bands.band_index(hz)
        order = sorted(parts, key=lambda name: -float(parts[name][k]))[:most]
        words = [
            f"{name} {100.0 * float(parts[name][k]) / max(float(whole[k]), 1e-12):.0f} %" for name in order
        ]
        area = absorption_words(float(whole[k]), units)
        said.append(f"At {bands.band_label(hz)} {area} absorb: {listed(words)}.")
    return tuple(said)


def lacking_words(evaluation: Evaluation) -> tuple[str, ...]:
    """Say by how much absorption area each band is off its range.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.

    Returns
    -------
    tuple of str
        A sentence for what lacks, one for what is too much, by Eyring's formula with Sabine's beside it;
        empty where every band is inside.
    """
    said = []
    feet = in_feet(evaluation.scene.units)
    unit, size = ("sq ft sabins", SQUARE_FOOT) if feet else ("m2", 1.0)
    digits = 0 if feet else 1
    by = {name: area_off(evaluation, name) for name in _FORMULAS}
    for sign, words in (
        (1.0, "Absorption lacks (above the range)"),
        (-1.0, "Too much absorption (too dead)"),
    ):
        off = [
            f"{bands.band_label(f)} {abs(float(e)) / size:.{digits}f} ({abs(float(s)) / size:.{digits}f})"
            for f, e, s in zip(bands.NOMINAL_HZ, by["eyring"], by["sabine"], strict=True)
            if np.isfinite(e) and sign * float(e) > 0.0
        ]
        if off:
            said.append(f"{words}, {unit} by Eyring (by Sabine): {', '.join(off)}.")
    return tuple(said)


def last_panel_words(plan: Plan) -> str:
    """Say what the last panel of a plan brought.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    str
        One sentence; empty without panels.
    """
    last = last_panel(plan)
    if last is None:
        return ""
    bass, middle = bands.band_index(125), bands.band_index(1000)
    added = [absorption_words(float(last.area[k]), plan.scene.units, 2) for k in (bass, middle)]
    words = (
        f"The last panel, {last.id} ({last.build}), adds {added[0]} of absorption at 125 Hz "
        f"and {added[1]} at 1 kHz, shortens the reverberation at 1 kHz by "
        f"{-1e3 * last.time[middle]:.0f} ms (Eyring)"
    )
    if last.excess_db is not None:
        words += (
            f", takes {last.excess_db:.1f} dB off the sum of the early excess"
            if last.excess_db > 0.05
            else ", takes nothing off the early excess"
        )
    return words + (f", and costs {money(plan, last.price)}." if last.price else ".")


def enough_words(plan: Plan) -> tuple[str, ...]:
    """Say with how many panels the range is met, and from how many on it is overshot.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of str
        Sentences about the mean of 500 Hz and 1 kHz, and about the bands; empty where the range says
        nothing there.
    """
    if not np.isfinite(plan.after.target.upper[MIDDLE]).all():
        return ()
    both = [enough(plan, formula) for formula in _FORMULAS]
    clauses = [f"by {e.formula.capitalize()}'s formula {_middle_words(e)}" for e in both]
    said = [f"Mean of 500 Hz and 1 kHz against the range: {'; '.join(clauses)}."]
    if plan.placements:
        said[0] += " Numbers beyond the plan stand for more panels like its last one."
    met, over = both[0].met, both[0].overshot
    labels = [bands.band_label(f) for f in bands.NOMINAL_HZ]
    asked = np.isfinite(plan.after.target.upper)
    never = [x for x, m, a in zip(labels, met, asked, strict=True) if a and m == NEVER]
    if never:
        said.append(
            f"At {listed(never)} no number of panels like the last one is enough (Eyring, walls as listed)."
        )
    n = both[0].planned
    dead = [x for x, o in zip(labels, over, strict=True) if NEVER < o <= n]
    if dead:
        said.append(
            f"With the {counted(n, 'panel')} of the plan the room is too dead at {listed(dead)} (Eyring)."
        )
    return tuple(said)


def _middle_words(e: Enough) -> str:
    if e.middle_overshot == 0:
        return "too dead without any panel"
    met = (
        "no number of such panels is enough"
        if e.middle_met == NEVER
        else "met without any panel"
        if e.middle_met == 0
        else f"met with {counted(e.middle_met, 'panel')}"
    )
    if e.middle_met == NEVER:
        return met
    over = (
        "never overshot by such panels"
        if e.middle_overshot == NEVER
        else f"overshot (too dead) from {e.middle_overshot} on"
    )
    return f"{met}, {over}"


def what_did_it(plan: Plan) -> tuple[str, ...]:
    """Say what absorbs, what the last panel brought, and how many panels are enough.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    tuple of str
        Sentences, in that order.
    """
    last = last_panel_words(plan)
    said = (*greatest(ledger_of(plan.before, plan.after), units=plan.scene.units), *lacking_words(plan.after))
    return (*said, *((last,) if last else ()), *enough_words(plan))


def ledger_rows(plan: Plan, most: int = 18) -> list[dict[str, Any]]:
    """Rows of the report's table: surfaces, things and panels, the greatest first.

    Parameters
    ----------
    plan : Plan
        Any plan.
    most : int
        Rows at most; the rest is summed up.

    Returns
    -------
    list of dict
        ``name``, and for each band ``was`` and ``now`` in m2, or square feet where the scene is in feet, and
        ``share`` of the whole with the panels.
    """
    ledger = ledger_of(plan.before, plan.after)
    size = SQUARE_FOOT if in_feet(plan.scene.units) else 1.0
    was, now = ledger.by_part(after=False), ledger.by_part()
    nothing = np.zeros(bands.COUNT)
    names = sorted({**was, **now}, key=lambda k: -float((was.get(k, nothing) + now.get(k, nothing)).sum()))
    rows = [(k, was.get(k, nothing), now.get(k, nothing)) for k in names[:most]]
    if len(names) > most:
        rest = names[most:]
        sums = [np.sum([d.get(k, nothing) for k in rest], axis=0) for d in (was, now)]
        rows.append((f"{len(rest)} more, see absorption.csv", sums[0], sums[1]))
    rows.append(("all together", ledger.before, ledger.after))
    return [
        {
            "name": name,
            "cells": [
                {"was": f"{a:.2f}", "now": f"{b:.2f}", "share": f"{100.0 * b / max(w, 1e-12):.0f} %"}
                for a, b, w in zip(x / size, y / size, ledger.after / size, strict=True)
            ],
        }
        for name, x, y in rows
    ]
