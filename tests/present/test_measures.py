"""Feet first for those who measure in feet; conversions against published factors.

Factors: NIST Special Publication 811 (2008), appendix B.8: square foot 9.290 304 E-02 m2, cubic foot
2.831 685 E-02 m3, foot 3.048 E-01 m.
"""

from __future__ import annotations

import re
from dataclasses import replace
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

from treatment import measures
from treatment.planning.plan import Plan
from treatment.planning.starter import starter_scene
from treatment.planning.starter_options import StarterOptions
from treatment.present.console import print_plan, print_prediction
from treatment.present.report_lists import panel_rows, shopping_lists
from treatment.units import format_imperial

PARTS = Path(measures.__file__).parent / "present" / "templates" / "browser" / "parts.js"


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (measures.area_words(100.0, "ft"), "1076 sq ft (100.0 m2)"),  # 100 / 0.09290304 = 1076.39
        (measures.area_words(100.0, "cm"), "100.0 m2"),
        (measures.volume_words(50.0, "in"), "1766 cu ft (50.0 m3)"),  # 50 / 0.02831685 = 1765.73
        (measures.volume_words(50.0, "m"), "50.0 m3"),
        (measures.absorption_words(17.7, "ft"), "191 sq ft sabins (17.7 m2)"),  # 190.52
        (measures.absorption_words(0.62, "ft", 2), "6.7 sq ft sabins (0.62 m2)"),  # 6.674
        (measures.length_words(2.21, "ft"), "7 ft 3 in (2.21 m)"),  # 87.01 in
        (measures.speed_words(343.2, "ft"), "1126 ft/s (343.2 m/s)"),  # 343.2 / 0.3048 = 1125.98
        (measures.length_words(105.46, "m", 1), "105.5 m"),
        (measures.small_words(0.0762, "ft"), "3 in (76 mm)"),
        (measures.small_words(0.0004, "m", 1), "0.4 mm"),
        (measures.joined_words((2.0, 3.0), "m", " to "), "2.00 to 3.00 m"),
        (measures.joined_words((0.6096, 1.2192), "in"), "2 ft x 4 ft (0.61 x 1.22 m)"),
        (measures.place_words((1.65, -0.3), "m", signed=True), "x +1.65, y -0.30 m"),
        (measures.place_words((1.651, 0.3048, 0.0254), "ft"), "x 5 ft 5 in, y 1 ft, z 1 in"),
        (measures.cell(1.25, "ft"), "4 ft 1 1/4 in"),
        (measures.cell(1.25, "m"), "1.25"),
    ],
)
def test_words_by_hand(words: str, expected: str) -> None:
    assert words == expected


def printed(plan: Plan, units: str) -> str:
    scene = replace(plan.scene, units=units)
    mine = replace(
        plan, scene=scene, before=replace(plan.before, scene=scene), after=replace(plan.after, scene=scene)
    )
    text = StringIO()
    console = Console(file=text, width=200)
    print_prediction(console, mine.before)
    print_plan(console, mine)
    return text.getvalue()


def test_terminal_tables_follow_the_scene(plan: Plan) -> None:
    """P1 hangs 0.95 m (37.40 in) from the front wall, 0.50 m (19.69 in) up, and is 0.60 by 1.20 m."""
    feet, metres = printed(plan, "ft"), printed(plan, "m")
    assert re.search(r"P1 +left +3 ft 1 3/8 in +1 ft 7 5/8 in +1 ft 11 5/8 in x 3 ft 11 1/4 in", feet)
    assert re.search(r"P1 +left +0.95 +0.50 +0.60 x 1.20", metres)
    assert " cu ft (" in feet
    assert " sq ft (" in feet
    assert "sq ft sabins" in feet
    for text in (" cu ft", " sq ft", " ft "):
        assert text not in metres.split("Caution", 1)[0]


def test_report_rows_follow_the_scene(plan: Plan) -> None:
    mine = replace(plan, scene=replace(plan.scene, units="ft"))
    assert panel_rows(mine)[0]["u_text"] == "3 ft 1 3/8 in / 0.95 m"
    assert panel_rows(plan)[0]["u_text"] == "0.95 m / 3 ft 1 3/8 in"


def test_cloth_is_bought_in_feet_and_never_too_short(plan: Plan) -> None:
    """7.50 m are 24.61 ft: 25 ft."""
    item = replace(plan.shopping[0], quantity=7.5, unit="m")
    mine = replace(plan, shopping=(item,), scene=replace(plan.scene, units="ft"))
    assert shopping_lists(mine)["shopping"][0]["quantity"] == "25 ft (7.5 m)"
    assert shopping_lists(replace(plan, shopping=(item,)))["shopping"][0]["quantity"] == "7.5 m"


@pytest.mark.parametrize("units", ["ft", "in"])
def test_starter_writes_what_a_tape_shows(units: str) -> None:
    text = starter_scene(StarterOptions(units=units))
    lengths = re.findall(r'^(?:length|width|height|spread) = "(.+?)"', text, re.M)
    lengths += [
        x for row in re.findall(r"^position = \[(.+?)\]", text, re.M) for x in re.findall('"(.+?)"', row)
    ]
    assert len(lengths) > 12
    for words in lengths:
        assert re.fullmatch(r"(\d+ ft)?( ?\d+)?( ?[1357]/[248])?( in)?", words), words
    assert not re.search(r"\d m\"", text.split("[[openings]]", 1)[1])
    assert 'spread = "6 in"' in text


def test_square_and_cubic_foot() -> None:
    assert pytest.approx(0.09290304) == measures.SQUARE_FOOT
    assert pytest.approx(0.02831685, rel=1e-6) == measures.CUBIC_FOOT


@pytest.mark.browser
def test_page_writes_feet_as_everywhere() -> None:
    """The page's own writer of feet against `format_imperial`, over every eighth of an inch of 2 ft."""
    sync_api = pytest.importorskip("playwright.sync_api", reason="no browser driver is installed")
    paths = (Path("/usr/bin/chromium"), Path("/usr/bin/chromium-browser"))
    values = [*(0.003175 * n for n in range(193)), 2.35, -0.1, 1.2345, 0.6128, 12.7, 0.3032]
    script = PARTS.read_text(encoding="utf-8")
    code = script[script.index("let feet") : script.index("export const points")].replace("export ", "")
    with sync_api.sync_playwright() as driver:
        try:
            browser = driver.chromium.launch(
                executable_path=next((p for p in paths if p.is_file()), None), args=["--no-sandbox"]
            )
        except sync_api.Error:
            pytest.skip("no browser can be started")
        call = f'() => {{ {code}; measureIn("ft"); return [{values}.map(metres), area(9.290304)]; }}'
        written, area = browser.new_page().evaluate(call)
        browser.close()
    assert written == [format_imperial(v) for v in values]
    assert area == "100 sq ft (9.290304 m²)"
