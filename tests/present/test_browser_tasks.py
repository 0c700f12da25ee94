"""Long work in the page, in Debian's chromium: planning and rays can be watched and stopped."""

import pytest
from browser_hands import facts, money, settled, tab

pytestmark = pytest.mark.browser


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
