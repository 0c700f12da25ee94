"""A room in feet in Debian's chromium: feet first in every tab and view, metres in brackets behind them."""

import re

import pytest
from browser_hands import settled, tab

pytestmark = pytest.mark.browser

METRIC = re.compile(r"\d ?(?:m|cm|mm|m²|m³|m2|m3)\b(?!/)")
#: All that a person reads or is read to, but names of materials, which are told as they were published.
WORDS = """() => {
  const marked = "[title], [aria-label], [placeholder], input, svg title, svg text";
  const told = [...document.querySelectorAll(marked)];
  const lists = new Set([...document.querySelectorAll("option")].map((o) => o.textContent.trim()));
  return [document.body.innerText, ...told.flatMap((e) => [
    e.title, e.getAttribute("aria-label"), e.placeholder, e.value, e.children.length ? "" : e.textContent,
  ])].filter((x) => typeof x === "string").join("\\n").split("\\n").filter((x) => !lists.has(x.trim()));
}"""
#: An example of what may be typed.
MAY_BE_TYPED = "You may write any unit"


def metric_first(page):
    """Lines in which a metric length stands outside brackets."""
    found = set()
    for line in page.evaluate(WORDS):
        for hit in METRIC.finditer(line):
            before = line[: hit.start()]
            if before.count("(") <= before.count(")") and MAY_BE_TYPED not in line:
                found.add(line[max(0, hit.start() - 60) : hit.end() + 20])
    return found


def test_lengths_are_in_feet_all_over_the_page(visit, tmp_path):
    room = tmp_path / "feet.toml"
    room.write_text(
        """
title = "Den"
units = "ft"
[room]
shape = "box"
length = 18
width = 12
height = 8
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
[[openings]]
name = "door"
surface = "back"
at = [1, 0]
size = ["32 in", "79 in"]
material = "door-solid-wood"
[[loudspeakers]]
name = "L"
position = [3, 3, 3.5]
[[loudspeakers]]
name = "R"
position = [3, 9, 3.5]
[[subwoofers]]
name = "S"
position = [1, 4, 1]
[[seats]]
name = "sofa"
position = [11, 6, 3.5]
[screen]
surface = "front"
at = [3, 3]
size = [6, 3.4]
[budget]
amount = 450
""",
        encoding="utf-8",
    )
    _, page = visit(room)
    settled(page)
    tab(page, "panels")
    page.select_option("#new-build", "wool-100")
    page.select_option("#new-surface", "left")
    page.click("[data-key=hang]")
    page.wait_for_selector("[data-key=grip-panel-P1]")
    settled(page)
    tab(page, "built")
    for section, kind in (("openings", "window"), ("keep_outs", "fuse board"), ("obstacles", "post")):
        page.select_option(f"#new-{section}-kind", kind)
        assert metric_first(page) == set()
        page.click(f"[data-key=add-{section}]")
        settled(page)
    for name in ("room", "surfaces", "built", "places", "panels", "aim"):
        tab(page, name)
        for view in ("From above", "One surface", "In the round"):
            page.click(f"text={view}")
            assert metric_first(page) == set(), (name, view)
    page.click("text=From above")
    things = page.evaluate(
        "[...document.querySelectorAll('#drawing [data-key^=grip]')].map((e) => e.dataset.key)"
    )
    assert len(things) > 8
    for thing in things:
        page.focus(f"[data-key='{thing}']")
        assert metric_first(page) == set(), thing
    # It would find one.
    page.evaluate("document.getElementById('caption').textContent = 'P1: 1.20 m from the floor'")
    assert metric_first(page) == {"P1: 1.20 m from the floor"}
