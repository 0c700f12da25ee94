"""A perforated face: read, refused, weighed; by hand, and against a second implementation."""

import math
from dataclasses import replace

import numpy as np
import pytest

from treatment.air import Air
from treatment.errors import MaterialError
from treatment.materials.build import Layer
from treatment.materials.builds import load_builds, make_build, read_builds
from treatment.materials.facing import Facing
from treatment.materials.fit_stock import fit_builds
from treatment.materials.library import load_library
from treatment.materials.predict import predict
from treatment.materials.predicted import COMPARED_WITH, SHEET_DOUBT, SHEET_MORE
from treatment.materials.scattering import default_scattering
from treatment.materials.sheet import PerforatedSheet, parse_sheet
from treatment.materials.stock import INCH, METRIC

LIBRARY = load_library()
BUILDS = {b.id: b for b in load_builds(LIBRARY)}
PERFORATED = [b for b in BUILDS.values() if b.sheet]
BOARD = PerforatedSheet(0.006, 0.005, 0.025, density=850.0)
WOOL = Layer(12_500, 0.1, 48.0, "stone wool")


def made(sheet=BOARD, **changes):
    values = {
        "width": 0.6, "height": 1.2, "thickness": 0.106, "layers": [WOOL], "frame_thickness": 0.018,
        "sheet": sheet,
    }  # fmt: skip
    return make_build("own", library=LIBRARY, **{**values, **changes})


def test_the_sheet_is_part_of_the_body_and_not_of_the_frame():
    build = made(air_gap=0.05)
    assert build.depth == pytest.approx(0.156)
    assert build.frame_depth == pytest.approx(0.1)


def test_mass_by_hand():
    # Slab 0.6 x 1.2 x 0.1 m at 48 kg/m3: 3.456 kg. Frame 18 mm round it, 100 mm deep, 500 kg/m3: 3.3048 kg.
    # Board 0.636 x 1.236 x 0.006 m at 850 kg/m3: 4.009 kg, less pi/100 of it, the holes: 3.883 kg.
    assert made().mass == pytest.approx(3.456 + 3.3048 + 4.0091 * (1.0 - math.pi / 100.0), rel=1e-4)
    assert made(replace(BOARD, density=0.0)).mass == 0.0


def test_holes_are_counted_over_the_slab():
    # 24 by 48 squares of 25 mm.
    assert BOARD.holes(0.6, 1.2) == 24 * 48
    # Staggered, each hole has sqrt(3)/2 b**2: 1330 of them.
    assert replace(BOARD, staggered=True).holes(0.6, 1.2) == round(0.72 / (0.025**2 * math.sqrt(3.0) / 2.0))


@pytest.mark.parametrize(
    ("text", "sheet"),
    [
        ("hardboard 3 mm @ 900, holes 5 mm at 25 mm", PerforatedSheet(0.003, 0.005, 0.025, density=900.0)),
        (
            "plywood 6 mm, holes 8 mm at 50 mm, drilled",
            PerforatedSheet(0.006, 0.008, 0.05, board="plywood", drilled=True),
        ),
        (
            "gypsum board 9.5 mm, holes 15 mm at 30 mm, staggered",
            PerforatedSheet(0.0095, 0.015, 0.03, True, board="gypsum board"),
        ),
    ],
)
def test_words_of_a_table(text, sheet):
    assert parse_sheet(text) == sheet
    assert parse_sheet("") is None


def test_a_table_that_cannot_be_read(tmp_path):
    path = tmp_path / "builds.csv"
    head = "id,description,width_mm,height_mm,thickness_mm,air_gap_mm,layers,on,frame_mm,price,price_note"
    head += ",perforated"
    row = 'own,Own,600,1200,103,0,12500 x 100 mm @ 48,wall,18,20,typed today,"{}"'
    path.write_text(f"{head}\n{row.format('hardboard 3 mm @ 900, holes 5 mm at 25 mm')}\n")
    assert read_builds(path, LIBRARY)[0].sheet == PerforatedSheet(0.003, 0.005, 0.025, density=900.0)
    path.write_text(f"{head}\n{row.format('hardboard, 5 mm holes')}\n")
    with pytest.raises(MaterialError, match="line 2, column perforated: cannot read") as error:
        read_builds(path, LIBRARY)
    assert "holes 5 mm at 25 mm" in error.value.hint


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sheet": replace(BOARD, hole=0.030)}, "holes of 30 mm at 25 mm run into each other"),
        ({"sheet": replace(BOARD, hole=0.015)}, "28 % of it is open, more than the 20 %"),
        ({"sheet": replace(BOARD, hole=0.0005)}, "perforated.hole: 0.5 mm is outside 2 to 30 mm"),
        ({"sheet": replace(BOARD, spacing=25.0)}, "perforated.spacing: 25000 mm is outside"),
        ({"sheet": replace(BOARD, thickness=math.nan)}, "perforated.thickness: nan mm is outside"),
        ({"sheet": replace(BOARD, density=0.85e5)}, "perforated.density: 85000 is outside 0 to 8000 kg/m3"),
        ({"sheet": replace(BOARD, board=" ")}, "perforated.board: no plain text"),
        ({"thickness": 0.1}, "thickness: 100 mm, but the layers and the perforated sheet add up to 106 mm"),
        ({"frame_thickness": 0.0}, "there is no frame to screw the sheet to"),
        ({"layers": [], "material": "curtain-heavy-velour-half-area-aad"}, "a curtain hold their own cover"),
        ({"on": ["free-standing"]}, "the back of a free-standing panel is not like its face"),
        (
            {"sheet": None, "thickness": 0.1, "front": Facing(0.0, 0.0, 0.05, 0.005, 0.006)},
            "give the perforated sheet",
        ),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused(changes, words):
    with pytest.raises(MaterialError, match=words):
        made(**changes)
    made()


def test_uncertainty_holds_the_distance_of_the_published_row():
    """Up to 500 Hz either way, above to the side of more absorption alone."""
    bare = predict((WOOL,), 0.0, Air().speed_of_sound, Air().density, None).uncertainty
    build = made()
    material, alpha = build.material, build.material.absorption
    less, more = material.sides
    np.testing.assert_array_equal(material.uncertainty[4:] >= SHEET_MORE[4:], True)
    assert np.all(material.alone[:4] > SHEET_DOUBT)
    assert np.all(more[4:] >= SHEET_MORE[4:])
    assert np.all(alpha + more >= alpha + SHEET_MORE)
    # The model is not taken to promise too much above 500 Hz: what laboratories and wool differ by is less.
    assert np.all(less[4:] < 0.1)
    assert np.all(bare < 0.4)
    assert COMPARED_WITH in material.provenance.note
    assert LIBRARY.get(COMPARED_WITH).provenance.locator


def test_published_wool_says_nothing_of_wool_behind_a_board():
    # Rows of bare stone wool of 100 mm would let a panel of board absorb as much as they do.
    assert np.all(made().gain[5:] < 0.15)
    bare = made(None, thickness=0.1)
    assert np.all(bare.material.absorption[5:] - made().material.absorption[5:] > 0.3)


@pytest.mark.parametrize("build", PERFORATED, ids=lambda b: b.id)
def test_shipped_ones_serve_the_low_bands(build):
    """At 125 and 250 Hz, or at 250 and 500 Hz, each takes much more than its slab would without the board."""
    wool = BUILDS[f"wool-{round(1000.0 * build.frame_depth)}"].material.absorption
    gained = build.material.absorption - wool
    assert max(min(gained[1:3]), gained[2]) > 0.1 or gained[1] > 0.2
    assert np.all(gained[5:] < -0.3)
    np.testing.assert_array_equal(build.material.scattering, default_scattering("porous-panel"))
    assert build.material.scattering_assumed


@pytest.mark.parametrize("build", PERFORATED, ids=lambda b: b.id)
def test_holes_are_too_close_to_scatter_in_the_bands_that_count(build):
    # A grating of period b sends no second beam, at any angle, below c/(2 b): closed form.
    assert Air().speed_of_sound / (2.0 * build.sheet.spacing) > 2.8e3


@pytest.mark.parametrize(
    "stock", [METRIC, INCH, replace(METRIC, sheet=(0.61, 1.22))], ids=["m", "in", "small"]
)
def test_faces_of_shipped_builds_come_from_a_sheet_as_sold(stock):
    short, long = stock.sheet
    for build in fit_builds(PERFORATED, stock):
        n = 1 if short < 1.0 else 2
        assert n * build.outer_width + (n - 1) * stock.kerf <= short + 1e-9
        assert n * build.outer_height + (n - 1) * stock.kerf <= long + 1e-9
        assert build.outer_width > 0.595
        board = stock.board_for(build.frame_thickness, build.frame_depth)
        assert build.frame_thickness == pytest.approx(board.thickness)
    # A size of one's own stays.
    mine = fit_builds([replace(PERFORATED[0], width=0.7)], METRIC, frozenset({PERFORATED[0].id}))[0]
    assert mine.width == 0.7
