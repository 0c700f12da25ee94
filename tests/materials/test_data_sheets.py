"""A folder of one's own data sheets: thirds, octaves, and files that do not load."""

import pytest

from treatment.errors import Finding, MaterialError
from treatment.materials.data_sheets import read_data_sheets
from treatment.materials.read_table import read_table

THIRDS = [
    100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000,
]  # fmt: skip
VALUES = [
    0.1,
    0.12,
    0.17,
    0.3,
    0.36,
    0.42,
    0.55,
    0.61,
    0.7,
    0.78,
    0.85,
    0.9,
    0.92,
    0.95,
    0.95,
    0.93,
    0.9,
    0.87,
]
HEAD = "id,description,category," + ",".join(f"a{f}" for f in THIRDS) + ",source"
SHEET = f"{HEAD}\nslab,Own slab,porous-panel,{','.join(map(str, VALUES))},data sheet of 2021\n"


def test_third_octaves_become_octaves(tmp_path):
    # ISO 11654:1997, 4.1: mean of the three thirds. By hand: (0.10 + 0.12 + 0.17)/3 = 0.13 and so on.
    (tmp_path / "slab.csv").write_text(SHEET)
    (slab,) = read_data_sheets(tmp_path)
    assert slab.absorption[1:7].tolist() == pytest.approx([0.13, 0.36, 0.62, 0.84333, 0.94, 0.90], abs=1e-4)
    # 63 Hz and 8 kHz have no thirds in an ordinary sheet: held and flagged.
    assert slab.assumed.tolist() == [True] + [False] * 6 + [True]
    assert slab.provenance.source == "data sheet of 2021"


def test_an_octave_without_all_its_thirds_is_not_made_up(tmp_path):
    path = tmp_path / "slab.csv"
    path.write_text(SHEET.replace(",0.1,0.12,0.17,", ",,0.12,0.17,"))
    (slab,) = read_table(path)
    assert slab.assumed[1]
    assert slab.absorption[1] == pytest.approx(0.36)


def test_octaves_titles_and_mountings(tmp_path):
    (tmp_path / "b.csv").write_text(
        "id,description,category,a63,a125,a250,a500,a1000,a2000,a4000,a8000,title,edition,locator,"
        "iso354_type,clipped_bands,assumed_bands\n"
        "felt,Felt,porous-panel,0.05,0.1,0.2,0.3,0.5,0.7,1,1,Own test,2021,p. 3,E-50,4000 8000,63\n"
    )
    (felt,) = read_data_sheets(tmp_path)
    assert felt.provenance.source == "Own test, 2021, p. 3"
    assert felt.iso354_type == "E-50"
    assert felt.clipped.tolist() == [False] * 6 + [True, True]
    assert felt.assumed.tolist() == [True] + [False] * 7


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ((",0.55,", ",55,"), "line 2, column a400: 55 is outside.*0.45, not 45"),
        ((",0.55,", ",x,"), "line 2, column a400: 'x' is not a number"),
        (("a400,", "a401,"), "column 'a400' is missing"),
        ((",source", ",iso354_type"), "'source' is missing"),
        (("data sheet of 2021", ""), "column source: blank"),
    ],
)
def test_wrong_sheet_is_one_clear_finding(tmp_path, change, words):
    (tmp_path / "bad.csv").write_text(SHEET.replace(*change, 1))
    (tmp_path / "good.csv").write_text(SHEET.replace("slab,Own", "other,Own"))
    problems: list[Finding] = []
    found = read_data_sheets(tmp_path, problems)
    assert [m.id for m in found] == ["other"]
    (finding,) = problems
    assert (finding.code, finding.severity, finding.where) == (
        "data-sheet",
        "error",
        str(tmp_path / "bad.csv"),
    )
    with pytest.raises(MaterialError, match=words):
        read_data_sheets(tmp_path)


def test_wrong_mounting_and_band(tmp_path):
    path = tmp_path / "own.csv"
    path.write_text(
        SHEET.replace("source\n", "source,iso354_type,clipped_bands\n").replace("2021", "2021,Q,300")
    )
    with pytest.raises(MaterialError) as caught:
        read_table(path)
    assert "'Q' is no mounting type of ISO 354" in str(caught.value)
    assert "'300' is no octave band" in str(caught.value)


def test_folder_that_is_none(tmp_path):
    (tmp_path / "file").write_text("x")
    for name, words in (("none", "does not exist"), ("file", "is a file"), ("", "holds no data sheet")):
        with pytest.raises(MaterialError, match=words):
            read_data_sheets(tmp_path / name)
        problems: list[Finding] = []
        assert read_data_sheets(tmp_path / name, problems) == ()
        assert len(problems) == 1


def test_an_id_in_two_sheets(tmp_path):
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text(SHEET)
    with pytest.raises(MaterialError, match=r"'slab' is taken by a\.csv"):
        read_data_sheets(tmp_path)
