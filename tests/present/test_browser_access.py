"""The page for everyone, in Debian's chromium: keys, focus, spoken words, names, contrast, colours."""

import re
from pathlib import Path

import pytest
from browser_hands import facts, money, settled, tab

pytestmark = pytest.mark.browser


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
    for _ in range(4):
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
        for name in ("room", "surfaces", "built", "places", "panels", "aim"):
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
