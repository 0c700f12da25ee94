"""How a panel is made: bodies of the cut do not overlap, fill the depth, and the picture is to scale."""

import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest
from shapely.geometry import Polygon

from treatment.geometry.polygon import Rectangle
from treatment.materials.stock import INCH, METRIC
from treatment.planning.carriers import carrier_for
from treatment.planning.plan import Placement
from treatment.present.known_builds import known_builds
from treatment.present.panel_drawing import Kind, kinds_of, panel_svg
from treatment.present.panel_legend import legend, making_steps, size_words
from treatment.present.panel_section import section
from treatment.present.report import report_html
from treatment.scene.load import load_scene

ROOM = load_scene(Path(__file__).parents[2] / "scenes" / "garden-room.toml")[0]
BUILDS = {b.id: b for b in (*known_builds(ROOM.air), *ROOM.builds)}
LEFT, CEILING, FRONT = (ROOM.surface_index(n) for n in ("left", "ceiling", "front"))
CASES = {
    "cleat": ("wool-50-gap-50", LEFT, None),
    "plates": ("wool-100", LEFT, None),
    "battens": ("wool-50-gap-100", CEILING, None),
    "brackets": ("wool-100", CEILING, None),
    "corner": ("wool-100", FRONT, LEFT),
    "faced plates": ("perforated-100", LEFT, None),
    "faced brackets": ("drilled-100", CEILING, None),
    "faced corner": ("perforated-50", FRONT, LEFT),
}


def kind_of(name, stock=METRIC, **changes):
    build, surface, corner = CASES[name]
    b = replace(BUILDS[build], **changes)
    p = Placement("P1", b, surface, Rectangle(0.5, 0.5, b.outer_width, b.outer_height), corner=corner)
    return Kind(b, carrier_for(p, ROOM, stock), ("P1",))


@pytest.mark.parametrize("stock", [METRIC, INCH], ids=["metric", "inch"])
@pytest.mark.parametrize("name", CASES)
def test_no_two_bodies_are_in_one_place(name, stock):
    kind = kind_of(name, stock)
    assert kind.carrier.kind == name.split()[-1]
    _, shapes = section(kind.build, kind.carrier, stock)
    bodies = [
        (s, Polygon(s.points)) for s in shapes if not s.is_line and s.fill not in {"wall", "member", "metal"}
    ]
    for (a, one), (b, other) in combinations(bodies, 2):
        assert one.intersection(other).area < 1e-9, (a.part, b.part)
    assert all(p.is_valid and p.area > 1e-6 for _, p in bodies)


@pytest.mark.parametrize("name", ["cleat", "battens"])
def test_timber_reaches_from_the_frame_to_the_house(name):
    """Along some line through the cut the gap is timber all the way: rail, then batten or block."""
    kind = kind_of(name)
    _, shapes = section(kind.build, kind.carrier, METRIC)
    behind = [s for s in shapes if s.fill == "timber" and s.part != "frame"]
    spans = sorted((min(d for _, d in s.points), max(d for _, d in s.points)) for s in behind)
    assert spans[0][0] == pytest.approx(0.0, abs=1e-9)
    assert max(high for _, high in spans) == pytest.approx(kind.build.air_gap, abs=1e-9)
    assert {round(low, 6) for low, _ in spans} == {0.0, round(kind.carrier.spacer, 6)}


def test_the_two_halves_of_a_cleat_meet_at_45_degrees():
    kind = kind_of("cleat")
    _, shapes = section(kind.build, kind.carrier, METRIC)
    halves = {s.part: Polygon(s.points) for s in shapes if s.part in {"upper rail", "cleat"}}
    meeting = halves["upper rail"].intersection(halves["cleat"])
    assert meeting.length == pytest.approx(0.018 * 2**0.5, rel=1e-6)
    # Both are sawn from a board 69 mm wide: a full face, and one that is a thickness shorter.
    assert halves["upper rail"].area == pytest.approx((0.069 - 0.009) * 0.018, rel=1e-6)
    # The hook hangs behind the cleat's highest edge, on the wall's side: it cannot come off the wall.
    low = min(halves["upper rail"].exterior.coords, key=lambda p: p[0])
    high = max(halves["cleat"].exterior.coords, key=lambda p: p[0])
    assert low[1] < high[1]


@pytest.mark.parametrize("name", CASES)
def test_the_picture_is_to_scale_and_names_every_part(name):
    kind = kind_of(name)
    text = panel_svg(kind, METRIC, units="m")
    root = ElementTree.fromstring(text)
    assert root.get("width") == "180mm"
    words = " ".join(t.text or "" for t in root.iter("{http://www.w3.org/2000/svg}text"))
    for row in legend(kind.build, kind.carrier, METRIC, "m"):
        assert row.name in words
    scale = 0.2 if "corner" in name else 0.4
    fills = [p for p in root.iter("{http://www.w3.org/2000/svg}path") if p.get("fill") == "#f4e7b8"]
    (slab,) = ([tuple(map(float, m)) for m in re.findall(r"([\d.]+),([\d.]+)", p.get("d"))] for p in fills)
    spans = sorted(max(c) - min(c) for c in zip(*slab, strict=True))
    assert spans[0] == pytest.approx(1000.0 * scale * kind.build.frame_depth, abs=0.02)
    height = float(root.get("height")[:-2])
    for x, y in slab:
        assert 0.0 < x < 180.0
        assert 0.0 < y < height


def test_sizes_are_in_the_persons_unit_first():
    """32 mm is 1.26 in: 1 1/4 in to the eighth."""
    assert size_words(0.032, "m") == "32 mm (1 1/4 in)"
    assert size_words(0.032, "ft") == "1 1/4 in (32 mm)"


def test_wire_overhead_and_in_corners_only():
    for name in CASES:
        kind = kind_of(name)
        wired = any("wire" in step for step in making_steps(kind.build, kind.carrier))
        assert wired == (name in {"battens", "brackets", "corner", "faced corner"})
        assert wired == any(r.part == "wire" for r in legend(kind.build, kind.carrier, METRIC, "m"))


def test_the_cut_goes_through_the_holes():
    """Slab and sheet fill the body; what is open of the cut line over the slab is d/b."""
    kind = kind_of("faced plates")
    length, shapes = section(kind.build, kind.carrier, METRIC)
    pieces = [s.points for s in shapes if s.part == "sheet"]
    solid = sum(p[1][0] - p[0][0] for p in pieces)
    assert {round(p[0][1], 6) for p in pieces} == {0.1}
    assert {round(p[2][1], 6) for p in pieces} == {0.103}
    assert len(pieces) == int(1.182 / 0.025) + 1
    assert length - solid == pytest.approx(47 * 0.005)
    # It lies on the frame: a screw finds wood at both ends.
    assert pieces[0][1][0] > 0.018


def test_a_build_without_cloth_is_told_to_get_one():
    for name in CASES:
        kind = kind_of(name)
        bare = " ".join(making_steps(replace(kind.build, facing=""), kind.carrier))
        assert "names no cloth" in bare, name
        assert "names no cloth" not in " ".join(making_steps(kind.build, kind.carrier)), name


def test_steps_of_a_face():
    for name in CASES:
        kind = kind_of(name)
        steps = " ".join(making_steps(kind.build, kind.carrier))
        assert ("Screw it to the front of the frame" in steps) == name.startswith("faced")
        assert ("drill about 270 holes" in steps) == (name == "faced brackets")


def test_the_report_draws_each_kind_once(plan):
    kinds = kinds_of(plan)
    assert [k.carrier.kind for k in kinds] == ["cleat", "battens"]
    assert sorted(i for k in kinds for i in k.panels) == sorted(p.id for p in plan.placements)
    page = report_html(plan)
    for k in kinds:
        assert page.count(f"<figcaption>{k.name}</figcaption>") == 1


def test_hostile_names_are_text(hostile_plan):
    for k in kinds_of(hostile_plan):
        assert "<script" not in panel_svg(k, METRIC, units="m")
        ElementTree.fromstring(panel_svg(k, METRIC, units="m"))
