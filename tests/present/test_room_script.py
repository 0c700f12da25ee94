"""The room page in a browser: it paints, it turns, it tells, it never runs what a name says."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from treatment.planning.plan import Plan
from treatment.present.double_bounces import double_bounces
from treatment.present.drawables import drawables
from treatment.present.report import report_html
from treatment.present.room_page import room_html

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    sync_api = pytest.importorskip("playwright.sync_api", reason="no browser driver is installed")
    executable = next(
        (p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(p).is_file()), None
    )
    with sync_api.sync_playwright() as driver:
        try:
            opened = driver.chromium.launch(executable_path=executable, args=["--no-sandbox"])
        except sync_api.Error:
            pytest.skip("no browser can be started")
        yield opened
        opened.close()


def opened(browser: Any, tmp_path: Path, page_text: str) -> tuple[Any, list[str]]:
    path = tmp_path / "page.html"
    path.write_text(page_text, encoding="utf-8")
    page = browser.new_page(viewport={"width": 1200, "height": 800})
    said: list[str] = []
    page.on("pageerror", lambda error: said.append(str(error)))
    page.on("console", lambda message: said.append(message.text))
    page.on("dialog", lambda dialog: (said.append("dialog"), dialog.dismiss()))
    page.on("request", lambda r: said.append(r.url) if not r.url.startswith(("file:", "data:")) else None)
    page.goto(path.as_uri())
    return page, said


def painted(page: Any) -> str:
    page.wait_for_timeout(120)
    return str(page.evaluate("document.getElementById('view').toDataURL()"))


def test_keyboard_turns_and_resets(browser: Any, tmp_path: Path, plan: Plan) -> None:
    page, said = opened(browser, tmp_path, room_html(drawables(plan)))
    first = painted(page)
    page.focus("#view")
    page.keyboard.press("ArrowLeft")
    turned = painted(page)
    page.keyboard.press("+")
    nearer = painted(page)
    page.keyboard.press("Home")
    assert len({first, turned, nearer}) == 3
    assert painted(page) == first
    assert said == []


def test_mouse_turns_and_wheel_zooms(browser: Any, tmp_path: Path, plan: Plan) -> None:
    page, said = opened(browser, tmp_path, room_html(drawables(plan)))
    first = painted(page)
    page.mouse.move(400, 400)
    page.mouse.down()
    page.mouse.move(480, 430, steps=4)
    page.mouse.up()
    turned = painted(page)
    page.mouse.wheel(0, 300)
    assert len({first, turned, painted(page)}) == 3
    assert said == []


def test_before_hides_panels_and_toggles_repaint(browser: Any, tmp_path: Path, plan: Plan) -> None:
    page, said = opened(browser, tmp_path, room_html(drawables(plan)))
    seen = {painted(page)}
    for name in ("paths", "labels", "keepouts", "cut"):
        page.uncheck(f"input[name={name}]")
        seen.add(painted(page))
    page.check("input[value=before]")
    seen.add(painted(page))
    page.select_option("#source", label="all")
    page.check("input[name=paths]")
    seen.add(painted(page))
    assert len(seen) == 7
    assert said == []


def test_the_chosen_octave_colours_the_paths(browser: Any, tmp_path: Path, plan: Plan) -> None:
    page, said = opened(browser, tmp_path, room_html(drawables(plan)))
    loudest = painted(page)
    page.select_option("#band", label="125 Hz")
    bass = painted(page)
    page.select_option("#band", label="4 kHz")
    treble = painted(page)
    page.select_option("#band", value="loudest")
    # Panels take more at 4 kHz than at 125 Hz.
    assert len({loudest, bass, treble}) == 3
    assert painted(page) == loudest
    assert said == []


def test_double_bounces_can_be_chosen_and_read(browser: Any, tmp_path: Path, plan: Plan) -> None:
    doubles = double_bounces(plan)
    page, said = opened(browser, tmp_path, room_html(drawables(plan), doubles))
    single = painted(page)
    page.check("input[name=doubles]")
    both = painted(page)
    page.uncheck("input[name=paths]")
    twice = painted(page)
    page.check("input[value=before]")
    before = painted(page)
    assert len({single, both, twice, before}) == 4
    # Every one that the evaluation found is there, and says what it found.
    a = plan.before.arrivals
    first = int(np.flatnonzero(a.order == 2)[0])
    told = page.evaluate("doubleLines(JSON.parse(document.getElementById('room-data').textContent))")
    assert [x["group"] for x in told].count("path-before") == int((a.order == 2).sum())
    assert [x["group"] for x in told].count("path-after") == int((plan.after.arrivals.order == 2).sum())
    assert told[0]["detail"][1] == f"{a.delay_ms[first]:.2f} ms behind the direct sound"
    assert told[0]["levels"] == pytest.approx(a.level_db[first].tolist(), abs=0.051)
    # A mirror does not care which way one looks: by the law of reflection a path is as long as the straight
    # line from the twice mirrored source, and the delay that is told is that of the points that are drawn.
    for x in told:
        points = np.array(x["points"])
        way = np.linalg.norm(np.diff(points, axis=0), axis=1).sum() - np.linalg.norm(points[-1] - points[0])
        late = float(x["detail"][1].split(" ")[0]) / 1000.0
        assert way == pytest.approx(late * plan.before.speed_of_sound, abs=0.006)
    # A path weighs less than a twelfth of a kilobyte in the page.
    plain, full = (len(room_html(drawables(plan), d)) for d in (None, doubles))
    assert (full - plain) / len(doubles.rows) < 120
    assert said == []


def test_list_tells_a_panels_numbers(browser: Any, tmp_path: Path, plan: Plan) -> None:
    page, said = opened(browser, tmp_path, room_html(drawables(plan)))
    page.click("#items button >> nth=0")
    told = page.inner_text("#info")
    assert "P1: deep-wool" in told
    assert "0.95 m from the front wall" in told
    assert said == []


def test_hostile_names_run_nothing(browser: Any, tmp_path: Path, hostile_plan: Plan) -> None:
    for text in (
        room_html(drawables(hostile_plan), double_bounces(hostile_plan)),
        report_html(hostile_plan),
    ):
        page, said = opened(browser, tmp_path, text)
        page.wait_for_timeout(200)
        assert said == []
        assert "</script><script>alert('1')</script>" in page.inner_text("h1")
