"""Tables: their columns, and that they say what the plan says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from treatment.planning.plan import Plan
from treatment.present import tables


def test_every_table_has_its_columns(plan: Plan) -> None:
    for frame, columns in (
        (tables.placements_table(plan), tables.PLACEMENT_COLUMNS),
        (tables.arrivals_table(plan.before, plan.after), tables.ARRIVAL_COLUMNS),
        (tables.reverberation_table(plan.before, plan.after), tables.REVERBERATION_COLUMNS),
        (tables.shopping_table(plan), tables.SHOPPING_COLUMNS),
        (tables.cuts_table(plan), tables.CUT_COLUMNS),
    ):
        assert tuple(frame.columns) == columns
        assert len(frame) > 0


def test_band_columns_are_the_agreed_bands() -> None:
    """The eight octaves of the agreed interface, in its order."""
    names = ("63_hz", "125_hz", "250_hz", "500_hz", "1000_hz", "2000_hz", "4000_hz", "8000_hz")
    assert names == tables.BAND_COLUMNS


def test_placement_row_by_hand(plan: Plan) -> None:
    """P1: left wall, 0.95 m from the front wall, 0.50 m above the floor, 0.60 by 1.20 m.

    Centre by hand: x = 0.95 + 0.30, y = 0, z = 0.50 + 0.60. 0.95 m = 37.40 in = 3 ft 1 3/8 in.
    """
    row = tables.placement_row(plan.scene, plan.placements[0])
    assert (row["surface"], row["u_from"], row["v_from"]) == ("left wall", "front wall", "floor")
    assert [row[k] for k in ("x_m", "y_m", "z_m")] == pytest.approx([1.25, 0.0, 1.10])
    assert row["bottom_m"] == pytest.approx(0.50)
    assert row["u_text"] == "0.95 m / 3 ft 1 3/8 in"


def test_ceiling_panel_hangs_at_ceiling_height(plan: Plan) -> None:
    row = tables.placement_row(plan.scene, plan.placements[6])
    assert (row["surface"], row["u_from"], row["v_from"]) == ("ceiling", "front wall", "left wall")
    assert row["bottom_m"] == pytest.approx(2.5)


def test_arrivals_are_joined_by_path(plan: Plan) -> None:
    frame = tables.arrivals_table(plan.before, plan.after)
    assert len(frame) == len(plan.before.arrivals.order)
    # A bounce that now lands on a panel of 100 mm wool is weaker than it was on bare plasterboard.
    met = frame[(frame["order"] == 1) & frame["bounces_after"].str.fullmatch(r"P\d+")]
    assert len(met) > 0
    assert (met["loudest_after_db"] < met["loudest_before_db"]).all()
    mine = frame[(frame["source"] == "L") & (frame["seat"] == "centre") & (frame["surfaces"] == "left")]
    assert len(mine) == 1
    # Mirror at y = 0: 0.75 m and 1.80 m off the wall, x from 0.45 to 3.55.
    length = float(np.hypot(3.55 - 0.45, 0.75 + 1.80))
    assert float(mine["length_m"].iloc[0]) == pytest.approx(length, abs=1e-6)
    assert mine["bounces_after"].iloc[0] == "P1"


def test_arrivals_without_panels_have_an_empty_after(plan: Plan) -> None:
    frame = tables.arrivals_table(plan.before)
    assert frame["loudest_after_db"].isna().all()
    assert tuple(frame.columns) == tables.ARRIVAL_COLUMNS


def test_reverberation_rows(plan: Plan) -> None:
    frame = tables.reverberation_table(plan.before, plan.after)
    assert list(frame["state"].unique()) == ["before", "after", "target"]
    times = frame.set_index(["state", "quantity"])
    sabine = plan.after.reverberation["sabine"]
    assert sabine is not None
    assert times.loc[("after", "sabine"), "500_hz"] == pytest.approx(sabine[3])


def test_lengths_are_told_to_a_tenth_of_a_millimetre(plan: Plan) -> None:
    """1.618 m are 1.618 m, not 1.6179999999999999: 0.1 mm is finer than any tape (common practice)."""
    first = plan.placements[0]
    heavy = replace(first.build, mass=3.4211999999)
    moved = replace(first, build=heavy, rectangle=replace(first.rectangle, u=0.1 + 0.2 + 1e-9))
    frame = tables.placements_table(replace(plan, placements=(moved, *plan.placements[1:])))
    assert str(frame["u_m"].iloc[0]) == "0.3"
    assert str(frame["mass_kg"].iloc[0]) == "3.421"
    for name in frame.columns:
        if name.endswith("_m"):
            assert all(str(x) == str(round(x, 4)) for x in frame[name]), name


def test_what_the_panels_leave_strong_is_told_so(plan: Plan) -> None:
    frame = tables.arrivals_table(plan.before, plan.after)
    was, now = set(frame["verdict_before"].dropna()), set(frame["verdict_after"].dropna())
    assert "treat" in was
    assert "treat" not in now
    left = sum(v == "treat" for v in plan.after.arrivals.verdict)
    assert left
    assert (frame["verdict_after"] == "still strong").sum() == left
