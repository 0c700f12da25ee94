"""Elevations: numbers, orientation, scale, safety."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.plan import Placement, Plan
from treatment.present.elevations import elevation_svg, treated_surfaces
from treatment.present.paper import SHEET, arranged, id_list
from treatment.units import format_imperial, format_metric

SVG = "{http://www.w3.org/2000/svg}"


def texts(svg: str) -> list[str]:
    return ["".join(t.itertext()) for t in ET.fromstring(svg).iter(f"{SVG}text")]


def parsed(plan: Plan, surface: int) -> ET.Element:
    return ET.fromstring(elevation_svg(plan, surface))


def hung(plan: Plan, surface: int) -> list[Placement]:
    return [p for p in plan.placements if p.surface == surface]


@pytest.mark.parametrize("surface", [1, 2, 3, 5])
def test_dimensions_are_the_placements_numbers(plan: Plan, surface: int) -> None:
    written = [t.text for t in parsed(plan, surface).iter(f"{SVG}text") if t.get("class") == "from-edge"]
    wanted = {format_metric(p.rectangle.u) for p in hung(plan, surface)}
    wanted |= {format_metric(p.rectangle.v) for p in hung(plan, surface)}
    # A crowded sheet writes both systems on one line.
    assert {str(t).split(" (")[0] for t in written} == wanted


@pytest.mark.parametrize("surface", [1, 2, 3, 5])
def test_both_systems_and_sizes_are_written(plan: Plan, surface: int) -> None:
    joined = " | ".join(texts(elevation_svg(plan, surface)))
    for p in hung(plan, surface):
        for value in (p.rectangle.u, p.rectangle.v):
            assert format_metric(value) in joined
            assert format_imperial(value) in joined
        assert f"{format_metric(p.rectangle.width)[:-2]} x {format_metric(p.rectangle.height)}" in joined
        assert p.id in joined


def panel_boxes(root: ET.Element) -> list[tuple[float, float, float, float]]:
    return [
        tuple(float(r.get(k, "nan")) for k in ("x", "y", "width", "height"))  # type: ignore[misc]
        for r in root.iter(f"{SVG}rect")
        if r.get("fill-opacity") == "0.85"
    ]


def test_mirrored_wall_starts_at_the_right(plan: Plan) -> None:
    """Left wall: the front wall is at the right hand of who faces it; right wall: at the left hand.

    Geometry of the agreed axes: x away from the front wall, y to the right, z up.
    """
    for surface, from_left in ((2, False), (3, True)):
        paper, _, _ = arranged(plan.scene, surface, hung(plan, surface))
        left, _, right, _ = paper.box
        x, _, width, _ = panel_boxes(parsed(plan, surface))[0]
        u = hung(plan, surface)[0].rectangle.u
        measured = x - left if from_left else right - (x + width)
        assert measured * paper.scale / 1000.0 == pytest.approx(u, abs=0.01 * paper.scale / 1000.0)


def test_ceiling_is_seen_from_below(plan: Plan) -> None:
    """Lying on the back with the head to the front wall, the left wall is at the right hand."""
    root = parsed(plan, 5)
    paper, _, _ = arranged(plan.scene, 5, hung(plan, 5))
    boxes = panel_boxes(root)  # P7 hangs nearer to the left wall than P8
    assert boxes[0][0] > boxes[1][0]
    k = 1000.0 / paper.scale
    assert boxes[0][1] - paper.box[1] == pytest.approx(1.6 * k, abs=0.02)  # the front wall is at the top
    assert "Ceiling, seen from below" in texts(elevation_svg(plan, 5))


@pytest.mark.parametrize("surface", [1, 2, 3, 5])
def test_panels_are_to_scale_and_inside(plan: Plan, surface: int) -> None:
    root = parsed(plan, surface)
    paper, _, _ = arranged(plan.scene, surface, hung(plan, surface))
    left, top, right, bottom = paper.box
    for (x, y, w, h), p in zip(panel_boxes(root), hung(plan, surface), strict=True):
        sides = sorted([w, h])
        wanted = sorted([p.rectangle.width, p.rectangle.height])
        assert sides == pytest.approx([1000.0 * a / paper.scale for a in wanted], abs=0.02)
        assert left - 0.02 <= x
        assert x + w <= right + 0.02
        assert top - 0.02 <= y
        assert y + h <= bottom + 0.02


def test_check_bar_and_sheet_are_real_millimetres(plan: Plan) -> None:
    root = parsed(plan, 2)
    assert root.get("width") == f"{SHEET[0]:g}mm"
    assert root.get("viewBox") == f"0 0 {SHEET[0]:g} {SHEET[1]:g}"
    (bar,) = [e for e in root.iter(f"{SVG}line") if e.get("class") == "check-bar"]
    assert float(bar.get("x2", 0)) - float(bar.get("x1", 0)) == pytest.approx(100.0)
    assert any("must measure 100 mm" in t for t in texts(elevation_svg(plan, 2)))
    # 100 mm is 3.937 in: 3 15/16 in is its nearest sixteenth.
    assert abs(100.0 / 25.4 - (3 + 15 / 16)) < 1 / 32


def test_dimensions_do_not_overlap(plan: Plan) -> None:
    """Texts that carry a distance keep apart: boxes by a cautious estimate of their width."""
    for surface in treated_surfaces(plan):
        boxes = []
        for t in parsed(plan, surface).iter(f"{SVG}text"):
            if t.get("class") not in {"from-edge", "extent", "ids"}:
                continue
            x, y, size = (float(t.get(k, "nan")) for k in ("x", "y", "font-size"))
            w = 0.5 * size * len(t.text or "")
            start = {"start": 0.0, "middle": -w / 2.0, "end": -w}[t.get("text-anchor", "start")]
            if "rotate" in (t.get("transform") or ""):
                boxes.append((x - 0.7 * size, y - start - w, x, y - start))
            else:
                boxes.append((x + start, y - 0.7 * size, x + start + w, y))
        for i, a in enumerate(boxes):
            for b in boxes[i + 1 :]:
                assert not (a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]), (surface, a, b)


def test_many_panels_still_fit(plan: Plan) -> None:
    build = plan.placements[0].build
    many = [
        Placement(
            f"P{i + 1}",
            build,
            5,
            Rectangle(0.2 + 0.73 * (i // 3), 0.1 + 1.05 * (i % 3) + 0.03 * (i // 3), 0.6, 0.9),
        )
        for i in range(18)
    ]
    crowded = replace(plan, placements=tuple(many))
    paper, rows, _ = arranged(plan.scene, 5, many)
    assert paper.compact
    assert paper.box[3] < SHEET[1]
    joined = " | ".join(texts(elevation_svg(crowded, 5)))
    for run in rows:
        assert format_metric(run.start) in joined


def test_hostile_names_are_text(hostile_plan: Plan) -> None:
    for surface in treated_surfaces(hostile_plan):
        svg = elevation_svg(hostile_plan, surface)
        root = ET.fromstring(svg)
        assert not list(root.iter(f"{SVG}script"))
        assert "<script" not in svg
    assert any("<script>" in t for t in texts(elevation_svg(hostile_plan, 2)))


def test_control_characters_are_dropped(plan: Plan) -> None:
    odd = replace(plan.scene, title="bell \x07 and half \ud800 of a pair")
    ET.fromstring(elevation_svg(replace(plan, scene=odd), 2))


def test_keep_out_is_hatched_with_its_reason(plan: Plan) -> None:
    svg = elevation_svg(plan, 2)
    assert re.search(r'fill="url\(#elevation-2-hatch-[0-9a-f]+\)"', svg)
    assert "electrical" in " ".join(texts(svg))


def test_id_list() -> None:
    assert id_list(["P3", "P1", "P2"]) == "P1-P3"
    assert id_list(["P9", "P4", "P5"]) == "P4, P5, P9"
    assert id_list(["shelf", "P1"]) == "shelf, P1"


def test_level_line_of_every_wall_panel(plan: Plan) -> None:
    """50 mm below the top edge, at the drawing's scale, with a mark outside each edge; none overhead."""
    for surface in treated_surfaces(plan):
        scene, panels = plan.scene, hung(plan, surface)
        paper, _, _ = arranged(scene, surface, panels)
        lines = [e.attrib for e in parsed(plan, surface).iter(f"{SVG}line") if e.get("class") == "level"]
        if scene.surfaces[surface].kind != "wall":
            assert not lines
            continue
        assert len(lines) == len(panels)
        for line, p in zip(lines, panels, strict=True):
            top = paper.rectangle(p.rectangle)[1]
            assert float(line["y1"]) == float(line["y2"])
            assert float(line["y1"]) - top == pytest.approx(50.0 / paper.scale, abs=0.02)
            across = abs(float(line["x2"]) - float(line["x1"]))
            assert across == pytest.approx(1000.0 * p.rectangle.width / paper.scale, abs=0.02)


def test_no_name_is_struck_out_by_its_level_line(plan: Plan) -> None:
    """Letters reach three quarters of their size above the base line: their tops stay below the line."""
    seen = 0
    for surface in treated_surfaces(plan):
        root, panels = parsed(plan, surface), hung(plan, surface)
        paper, _, _ = arranged(plan.scene, surface, panels)
        lines = [e for e in root.iter(f"{SVG}line") if e.get("class") == "level"]
        levels = [float(e.get("y1", "")) for e in lines]
        for level, p in zip(levels, panels, strict=False):
            left, _, right, bottom = paper.rectangle(p.rectangle)
            for text in root.iter(f"{SVG}text"):
                x, y, size = (float(text.get(k, "0")) for k in ("x", "y", "font-size"))
                if text.text == p.id and left < x < right and level - 2.0 < y < bottom:
                    assert y - 0.75 * size > level
                    seen += 1
    assert seen > 3


@pytest.mark.parametrize("units", ["ft", "in", "cm"])
def test_the_system_that_the_person_measures_in_comes_first_and_larger(plan: Plan, units: str) -> None:
    """P1 of the left wall, from the front wall: by hand 0.9 m is 2 ft 11 3/8 in (35.43 in)."""
    first, second = ("0.90 m", "2 ft 11 3/8 in") if units == "cm" else ("2 ft 11 3/8 in", "0.90 m")
    panel = replace(plan.placements[0], surface=2, rectangle=Rectangle(0.9, 0.6, 0.6, 1.2))
    scene = replace(plan.scene, units=units)
    drawn = elevation_svg(replace(plan, scene=scene, placements=(panel,)), 2)
    letters = {t.text: float(t.get("font-size", "0")) for t in ET.fromstring(drawn).iter(f"{SVG}text")}
    told = [t.text for t in ET.fromstring(drawn).iter(f"{SVG}text") if t.get("class") == "from-edge"]
    assert first in told
    assert letters[first] > letters[second]
    bar = "100 mm (3 15/16 in)" if units == "cm" else "3 15/16 in (100 mm)"
    assert any(bar in str(t) for t in letters)
