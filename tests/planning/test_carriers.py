"""Rails, cleats and battens: they fill the gap, lie under the joists, stand in the lists and in the mass."""

from dataclasses import replace
from pathlib import Path

import pytest

from treatment.geometry.polygon import Rectangle
from treatment.materials.stock import INCH, METRIC
from treatment.planning.bill import make_bill
from treatment.planning.carriers import carrier_for
from treatment.planning.fixings import fixing_for
from treatment.planning.plan import Placement
from treatment.scene.load import load_scene
from treatment.scene.structure import Framing

SCENES = Path(__file__).parents[2] / "scenes"
ROOM = load_scene(SCENES / "garden-room.toml")[0]
BUILDS = {b.id: b for b in ROOM.builds}
LEFT, CEILING = ROOM.surface_index("left"), ROOM.surface_index("ceiling")


def panel(name, surface, *, lying=False, at=(0.7, 0.5), build=None):
    b = build or BUILDS[name]
    size = (b.outer_height, b.outer_width) if lying else (b.outer_width, b.outer_height)
    return Placement("P1", b, surface, Rectangle(*at, *size))


def parts(placement, scene=ROOM, stock=METRIC):
    cuts = make_bill([placement], scene, stock=stock).cuts
    return {c.part: (c.count, round(c.length, 4), round(c.width, 4)) for c in cuts}


@pytest.mark.parametrize("stock", [METRIC, INCH], ids=["metric", "inch"])
@pytest.mark.parametrize(
    ("name", "surface"), [("wool-50-gap-50", LEFT), ("wool-50-gap-50", CEILING), ("wool-50-gap-100", CEILING)]
)
def test_rail_and_batten_fill_the_gap(name, surface, stock):
    placement = panel(name, surface)
    carrier = carrier_for(placement, ROOM, stock)
    assert carrier.thickness + carrier.spacer == pytest.approx(placement.build.air_gap, rel=1e-9)
    board = next(b for b in stock.boards if b.thickness == carrier.thickness)
    assert board.thickness == pytest.approx({"metric": 0.018, "inch": 0.01905}[stock.trade])


def test_a_panel_on_a_wall_by_hand():
    """636 x 1236 mm, 50 mm gap, boards of 18 x 69 mm: rails and cleat 636 mm, 32 mm left behind them."""
    found = parts(panel("wool-50-gap-50", LEFT))
    assert found["rail"] == (1, 0.636, 0.069)
    assert found["upper rail, one edge at 45 degrees"] == (1, 0.636, 0.069)
    assert found["cleat for the wall, one edge at 45 degrees"] == (1, 0.636, 0.069)
    assert found["batten behind the cleat"] == (1, 0.636, 0.032)
    assert found["block behind the lower rail"] == (2, 0.08, 0.032)
    # At 45 degrees the face on the frame is a thickness shorter: 69 - 18 mm below the top edge.
    assert carrier_for(panel("wool-50-gap-50", LEFT), ROOM, METRIC).line == pytest.approx(0.051)


def test_a_panel_overhead_by_hand():
    found = parts(panel("wool-50-gap-100", CEILING))
    assert found["rail"] == (2, 0.636, 0.069)
    assert found["ceiling batten"] == (2, 1.236, 0.082)
    assert not any("45" in part for part in found)


def test_without_a_gap_the_frame_itself_is_held():
    for surface, kind in ((LEFT, "plates"), (CEILING, "brackets")):
        assert carrier_for(panel("wool-100", surface), ROOM, METRIC).kind == kind
        assert not any(
            p.startswith(("rail", "upper", "cleat", "ceiling")) for p in parts(panel("wool-100", surface))
        )


@pytest.mark.parametrize("along", ["u", "v"])
@pytest.mark.parametrize("lying", [False, True])
def test_rails_lie_below_the_joists_and_battens_cross_them(along, lying):
    """Joists of 45 mm every 0.40 m from 0.20 m; the panel from 0.50 and 0.50 m."""
    scene = replace(ROOM, framing=(Framing(CEILING, 0.40, 0.20, along, 0.045),))
    placement = panel("wool-50-gap-100", CEILING, lying=lying, at=(0.5, 0.5))
    carrier, axis = carrier_for(placement, scene, METRIC), "uv".index(along)
    start, size = 0.5, (placement.rectangle.width, placement.rectangle.height)
    assert carrier.axis == axis
    for rail in carrier.rails:  # a screw stays 12 mm inside the edges of a joist
        assert min(abs(start + rail - (0.2 + 0.4 * k)) for k in range(12)) < 0.0225 - 0.012 + 1e-9
    assert carrier.across == pytest.approx(size[1 - axis])
    assert parts(placement, scene)["ceiling batten"][1] == pytest.approx(size[axis], abs=1e-4)
    assert len(carrier.rails) * 2 == fixing_for(placement.build, "ceiling").count


def test_battens_reach_two_joists_where_the_panel_does_not():
    """Joists every 0.60 m from 0.60 m, a panel of 0.636 m from 0.70 m: battens of 0.60 + 2 x 0.05 m."""
    scene = replace(ROOM, framing=(Framing(CEILING, 0.60, 0.60, "u", 0.045),))
    placement = panel("wool-50-gap-100", CEILING)
    assert carrier_for(placement, scene, METRIC).axis == 0
    assert parts(placement, scene)["ceiling batten"] == (2, 0.7, 0.082)


def test_long_panels_get_a_third_rail_and_six_straps():
    long = replace(BUILDS["wool-50-gap-100"], height=1.8)
    carrier = carrier_for(panel("", CEILING, build=long), ROOM, METRIC)
    assert len(carrier.rails) == 3
    assert fixing_for(long, "ceiling").count == 6
    assert carrier.rails[1] == pytest.approx(long.outer_height / 2.0)


def test_mass_holds_the_rails():
    """50 mm: 0.6 x 1.2 x 0.05 m at 48 kg/m3, frame of 18 mm; two rails of at most 1.236 x 0.07 x 0.018 m."""
    core = 0.6 * 1.2 * 0.05 * 48.0
    frame = (0.636 * 1.236 - 0.72) * 0.05 * 500.0
    rails = 2 * 1.236 * 0.07 * 0.018 * 500.0
    assert BUILDS["wool-50-gap-50"].mass == pytest.approx(core + frame + rails, rel=1e-6)
    assert BUILDS["wool-100"].mass == pytest.approx(2.0 * (core + frame), rel=1e-6)  # no gap, no rails


def test_a_corner_gets_upright_battens_and_wire():
    first, second = ROOM.surface_index("front"), LEFT
    b = replace(BUILDS["wool-100"], on=("corner",))
    bill = make_bill(
        [Placement("P1", b, first, Rectangle(0, 0.2, 0.45, b.outer_height), corner=second)], ROOM
    )
    found = {c.part: (c.count, round(c.length, 3)) for c in bill.cuts}
    assert found["upright batten of a corner"] == (2, 1.236)
    assert any(s.item.startswith("galvanised wire") for s in bill.shopping)


def test_a_wide_gap_is_made_up_of_layers():
    deep = replace(BUILDS["wool-50-gap-100"], air_gap=0.4)
    found = parts(panel("", CEILING, build=deep))
    (battens,) = (p for p in found if p.startswith("ceiling batten"))
    count, _, depth = found[battens]
    assert count % 2 == 0
    assert count / 2 * depth == pytest.approx(0.4 - 0.018, abs=1e-4)
