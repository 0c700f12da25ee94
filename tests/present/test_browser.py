"""The browser planner as a person uses it, in Debian's chromium: look, drag, type, add, keep, come back."""

import json
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

SCENES = Path(__file__).parents[2] / "scenes"
HOSTILE = "</script><img src=x onerror=alert(1)>\\\"'${7*7}{{7*7}}"


def settled(page):
    """Wait until the numbers are those of the last step."""
    page.wait_for_selector("#kept:has-text('worked out in')")
    page.wait_for_selector(".results:not(.waiting)")
    # The drawing comes after the numbers.
    page.wait_for_selector("#drawing :is(svg, canvas, .caption)", state="attached")


def facts(page):
    return page.inner_text("#facts")


def tab(page, name):
    page.click(f"#tab-{name}")


def drag(page, selector, dx, dy):
    box = page.locator(selector).locator(".seat, .loudspeaker, .subwoofer, .panel").first.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for k in range(1, 9):
        page.mouse.move(x + dx * k / 8, y + dy * k / 8)
    page.mouse.up()


def test_a_person_makes_a_plan(visit):
    planner, page = visit()
    # Drag a seat: the field follows, and so do the file and the numbers.
    settled(page)
    before, heading = facts(page), page.title()
    drag(page, "[data-key=grip-seats-1]", 90, -110)
    page.wait_for_selector("#undo[title*='move seat centre']")
    settled(page)
    x, y, z = planner.room()["seats"][1]["position"]
    assert x < 3.2
    assert y > 2.0
    assert z == 1.10
    assert page.input_value("[id='field-seats.1.position.0']") == str(x)
    assert page.get_attribute("[data-key=grip-seats-1]", "class") == "grip chosen"
    assert "Garden-room" in heading
    # Change a material: reverberation falls.
    tab(page, "surfaces")
    page.select_option("[id='field-surfaces.left']", label="as the default")
    page.select_option("[id='field-surfaces.ceiling']", pick(page))
    page.wait_for_selector("#undo[title*='ceiling']")
    settled(page)
    soft = facts(page)
    assert soft != before
    assert middle_time(soft) < 0.8 * middle_time(before)
    # Add a panel: it costs money, and hangs where the file says.
    tab(page, "panels")
    page.click("[data-key=hang]")
    page.wait_for_selector("[data-key=grip-panel-P1]")
    settled(page)
    assert money(facts(page)) > 0.0
    (panel,) = planner.panels()
    assert panel["id"] == "P1"
    # Move it by typing, turn it, lock it.
    page.fill("[id='field-panel.P1.u']", "4 ft")
    page.press("[id='field-panel.P1.u']", "Enter")
    page.wait_for_selector("#undo[title*='change panel P1']")
    assert planner.panels()[0]["u"] == pytest.approx(1.2192, abs=1e-4)  # 1 ft is 0.3048 m exactly
    page.click("[data-key='panel.P1.lock']")
    page.wait_for_selector("[id='field-panel.P1.u'][disabled]")
    # Keep it under a name, and come back.
    page.click("#save")
    page.fill("#saving-name", "first try")
    page.click("#saving-form button.main")
    page.wait_for_selector("#banner:has-text('first try')", timeout=180_000)
    # The picture is there, or the page says why not.
    assert (planner.folder / "first try" / "room.png").is_file() or "room.png" in page.inner_text("#banner")
    plan = json.loads((planner.folder / "first try" / "plan.json").read_text(encoding="utf-8"))
    assert [p["id"] for p in plan["placements"]] == ["P1"]
    # Not over what is there already, unless that is wanted; and never over what is no plan.
    (planner.folder / "other").mkdir()
    for name, words in (("first try", "tick Replace"), ("other", "no plan of this program")):
        page.click("#save")
        page.fill("#saving-name", name)
        page.click("#saving-form button.main")
        page.wait_for_selector(f"#saving-answer:has-text('{words}')")
        page.click("#saving-stop")
    settled(page)
    kept = facts(page)
    page.reload()
    page.wait_for_selector("[data-key=grip-panel-P1]")
    settled(page)
    assert facts(page) == kept
    page.click("#undo")
    page.wait_for_selector("#redo:not([disabled])")
    assert not planner.panels()[0]["locked"]
    with page.expect_download(timeout=60_000) as download:
        page.click("#report")
    report = Path(download.value.path()).read_text(encoding="utf-8")
    assert "P1" in report
    assert "<title>Garden-room cinema" in report
    # What was saved can be opened again, and gives the same numbers.
    second, other = visit(planner.folder / "first try", planner.folder.parent / "second")
    settled(other)
    assert facts(other) == kept
    assert [p["id"] for p in second.panels()] == ["P1"]


def pick(page):
    """A soft material of the list, by its words."""
    options = page.locator("[id='field-surfaces.ceiling'] option").evaluate_all
    return next(o for o in options("list => list.map(o => o.value)") if "wool" in o or "tile" in o)


def middle_time(words):
    return float(re.search(r"([\d.]+)(?:–[\d.]+)? s\n", words)[1])


def money(words):
    return float(re.search(r"([\d.]+) EUR", words)[1])


def test_errors_are_told_where_they_are_and_nothing_is_thrown_away(visit):
    planner, page = visit()
    page.fill("[id='field-room.length']", "very long")
    page.press("[id='field-room.length']", "Tab")
    page.wait_for_selector("[id='field-room.length'][aria-invalid=true]")
    assert "not a length" in page.inner_text("[id='field-room.length-wrong']")
    assert planner.room()["room"]["length"] == 5.4
    page.fill("[id='field-room.length']", "3.2 m")
    page.press("[id='field-room.length']", "Enter")
    page.wait_for_selector("[data-code=seat-outside-room]")
    assert page.inner_text("#results").startswith("Findings")
    assert "from before them" in page.inner_text("#results")
    assert planner.room()["room"]["length"] == "3.2 m"
    page.locator("[data-code=seat-outside-room] button").first.click()
    assert page.get_attribute("#tab-places", "aria-selected") == "true"
    page.keyboard.press("Control+z")
    page.wait_for_selector("[data-code=seat-outside-room]", state="detached")
    assert planner.room()["room"]["length"] == 5.4


def resting_place(planner) -> list[float]:
    """Position of the first loudspeaker once the last step of a drag has been written."""
    last: list[float] = []
    for _ in range(40):
        now = planner.room()["loudspeakers"][0]["position"]
        if now == last:
            return now
        last = now
        time.sleep(1.0)
    return last


def test_a_stop_in_the_middle_loses_nothing(visit):
    planner, page = visit()
    drag(page, "[data-key=grip-loudspeakers-0]", 60, 40)
    page.wait_for_selector("#undo[title*='move loudspeaker L']")
    moved = resting_place(planner)
    assert moved != [1.10, 0.50, 1.10]
    planner.stop(signal.SIGKILL)
    page.wait_for_selector("#banner:has-text('Nothing is lost')")
    again, page = visit()
    assert again.room()["loudspeakers"][0]["position"] == moved
    assert "Taken up again" in page.inner_text("#banner")
    settled(page)
    page.click("#undo")
    page.wait_for_selector("#undo[disabled]")
    assert again.room()["loudspeakers"][0]["position"] == [1.10, 0.50, 1.10]


def test_planning_is_a_task_that_can_be_stopped(visit):
    planner, page = visit()
    settled(page)
    tab(page, "panels")
    page.click("[data-key=plan]")
    page.click("[data-key=cancel]")
    page.wait_for_selector("text=Planning was cancelled")
    assert planner.panels() == []
    page.click("[data-key=hang]")
    page.click("[data-key='panel.P1.lock']")
    page.wait_for_selector("[id='field-panel.P1.u'][disabled]")
    settled(page)
    (locked,) = planner.panels()
    page.click("[data-key=plan]")
    page.wait_for_selector("text=/\\d+ panels planned/", timeout=120_000)
    planned = planner.panels()
    assert planned[0] == locked
    assert len({p["id"] for p in planned}) == len(planned) > 3
    settled(page)
    assert money(facts(page)) <= planner.room()["budget"]["amount"]


def test_rays_are_a_task_whose_points_stand_on_the_chart(visit):
    _, page = visit()
    settled(page)
    assert page.locator(".chart .diamond").count() == 0
    # A long one can be watched and stopped.
    page.select_option("#ray-count", "100000")
    page.click("[data-key=rays]")
    page.wait_for_selector("#rays progress[value]")
    assert 0.0 <= float(page.get_attribute("#rays progress", "value")) < 1.0
    assert page.is_disabled("[data-key=rays]") if page.locator("[data-key=rays]").count() else True
    page.click("[data-key=cancel]")
    page.wait_for_selector("text=Tracing was cancelled")
    assert page.locator(".chart .diamond").count() == 0
    page.select_option("#ray-count", "5000")
    page.click("[data-key=rays]")
    page.wait_for_selector("text=/Traced: \\d+ rays/", timeout=120_000)
    assert page.locator(".chart .ray-was .diamond").count() == 8
    # A diamond stands at its time, and its bar reaches one standard error each way: read back off the chart.
    page.click("#results details summary:has-text('As a table')")
    told = page.inner_text("#times tr:has-text('rays, as it is')").split("\t")[1:]
    assert len(told) == 8
    time_s, error_s = (float(x) for x in told[4].split("±"))
    scale = page.evaluate(CHART_SCALE)
    points = page.locator(".chart .ray-was >> nth=4").evaluate(BAR)
    assert (points["top"] + points["low"]) / 2 == pytest.approx(
        scale["zero"] - time_s * scale["second"], abs=1
    )
    assert points["low"] - points["top"] == pytest.approx(2 * error_s * scale["second"], abs=1.5)
    # They are about this room only: gone with the next change, back with undo.
    tab(page, "aim")
    page.fill("[id='field-budget.amount']", "500")
    page.press("[id='field-budget.amount']", "Enter")
    page.wait_for_selector(".chart .diamond", state="detached")
    page.click("#undo")
    page.wait_for_selector(".chart .ray-was .diamond")


#: Pixels of the chart's drawing per second, and where its zero lies, from its grid.
CHART_SCALE = """() => {
    const lines = [...document.querySelectorAll(".chart .grid")].map((l) => Number(l.getAttribute("y1")));
    const words = [...document.querySelectorAll(".chart .grid + text")].map((t) => Number(t.textContent));
    return { zero: lines[0], second: (lines[0] - lines[1]) / (words[1] - words[0]) }; }"""
BAR = "(g) => { const b = g.querySelector('.bar').getBBox(); return { top: b.y, low: b.y + b.height }; }"


def test_a_page_of_another_origin_is_refused(visit, tmp_path):
    planner, page = visit()
    secret = page.context.storage_state()["origins"][0]["localStorage"][0]["value"]
    port = planner.address.split(":")[2].split("/")[0]
    (tmp_path / "evil").mkdir()
    (tmp_path / "evil" / "index.html").write_text("<p>evil", encoding="utf-8")
    command = [sys.executable, "-um", "http.server", "0", "--bind", "127.0.0.1", "-d", str(tmp_path / "evil")]
    other = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        # The same machine, the same cookies, and even the secret: only the origin differs.
        foreign = page.context.new_page()
        foreign.goto(re.search(r"http://\S+/", other.stdout.readline())[0])
        tried = """([port, secret]) => new Promise((done) => {
            const line = new WebSocket(`ws://127.0.0.1:${port}/talk`, ["treatment-planner", secret]);
            line.onopen = () => done("open"); line.onerror = () => done("refused"); })"""
        assert foreign.evaluate(tried, [port, secret]) == "refused"
        assert foreign.evaluate(tried, [port, "wrong"]) == "refused"
        read = "(port) => fetch(`http://127.0.0.1:${port}/`).then(() => 'read', () => 'refused')"
        assert foreign.evaluate(read, port) == "refused"
        frame = """(port) => new Promise((done) => { const f = document.createElement("iframe");
            f.src = `http://127.0.0.1:${port}/`; f.onload = () => done(f.contentDocument ? "seen" : "closed");
            document.body.append(f); })"""
        assert foreign.evaluate(frame, port) == "closed"
    finally:
        other.terminate()
        other.wait(10)
        other.stdout.close()
    page.bring_to_front()
    page.reload()
    page.wait_for_selector("#facts")


def test_hostile_names_are_shown_as_text(visit, tmp_path):
    text = (SCENES / "garden-room.toml").read_text(encoding="utf-8")
    hostile = json.dumps(HOSTILE[:40])
    text = text.replace('name = "centre"', f"name = {hostile}").replace('"Garden-room cinema"', hostile)
    scene = tmp_path / "hostile.toml"
    scene.write_text(text, encoding="utf-8")
    _, page = visit(scene)
    settled(page)
    assert page.inner_text("#title") == HOSTILE[:40]
    for view in ("One surface", "In the round", "From above"):
        page.click(f"text={view}")
    assert page.locator("img").count() == 0


def test_everything_can_be_done_by_keys(visit):
    planner, page = visit()
    settled(page)
    page.focus("[data-key=grip-seats-0]")
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Shift+ArrowRight")
    page.wait_for_selector("#undo[title*='move seat left']")
    settled(page)
    assert planner.room()["seats"][0]["position"] == [3.30, 1.16, 1.10]
    assert page.locator("[data-key=grip-seats-0]").evaluate("e => e === document.activeElement")
    page.focus("#tab-room")
    for _ in range(3):
        page.keyboard.press("ArrowRight")
    assert page.get_attribute("#tab-panels", "aria-selected") == "true"
    page.focus("#views input >> nth=0")
    page.keyboard.press("ArrowRight")
    page.wait_for_selector("select[data-key=wall-name]")


#: What can have the focus, by a name that outlives painting anew; of radio buttons that belong together one.
STOPS = """() => [...new Set([...document.querySelectorAll(
    "a[href], button, input, select, canvas, summary, [tabindex]")]
    .filter((e) => e.tabIndex >= 0 && !e.disabled && !e.closest("dialog:not([open])"))
    .filter((e) => e.checkVisibility({ visibilityProperty: true }) && !(e.type === "radio" && !e.checked))
    .map((e) => e.id || e.dataset.key || e.name || e.textContent.trim()))]"""
#: Name of what has the focus, and whether that shows: an outline, or a thick halo on a drawing.
FOCUSED = """() => { const e = document.activeElement, shape = e.querySelector?.(".halo");
    const drawn = (n) => { const s = getComputedStyle(n);
        return s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2; };
    const halo = shape && getComputedStyle(shape);
    const shown = drawn(e) || (e.closest("label") && drawn(e.closest("label"))) ||
        Boolean(halo && halo.stroke !== "rgba(0, 0, 0, 0)" && parseFloat(halo.strokeWidth) > 0.05);
    const name = e === document.body ? "body" : e.id || e.dataset.key || e.name || e.textContent.trim();
    return [name, shown]; }"""


def test_tab_reaches_everything_and_shows_where_it_is(visit):
    """WCAG 2.1, 2.1.1 (keyboard), 2.1.2 (no trap) and 2.4.7 (focus visible)."""
    _, page = visit()
    settled(page)
    tab(page, "panels")
    page.click("[data-key=hang]")
    page.wait_for_selector("[data-key='panel.P1.lock']")
    settled(page)
    # Buttons under the drawing belong to what is chosen, and going on chooses the next thing; the same
    # buttons stand in the part Panels.
    wanted = {w for w in page.evaluate(STOPS) if not w.startswith("caption-")}
    assert {"panel.P1.lock", "panel.P1.turn", "grip-panel-P1", "grip-seats-0", "rays", "theme"} < wanted
    assert len(wanted) > 40
    page.locator("body").evaluate("e => { document.activeElement.blur(); scrollTo(0, 0); }")
    reached, unseen = [], []
    for _ in range(len(wanted) + 20):
        page.keyboard.press("Tab")
        name, shown = page.evaluate(FOCUSED)
        reached.append(name)
        if not shown and name:
            unseen.append(name)
        if wanted <= set(reached):
            break
    gone = {w for w in wanted - set(reached) if w.startswith("panel.P1.")}  # folded once another is chosen
    assert wanted - set(reached) - gone == set()
    # The body is where the page ends and the browser's own bar begins; a part that scrolls is outlined too.
    assert set(unseen) <= {"body"}


def test_results_are_spoken_and_panels_move_by_keys(visit):
    """WCAG 2.1, 4.1.3 (status messages): one live region that stays, and says what came of a step."""
    planner, page = visit()
    settled(page)
    page.wait_for_selector("#said:has-text('Worked out'):has-text('cost 0.00')", state="attached")
    page.evaluate("document.getElementById('said').mine = true")
    page.click("#tab-panels")
    page.click("[data-key=hang]")
    page.wait_for_selector("[data-key=grip-panel-P1]")
    page.wait_for_selector("#said:has-text('Worked out'):not(:has-text('cost 0.00'))", state="attached")
    said = page.text_content("#said")
    (panel,) = planner.panels()
    assert re.search(
        r"dies away in [\d.]+( to [\d.]+)? seconds at 1 kHz; \d+ early strong bounces; cost [\d.]+", said
    )
    assert money(facts(page)) == float(re.search(r"cost ([\d.]+)", said)[1])
    assert page.evaluate("document.getElementById('said').mine") is True
    assert page.get_attribute("#said", "role") == "status"
    page.click("text=One surface")
    page.select_option("[data-key=wall-name]", panel["surface"])
    page.focus("[data-key=grip-panel-P1]")
    page.keyboard.press("ArrowUp")
    page.wait_for_selector("#undo[title*='change panel P1']")
    settled(page)
    (moved,) = planner.panels()
    assert moved["u"] != panel["u"] or moved["v"] != panel["v"]
    page.focus("[data-key=grip-panel-P1]")
    page.keyboard.press("Delete")
    page.wait_for_selector("[data-key=grip-panel-P1]", state="detached")
    assert planner.panels() == []


def test_the_choice_of_colours_is_remembered(visit):
    _, page = visit(color_scheme="light")
    paper = "() => getComputedStyle(document.body).backgroundColor"
    light = page.evaluate(paper)
    page.select_option("#theme", "dark")
    dark = page.evaluate(paper)
    assert dark != light
    page.reload()
    page.wait_for_selector("#facts")
    assert page.evaluate(paper) == dark
    assert page.input_value("#theme") == "dark"
    page.emulate_media(media="print")
    assert page.evaluate(paper) == light
    page.emulate_media(media="screen", color_scheme="dark")
    page.select_option("#theme", "light")
    assert page.evaluate(paper) == light
    page.select_option("#theme", "")
    assert page.evaluate(paper) == dark


AUDIT = (Path(__file__).parent / "test_browser_audit.js").read_text(encoding="utf-8")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_names_and_contrast(visit, scheme):
    """Contrast by WCAG 2.1, 1.4.3 (text, 4.5) and 1.4.11 (edges of fields, 3); formula of its glossary."""
    _, page = visit(color_scheme=scheme, bypass_csp=True)
    settled(page)
    tab(page, "panels")
    page.click("[data-key=hang]")
    page.wait_for_selector("[data-key=grip-panel-P1]")
    for view in ("One surface", "In the round", "From above"):
        page.click(f"text={view}")
        for name in ("room", "surfaces", "places", "panels", "aim"):
            tab(page, name)
            found = page.evaluate(AUDIT)
            assert found["texts"] > 40
            assert found["named"] > 15
            assert found["wrong"] == [], (view, name)
    page.click("#save")
    assert page.evaluate(AUDIT)["wrong"] == []
    page.keyboard.press("Escape")
    # Nothing is cut off, whatever the window: neither the page nor its tabs.
    for size in ((700, 900), (390, 844), (1024, 768)):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        assert page.evaluate(AUDIT)["wrong"] == [], size
        inside = "e => e.lastElementChild.getBoundingClientRect().right <= e.getBoundingClientRect().right"
        assert page.locator("#tabs").evaluate(inside), size
