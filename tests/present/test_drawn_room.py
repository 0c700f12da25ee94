"""Drawings show the room: folds and roof windows from above, obstacles on elevations. Rooms are invented."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.plan import Placement, Plan
from treatment.present.before_walls import drawn_bounds, obstacles_before
from treatment.present.elevations import elevation_svg
from treatment.present.plan_view import plan_view_svg
from treatment.scene.load import load_scene

SCENES = Path(__file__).parents[2] / "scenes"


def furnished(plan: Plan, room: str, surface: str, panel: Rectangle) -> tuple[Plan, int]:
    scene, _ = load_scene(SCENES / room)
    index = scene.surface_index(surface)
    return replace(
        plan, scene=scene, placements=(Placement("P1", plan.placements[0].build, index, panel),)
    ), index


def test_folds_of_an_attic_are_drawn_where_they_are(plan: Plan) -> None:
    """Slopes of 45 degrees from 1.00 m reach 2.40 m at 1.4 m from either wall."""
    attic, _ = furnished(plan, "attic.toml", "slope-left", Rectangle(2.0, 0.2, 0.6, 1.2))
    drawing = plan_view_svg(attic)
    lines = re.findall(r'<line x1="([\d.]+)" y1="[\d.]+" x2="([\d.]+)"[^>]*class="fold"', drawing)
    assert len(lines) == 2
    scale = int(re.search(r"scale 1:(\d+)", drawing)[1])  # type: ignore[index]
    places = sorted(float(x) for x, _ in lines)
    assert [a == b for a, b in lines] == [True, True]
    assert np.diff(places) == pytest.approx(1400.0 / scale, rel=1e-3)
    assert "P1, on slope" in drawing
    assert "roof window" in drawing
    level = replace(
        attic, placements=(replace(attic.placements[0], surface=attic.scene.surface_index("ceiling")),)
    )
    assert ", on slope" not in plan_view_svg(level)


def test_recesses_are_drawn_where_they_are(plan: Plan) -> None:
    """The shipped alcove, 0.45 m deep, is floor; the dormer's mouth is dashed, 1.40 m long."""
    attic, back = furnished(plan, "dormer-attic.toml", "back", Rectangle(0.2, 0.2, 0.6, 0.6))
    drawing = plan_view_svg(attic)
    scale = int(re.search(r"scale 1:(\d+)", drawing)[1])  # type: ignore[index]
    (ring,) = re.findall(r'<path d="([^"]*)"[^>]*class="recess"', drawing)
    corners = np.array(re.findall(r"([\d.]+)[ ,]([\d.]+)", ring), dtype=float)
    # Across the slope of 45 degrees 1.45 m are 1.025 m from above.
    assert np.ptp(corners, axis=0) == pytest.approx([1025.3 / scale, 1400.0 / scale], abs=0.02)
    assert "room 5.20 m" in drawing
    assert ">alcove<" in drawing
    wall = elevation_svg(attic, back, points=False)
    assert "alcove: 0.45 m deep" in wall
    slope = attic.scene.surface_index("slope-right")
    moved = replace(attic, placements=(replace(attic.placements[0], surface=slope),))
    assert ">dormer<" in elevation_svg(moved, slope, points=False)


def test_soffit_is_drawn_over_its_wall(plan: Plan) -> None:
    """The soffit of the shipped room: z from 2.05 to 2.35 m along all 7.3 m of the left wall, 0.60 m wide."""
    cellar, left = furnished(plan, "soffit-basement.toml", "left", Rectangle(2.0, 0.5, 0.6, 1.2))
    (found,) = obstacles_before(cellar.scene, left)
    assert (found.name, found.distance) == ("soffit", 0.0)
    assert found.rectangle.bounds == pytest.approx((0.0, 2.05, 7.3, 2.35))
    assert drawn_bounds(cellar.scene, left) == pytest.approx((0.0, 0.0, 7.3, 2.35))
    assert ">soffit" in elevation_svg(cellar, left, points=False)
    ceiling = cellar.scene.surface_index("ceiling")
    assert drawn_bounds(cellar.scene, ceiling) == pytest.approx((0.0, 0.0, 7.3, 4.9))
    # The post stands 1.16 m before the right wall (y 3.74 to 3.84 of 4.90 m): not near; the riser 0.60 m.
    assert obstacles_before(cellar.scene, cellar.scene.surface_index("right")) == ()
    assert {b.name for b in obstacles_before(cellar.scene, ceiling)} == {"soffit", "post"}
    # Of the back wall (x = 7.3 m) the riser (x to 6.9 m) stands 0.4 m off, and the soffit touches it.
    back = {b.name: b.distance for b in obstacles_before(cellar.scene, cellar.scene.surface_index("back"))}
    assert back == {"soffit": 0.0, "riser": pytest.approx(0.4)}
