"""The chart of the page, in Debian's chromium: what is indicative only is marked so."""

import math

import pytest
from browser_hands import SCENES, settled

from treatment.planning.evaluate import evaluate
from treatment.scene.load import load_scene

pytestmark = pytest.mark.browser

#: The grey ground, and where the octaves stand, in pixels of the window.
MARK = """() => {
    const grey = document.querySelector("#results .chart .unsure");
    const box = (e) => { const b = e.getBoundingClientRect(); return [b.left, b.right, b.top, b.bottom]; };
    const words = [...document.querySelectorAll("#results .chart text")];
    const at = (w) => { const [l, r] = box(words.find((t) => t.textContent === w)); return (l + r) / 2; };
    const style = getComputedStyle(grey), frame = document.querySelector("#results .chart .grid");
    return { grey: box(grey), low: at("63"), high: at("8k"), frame: box(frame),
        seen: Number(style.fillOpacity), colour: style.fill,
        paper: getComputedStyle(grey.closest("svg")).backgroundColor }; }"""


@pytest.mark.parametrize(("scheme", "name"), [("light", "garden-room"), ("dark", "basement")])
def test_what_lies_below_the_schroeder_frequency_is_grey(visit, scheme, name):
    scene = SCENES / f"{name}.toml"
    _, page = visit(scene, color_scheme=scheme)
    settled(page)
    known = evaluate(load_scene(scene)[0]).schroeder_hz
    assert 63 < known < 1000  # else the mark would prove nothing
    found = page.evaluate(MARK)
    # Octaves stand at equal steps: seven of them from 62.5 Hz to 8 kHz.
    edge = found["low"] + math.log2(known / 62.5) * (found["high"] - found["low"]) / 7
    left, right, top, bottom = found["grey"]
    assert right == pytest.approx(edge, abs=1.5)
    assert left == pytest.approx(found["frame"][0], abs=1.0)
    assert bottom - top > 100
    assert found["seen"] >= 0.1
    assert found["colour"] not in ("none", found["paper"])
    # And it is told what the grey means.
    assert page.locator("#results .key li:has(.unsure)").inner_text() == "indicative: single modes decide"
