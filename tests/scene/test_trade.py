"""What the shops sell and what a plan may use, as a scene file says it."""

import pytest

from treatment.errors import SceneError
from treatment.materials.prices import Price
from treatment.materials.stock import INCH, METRIC
from treatment.scene.load import load_scene

ROOM = """units = "{units}"
[room]
shape = "box"
length = "4.6 m"
width = "3.2 m"
height = "2.4 m"
[surfaces]
default = "gypsum-board-on-studs"
[[loudspeakers]]
name = "L"
position = ["0.5 m", "1.1 m", "1 m"]
[[seats]]
name = "seat"
position = ["2.9 m", "1.6 m", "1.1 m"]
"""


def load(tmp_path, more, units="m"):
    path = tmp_path / "room.toml"
    path.write_text(ROOM.format(units=units) + more)
    return load_scene(path)


def test_nothing_said_is_as_usual(tmp_path):
    assert load(tmp_path, "")[0].stock is None
    assert load(tmp_path, "[stock]\n", "ft")[0].stock == INCH
    assert load(tmp_path, "[stock]\n")[0].stock == METRIC
    assert load(tmp_path, '[stock]\ntrade = "inch"\n')[0].stock == INCH


def test_what_is_said_goes_before(tmp_path):
    more = """[stock]
lengths = [3.6, 2.4, "2400 mm"]
boards = [{ name = "20 x 95", thickness = "20 mm", width = "95 mm" }]
kerf = "2.5 mm"
trim = 0
sheet = [1.25, 2.5]
slab = [0.625, 1.25]
packs = [{ thickness = "50 mm", slabs = 10 }]
roll_width = 1.4
roll_step = 0.5
"""
    stock = load(tmp_path, more)[0].stock
    assert stock.lengths == (2.4, 3.6)
    assert [(b.name, b.thickness, b.width) for b in stock.boards] == [("20 x 95", 0.02, 0.095)]
    assert (stock.kerf, stock.trim, stock.sheet, stock.slabs) == (0.0025, 0.0, (1.25, 2.5), ((0.625, 1.25),))
    assert (stock.per_pack(0.05), stock.per_pack(0.1)) == (10, 4)  # 0.4 m deep where nothing is said
    assert (stock.roll, stock.roll_step) == (1.4, 0.5)


@pytest.mark.parametrize(
    ("more", "where", "words"),
    [
        ('trade = "imperial"', "stock.trade", "imperial"),
        ("lengths = []", "stock.lengths", "no length"),
        ("lengths = [2400]", "stock.lengths", "no size of a board"),
        ("kerf = 3", "stock.kerf", "3000 mm"),
        ("roll_width = 0.1", "stock.roll_width", "roll of cloth"),
        ("boards = []", "stock.boards", "no board"),
        ('boards = [{ name = "x", thickness = 1, width = 0.1 }]', "stock.boards[0].thickness", "1000.0 mm"),
        ('packs = [{ thickness = "50 mm", slabs = 2.5 }]', "stock.packs[0].slabs", "2.5"),
    ],
)
def test_what_cannot_be_is_named(tmp_path, more, where, words):
    with pytest.raises(SceneError) as caught:
        load(tmp_path, f"[stock]\n{more}\n")
    (finding,) = (f for f in caught.value.findings if f.severity == "error")
    assert (finding.code, finding.where) == ("stock-invalid", where)
    assert words in finding.message


def test_a_misspelt_key_of_a_board_names_the_nearest(tmp_path):
    more = '[stock]\nboards = [{ name = "x", thickness = 0.02, width = 0.1, lenght = 2 }]\n'
    with pytest.raises(SceneError) as caught:
        load(tmp_path, more)
    (finding,) = (f for f in caught.value.findings if f.severity == "error")
    assert finding.code == "unknown-key"
    assert "thickness" in finding.hint


def test_prices_lie_beside_the_scene(tmp_path):
    (tmp_path / "mine.csv").write_text("item,price,unit,date\nboard,1.50,m,2025-03-31\n")
    scene, _ = load(tmp_path, '[stock]\nprices = "mine.csv"\n')
    assert scene.prices.rows == (Price("board", 1.5, "m", "2025-03-31"),)
    (tmp_path / "mine.csv").write_text("item,price\nboard,cheap\n")
    with pytest.raises(SceneError) as caught:
        load(tmp_path, '[stock]\nprices = "mine.csv"\n')
    (finding,) = (f for f in caught.value.findings if f.severity == "error")
    assert (finding.code, finding.where) == ("price-file", "stock.prices")
    assert "line 2" in finding.message


@pytest.mark.parametrize(
    ("more", "code", "where"),
    [
        ("panels = 0", "limit-invalid", "limits.panels"),
        ("panels = 2.5", "limit-invalid", "limits.panels"),
        ("panels = 1e9", "limit-invalid", "limits.panels"),
        ("mass = -1", "number-out-of-range", "limits.mass"),
        ("depth = 0", "size-not-positive", "limits.depth"),
        ('surfaces = ["left", "rihgt"]', "unknown-surface", "limits.surfaces[1]"),
        ("panel = 3", "unknown-key", "limits.panel"),
    ],
)
def test_limits_that_are_none(tmp_path, more, code, where):
    with pytest.raises(SceneError) as caught:
        load(tmp_path, f"[limits]\n{more}\n")
    (finding,) = (f for f in caught.value.findings if f.severity == "error")
    assert (finding.code, finding.where) == (code, where)


@pytest.mark.parametrize(
    ("more", "where"),
    [
        ("mass = 0.5", "limits.mass"),
        ("depth = 0.02", "limits.depth"),
        ("surfaces = []", "limits.surfaces"),
    ],
)
def test_limits_that_leave_nothing_are_warned_of(tmp_path, more, where):
    _, findings = load(tmp_path, f"[limits]\n{more}\n")
    assert ("limits-leave-nothing", where) in {(f.code, f.where) for f in findings}


def test_the_floor_alone_carries_panels_only_where_one_may_stand(tmp_path):
    for panels, told in (("wool-100", True), ("screen-100", False)):
        path = tmp_path / "room.toml"
        path.write_text(
            f'panels = ["{panels}"]\n' + ROOM.format(units="m") + '[limits]\nsurfaces = ["floor"]\n'
        )
        codes = {f.code for f in load_scene(path)[1]}
        assert ("limits-leave-nothing" in codes) == told


@pytest.mark.parametrize("weight", ["-1", "101", "nan", '"much"', "true"])
def test_weights_that_are_none(tmp_path, weight):
    with pytest.raises(SceneError) as caught:
        load(tmp_path, f'[[seats]]\nname = "b"\nposition = [2.9, 0.9, 1.1]\nweight = {weight}\n')
    (finding,) = (f for f in caught.value.findings if f.severity == "error")
    assert finding.where == "seats[1].weight"
