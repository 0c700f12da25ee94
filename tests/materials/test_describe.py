"""Descriptions of builds: their lengths as the reader measures and buys."""

from dataclasses import replace

import pytest

from treatment.errors import MaterialError
from treatment.materials.builds import load_builds, read_builds
from treatment.materials.describe import described, description_of
from treatment.materials.fit_stock import fit_builds
from treatment.materials.library import load_library
from treatment.materials.shipped import materials_folder
from treatment.materials.stock import INCH, METRIC, sold_words

LIBRARY = load_library()
BUILDS = {b.id: b for b in load_builds(LIBRARY)}


@pytest.mark.parametrize(
    ("millimetres", "words"),
    [
        (25.0, "1 in (25 mm)"),
        (50.0, "2 in (50 mm)"),
        (50.8, "2 in (51 mm)"),
        (100.0, "4 in (100 mm)"),  # 3 7/8 in to the nearest eighth, but nobody sells that
        (150.0, "6 in (150 mm)"),
        (12.5, "1/2 in (12 mm)"),
        (38.0, "1 1/2 in (38 mm)"),
        (44.0, "1 3/4 in (44 mm)"),  # 1.73 in is no half inch: told as it is
        (3.0, "1/8 in (3 mm)"),
    ],
)
def test_a_slab_is_named_by_what_is_sold(millimetres, words):
    assert sold_words(millimetres / 1000.0, "ft") == words
    assert sold_words(millimetres / 1000.0, "m") == f"{millimetres:.0f} mm"


def test_shipped_builds_are_described_in_both_trades():
    inch = {b.id: b for b in fit_builds(tuple(BUILDS.values()), INCH)}
    assert BUILDS["wool-100-gap-50"].description == "Stone wool 100 mm in a timber frame, 50 mm off the wall"
    assert (
        inch["wool-100-gap-50"].description
        == "Stone wool 4 in (100 mm) in a timber frame, 2 in (50 mm) off the wall"
    )
    assert "Glass fibre 2 in (50 mm) before denser stone wool 2 in" in inch["wool-stepped-100"].description
    assert "a plywood back 12 mm thick" in BUILDS["screen-100"].description
    assert inch["wool-100"].thickness == 0.1  # the true size stays
    assert not any("{" in b.description for b in (*BUILDS.values(), *inch.values()))


def test_words_of_ones_own_stay():
    mine = replace(BUILDS["wool-50"], description="my {50 mm} slab", wording="")
    assert description_of(mine, "ft") == "my {50 mm} slab"
    assert fit_builds((mine,), METRIC)[0] is mine


@pytest.mark.parametrize("wording", ["a {depth}", "a {layer_2}", "a {thickness slab", "{0}", "{gap.x}"])
def test_an_unknown_length_is_told(wording, tmp_path):
    with pytest.raises(ValueError, match="thickness"):
        described(wording, (), 0.1, 0.0)
    table = (materials_folder() / "builds" / "panel-builds.csv").read_text(encoding="utf-8").splitlines()
    path = tmp_path / "builds.csv"
    path.write_text("\n".join([table[0], table[1].replace("{thickness}", wording)]), encoding="utf-8")
    with pytest.raises(MaterialError, match="line 2, column description"):
        read_builds(path, LIBRARY)
