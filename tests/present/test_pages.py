"""Report, room page and charts: safe, offline, complete."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Plan
from treatment.present.drawables import drawables, picture
from treatment.present.figures import arrivals_chart, reverberation_chart
from treatment.present.palette import LEVEL_SCALE, level_colour
from treatment.present.plan_view import plan_view_svg
from treatment.present.report import report_html
from treatment.present.room_page import room_html
from treatment.present.themes import theme_script, theme_script_hash

HOSTILE = "</script><script>alert('1')</script> & \"x\" ]]> </svg>"  # as in conftest.py


class Reader(HTMLParser):
    """Collects tags, text outside scripts, and what stands in scripts."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[tuple[str, str | None]] = []
        self.scripts: list[str] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes += attrs
        if tag == "script":
            self.scripts.append("")

    def handle_data(self, data: str) -> None:
        if self.scripts and self.tags[-1] == "script" and self.lasttag == "script":
            self.scripts[-1] += data
        else:
            self.text.append(data)


def read(page: str) -> Reader:
    reader = Reader()
    reader.feed(page)
    return reader


@pytest.fixture(scope="module")
def report(plan: Plan) -> str:
    return report_html(plan, picture=b"\x89PNG\r\n", notes=("a note",))


def test_report_needs_nothing_else(report: str) -> None:
    assert not re.search(r"https?:|//[a-z]+\.", report)
    for name, value in read(report).attributes:
        if name in {"src", "href", "xlink:href"}:
            assert str(value).startswith(("data:", "#"))


def test_report_says_the_answer_first(report: str, plan: Plan) -> None:
    text = " ".join(" ".join(read(report).text).split())
    assert (
        "Hang 8 panels: 2 on the left wall, 2 on the right wall, 2 on the back wall and 2 on the ceiling"
        in text
    )
    assert text.index("Hang 8 panels") < text.index("Hanging list") < text.index("Shopping list")
    assert "252.00 EUR of the 450.00 EUR" in text  # 8 panels of 31.50
    for p in plan.placements:
        assert re.search(rf"\b{p.id}\b", text)
    assert "EBU Tech 3276" in text
    assert "must measure 100 mm" in text
    assert "a note" in text
    assert "plasterboard alone does not hold a panel" in text


def test_report_has_every_drawing_once(report: str) -> None:
    ids = re.findall(r'\bid="([^"]+)"', report)
    assert len(ids) == len(set(ids))
    assert report.count('class="sheet"') == 4


def test_hostile_names_stay_text(hostile_plan: Plan) -> None:
    page = report_html(hostile_plan)
    reader = read(page)
    # The only script is the switch of colours, and the page allows no other.
    assert [s.strip() for s in reader.scripts] == [theme_script()]
    assert f"<script>{theme_script()}</script>" in page
    assert f'script-src {theme_script_hash()}"' in page
    assert page.count("</script>") == 1
    assert not any(name.startswith("on") for name, _ in reader.attributes)
    assert HOSTILE in "".join(reader.text)
    room = room_html(drawables(hostile_plan))
    reader = read(room)
    assert reader.tags.count("script") == 2
    assert room.count("</script>") == 2
    start = room.index('id="room-data">') + len('id="room-data">')
    assert "<" not in room[start : room.index("</script>", start)]
    assert not any(name.startswith("on") for name, _ in reader.attributes)


def test_room_page_holds_the_room(plan: Plan) -> None:
    page = room_html(drawables(plan))
    assert not re.search(r"https?:|//[a-z]+\.", page)
    start = page.index('id="room-data">') + len('id="room-data">')
    data = json.loads(page[start : page.index("</script>", start)])
    assert data["bounds"] == [[0.0, 0.0, 0.0], [5.4, 3.6, 2.5]]
    assert data["sources"] == ["L", "C", "R", "SL", "SR"]
    assert data["seats"][data["middle_seat"]] == "centre"
    panels = {f["name"] for f in data["faces"] if f["group"] == "panel"}
    assert panels == {f"panel P{i}" for i in range(1, 9)}


def test_room_page_of_a_bare_room(plan: Plan) -> None:
    page = room_html(drawables(plan.scene))
    assert "has_after" in page
    assert room_html(drawables(plan.before)).count("path-before") > 0


def test_panels_have_their_true_depth(plan: Plan) -> None:
    """100 mm body, 50 mm gap, on the left wall: from y = 0.05 to y = 0.15 m."""
    faces = [f for f in drawables(plan).faces if f.group == "panel" and f.name == "P1"]
    points = np.concatenate([f.rings[0] for f in faces])
    assert len(faces) == 6
    assert points.min(axis=0) == pytest.approx([0.95, 0.05, 0.5])
    assert points.max(axis=0) == pytest.approx([1.55, 0.15, 1.7])
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    for f in faces:
        assert (f.rings[0].mean(axis=0) - middle) @ f.normal > 0.0


def test_paths_run_from_loudspeaker_to_seat(plan: Plan) -> None:
    shapes = drawables(plan)
    first = int(np.count_nonzero(plan.before.arrivals.order == 1))
    assert sum(x.group == "path-before" for x in shapes.lines) == first
    line = next(x for x in shapes.lines if x.name == "L to centre by left")
    assert line.points[0] == pytest.approx([0.45, 0.75, 1.1])
    assert line.points[2] == pytest.approx([3.55, 1.8, 1.1])
    # Mirrored by hand at y = 0: x = 0.45 + 3.10 * 0.75 / 2.55.
    assert line.points[1] == pytest.approx([0.45 + 3.10 * 0.75 / 2.55, 0.0, 1.1])


def test_picture_shows_one_seat_only(plan: Plan) -> None:
    shapes = picture(plan)
    assert {(x.seat, x.group) for x in shapes.lines} == {("centre", "path-after")}
    assert len(shapes.lines) <= 24


def test_level_colours_end_where_the_scale_ends() -> None:
    assert level_colour(-60.0) == LEVEL_SCALE[0][1]
    assert level_colour(3.0) == LEVEL_SCALE[-1][1]
    assert level_colour(-10.0) == dict(LEVEL_SCALE)[-10.0]


@pytest.mark.parametrize("chart", [reverberation_chart, arrivals_chart])
def test_charts_are_xml_and_png(chart: object, plan: Plan, hostile_plan: Plan) -> None:
    assert callable(chart)
    for one in (plan, hostile_plan):
        ET.fromstring(chart(one.before, one.after))
        assert "<script" not in chart(one.before, one.after)
    assert chart(plan.before, plan.after, "png").startswith(b"\x89PNG")
    ET.fromstring(chart(plan.before))


def test_charts_are_the_same_in_every_run(plan: Plan) -> None:
    assert reverberation_chart(plan.before, plan.after) == reverberation_chart(plan.before, plan.after)


def test_plan_view_is_to_scale(plan: Plan) -> None:
    svg = plan_view_svg(plan)
    root = ET.fromstring(svg)
    name = root.get("aria-label") or ""
    scale = int(re.findall(r"1:(\d+)", name)[0])
    outline = next(e for e in root.iter("{http://www.w3.org/2000/svg}path"))
    xy = np.array(
        [[float(a) for a in p.split(",")] for p in re.findall(r"[\d.]+,[\d.]+", outline.get("d") or "")]
    )
    # The room is 5.4 m long (down the sheet) and 3.6 m wide.
    assert np.ptp(xy, axis=0) == pytest.approx([3600.0 / scale, 5400.0 / scale], abs=0.02)


def test_a_plan_without_panels_still_reports(plan: Plan) -> None:
    empty = replace(plan, placements=(), after=plan.before, shopping=(), cuts=(), blocked=(), cautions=())
    text = " ".join(" ".join(read(report_html(empty)).text).split())
    assert "No panel is planned" in text
    assert 'class="sheet"' not in report_html(empty)
    assert len(drawables(empty).faces) > 0


def test_a_room_without_sound_still_reports(plan: Plan) -> None:
    silent = replace(plan.scene, loudspeakers=(), seats=(), subwoofers=())
    bare = evaluate(silent)
    mute = replace(plan, scene=silent, placements=(), before=bare, after=bare)
    assert "<h1>" in report_html(mute)
    assert room_html(picture(mute)).count("</script>") == 2
    ET.fromstring(str(arrivals_chart(bare)))
