"""Words that people use for walls and floors lead to rows that fit.

Which row fits a word is common practice; what the rows say is checked against the category that their own
source puts them in.
"""

from __future__ import annotations

import json

import pytest
from typer.testing import CliRunner

from treatment.cli import app
from treatment.errors import MaterialError
from treatment.materials.lay_words import SURFACES, lay_hint, lay_words, materials_for, surfaces_for
from treatment.materials.library import load_library

LIBRARY = load_library()
KNOWN = LIBRARY.materials


def test_every_word_leads_to_rows_that_exist_and_says_who_says_so() -> None:
    assert len(lay_words()) > 50
    for w in lay_words().values():
        assert w.materials
        assert set(w.materials) <= set(KNOWN), w.word
        assert len(set(w.materials)) == len(w.materials)
        assert w.source == "common practice"
        assert w.word == w.word.lower()


@pytest.mark.parametrize(
    ("word", "first", "category"),
    [
        ("drywall", "gypsum-board-on-studs", "wall"),
        ("Plasterboard", "gypsum-board-on-studs", "wall"),
        ("laminate", "linoleum-on-concrete", "floor"),
        ("parquet", "linoleum-on-concrete", "floor"),
        ("OSB", "wood-16mm-on-studs", "wall"),
        ("glass", "window-double-30mm-gap", "window"),
        ("brick", "brick-painted", "wall"),
        ("carpets", "carpet-heavy-on-concrete", "floor"),
        ("concrete", "concrete-smooth-unpainted", "wall"),
        ("wood", "floor-wood-on-joists", "floor"),
        ("curtains", "curtain-cotton-0p5kg-130mm", "curtain"),
    ],
)
def test_an_unknown_name_is_answered_with_what_fits(word: str, first: str, category: str) -> None:
    assert surfaces_for(word, KNOWN)[0].id == first
    assert KNOWN[first].category == category
    with pytest.raises(MaterialError) as caught:
        LIBRARY.get(word)
    assert f"'{first}'" in caught.value.hint
    assert "treatment materials" in caught.value.hint


def test_glass_is_no_glass_fibre() -> None:
    assert all(m.category == "window" for m in surfaces_for("glass", KNOWN))
    assert "fibre" not in lay_hint("glass", KNOWN)
    # Who asks for all of them gets it, behind the panes.
    every = [m.category for m in materials_for("glass", KNOWN)]
    assert every.index("porous-panel") > max(i for i, c in enumerate(every) if c in SURFACES)


def test_wool_is_wool_and_no_wall_that_has_some_inside() -> None:
    assert [m.category for m in surfaces_for("wool", KNOWN)][:2] == ["porous-panel"] * 2


def test_a_slip_of_the_pen_is_still_told_by_its_spelling() -> None:
    for slip, meant in (("curtain-velvet-tigt-aur", "curtain-velvet-tight-aur"), ("steeel", "steel")):
        with pytest.raises(MaterialError) as caught:
            LIBRARY.get(slip)
        assert meant in caught.value.hint
    with pytest.raises(MaterialError) as caught:
        LIBRARY.get("xyzzy")
    assert caught.value.hint == "list them with: treatment materials"


def test_command_lists_surfaces_with_description_number_and_source() -> None:
    runner = CliRunner()
    text = runner.invoke(app, ["materials"]).stdout
    assert text.index("Walls") < text.index("Floors") < text.index("Windows")
    # Engineering Noise Control, Table 6.2: wood floor on joists 0.10 at 500 Hz and 0.07 at 1 kHz.
    line = next(x for x in text.splitlines() if "floor-wood-on-joists" in x)
    assert line.split()[1] in ("0.08", "0.09")
    assert "Wood floor on joists" in text
    assert "Engineering Noise Control" in text
    assert "mineral-wool-50mm-16kg-enc" not in text
    assert "mineral-wool-50mm-16kg-enc" in runner.invoke(app, ["materials", "--all"]).stdout
    document = json.loads(runner.invoke(app, ["materials", "brick", "--json"]).stdout)
    assert document["word"] == "brick"
    row = document["materials"][0]
    assert row["id"] == "brick-painted"
    assert len(row["absorption"]) == len(document["bands_hz"]) == 8
    assert row["assumed_bands_hz"] == [63, 8000]
    assert row["source"]
    wrong = runner.invoke(app, ["materials", "zzz"])
    assert isinstance(wrong.exception, MaterialError)
