"""What a person's hands and eyes do with a planner's page; shared by the tests that run in a browser."""

import re
from pathlib import Path

SCENES = Path(__file__).parents[2] / "scenes"
#: What of a thing on a drawing is taken hold of.
SHAPES = ".seat, .loudspeaker, .subwoofer, .panel, .kept-free, .obstacle, .hit, .opening-face, .picture-face"


def settled(page):
    """Wait until all that was asked is answered and painted: a drag is told in several steps."""
    page.wait_for_selector(".results:not(.waiting):not([aria-busy=true])")
    page.wait_for_selector("#kept:has-text('worked out in')")
    # The drawing comes after the numbers.
    page.wait_for_selector("#drawing :is(svg, canvas, .caption)", state="attached")


def facts(page):
    return page.inner_text("#facts")


def tab(page, name):
    page.click(f"#tab-{name}")


def drag(page, selector, dx, dy):
    thing = page.locator(selector).locator(SHAPES).first
    # The drawing may be painted anew between finding a thing and measuring it.
    box = thing.bounding_box() or thing.bounding_box() or thing.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    for k in range(1, 9):
        page.mouse.move(x + dx * k / 8, y + dy * k / 8)
    page.mouse.up()
    settled(page)


def money(words):
    return float(re.search(r"([\d.]+) EUR", words)[1])
