"""Panels that stand or go across corners, and furniture, as a person handles them in Debian's chromium."""

import json

import pytest
from browser_hands import SCENES, settled

pytestmark = pytest.mark.browser


def add(page, build, name):
    page.select_option("#new-build", build)
    page.click("[data-key=hang]")
    page.wait_for_selector(f"[data-key=grip-panel-{name}]")
    settled(page)


def drag(page, name, dx, dy):
    settled(page)
    box = None
    while box is None:  # the drawing follows the numbers, and is painted anew then
        page.wait_for_timeout(300)
        box = page.locator(f"[data-key=grip-panel-{name}] .panel").bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for k in range(1, 7):
        page.mouse.move(x + dx * k / 6, y + dy * k / 6)
    page.mouse.up()
    settled(page)


def pixels(page):
    """Pixels per metre of the drawing, from its ruler of one metre."""
    # In one breath: the drawing may be painted anew between finding the ruler and measuring it.
    return page.evaluate("document.querySelector('.ruler').getBoundingClientRect().width")


def until(page, planner, index, wanted):
    """Wait for what is on disk: keys are answered one after the other."""
    for _ in range(60):
        panel = planner.panels()[index]
        if wanted(panel):
            return panel
        page.wait_for_timeout(100)
    raise AssertionError(panel)


def test_a_screen_is_added_dragged_turned_locked_and_taken_away(visit):
    planner, page = visit()
    settled(page)
    page.click("#tab-panels")
    add(page, "screen-100", "P1")
    (was,) = planner.panels()
    assert was["standing"]
    scale = pixels(page)
    # Down on paper is away from the front wall: the floor's u counts from there.
    drag(page, "P1", 0, 0.4 * scale)
    now = until(page, planner, 0, lambda p: p["u"] != was["u"])
    assert now["u"] - was["u"] == pytest.approx(0.4, abs=0.03)
    assert now["v"] == pytest.approx(was["v"], abs=0.006)
    # Under the hand of the keyboard, too, and turned about its middle.
    page.focus("[data-key=grip-panel-P1]")
    page.keyboard.press("ArrowUp")
    moved = until(page, planner, 0, lambda p: p["u"] != now["u"])
    assert moved["u"] == pytest.approx(now["u"] - 0.05, abs=0.006)
    page.click("[data-key='panel.P1.turn']")
    turned = until(page, planner, 0, lambda p: p["turned"] != moved["turned"])
    middle = [(p["u"] + (0.1 if p["turned"] else 1.236) / 2) for p in (moved, turned)]
    assert middle[1] == pytest.approx(middle[0], abs=2e-3)
    settled(page)
    # In the middle of the picture it is in the way, and told so under its name; undo brings it back.
    page.fill("[id='field-panel.P1.u']", "1.9 m")
    page.press("[id='field-panel.P1.u']", "Enter")
    until(page, planner, 0, lambda p: p["u"] == 1.9)
    page.fill("[id='field-panel.P1.v']", "1.2 m")
    page.press("[id='field-panel.P1.v']", "Enter")
    page.wait_for_selector("[data-code=panel-in-the-way]:has-text('P1: it stands between')")
    page.click("#undo")
    page.click("#undo")
    until(page, planner, 0, lambda p: p == turned)
    page.click("[data-key='panel.P1.lock']")
    page.wait_for_selector("[id='field-panel.P1.u'][disabled]")
    assert page.is_disabled("[data-key='panel.P1.turn']")
    drag(page, "P1", 60, 60)
    assert planner.panels()[0] == {**turned, "locked": True}
    page.click("[data-key='panel.P1.lock']")
    until(page, planner, 0, lambda p: not p["locked"])
    settled(page)
    page.focus("[data-key=grip-panel-P1]")
    page.keyboard.press("Delete")
    page.wait_for_selector("[data-key=grip-panel-P1]", state="detached")
    assert planner.panels() == []


def test_a_panel_goes_from_corner_to_corner(visit):
    planner, page = visit()
    settled(page)
    page.click("#tab-panels")
    add(page, "wool-150-corner", "P1")

    def walls(panel):
        return {panel["surface"], panel["corner"]}

    assert walls(planner.panels()[0]) == {"front", "left"}
    page.focus("[data-key=grip-panel-P1]")
    page.keyboard.press("ArrowRight")
    until(page, planner, 0, lambda p: walls(p) == {"front", "right"})
    settled(page)
    # Dragged to the other end of the room, 5.4 m on: the window there is in its way.
    drag(page, "P1", 0, 5.0 * pixels(page))
    until(page, planner, 0, lambda p: walls(p) == {"back", "right"})
    page.wait_for_selector("[data-code=panel-over-opening]:has-text('P1: it covers part of')")
    page.wait_for_selector("[data-key=grip-panel-P1] .lost")
    page.select_option("[id='field-panel.P1.surface']", label="corner of front and left")
    until(page, planner, 0, lambda p: walls(p) == {"front", "left"})
    settled(page)
    # On either of its walls it goes up and down.
    page.click("text=One surface")
    for name in ("left", "front"):
        page.select_option("[data-key=wall-name]", name)
        before = planner.panels()[0]
        page.focus("[data-key=grip-panel-P1]")
        page.keyboard.press("ArrowUp")
        after = until(page, planner, 0, lambda p, before=before: p["v"] != before["v"])
        assert after == {**before, "v": pytest.approx(before["v"] + 0.05, abs=0.006)}
        settled(page)
    # Keys that come before the drawing has followed the last one are not lost.
    for _ in range(4):
        last = after
        page.keyboard.press("ArrowUp")
        after = until(page, planner, 0, lambda p, last=last: p["v"] != last["v"])
    assert after["v"] == pytest.approx(before["v"] + 0.25, abs=0.006)


def test_people_and_furniture_change_the_numbers(visit):
    planner, page = visit(SCENES / "open-living-room.toml")
    settled(page)
    assert page.locator(".sitter").count() == 2
    before = page.inner_text("#facts")
    page.check("[data-key='seats.2.occupied']")
    page.wait_for_selector("#undo[title*='occupied']")
    settled(page)
    assert page.locator(".sitter").count() == 3
    page.fill("[id='field-objects.0.count']", "4")
    page.press("[id='field-objects.0.count']", "Enter")
    page.wait_for_selector("[aria-label='furniture sofa']:has-text('all together')")
    settled(page)
    assert page.inner_text("#facts") != before
    room = planner.room()
    assert room["seats"][2]["occupied"] is True
    assert room["objects"][0]["count"] == 4
    page.fill("[id='field-objects.0.count']", "some")
    page.press("[id='field-objects.0.count']", "Enter")
    page.wait_for_selector("text=no whole number")
    assert json.dumps(planner.room()) == json.dumps(room)


def test_what_is_typed_over_a_field_replaces_it(visit):
    """Tab marks the whole of a field, in every browser: what is typed then takes its place."""
    planner, page = visit()
    settled(page)
    page.click("#tab-places")
    page.focus("[data-key='seats.0.remove']")
    for _ in range(9):  # over the seat's own fields, into the next seat, which is chosen by that
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.dataset.key") == "seats.1.position.0":
            break
    page.keyboard.type("3.05")
    assert page.input_value("[id='field-seats.1.position.0']") == "3.05"
    page.keyboard.press("Enter")
    page.wait_for_selector("#undo[title*='seats 1 position 0']")
    assert planner.room()["seats"][1]["position"][0] == 3.05
    assert page.locator(".thing.chosen input").first.input_value() == "centre"


#: Notes where names are written on a canvas: on patches that let a little through.
NOTE_NAMES = """() => {
  window.patches = new Map();
  const paint = CanvasRenderingContext2D.prototype.fillRect;
  CanvasRenderingContext2D.prototype.fillRect = function (x, y, w, h) {
    if (x === 0 && y === 0) window.patches.clear(); // the next drawing begins
    if (this.globalAlpha < 1) window.patches.set([x, y, w, h].join(), [x, y, w, h]);
    return paint.call(this, x, y, w, h);
  };
}"""


def test_names_in_the_round_keep_off_each_other_and_inside(visit):
    _, page = visit()
    page.set_viewport_size({"width": 1024, "height": 768})
    settled(page)
    page.click("#tab-panels")
    for name in ("P1", "P2", "P3"):
        page.click("[data-key=hang]")
        page.wait_for_selector(f"[data-key=grip-panel-{name}]")
        settled(page)
    page.evaluate(NOTE_NAMES)
    page.click("text=In the round")
    width, height = page.locator("#drawing canvas").evaluate("c => [c.clientWidth, c.clientHeight]")
    for turn in range(9):
        page.evaluate("window.patches.clear()")
        page.locator("#drawing canvas").press("ArrowRight" if turn % 3 else "+")
        page.wait_for_function("window.patches.size > 4")
        names = page.evaluate("[...window.patches.values()]")
        for i, (x, y, w, h) in enumerate(names):
            assert x >= 0
            assert y >= 0
            assert x + w <= width
            assert y + h <= height
            for u, v, p, q in names[:i]:
                assert x >= u + p - 1e-6 or u >= x + w - 1e-6 or y >= v + q - 1e-6 or v >= y + h - 1e-6
