"""Rows of one annex against the table that pyroomacoustics carries from the same book.

Auralization (2008), annex. It guards the typing of numbers, not the book: neither side is the print.
"""

import numpy as np
import pytest

from treatment.materials.library import load_library, read_table
from treatment.materials.shipped import materials_folder

ORACLE = {
    "gypsum-board-2x13mm-steel-frame-wool": "plasterboard",
    "wood-panelling-12mm-frame": "wooden_lining",
    "floor-concrete-aur": "concrete_floor",
    "carpet-6mm-closed-cell-foam": "carpet_6mm_closed_cell_foam",
    "ceiling-plasterboard-deep-void": "ceiling_plasterboard",
    "ceiling-tile-fissured": "ceiling_fissured_tile",
    "window-single-3mm": "glass_3mm",
    "window-double-10mm-gap": "double_glazing_10mm",
    "window-double-30mm-gap": "double_glazing_30mm",
    "door-solid-wood": "wooden_door",
    "curtain-velvet-tight-aur": "curtains_velvet",
    "curtain-0p2kg-90mm": "curtains_0.2",
    "curtain-folded-150mm": "curtains_fabric_folded",
    "mineral-wool-50mm-40kg-aur": "rockwool_50mm_40kgm3",
    "mineral-wool-50mm-80kg-aur": "rockwool_50mm_80kgm3",
    "mineral-wool-50mm-40kg-glued": "mineral_wool_50mm_40kgm3",
    "mineral-wool-50mm-70kg-gap300": "mineral_wool_50mm_70kgm3",
    "seats-heavy-upholstered-empty-aur": "chairs_heavy_upholstered",
    "hard-surfaces-average": "hard_surface",
    "concrete-smooth-unpainted": "unpainted_concrete",
    "concrete-rough": "rough_concrete",
    "brick-rendered": "brickwork",
    "ceramic-tiles": "ceramic_tiles",
    "linoleum-on-concrete": "linoleum_on_concrete",
    "wood-16mm-on-studs": "wood_16mm",
    "plywood-thin-panelling": "plywood_thin",
    "carpet-thin-cemented": "carpet_thin",
    "carpet-needle-felt-5mm": "felt_5mm",
    "carpet-tufted-9mm-on-felt": "carpet_tufted_9m",
    "curtain-cotton-0p5kg-130mm": "curtains_cotton_0.5",
    "blinds-vertical-half-open": "blinds_half_open",
    "seats-leather-empty": "chairs_upholstered_leather",
    "seats-cloth-empty": "chairs_upholstered_cloth",
    "seats-wooden-empty": "chairs_wooden",
    "perforated-gypsum-19p6-web-100mm-mat": "gypsum_board",
    "perforated-chipboard-9p-150mm-wool": "perforated_veneered_chipboard",
    "mineral-fibre-20mm-170kg-gap50": "fibre_absorber_1",
    "panel-fabric-96kg": "panel_fabric_covered_6pcf",
    "panel-fabric-128kg": "panel_fabric_covered_8pcf",
    "carpet-soft-10mm-on-concrete": "carpet_soft_10mm",
    "curtain-fabric-flat-150mm": "curtains_fabric",
    "curtain-cotton-0p33kg-seven-eighths": "curtains_cotton_0.33",
}
#: Rows of other sources for the same thing: the largest difference, 125 Hz to 4 kHz, and its reason.
ELSEWHERE = {
    "carpet-6mm-on-underlay": ("carpet_6mm_open_cell_foam", 0.0, "one lineage"),
    "carpet-heavy-on-hairfelt": ("carpet_1.35_kg_m2", 0.0, "one lineage"),
    "brick-unglazed": ("brick_wall_rough", 0.0, "one lineage"),
    "floor-concrete-or-terrazzo": ("concrete_floor", 0.035, "another table; 0.05 at 500 Hz there looks odd"),
    "curtain-heavy-velour-straight": ("curtains_velvet", 0.03, "one cell differs, 1 kHz"),
    "seats-heavy-upholstered-empty": ("chairs_heavy_upholstered", 0.05, "one cell differs, 125 Hz"),
    "seats-well-upholstered-empty": ("chairs_upholstered_cloth", 0.05, "one cell differs, 1 kHz"),
    "window-single-3-4mm-aad": ("glass_3mm", 0.12, "size and fixing of the pane decide in the bass"),
    "door-solid-wood-inc": ("wooden_door", 0.06, "another door"),
    "mineral-board-50mm-40kg-ptb": ("rockwool_50mm_40kgm3", 0.12, "another laboratory"),
    "floor-soft-covering-10mm-en": ("carpet_soft_10mm", 0.18, "typical values of a class, not one carpet"),
    "brick-exposed-ptb": ("brick_wall_rough", 0.12, "rough open joints against a smooth face"),
}
ROWS = {m.id: m for m in read_table(materials_folder() / "auralization-2008.csv")}


@pytest.fixture(scope="module")
def table():
    pra = pytest.importorskip("pyroomacoustics")
    return {k: v["coeffs"] for group in pra.materials_data["absorption"].values() for k, v in group.items()}


def test_no_row_is_left_out():
    assert set(ORACLE) == set(ROWS)


@pytest.mark.parametrize("name", ORACLE)
def test_same_numbers(table, name):
    # Known difference: where their 8 kHz cell repeats the 4 kHz one, ours is blank and held.
    mine, theirs = ROWS[name], table[ORACLE[name]]
    np.testing.assert_array_equal(mine.absorption[1 : 1 + len(theirs)], theirs)
    published_8k = len(theirs) == 7 and theirs[6] != theirs[5]
    assert mine.assumed.tolist() == [True] + [False] * 6 + [not published_8k]


@pytest.mark.parametrize("name", ELSEWHERE)
def test_rows_of_other_sources(table, name):
    theirs, largest, reason = ELSEWHERE[name]
    row = load_library().get(name)
    apart = np.abs(row.absorption[1:7] - np.array(table[theirs][:6]))
    assert apart.max() == pytest.approx(largest, abs=1e-9), reason
    # Where it is no copy, the row's uncertainty or its lineage says so.
    assert largest == 0.0 or row.provenance.conflicts_with or np.all(apart <= row.uncertainty[1:7] + 1e-9)


def test_default_scattering_of_seats(table):
    # Auralization (2008), annex, as carried by pyroomacoustics: 'Theatre Audience'.
    del table
    import pyroomacoustics as pra

    theirs = pra.materials_data["scattering"]["Seating and audience"]["theatre_audience"]["coeffs"]
    mine = ROWS["seats-leather-empty"]
    assert mine.scattering_assumed
    np.testing.assert_array_equal(mine.scattering[1:], theirs)
