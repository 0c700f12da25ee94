"""What rays say, as a table, as a document and as rows of the report; with errors throughout."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from treatment import bands
from treatment.bands import Array
from treatment.planning.plan import Evaluation, Plan
from treatment.present.tables import BAND_COLUMNS, table

if TYPE_CHECKING:
    import pandas as pd

    from treatment.acoustics.decay import DecayFigures
    from treatment.planning.traced import Traced

#: Quantity, factor from SI, unit, decimals.
QUANTITIES: Final = (
    ("edt", 1.0, "s", 2),
    ("t20", 1.0, "s", 2),
    ("t30", 1.0, "s", 2),
    ("c50", 1.0, "dB", 1),
    ("c80", 1.0, "dB", 1),
    ("d50", 1.0, "", 2),
    ("ts", 1e3, "ms", 0),
)
NAMES: Final = {
    "edt": "EDT", "t20": "T20", "t30": "T30", "c50": "C50", "c80": "C80", "d50": "D50", "ts": "Ts",
}  # fmt: skip
DECAY_COLUMNS: Final = (
    "state", "source", "seat", "quantity", "unit", *BAND_COLUMNS, *(f"error_{b}" for b in BAND_COLUMNS),
)  # fmt: skip
#: Stands for the mean over all loudspeakers, or all seats.
ALL: Final = "all"


def decays_table(before: Evaluation, after: Evaluation | None = None) -> pd.DataFrame:
    """List what rays say of every loudspeaker and seat.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same room with panels.

    Returns
    -------
    pandas.DataFrame
        `DECAY_COLUMNS`; a row a quantity, place and state; ``all`` for means over loudspeakers or seats.
        Errors are one standard error. Empty where no rays were sent, and cells where the decay does not
        support a quantity.
    """
    rows: list[dict[str, object]] = []
    for state, evaluation in (("before", before), ("after", after)):
        if evaluation is None or evaluation.traced is None:
            continue
        t, scene = evaluation.traced, evaluation.scene
        rows += _rows(state, ALL, ALL, t.room, t.room_errors, ())
        for k, seat in enumerate(scene.seats):
            rows += _rows(state, ALL, seat.name, t.seats, t.seat_errors, (k,))
        for i, source in enumerate(scene.loudspeakers):
            for k, seat in enumerate(scene.seats):
                rows += _rows(state, source.name, seat.name, t.places, t.place_errors, (i, k))
    return table(rows, DECAY_COLUMNS)


def _rows(
    state: str, source: str, seat: str, values: DecayFigures, errors: DecayFigures, at: tuple[int, ...]
) -> list[dict[str, object]]:
    rows: list[dict[str, object]] = []
    for name, factor, unit, _ in QUANTITIES:
        row: dict[str, object] = {
            "state": state,
            "source": source,
            "seat": seat,
            "quantity": name,
            "unit": unit,
        }
        for head, figures in (("", values), ("error_", errors)):
            numbers = factor * np.asarray(getattr(figures, name))[at]
            pairs = zip(BAND_COLUMNS, numbers, strict=True)
            row |= {head + b: round(float(x), 4) if np.isfinite(x) else None for b, x in pairs}
        rows.append(row)
    return rows


def decays_document(traced: Traced, evaluation: Evaluation) -> dict[str, Any]:
    """What rays say as a document.

    Parameters
    ----------
    traced : Traced
        From rays.
    evaluation : Evaluation
        Names loudspeakers and seats.

    Returns
    -------
    dict
        Means over the room and by seat, every place, one standard error beside each; null where the decay
        does not support a quantity.
    """
    scene = evaluation.scene

    def of(values: DecayFigures, errors: DecayFigures, at: tuple[int, ...] = ()) -> dict[str, Any]:
        document: dict[str, Any] = {}
        for name, factor, unit, _ in QUANTITIES:
            key = f"{name}_{unit.lower()}" if unit else name
            document[key] = _known(factor * np.asarray(getattr(values, name))[at])
            document[f"{key}_error"] = _known(factor * np.asarray(getattr(errors, name))[at])
        return document

    return {
        "rays": traced.result.rays,
        "asked_error": traced.precision,
        "reached": traced.result.reached,
        "error_t30": _known(traced.result.error),
        "double_slope": [bool(x) for x in traced.double],
        "room": of(traced.room, traced.room_errors),
        "seats": [
            {"seat": seat.name, **of(traced.seats, traced.seat_errors, (k,))}
            for k, seat in enumerate(scene.seats)
        ],
        "places": [
            {"source": source.name, "seat": seat.name, **of(traced.places, traced.place_errors, (i, k))}
            for i, source in enumerate(scene.loudspeakers)
            for k, seat in enumerate(scene.seats)
        ],
    }


def _known(values: Array) -> list[float | None]:
    return [round(float(x), 5) if np.isfinite(x) else None for x in values]


def traced_rows(plan: Plan) -> list[dict[str, Any]]:
    """Rows of the report's table of what rays say.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    list of dict
        ``place``, ``quantity`` and cells of ``was``, ``now`` and their ``error``: the mean of the room and
        of each seat; empty where no rays were sent.
    """
    a, b = plan.before.traced, plan.after.traced
    if a is None or b is None:
        return []
    places: list[tuple[str, tuple[int, ...]]] = [("all seats", ())]
    places += [(s.name, (k,)) for k, s in enumerate(plan.scene.seats)] if len(plan.scene.seats) > 1 else []
    rows = []
    for words, at in places:
        for name, factor, unit, digits in QUANTITIES:
            cells = []
            for k in range(bands.COUNT):
                cell = {}
                for key, t in (("was", a), ("now", b)):
                    values, errors = (t.seats, t.seat_errors) if at else (t.room, t.room_errors)
                    where = (*at, k)
                    cell[key] = with_error(
                        factor * float(getattr(values, name)[where]),
                        factor * float(getattr(errors, name)[where]),
                        digits,
                    )
                cells.append(cell)
            rows.append({"place": words, "quantity": f"{NAMES[name]} {unit}".strip(), "cells": cells})
    return rows


def with_error(value: float, error: float, digits: int) -> str:
    """Write a number with its error, of as many decimals as the error has any use for.

    Parameters
    ----------
    value, error : float
        NaN where there is none.
    digits : int
        Decimals of the value; one more where the error is that small.

    Returns
    -------
    str
        ``0.43 ± 0.01``; empty without a value.
    """
    if not np.isfinite(value):
        return ""
    digits += int(np.isfinite(error) and error < 10.0**-digits)
    return f"{value:.{digits}f}" + (f" ± {error:.{digits}f}" if np.isfinite(error) else "")


def traced_words(evaluation: Evaluation) -> tuple[str, ...]:
    """Say how many rays were sent and what their times are, with errors.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.

    Returns
    -------
    tuple of str
        Sentences; none where no rays were sent. That a decay has two slopes is a finding of its own.
    """
    t = evaluation.traced
    if t is None:
        return ()
    k = bands.band_index(1000)
    parts = []
    for name, factor, unit, digits in QUANTITIES:
        value, error = (factor * float(getattr(x, name)[k]) for x in (t.room, t.room_errors))
        if np.isfinite(value):
            parts.append(f"{NAMES[name]} {with_error(value, error, digits)} {unit}".strip())
    low, high = evaluation.spread
    with np.errstate(invalid="ignore"):
        apart = (t.t30 + 2.0 * t.t30_error < low) | (t.t30 - 2.0 * t.t30_error > high)
    out = [bands.band_label(f) for f, a in zip(bands.NOMINAL_HZ, apart, strict=True) if a]
    said = [
        f"{t.result.rays} rays at 1 kHz, mean over all places and one standard error: {', '.join(parts)}."
    ]
    if out:
        said.append(
            f"the rays' T30 lies outside the range of the formulas at {', '.join(out)}. The rays know where "
            "the absorption is, the formulas do not; both are as good as the materials, the rays as the "
            "scattering too."
        )
    return tuple(said)
