"""The report as a PDF: made where WeasyPrint is, left out with a word where it fails, never in the way."""

import base64
import json
import re
import sys
import types
import zlib

import pytest

from treatment.errors import TreatmentError
from treatment.present import folder as folder_module
from treatment.present.documents import PLAN_FORMAT
from treatment.present.folder import write_folder
from treatment.present.pdf import pdf_possible, report_pdf
from treatment.present.report import report_html

#: Charts are drawn elsewhere; here they only cost time.
BARE = dict.fromkeys(("reverberation", "arrivals", "absorption"), "<svg/>")


class Fake(types.ModuleType):
    """Stands for the package: notes what it is given."""

    def __init__(self, fails=None):
        super().__init__("weasyprint")
        self.given, fake = [], self

        class HTML:
            def __init__(self, string, url_fetcher):
                self.string, self.fetch = string, url_fetcher

            def write_pdf(self, stylesheets):
                fake.given.append((self.string, stylesheets, self.fetch))
                if fails:
                    raise fails
                return b"%PDF-fake"

        self.HTML, self.CSS = HTML, lambda string: string
        self.urls = types.SimpleNamespace(URLFetcher=lambda allowed_protocols: allowed_protocols)


@pytest.fixture
def small(plan, monkeypatch):
    def lists(_, work, __):
        (work / "plan.json").write_text(json.dumps({"format": PLAN_FORMAT}), encoding="utf-8")
        return BARE

    monkeypatch.setattr(folder_module, "_render", lambda *_: (None, ""))
    monkeypatch.setattr(folder_module, "_write_lists", lists)
    return plan


def test_it_is_written_beside_the_report(small, tmp_path, monkeypatch):
    fake = Fake()
    monkeypatch.setitem(sys.modules, "weasyprint", fake)
    assert write_folder(small, tmp_path / "out") == ()
    assert (tmp_path / "out" / "report.pdf").read_bytes() == b"%PDF-fake"
    ((html, _, fetch),) = fake.given
    report = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    assert html[: html.index("<svg")] == report[: report.index("<svg")]
    assert fetch == {"data"}
    # Written again without pictures, the old PDF does not stay behind as if it were of this plan.
    write_folder(small, tmp_path / "out", pictures=False)
    assert not (tmp_path / "out" / "report.pdf").exists()


def test_texts_with_a_rim_are_painted_over_it(plan, monkeypatch):
    fake = Fake()
    monkeypatch.setitem(sys.modules, "weasyprint", fake)
    html = report_html(plan, charts=BARE)
    report_pdf(html)
    given = fake.given[0][0]
    rimmed = html.count('paint-order="stroke"')
    assert rimmed > 20
    # Each stands twice: the rim first, then the bare text.
    assert given.count("<text ") == html.count("<text ") + rimmed
    for text in re.findall(
        r'<text [^>]*paint-order="stroke"[^>]*>([^<]*)</text><text ([^>]*)>([^<]*)<', given
    ):
        assert text[0] == text[2]
        assert "stroke" not in text[1]


def test_a_failure_is_told_and_costs_nothing_else(small, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", Fake(RuntimeError("no fonts")))
    (note,) = write_folder(small, tmp_path / "out")
    assert "report.pdf was left out" in note
    assert "no fonts" in note
    assert (tmp_path / "out" / "report.html").is_file()
    assert not (tmp_path / "out" / "report.pdf").exists()


def test_without_the_package_nothing_is_said(small, tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "weasyprint", None)
    assert not pdf_possible()
    assert write_folder(small, tmp_path / "out") == ()
    assert not (tmp_path / "out" / "report.pdf").exists()
    with pytest.raises(TreatmentError, match="weasyprint"):
        report_pdf("<p>x")


def test_a_real_one(plan, lack):
    if not pdf_possible():
        lack("needs weasyprint and Pango")
    # One red pixel as a picture: it must be there, so data addresses are read.
    red = base64.b64decode(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAIAAACQd1PeAAAADElEQVR4nGP4z8AAAAMBAQDJ/pLvAAAAAElFTkSuQmCC"
    )
    made = report_pdf(report_html(plan, picture=red, charts=BARE))
    assert b"/Subtype /Image" in made or b"/Subtype/Image" in made
    assert made.startswith(b"%PDF-")
    # A sheet for each of the four treated surfaces is in landscape A4: 297 x 210 mm is 841.89 x 595.28 pt.
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", made, re.DOTALL)
    parts = [made]
    for stream in streams:
        try:
            parts.append(zlib.decompress(stream))
        except zlib.error:
            continue
    boxes = re.findall(rb"/MediaBox ?\[ ?0 0 ([\d.]+) ([\d.]+) ?\]", b"".join(parts))
    wide = [(float(w), float(h)) for w, h in boxes if float(w) > float(h)]
    assert len(wide) == 4
    assert wide[0] == pytest.approx((841.89, 595.28), abs=0.1)
    assert len(boxes) > 6
