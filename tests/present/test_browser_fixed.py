"""Doors, fuse boards, posts and the screen as a person handles them in Debian's chromium."""

import json

import pytest
from browser_hands import SCENES, drag, settled, tab

pytestmark = pytest.mark.browser

FOCUSED = "document.activeElement.dataset.key"


def add(page, section, kind, index, surface=None):
    page.select_option(f"#new-{section}-kind", kind)
    if surface is not None:
        page.select_option(f"#new-{section}-surface", surface)
    page.click(f"[data-key=add-{section}]")
    page.wait_for_selector(f"[data-key=grip-{section}-{index}]", state="attached")
    settled(page)


def wait_for(page, known, wanted):
    """Wait for what is on disk: keys are answered one after the other."""
    for _ in range(60):
        if wanted(now := known()):
            return now
        page.wait_for_timeout(100)
    raise AssertionError(now)


def test_a_fuse_board_is_added_moved_planned_round_undone_and_saved(visit):
    planner, page = visit()
    settled(page)
    tab(page, "built")
    # It asks what is there before anything is added, and tells what to mind.
    page.click("[data-key=add-keep_outs]")
    page.wait_for_selector("#add-keep_outs-wrong:has-text('say what it is')")
    assert page.locator("#form .caution").count() == 0
    page.select_option("#new-keep_outs-kind", "fuse board")
    assert "licensed electrician" in page.inner_text("#form .caution")
    add(page, "keep_outs", "fuse board", 2, "left")
    assert page.locator("#add-keep_outs-wrong").count() == 0
    # The new one has the focus, its fields and its caution.
    assert page.evaluate(FOCUSED) == "keep_outs.2.open"
    assert "local codes decide" in page.inner_text("[data-key='keep_outs.2.open'] .caution")
    # The next one asks again.
    assert page.input_value("#new-keep_outs-kind") == ""
    page.fill("[id='field-keep_outs.2.name']", "main board")
    page.press("[id='field-keep_outs.2.name']", "Enter")
    page.wait_for_selector("[data-key=grip-keep_outs-2][aria-label^='main board, kept free: electricity']")
    # From above it goes along its wall; on its wall it is found as well.
    settled(page)
    drag(page, "[data-key=grip-keep_outs-2]", 30, -90)
    page.wait_for_selector("#undo[title*='move main board']")
    settled(page)
    board = planner.room()["keep_outs"][2]
    assert board["at"][0] < 2.0
    assert board["at"][1] == 0.0
    assert page.input_value("[id='field-keep_outs.2.at.0']") == str(board["at"][0])
    page.click("text=One surface")
    assert page.input_value("[data-key=wall-name]") == "left"
    settled(page)
    page.focus("[data-key=grip-keep_outs-2]")
    page.keyboard.press("Shift+ArrowRight")
    # Seen from inside, the left wall has the front on its right.
    moved = wait_for(page, lambda: planner.room()["keep_outs"][2]["at"][0], lambda u: u != board["at"][0])
    assert moved == pytest.approx(board["at"][0] - 0.01)
    settled(page)
    # No planned panel comes into its space; without the board some would.
    tab(page, "panels")
    page.click("[data-key=plan]")
    page.wait_for_selector("text=/\\d+ panels planned/", timeout=120_000)
    settled(page)
    assert planner.panels()
    low, high = moved, moved + board["size"][0]
    assert all(p["u"] >= high or p["u"] <= low for p in planner.panels() if p["surface"] == "left")
    assert page.locator("[data-code=panel-in-electrical-space]").count() == 0
    assert page.locator("#results li", has_text="Electricity (main board)").count() == 1
    # One step back takes the plan down, not the board.
    page.click("#undo")
    page.wait_for_selector("#redo[title*='plan panels']")
    assert planner.panels() == []
    page.click("#save")
    page.check("#saving-form input[value=save-room]")
    page.fill("#saving-name", "with board")
    page.click("#saving-form button.main")
    page.wait_for_selector("#banner:has-text('with board.toml')")
    saved = (planner.folder / "with board.toml").read_text(encoding="utf-8")
    assert 'name = "main board"' in saved
    original = (SCENES / "garden-room.toml").read_text(encoding="utf-8")
    assert [x for x in original.splitlines() if x.startswith("#") and x not in saved.splitlines()] == []


def test_a_door_over_a_panel_is_told_and_taken_away_by_keys(visit):
    planner, page = visit()
    settled(page)
    tab(page, "panels")
    page.select_option("#new-surface", "right")
    page.click("[data-key=hang]")
    page.wait_for_selector("[data-key=grip-panel-P1]")
    settled(page)
    (panel,) = planner.panels()
    tab(page, "built")
    add(page, "openings", "door", 2, "right")
    assert page.locator("[data-code=panel-over-opening]").count() == 0  # it keeps off what hangs
    page.fill("[id='field-openings.2.at.0']", f"{panel['u']} m")
    page.press("[id='field-openings.2.at.0']", "Enter")
    page.wait_for_selector("[data-code=panel-over-opening]:has-text('P1')")
    assert planner.panels() == [panel]
    settled(page)
    page.focus("[data-key=grip-openings-2]")
    page.keyboard.press("Delete")
    page.wait_for_selector("[data-code=panel-over-opening]", state="detached")
    assert len(planner.room()["openings"]) == 2
    # It comes back, also after the page was left.
    page.reload()
    settled(page)
    page.click("#undo")
    page.wait_for_selector("[data-key=grip-openings-2]", state="attached")
    assert planner.room()["openings"][2]["at"][0] == f"{panel['u']} m"
    assert planner.panels() == [panel]


def test_what_is_near_a_window_is_taken_hold_of_itself(visit):
    planner, page = visit()
    settled(page)
    tab(page, "built")
    add(page, "obstacles", "post", 0)
    # Its name does not hide it.
    box = page.locator("[data-key=grip-obstacles-0] .obstacle").bounding_box()
    middle = box["y"] + box["height"] / 2
    top, bottom = page.evaluate("""() => {
        const name = [...document.querySelectorAll("#drawing text")].find((t) => t.textContent === "post");
        const { top, bottom } = name.getBoundingClientRect();
        return [top, bottom];
    }""")
    assert not top < middle < bottom
    # Beside the window, but off the wall by half a metre.
    window = planner.room()["openings"][1]
    for k, typed in enumerate((window["at"][0], 3.0)):
        page.fill(f"[id='field-obstacles.0.at.{k}']", str(typed))
        page.press(f"[id='field-obstacles.0.at.{k}']", "Enter")
        wait_for(page, lambda: planner.room()["obstacles"][0]["at"], lambda at, k=k, x=typed: at[k] == x)
        settled(page)
    drag(page, "[data-key=grip-obstacles-0]", 0, -60)
    page.wait_for_selector("#undo[title*='move post']")
    assert planner.room()["obstacles"][0]["at"][0] < window["at"][0]
    assert planner.room()["openings"][1] == window


def test_what_is_drawn_along_a_wall_keeps_its_height(visit):
    planner, page = visit()
    settled(page)
    tab(page, "built")
    page.click("[data-key='openings.1.open']")
    page.fill("[id='field-openings.1.at.1']", "0.905")
    page.press("[id='field-openings.1.at.1']", "Enter")
    wait_for(page, lambda: planner.room()["openings"][1]["at"][1], lambda v: v == 0.905)
    settled(page)
    drag(page, "[data-key=grip-openings-1]", 0, -40)
    page.wait_for_selector("#undo[title*='move window']")
    u, v = wait_for(page, lambda: planner.room()["openings"][1]["at"], lambda at: at[0] < 4.0)
    assert v == 0.905
    assert u == pytest.approx(round(u, 2))  # the tape holds whole centimetres


def test_a_finding_leads_to_the_folded_field_that_mends_it(visit):
    planner, page = visit()
    settled(page)
    tab(page, "built")
    page.click("[data-key='openings.1.open']")
    assert page.evaluate(FOCUSED) == "openings.1.open"
    page.fill("[id='field-openings.1.at.0']", "5.2")
    page.press("[id='field-openings.1.at.0']", "Enter")
    page.wait_for_selector("[data-code=opening-outside-surface]")
    assert "from before them" in page.inner_text("#results")
    page.click("[data-key='openings.0.open']")
    page.wait_for_selector("[id='field-openings.1.at.0']", state="detached")
    tab(page, "aim")
    page.locator("[data-code=opening-outside-surface] button").click()
    assert page.get_attribute("#tab-built", "aria-selected") == "true"
    assert page.evaluate(FOCUSED).startswith("openings.1.")
    # On its wall it is drawn where it was typed, as wrong.
    page.click("text=One surface")
    assert page.input_value("[data-key=wall-name]") == "right"
    assert "lost" in page.get_attribute("[data-key=grip-openings-1]", "class")
    page.fill("[id='field-openings.1.at.0']", "4.2")
    page.press("[id='field-openings.1.at.0']", "Enter")
    page.wait_for_selector("[data-code=opening-outside-surface]", state="detached")
    assert planner.room()["openings"][1]["at"][0] == 4.2


def test_a_post_a_screen_and_a_subwoofer_on_a_narrow_window(visit):
    planner, page = visit(SCENES / "attic.toml", has_touch=True)
    page.set_viewport_size({"width": 390, "height": 844})
    settled(page)
    fits = """document.documentElement.scrollWidth <= innerWidth && ["#form", "#tabs", "#results", "#caption"]
        .every((s) => document.querySelector(s).scrollWidth <= document.querySelector(s).clientWidth)"""
    tab(page, "built")
    add(page, "obstacles", "post", 0)
    add_screen = page.locator("[data-key=add-screen]")
    add_screen.click()
    page.wait_for_selector("[data-key=grip-screen-0]", state="attached")
    settled(page)
    assert add_screen.count() == 0  # a room holds one
    assert page.evaluate(fits)
    assert {k: planner.room()[k] for k in ("screen", "obstacles")}["screen"]["surface"] == "front"
    page.check("[data-key='screen.sound_passes']")
    page.wait_for_selector("#undo[title*='screen sound_passes']")
    settled(page)
    post = planner.room()["obstacles"][0]["at"]
    page.focus("[data-key=grip-obstacles-0]")
    page.keyboard.press("ArrowDown")
    moved = wait_for(page, lambda: planner.room()["obstacles"][0]["at"], lambda at: at != post)
    assert moved == pytest.approx([post[0] + 0.05, *post[1:]])
    settled(page)
    page.click("[data-key=caption-remove]")
    page.wait_for_selector("[data-key=grip-obstacles-0]", state="detached")
    assert "obstacles" not in planner.room()
    page.click("[data-key='screen.0.open'] >> nth=0")
    page.click("[data-key='screen.0.remove']")
    page.wait_for_selector("[data-key=add-screen]")
    assert "screen" not in planner.room()
    tab(page, "places")
    page.click("[data-key=add-subwoofers]")
    page.wait_for_selector("[data-key=grip-subwoofers-1]")
    assert page.evaluate(fits)
    assert len(planner.room()["subwoofers"]) == 2
    for name in ("surfaces", "built", "panels", "aim", "room"):
        tab(page, name)
        assert page.evaluate(fits), name


def test_hostile_names_of_what_is_built_in_are_shown_as_text(visit, tmp_path):
    name = "</title><img src=x onerror=alert(1)>\"'${7*7}"
    text = (SCENES / "soffit-basement.toml").read_text(encoding="utf-8")
    for word in ("post", "door", "door swing"):
        text = text.replace(f'name = "{word}"', f"name = {json.dumps(f'{word} {name}')}")
    scene = tmp_path / "hostile.toml"
    scene.write_text(text, encoding="utf-8")
    _, page = visit(scene)
    settled(page)
    tab(page, "built")
    for key in ("openings.0", "keep_outs.0", "obstacles.1"):
        page.click(f"[data-key='{key}.open']")
        assert page.input_value(f"[id='field-{key}.name']").endswith(name)
        assert name in page.inner_text("#caption")
    for view in ("One surface", "In the round", "From above"):
        page.click(f"text={view}")
        assert page.locator("img").count() == 0


def test_lengths_are_told_in_what_one_measures_in(visit, tmp_path):
    text = (SCENES / "garden-room.toml").read_text(encoding="utf-8").replace('units = "m"', 'units = "ft"')
    for key, feet in (("length", 18), ("width", 12), ("height", 8)):
        text = text.replace(f"\n{key} =", f"\n{key} = {feet} # was", 1)
    scene = tmp_path / "feet.toml"
    scene.write_text(text, encoding="utf-8")
    planner, page = visit(scene)
    settled(page)
    tab(page, "built")
    add(page, "openings", "door", 2, "left")
    door = planner.room()["openings"][2]
    assert [round(s * 12, 2) for s in door["size"]] == [32, 79]  # whole inches
    assert "2 ft 8 in by 6 ft 7 in" in page.inner_text("#caption")
    assert " m by" not in page.inner_text("#caption")
    # What is moved lands on half inches, and what may hurt someone is told in inches first.
    was = door["at"][0]
    page.focus("[data-key=grip-openings-2]")
    for key, inches in (("ArrowDown", 2.0), ("Shift+ArrowDown", 0.5)):
        page.keyboard.press(key)
        now = wait_for(page, lambda: planner.room()["openings"][2]["at"][0], lambda u, was=was: u != was)
        assert (now - was) * 12 == pytest.approx(inches, abs=0.26)  # from wherever it was to half an inch
        assert now * 24 == pytest.approx(round(now * 24), abs=2e-3)
        was = now
        settled(page)
    drag(page, "[data-key=grip-openings-2]", 0, 40)
    now = planner.room()["openings"][2]["at"][0]
    assert now > was + 0.1
    assert now * 24 == pytest.approx(round(now * 24), abs=2e-3)
    assert "by 2 in, with shift by 1/2 in" in page.get_attribute("#drawing svg", "aria-label")
    page.select_option("#new-keep_outs-kind", "fuse board")
    assert "3 ft (0.91" in page.inner_text("#form .caution")
    tab(page, "places")
    assert page.get_attribute("[id='field-seats.0.spread']", "placeholder") == "5 7/8 in"


def test_what_is_refused_on_a_drawing_is_told(visit):
    planner, page = visit()
    settled(page)
    tab(page, "panels")
    page.click("[data-key=hang]")
    page.wait_for_selector("[data-key=grip-panel-P1]")
    settled(page)
    # Two pages of one planner: the other one is a step behind when it asks.
    other = page.context.new_page()
    held = []

    def between(line):
        server = line.connect_to_server()
        server.on_message(lambda message: None if held else line.send(message))

    other.route_web_socket("**/talk", between)
    other.goto(page.url)
    settled(other)
    other.focus("[data-key=grip-panel-P1]")
    held.append(True)
    page.focus("[data-key=grip-panel-P1]")
    page.keyboard.press("Delete")
    wait_for(page, planner.panels, lambda panels: panels == [])
    held.clear()
    other.keyboard.press("Delete")
    other.wait_for_selector("#banner:has-text('there is no such panel any more: undo brings it back')")
    other.click("#banner button")
    assert not other.is_visible("#banner")
    assert planner.panels() == []
