"""Tables of materials: what loads, what does not, and what the message says."""

import numpy as np
import pytest

from treatment.bands import NOMINAL_HZ
from treatment.errors import MaterialError
from treatment.materials.library import hold, load_library, make_material, read_table
from treatment.materials.scattering import CATEGORIES
from treatment.materials.shipped import materials_folder

HEADER = "id,description,category,a63,a125,a250,a500,a1000,a2000,a4000,a8000,source"
GOOD = "felt,Felt,wall,,0.1,0.2,0.3,0.4,0.5,0.6,,data sheet"
SHIPPED = sorted(materials_folder().glob("*.csv"))


def write(tmp_path, *lines, header=HEADER, encoding="utf-8", newline="\n"):
    path = tmp_path / "own.csv"
    path.write_bytes(newline.join((header, *lines, "")).encode(encoding))
    return path


@pytest.mark.parametrize("path", SHIPPED, ids=lambda p: p.stem)
def test_shipped_table_loads_with_provenance(path):
    for m in read_table(path):
        assert m.provenance.source, m.id
        assert m.provenance.how_known, m.id
        assert m.provenance.table == path.name
        assert m.description
        assert m.category in CATEGORIES
        assert m.absorption.shape == m.scattering.shape == m.assumed.shape == (8,)
        assert not m.absorption.flags.writeable
        assert not m.assumed.flags.writeable
        assert np.all((m.absorption >= 0) & (m.absorption <= 1.3))


def test_shipped_library():
    library = load_library()
    assert len(library.materials) >= 60
    for name in (
        "gypsum-board-on-studs",
        "carpet-heavy-on-concrete",
        "door-solid-wood",
        "steel",
        "open-passage",
    ):
        assert library.get(name).id == name
    assert load_library() is library
    # Rows that disagree name each other.
    everything = {**library.materials, **library.objects}
    for m in everything.values():
        for other in m.provenance.conflicts_with:
            assert m.id in everything[other].provenance.conflicts_with


def test_gypsum_board_of_the_worked_example():
    # The Master Handbook of Acoustics, p. 163, example 2 (read in a library copy): gypsum board 125 Hz to
    # 4 kHz .29 .10 .05 .04 .07 .09 - a second book that prints the row.
    row = load_library().get("gypsum-board-on-studs")
    assert row.absorption[1:7].tolist() == [0.29, 0.10, 0.05, 0.04, 0.07, 0.09]
    assert row.assumed.tolist() == [True] + [False] * 6 + [True]


def test_opening_takes_everything_by_definition():
    # EN 12354-6:2003, Annex B (from memory): large openings 1.0 in every band.
    passage = load_library().get("open-passage")
    assert passage.open
    assert not passage.assumed.any()
    assert passage.scattering.tolist() == [0.0] * 8


def test_area_of_an_object_is_no_material():
    library = load_library()
    assert "person-seated" in library.objects
    with pytest.raises(MaterialError, match="absorption area of one object") as caught:
        library.get("person-seated", where="surfaces.floor")
    assert caught.value.where == "surfaces.floor"


@pytest.mark.parametrize(
    ("wrong", "meant"),
    [
        ("gypsum-board-on-stud", "gypsum-board-on-studs"),
        ("carpet", "carpet-heavy-on-concrete"),
        ("Door solid wood", "door-solid-wood"),
        ("steal", "steel"),
        ("gypsum", "gypsum-board-on-studs"),
        ("velour", "velour"),
        ("carpt", "carpet-"),
    ],
)
def test_unknown_material_proposes_the_nearest(wrong, meant):
    with pytest.raises(MaterialError) as caught:
        load_library().get(wrong, where="surfaces.default")
    assert wrong in str(caught.value)
    assert "surfaces.default" in str(caught.value)
    assert meant in caught.value.hint


def test_bands_without_data_are_held_and_flagged(tmp_path):
    (felt,) = read_table(write(tmp_path, GOOD))
    assert felt.absorption.tolist() == [0.1, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.6]
    assert felt.assumed.tolist() == [True] + [False] * 6 + [True]
    assert felt.scattering_assumed


def test_between_two_equal_neighbours_the_smaller_is_held():
    filled, assumed = hold([0.5, None, 0.3, 0.4, None, 0.9, 0.9, None])
    assert filled == [0.5, 0.3, 0.3, 0.4, 0.4, 0.9, 0.9, 0.9]
    assert assumed == [False, True, False, False, True, False, False, True]


REFUSED = {
    "negative": (GOOD.replace("0.3", "-0.1"), ["line 2", "a500", "-0.1", "0 to 1.3"]),
    "percent": (GOOD.replace("0.3", "30"), ["line 2", "a500", "30", "0 to 1.3", "0.45, not 45"]),
    "above 1.3": (GOOD.replace("0.3", "1.31"), ["a500", "1.31"]),
    "word": (GOOD.replace("0.3", "high"), ["line 2", "a500", "'high'", "not a number"]),
    "nan": (GOOD.replace("0.3", "nan"), ["a500", "not a finite number"]),
    "inf": (GOOD.replace("0.3", "inf"), ["a500", "not a finite number"]),
    "underscore": (GOOD.replace("0.3", "0_3"), ["a500"]),
    "decimal comma": (GOOD.replace("0.3", '"0,3"'), ["a500", "decimals with a point"]),
    "too few cells": (GOOD.replace(",0.3", ""), ["line 2", "11 cells", "12"]),
    "too many cells": (GOOD + ",more", ["line 2", "13 cells", "12"]),
    "no source": (GOOD.replace("data sheet", " "), ["line 2", "column source"]),
    "no data": ("felt,Felt,wall,,,,,,,,,data sheet", ["line 2", "no absorption in any band"]),
    "no id": (GOOD.replace("felt", "", 1), ["column id"]),
    "odd id": (GOOD.replace("felt", "My Felt!", 1), ["column id", "My Felt!", "dashes"]),
    "odd category": (GOOD.replace("wall", "flor"), ["column category", "'flor'", "'floor'"]),
    "open quote": (GOOD.replace("Felt", '"Felt'), ["line 2", "cells"]),
}


@pytest.mark.parametrize("kind", REFUSED)
def test_refused_row(tmp_path, kind):
    row, parts = REFUSED[kind]
    path = write(tmp_path, row)
    with pytest.raises(MaterialError) as caught:
        read_table(path)
    message = str(caught.value)
    for part in (str(path), *parts):
        assert part in message


def test_limits_themselves_are_allowed(tmp_path):
    (row,) = read_table(write(tmp_path, "felt,Felt,wall,0,1.3,0.2,0.3,0.4,0.5,0.6,1,data sheet"))
    assert row.absorption[1] == 1.3
    assert not row.assumed.any()


@pytest.mark.parametrize(("value", "bad"), [("0.4", False), ("1", False), ("1.01", True), ("-0.01", True)])
def test_scattering_limits(tmp_path, value, bad):
    path = write(tmp_path, f"{GOOD},{value}", header=f"{HEADER},s1000")
    if bad:
        with pytest.raises(MaterialError, match=r"s1000: -?[0-9.]+ is outside 0 to 1"):
            read_table(path)
    else:
        (row,) = read_table(path)
        assert row.scattering.tolist() == [float(value)] * 8
        assert not row.scattering_assumed


def test_all_problems_of_a_file_in_one_message(tmp_path):
    path = write(
        tmp_path, GOOD, GOOD, GOOD.replace("felt", "b").replace("0.3", "-1"), GOOD.replace("data sheet", "")
    )
    with pytest.raises(MaterialError) as caught:
        read_table(path)
    message = str(caught.value)
    assert "line 3, column id: 'felt' stands on line 2 already" in message
    assert "line 4, column a500: -1 is outside" in message
    assert "line 5, column source" in message


def test_line_is_counted_over_cells_with_line_breaks(tmp_path):
    path = write(
        tmp_path, GOOD.replace("Felt", '"Felt\nsoft"'), "", GOOD.replace("felt", "b").replace("0.3", "x")
    )
    with pytest.raises(MaterialError, match="line 5, column a500"):
        read_table(path)


@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252", "latin-1"])
def test_encodings_and_line_ends(tmp_path, encoding, newline):
    path = write(tmp_path, GOOD.replace("Felt", "Fußbodenfilz 5 µm"), encoding=encoding, newline=newline)
    assert read_table(path)[0].description == "Fußbodenfilz 5 µm"


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "empty"),
        (b"\n \n", "empty"),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", "not a text file"),
        (b"\x1f\x8b\x08\x04\x01abc", "not a text file"),
        (b"\xff\xfea", "not a text file"),
        (HEADER.encode(), "no row"),
        (HEADER.replace(",", ";").encode(), "not separated by commas"),
        (HEADER.replace(",source", "").encode(), "'source' is missing"),
        (HEADER.encode() + b",", "no name"),
        (HEADER.encode() + b",a63", "twice"),
        (HEADER.encode() + b",mountin", "unknown column 'mountin'"),
    ],
)
def test_file_that_is_no_table(tmp_path, raw, words):
    path = tmp_path / "bad.csv"
    path.write_bytes(raw)
    with pytest.raises(MaterialError, match=words) as caught:
        read_table(path)
    assert caught.value.where == str(path)


def test_missing_file_and_folder(tmp_path):
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(MaterialError, match="cannot be read"):
            read_table(path)


def test_own_table_joins_the_library_and_cannot_replace_a_row(tmp_path):
    library = load_library([write(tmp_path, GOOD)])
    assert library.get("felt").provenance.table == "own.csv"
    assert "felt" not in load_library().materials
    with pytest.raises(MaterialError, match=r"'steel' is taken by stand-ins\.csv"):
        load_library([write(tmp_path, GOOD.replace("felt", "steel"))])


def test_own_material():
    felt = make_material("my-felt", [0.05, 0.1, 0.25, 0.5, 0.75, 0.85, 0.9, None], source="data sheet")
    assert felt.absorption[7] == 0.9
    assert felt.assumed.tolist() == [False] * 7 + [True]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"absorption": [0.1] * 7}, "7 values where 8"),
        ({"absorption": [-0.2] + [0.1] * 7}, "absorption, 63 Hz: -0.2 is outside 0 to 1.3"),
        ({"absorption": [0.1] * 7 + [45.0]}, "8000 Hz: 45 .*0.45 meant"),
        ({"absorption": [float("nan")] * 8}, "nan is outside"),
        ({"absorption": [None] * 8}, "no value in any band"),
        ({"scattering": [1.2] * 8}, "scattering, 63 Hz: 1.2 is outside 0 to 1"),
        ({"source": " "}, "source is missing"),
        ({"category": "wal"}, "unknown category 'wal'.*'wall'"),
    ],
)
def test_own_material_refused(changes, words):
    arguments = {"absorption": [0.1] * 8, "source": "data sheet", "where": "materials.my-felt"} | changes
    with pytest.raises(MaterialError) as caught:
        make_material("my-felt", **arguments)
    assert caught.value.where == "materials.my-felt"
    caught.match("(?s)" + words)


def test_bands_of_the_tables_are_the_bands_of_the_program():
    assert NOMINAL_HZ == (63, 125, 250, 500, 1000, 2000, 4000, 8000)
