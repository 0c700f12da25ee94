"""Tables of what each further panel brings, and of how large treatments would have to be."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from treatment import bands
from treatment.planning.plan import Plan
from treatment.planning.targets import outside
from treatment.present.tables import table

if TYPE_CHECKING:
    import pandas as pd

_CORNER: Final = ("u", "v", "width", "height")


def progress_table(plan: Plan) -> pd.DataFrame:
    """What each further panel brings: where to stop.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    pandas.DataFrame
        One row for each number of panels: cost, early excess left (dB over all arrivals), Eyring's time by
        band, and whether it lies inside the target range from 250 Hz to 4 kHz.
    """
    middle = bands.band_slice(250, 4000)
    rows: list[dict[str, object]] = []
    for s in plan.progress:
        off = outside(s.eyring, plan.after.target)[middle]
        state = "inside" if not off.any() else "too live" if off.max() > 0.0 else "too dead"
        row: dict[str, object] = {
            "panels": s.panels,
            "cost": round(s.cost, 2),
            "early_excess_db": round(s.excess_db, 1),
        }
        row |= {
            f"eyring_{f}_hz_s": round(float(t), 3) for f, t in zip(bands.NOMINAL_HZ, s.eyring, strict=True)
        }
        rows.append({**row, "reverberation": state})
    columns = (
        "panels",
        "cost",
        "early_excess_db",
        *(f"eyring_{f}_hz_s" for f in bands.NOMINAL_HZ),
        "reverberation",
    )
    return table(rows, columns)


def budgets_table(plan: Plan) -> pd.DataFrame:
    """What each of several budgets buys.

    Parameters
    ----------
    plan : Plan
        Any plan; without several budgets the table has no row.

    Returns
    -------
    pandas.DataFrame
        One row for each budget, the smallest first. ``early_cured`` counts the single bounces at
        the seats' centres that no longer break the criterion, ``early_new`` those that only now do;
        ``seconds_gained`` is of Eyring's mean at 500 Hz and 1 kHz, ``outside_range_s`` how far the worst
        band from 250 Hz to 4 kHz is above the range, or below 0 under it; ``worth`` is the objective.
    """
    columns = (
        "budget",
        "cost",
        "panels",
        "early_before",
        "early_cured",
        "early_new",
        "early_excess_gone",
        "seconds_before",
        "seconds_gained",
        "reverberation",
        "outside_range_s",
        "worth",
        "stop_here",
    )
    rows: list[dict[str, object]] = [
        {
            "budget": s.budget,
            "cost": round(s.cost, 2),
            "panels": s.panels,
            "early_before": s.early_before,
            "early_cured": s.early_before - s.early_after,
            "early_new": s.early_new,
            "early_excess_gone": round(s.gone, 4),
            "seconds_before": round(s.seconds_before, 3),
            "seconds_gained": round(s.seconds_before - s.seconds, 3),
            "reverberation": s.state,
            "outside_range_s": round(s.missing, 3),
            "worth": round(s.worth, 4),
            "stop_here": s.stop,
        }
        for s in plan.budgets
    ]
    return table(rows, columns)


def zones_table(plan: Plan) -> pd.DataFrame:
    """Where first reflections meet each surface, and how large a field of absorbers cures them.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    pandas.DataFrame
        One row for each first reflection above the criterion: its zone, and the smallest centred field of
        good absorbers that brings it below from 1 to 8 kHz (empty where none does), wall coordinates, m.
    """
    scene = plan.scene
    columns = ("surface", "source", "seat", *(f"{k}_{c}_m" for k in ("zone", "field") for c in _CORNER))
    rows: list[dict[str, object]] = []
    for extent in plan.extents:
        for a in extent.arrivals:
            row: dict[str, object] = {
                "surface": scene.surfaces[a.surface].name,
                "source": scene.loudspeakers[a.source].name,
                "seat": scene.seats[a.seat].name,
            }
            for kind, r in (("zone", a.zone), ("field", a.field)):
                values = (None,) * 4 if r is None else (r.u, r.v, r.width, r.height)
                pairs = zip(_CORNER, values, strict=True)
                row |= {f"{kind}_{c}_m": None if v is None else round(v, 3) for c, v in pairs}
            rows.append(row)
    return table(rows, columns)
