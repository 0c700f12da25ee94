"""The comparison as JSON, CSV, text and chart."""

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from rich.console import Console

from treatment.bands import NOMINAL_HZ
from treatment.materials.builds import load_builds
from treatment.materials.library import load_library
from treatment.planning.comparison import compare_builds
from treatment.present.compare import CSV_COLUMNS, compare_csv, compare_document, print_comparison
from treatment.present.compare_figure import compare_chart

LIBRARY = load_library()
BUILDS = load_builds(LIBRARY)
HOSTILE = "<script>$x_1$ [bold]a[/bold]"


@pytest.fixture(scope="module")
def comparison():
    # No price, no mass, and a name that means something to a terminal, a formula and a page.
    odd = replace(BUILDS[0], id=HOSTILE, price=0.0, mass=0.0)
    return compare_builds([*BUILDS[1:], odd], LIBRARY, currency="EUR")


def printed(comparison, width):
    stream = io.StringIO()
    print_comparison(Console(file=stream, width=width, highlight=False), comparison)
    return stream.getvalue()


def test_document_has_the_agreed_keys(comparison):
    document = json.loads(json.dumps(compare_document(comparison), allow_nan=False))
    assert document["bands_hz"] == list(NOMINAL_HZ)
    assert len(document["builds"]) == len(BUILDS)
    for build in document["builds"]:
        assert {
            "name", "basis", "absorption", "uncertainty", "alpha_w", "shape", "M", "class", "nrc", "saa",
            "price_per_m2", "price_per_sabin_500", "findings",
        } <= set(build)  # fmt: skip
        assert build["basis"] in ("measured", "predicted")
        assert len(build["absorption"]) == len(build["uncertainty"]) == 8
        assert all(u > 0.0 for u in build["uncertainty"])
        assert build["shape"] == "" or set(build["shape"]) <= set("LMH")
        assert {"code", "severity", "where", "message", "hint"} <= set(build["findings"][0])


def test_document_holds_what_the_builds_hold(comparison):
    by_name = {b["name"]: b for b in compare_document(comparison)["builds"]}
    wool = next(b for b in BUILDS if b.id == "wool-50")
    found = by_name["wool-50"]
    assert found["absorption"] == pytest.approx(wool.material.absorption.tolist(), abs=1e-4)
    assert found["price_per_m2"] == pytest.approx(wool.price / 0.72, abs=0.01)
    assert found["M"] == pytest.approx(wool.mass / 0.72, abs=0.01)
    assert found["published"][0]["name"] == "mineral-wool-50mm-48kg-enc"
    assert by_name[HOSTILE]["price_per_m2"] is None
    assert by_name[HOSTILE]["M"] is None


def test_csv(comparison):
    rows = list(csv.DictReader(io.StringIO(compare_csv(comparison))))
    assert tuple(rows[0]) == CSV_COLUMNS
    assert [r["name"] for r in rows] == [x.build.id for x in comparison.lines]
    wool = next(r for r in rows if r["name"] == "wool-50")
    expected = next(b for b in BUILDS if b.id == "wool-50").material
    assert [float(wool[f"absorption_{f}"]) for f in NOMINAL_HZ] == pytest.approx(
        expected.absorption, abs=1e-4
    )
    assert rows[-1]["price_per_m2"] == ""
    assert wool["currency"] == "EUR"
    assert "below 250 Hz nearly nothing" in wool["words"]


@pytest.mark.parametrize("width", [80, 140])
def test_text(comparison, width):
    text = printed(comparison, width)
    assert "below 250 Hz nearly nothing" in text
    assert "EUR/m2" in text
    assert "mineral-wool-50mm-48kg-enc" in text
    assert "±" in text
    assert "k = 2" in text
    # A name is text, never markup.
    assert "[bold]a[/bold]" in text
    table = text[text.index("Absorption") : text.index("± is the")].splitlines()
    assert max(map(len, table)) <= width
    row = next(x for x in table if x.startswith("wool-100-gap-50"))
    assert row.split()[1:4] == [f"{v:.2f}" for v in _absorption("wool-100-gap-50")[:3]]


def _absorption(name):
    return next(b for b in BUILDS if b.id == name).material.absorption


def test_chart(comparison):
    svg = compare_chart(comparison)
    assert isinstance(svg, str)
    assert svg.startswith("<svg")
    assert "<script" not in svg
    assert svg == compare_chart(comparison)
    png = compare_chart(comparison, "png")
    assert isinstance(png, bytes)
    assert png.startswith(b"\x89PNG")
    width, height = (int.from_bytes(png[i : i + 4]) for i in (16, 20))
    assert width > 1000
    # 17 builds, three in a row: six rows.
    assert height > width


def test_chart_of_one_and_of_none():
    for count in (1, 2, 0):
        png = compare_chart(compare_builds(BUILDS[:count], LIBRARY), "png")
        assert isinstance(png, bytes)
        assert len(png) > 1000


def test_chart_shows_the_uncertainty(monkeypatch):
    from matplotlib.axes import Axes

    drawn = []
    plain = Axes.fill_between

    def record(self, x, low, high, **options):
        drawn.append((np.asarray(low), np.asarray(high)))
        return plain(self, x, low, high, **options)

    monkeypatch.setattr(Axes, "fill_between", record)
    one = compare_builds(BUILDS[1:2], LIBRARY)
    compare_chart(one)
    ((low, high),) = drawn
    material = BUILDS[1].material
    np.testing.assert_allclose(high, material.absorption + material.uncertainty)
    np.testing.assert_allclose(low, np.maximum(material.absorption - material.uncertainty, 0.0))
