"""Draws the pictures of the page in docs/guide/tour.md anew: ``python docs/guide/draw_tour.py``.

Needs playwright, pillow and a chromium; takes about a minute. The room is scenes/garden-room.toml.
"""

import io
import re
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import sync_playwright

HERE = Path(__file__).parent
ROOT = HERE.parent.parent
PICTURES = HERE / "pictures"
CHROMIUM = "/usr/bin/chromium"
ARGUMENTS = [
    "--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader",
    "--disable-quic", "--disable-background-networking",
]
LARGEST = 200_000


def keep(page, name):
    """Picture of the window in as many colours, chosen from its own, as its size allows."""
    page.wait_for_timeout(400)
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    path = PICTURES / f"{name}.png"
    for colours in (256, 192, 128, 96, 64):
        reduced = picture.quantize(colours, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
        reduced.save(path, optimize=True)
        if path.stat().st_size < LARGEST:
            break
    assert path.stat().st_size < LARGEST, (name, path.stat().st_size)
    print(f"{name}: {path.stat().st_size // 1000} kB")


def settled(page):
    page.wait_for_selector(".results:not(.waiting):not([aria-busy=true])", timeout=120_000)
    page.wait_for_selector("#kept:has-text('worked out in')", timeout=120_000)


def tour(page):
    settled(page)
    keep(page, "tour-1-as-it-is")
    # A seat is dragged; the field beside it follows.
    page.click("#tab-places")
    page.focus("[data-key=grip-seats-1]")
    page.wait_for_timeout(200)
    keep(page, "tour-2-seat")
    page.click("#tab-panels")
    page.click("[data-key=plan]")
    page.wait_for_selector("text=/panels planned/", timeout=180_000)
    settled(page)
    page.wait_for_selector("[data-key=grip-panel-P2]")
    keep(page, "tour-3-planned")
    page.click("text=One surface")
    page.select_option("[data-key=wall-name]", "left")
    page.click("[data-key=grip-panel-P2]", position={"x": 8, "y": 8})
    settled(page)
    keep(page, "tour-4-wall")
    page.select_option("#ray-count", "20000")
    page.click("[data-key=rays]")
    page.wait_for_selector("text=/Traced: /", timeout=300_000)
    page.locator(".chart").scroll_into_view_if_needed()
    page.locator("#rays").scroll_into_view_if_needed()
    page.click("text=In the round")
    page.focus("[data-key=canvas]")
    for _ in range(3):
        page.keyboard.press("+")
    keep(page, "tour-5-rays")
    page.select_option("#theme", "dark")
    page.click("text=From above")
    keep(page, "tour-6-dark")


def main():
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        command = [
            sys.executable, "-m", "treatment", "view", str(ROOT / "scenes" / "garden-room.toml"),
            "--browser", "--no-open", "--folder", str(Path(folder) / "garden"),
        ]
        planner = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, cwd=ROOT)
        address = re.search(r"http://\S+", planner.stderr.readline())[0]
        try:
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
                page = browser.new_page(viewport={"width": 1360, "height": 850}, color_scheme="light")
                page.set_default_timeout(60_000)
                page.goto(address)
                page.wait_for_selector("#facts")
                tour(page)
                browser.close()
        finally:
            planner.send_signal(signal.SIGTERM)
            planner.wait(20)


if __name__ == "__main__":
    main()
