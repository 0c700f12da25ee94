"""The checklist: one page, self-contained, escaped; its check sheet holds the predicted delays."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest

from treatment.geometry.polygon import Rectangle
from treatment.planning.cautions import cautions_for
from treatment.planning.doubt import doubt_of
from treatment.present.answer import answer
from treatment.present.checklist import MOST_PANELS, check_rows, checklist_html, main_seat


class Page(HTMLParser):
    """Cells by row, and everything that would load something."""

    def __init__(self, html):
        super().__init__()
        self.rows, self.loads, self.scripts, self.blank = [], [], 0, 0
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        values = dict(attributes)
        self.loads += [v for k, v in values.items() if k in ("src", "href", "srcset", "data", "action")]
        self.scripts += tag == "script"
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th") and self.rows:
            self.rows[-1].append("")
            self.blank += tag == "td" and values.get("class") == "blank"

    def handle_data(self, data):
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data.strip("\n")


def test_holds_every_panel_and_the_reminder(plan):
    html = checklist_html(plan)
    page = Page(html)
    heads = [r[0] for r in page.rows]
    for p in plan.placements:
        assert heads.count(p.id) == 1
    assert "the measurement before treatment cannot be made later" in html
    p1 = page.rows[heads.index("P1")]
    assert p1[1:6] == ["0.95 m", "1.55 m", "0.50 m", "1.70 m", "1.65 m"]
    # The distances grow from the wall that is named, whichever hand it is at.
    assert "Left wall: from the front wall (at your right as you face it), and from the floor" in heads
    for name in ("left", "right"):
        (head,) = (h for h in heads if h.startswith(f"{name.capitalize()} wall:"))
        assert f"at your {'right' if name == 'left' else 'left'} as you face it" in head


def test_check_sheet_by_hand(plan):
    """Delay of a single bounce off the left wall (y = 0) by the mirror image, c of the scene's air."""
    rows = check_rows(plan)
    left = next(r for r in rows if r["source"] == "L" and r["surface"] == "left")
    source, seat = np.array([0.45, 0.75, 1.1]), np.array([3.55, 1.8, 1.1])
    extra = np.linalg.norm(source * [1, -1, 1] - seat) - np.linalg.norm(source - seat)
    delay = 1000.0 * extra / plan.before.speed_of_sound
    assert float(left["delay"].split()[0]) == pytest.approx(delay, abs=0.006)
    assert float(left["after"].split()[0]) < float(left["before"].split()[0]) - 3.0  # P1 hangs there
    levels = [float(r["before"].split()[0]) for r in rows]
    assert levels == sorted(levels, reverse=True)
    assert {r["seat"] for r in rows} == {"centre"}
    assert main_seat(plan) == 1
    page = Page(checklist_html(plan))
    assert page.blank == 2 * (len(rows) + 3)  # before and after for each bounce and each band


def test_nothing_is_loaded_and_text_is_escaped(hostile_plan):
    cautions = cautions_for(hostile_plan.scene, hostile_plan.placements)
    html = checklist_html(replace(hostile_plan, cautions=cautions))
    page = Page(html)
    assert page.loads == []
    assert page.scripts == 0
    assert "://" not in html
    assert "url(" not in html
    assert "alert('1')" not in html.replace("alert(&#39;1&#39;)", "")


def test_feet_and_inches(plan):
    assert "3 ft 1 3/8 in" in checklist_html(plan, "ft")


def test_empty_plan(plan):
    html = checklist_html(replace(plan, placements=(), after=plan.before))
    assert "Hang in this order" not in html
    assert "cannot be made later" in html


def many(plan, number):
    """So many panels on all surfaces; where they hang does not matter here."""
    kinds = plan.placements
    made = [
        replace(kinds[n % len(kinds)], id=f"P{n + 1}", rectangle=Rectangle(0.1 + 0.01 * n, 0.5, 0.6, 1.2))
        for n in range(number)
    ]
    return replace(plan, placements=tuple(made))


def test_more_panels_than_fit_are_counted(plan):
    html = checklist_html(many(plan, MOST_PANELS + 5))
    assert "And 5 more panels: see the hanging list in report.html." in html
    assert "more panels" not in checklist_html(many(plan, MOST_PANELS))


@pytest.mark.browser
@pytest.mark.parametrize("number", [0, 8, 14, 15, 20, 21, 26, 27, MOST_PANELS + 9])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_prints_on_one_page(plan, browser, number, paper):
    longer = replace(plan, cautions=cautions_for(plan.scene, plan.placements))
    html = checklist_html(many(longer, number) if number else replace(longer, placements=()), "ft")
    page = browser.new_page()
    page.set_content(html)
    pdf = page.pdf(format=paper)
    page.close()
    assert len(re.findall(rb"/Type\s*/Page[^s]", pdf)) == 1


@pytest.fixture(scope="module")
def browser():
    sync_api = pytest.importorskip("playwright.sync_api", reason="no browser driver is installed")
    executable = next(
        (p for p in ("/usr/bin/chromium", "/usr/bin/chromium-browser") if Path(p).is_file()), None
    )
    with sync_api.sync_playwright() as driver:
        try:
            opened = driver.chromium.launch(executable_path=executable, args=["--no-sandbox"])
        except sync_api.Error:
            pytest.skip("no browser can be started")
        yield opened
        opened.close()


def test_the_sheet_gives_the_interval_that_a_measurement_is_judged_by(plan):
    """`treatment measure` calls a time unexpected outside `doubt_of`; the sheet must say the same."""
    page = Page(checklist_html(plan))
    rows = {r[1]: r[3:5] for r in page.rows if r and r[0] == "reverberation"}
    for hz, band in (("125 Hz", 1), ("500 Hz", 3), ("2000 Hz", 5)):
        for cell, evaluation in zip(rows[hz], (plan.before, plan.after), strict=True):
            doubt = doubt_of(evaluation)
            low, high = (float(x) for x in cell.removesuffix(" s").split("-"))
            assert low == pytest.approx(doubt.lower[band], abs=0.006)
            assert high == pytest.approx(doubt.upper[band], abs=0.006)
            # Wider than what the formulas disagree by.
            assert low < evaluation.spread[0][band] - 0.01
            assert high > evaluation.spread[1][band] + 0.01


def test_the_headline_gives_it_too(plan):
    doubt = doubt_of(plan.after)
    assert f"in {doubt.lower[4]:.2f} to {doubt.upper[4]:.2f} s with the panels" in answer(plan)[1]
