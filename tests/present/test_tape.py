"""Where a tape starts, in words, and that every sheet reads the same number off it. Rooms are invented."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.plan import Placement, Plan
from treatment.present.checklist import _groups
from treatment.present.elevations import elevation_svg
from treatment.present.hanging import hanging_rows
from treatment.present.report_lists import panel_rows
from treatment.present.tables import placement_row
from treatment.present.tape import both_tapes, tape_starts
from treatment.scene.load import load_scene
from treatment.scene.model import Scene

SCENES = Path(__file__).parents[2] / "scenes"


def room(name: str) -> Scene:
    scene, _ = load_scene(SCENES / name)
    return scene


def at(scene: Scene, name: str) -> int:
    return next(i for i, s in enumerate(scene.surfaces) if s.name == name)


def words(scene: Scene, name: str, panel: Rectangle) -> list[tuple[float, str]]:
    starts = tape_starts(scene, at(scene, name), panel)
    return [(round(s.reading(x), 4), s.words) for s, x in zip(starts, panel.bounds, strict=False)]


def test_strip_between_slopes_is_measured_from_its_fold() -> None:
    """By hand: knees of 1.00 m, 45 degrees and a strip at 2.40 m leave y from 1.4 to 2.8 m of 4.2 m."""
    found = words(room("attic.toml"), "ceiling", Rectangle(1.8, 1.482, 0.6, 1.2))
    assert found == [(1.8, "from the front wall"), (0.082, "from the fold with slope-left")]


@pytest.mark.parametrize("side", ["left", "right"])
def test_slopes_are_measured_up_the_slope(side: str) -> None:
    found = words(room("attic.toml"), f"slope-{side}", Rectangle(1.25, 0.4, 0.6, 0.6))
    assert found == [
        (1.25, "from the front wall"),
        (0.4, f"up the slope from the fold over the {side} knee wall"),
    ]


def test_soffit_is_what_stops_the_tape() -> None:
    """The soffit of the shipped room takes y from 0 to 0.60 m of the ceiling."""
    scene = room("soffit-basement.toml")
    found = words(scene, "ceiling", Rectangle(2.0, 1.832, 0.6, 1.2))
    assert found == [(2.0, "from the front wall"), (1.232, "from the face of the soffit")]


def test_gable_wall_above_the_knee_is_measured_from_the_slope() -> None:
    """Front wall of the attic: at 1.4 m the slope is 0.4 m inside the right wall (45 degrees, knee 1 m)."""
    (u, from_u), (v, from_v) = words(room("attic.toml"), "front", Rectangle(1.5, 1.4, 0.6, 0.6))
    assert u == pytest.approx(1.1, abs=2e-4)
    assert from_u == "from the slope-right, along the panel's lower edge"
    assert (v, from_v) == (1.4, "from the floor")


def hung(scene: Scene, plan: Plan, name: str, panels: list[Rectangle]) -> Any:
    build = replace(plan.placements[0].build, width=0.6, height=0.6)
    placements = tuple(Placement(f"P{i + 1}", build, at(scene, name), r) for i, r in enumerate(panels))
    return SimpleNamespace(scene=scene, placements=placements)


def test_every_sheet_reads_the_same_number(plan: Plan) -> None:
    """0.282 m from the fold reads 0.28 m on a tape, in list, table, report and drawing alike."""
    scene = room("attic.toml")
    mine = hung(scene, plan, "ceiling", [Rectangle(1.8, 1.682, 0.6, 0.6)])
    sheet, row, report = hanging_rows(mine)[0], placement_row(scene, mine.placements[0]), panel_rows(mine)[0]
    assert (sheet["v"], sheet["v_words"]) == ("0.28 m", "from the fold with slope-left")
    assert (row["v_from"], row["v_tape_m"]) == ("fold with slope-left", 0.28)
    assert row["v_m"] == pytest.approx(1.682)  # wall coordinates, as agreed
    assert row["v_text"] == report["v_text"] == "0.28 m / 11 1/8 in"  # 0.282 m = 11.10 in
    assert report["v_words"] == "from the fold with slope-left"
    assert _groups(mine, [sheet])[0]["heading"].endswith(
        "from the front wall, then from the fold with slope-left"
    )
    drawing = elevation_svg(mine, at(scene, "ceiling"), points=False)
    assert {"0.28 m", "1.80 m"} == set(re.findall(r'class="from-edge"[^>]*>([^<(]+?) *[<(]', drawing))
    assert "tape starts at the fold with slope-left" in drawing
    assert "0.282" not in drawing


def test_one_heading_for_each_start(plan: Plan) -> None:
    """Beside the knee the tape starts at the right wall, above it at the slope: two groups, two starts."""
    scene = room("attic.toml")
    mine = hung(scene, plan, "front", [Rectangle(1.5, 0.3, 0.6, 0.6), Rectangle(1.8, 1.4, 0.6, 0.6)])
    heads = [g["heading"] for g in _groups(mine, hanging_rows(mine))]
    assert heads == [
        "Front wall: from the right wall (at your right as you face it), and from the floor",
        "Front wall: from the slope-right, along the panel's lower edge (at your right as you face it), "
        "and from the floor",
    ]
    drawing = elevation_svg(mine, at(scene, "front"), points=False)
    for name in ("right wall", "slope-right, along the panel's lower edge"):
        assert f"tape starts at the {name}" in drawing


def test_both_systems_the_scenes_own_first() -> None:
    """0.282 m = 11.10 in."""
    assert both_tapes(0.282, "m") == "0.28 m (11 1/8 in)"
    assert both_tapes(0.282, "ft") == "11 1/8 in (0.28 m)"


def test_a_dormer_stops_the_tape() -> None:
    """The dormer of the shipped attic ends at u = 2.30 + 1.40 m; below it the slope goes on."""
    scene = room("dormer-attic.toml")
    found = words(scene, "slope-right", Rectangle(3.85, 0.5, 0.6, 0.6))
    assert found == [
        (0.15, "from the edge of the dormer"),
        (0.5, "up the slope from the fold over the right knee wall"),
    ]
    # In the alcove, from its own side and up from its own floor.
    found = words(scene, "alcove-back", Rectangle(0.15, 0.3, 0.6, 1.2))
    assert found == [(0.15, "from the alcove-right"), (0.3, "from the alcove-bottom")]
