"""The browser planner as a person uses it, in Debian's chromium: look, drag, type, add, keep, come back."""

import json
import re
import signal
import time
from pathlib import Path

import pytest
from browser_hands import drag, facts, money, settled, tab

pytestmark = pytest.mark.browser


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
