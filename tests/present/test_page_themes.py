"""Light and dark in the report and the room page, opened as files in Debian's chromium."""

from pathlib import Path

import pytest

from treatment.present.drawables import drawables
from treatment.present.report import report_html
from treatment.present.room_page import room_html

pytestmark = pytest.mark.browser
CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--disable-background-networking"]
PAPER = "() => getComputedStyle(document.body).backgroundColor"


@pytest.fixture
def browser(lack):
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        lack("needs playwright")
    if not CHROMIUM.exists():
        lack("needs /usr/bin/chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=ARGUMENTS)
        yield browser
        browser.close()


def test_the_switch_works_and_is_remembered(browser, plan, tmp_path):
    bare = dict.fromkeys(("reverberation", "arrivals", "absorption"), "<svg/>")
    (tmp_path / "report.html").write_text(report_html(plan, charts=bare), encoding="utf-8")
    (tmp_path / "room.html").write_text(room_html(drawables(plan)), encoding="utf-8")
    for name in ("report.html", "room.html"):
        context = browser.new_context(color_scheme="light")
        page = context.new_page()
        complaints = []
        page.on("pageerror", lambda error, told=complaints: told.append(str(error)))
        page.on("console", lambda message, told=complaints: told.append(message.text))
        page.goto((tmp_path / name).as_uri())
        light = page.evaluate(PAPER)
        page.select_option("#theme", "dark")
        dark = page.evaluate(PAPER)
        assert dark != light
        page.reload()
        assert page.evaluate(PAPER) == dark
        page.emulate_media(media="print")
        assert page.evaluate(PAPER) in {light, "rgba(0, 0, 0, 0)"}
        assert not page.is_visible("#theme") or name == "room.html"
        page.emulate_media(media="screen", color_scheme="dark")
        page.select_option("#theme", "light")
        assert page.evaluate(PAPER) == light
        assert complaints == []
        context.close()
