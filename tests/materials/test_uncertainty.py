"""Uncertainty of absorption: the tables of the standard, gaps, clipping, and sources that disagree."""

import numpy as np
import pytest

from treatment.bands import frozen
from treatment.materials.edge import LARGEST, edge_gain
from treatment.materials.library import load_library
from treatment.materials.make_material import make_material
from treatment.materials.uncertainty import (
    THIRD_OCTAVE_CONSTANTS,
    WEIGHTED,
    reproducibility,
    row_uncertainty,
    third_octave_reproducibility,
)

NONE = np.zeros(8, dtype=bool)
LIBRARY = load_library()
EVERYTHING = {**LIBRARY.materials, **LIBRARY.objects}


def test_worked_table_of_third_octaves():
    # ISO 12999-2:2020, Table 4: alpha_s and U at k = 2, rounded half up. Read in open reference data.
    alpha = [
        0.33, 0.35, 0.39, 0.38, 0.37, 0.36, 0.36, 0.36, 0.43, 0.49,
        0.58, 0.63, 0.68, 0.71, 0.73, 0.75, 0.77, 0.79, 0.81, 0.81,
    ]  # fmt: skip
    printed = [
        0.33, 0.26, 0.22, 0.17, 0.13, 0.11, 0.09, 0.08, 0.08, 0.08,
        0.08, 0.08, 0.08, 0.09, 0.09, 0.09, 0.10, 0.11, 0.13, 0.16,
    ]  # fmt: skip
    found = third_octave_reproducibility(alpha, list(THIRD_OCTAVE_CONSTANTS))
    np.testing.assert_array_equal(np.floor(found * 100.0 + 0.5 + 1e-9) / 100.0, printed)


def test_worked_table_of_practical_coefficients():
    # ISO 12999-2:2020, Table 5, octaves 250 Hz to 4 kHz; alpha_w 0.70 +- 0.07.
    found = reproducibility([0.0, 0.0, 0.50, 0.65, 0.70, 0.85, 0.80, 0.0])[2:7]
    np.testing.assert_array_equal(
        np.floor(found * 100.0 + 0.5 + 1e-9) / 100.0, [0.09, 0.08, 0.08, 0.08, 0.10]
    )
    assert WEIGHTED == 0.07


def test_low_octaves_lie_among_their_thirds():
    thirds = third_octave_reproducibility([0.4, 0.4, 0.4], [100, 125, 160])
    assert thirds.min() < reproducibility([0.4] * 8)[1] < thirds.max()


def test_held_band_adds_the_step_before_it():
    alpha = [0.2, 0.2, 0.8, 0.9, 0.9, 0.9, 0.9, 0.9]
    assumed = np.arange(8) == 0
    found = row_uncertainty(alpha, assumed, NONE)
    assert found[0] == pytest.approx(np.hypot(reproducibility(alpha)[0], 0.6))
    np.testing.assert_allclose(found[1:], reproducibility(alpha)[1:])


def test_clipped_cell_may_hide_more():
    clipped = np.arange(8) == 3
    assert row_uncertainty([1.0] * 8, NONE, clipped)[3] == pytest.approx(0.15)


def test_uncertainty_reaches_the_farthest_source():
    for m in EVERYTHING.values():
        others = [EVERYTHING[i] for i in m.provenance.conflicts_with]
        assert np.all(m.uncertainty >= reproducibility(m.absorption) - 1e-12)
        for o in others:
            both = ~(m.assumed | o.assumed)
            apart = np.abs(m.absorption - o.absorption)[both]
            assert np.all(apart <= m.uncertainty[both] + 1e-12), (m.id, o.id)


def test_four_window_panes():
    # 125 Hz: 0.08, 0.20, 0.30, 0.35 in four books. None is averaged away.
    names = ("window-single-3mm", "window-single-3-4mm-aad", "window-single-4mm-ae", "window-ordinary-glass")
    panes = [LIBRARY.get(i) for i in names]
    assert [p.absorption[1] for p in panes] == [0.08, 0.20, 0.30, 0.35]
    assert panes[0].uncertainty[1] == pytest.approx(0.27)
    for pane in panes:
        assert set(pane.provenance.conflicts_with) == set(names) - {pane.id}


def test_one_lineage_is_no_confirmation():
    rows = [LIBRARY.get(f"curtain-heavy-velour-half-area-{x}") for x in ("aad", "enc")]
    assert rows[0].provenance.lineage == rows[1].provenance.lineage != ""
    assert rows[0].provenance.title != rows[1].provenance.title


def test_every_shipped_row_says_what_it_is_worth():
    for m in EVERYTHING.values():
        p = m.provenance
        assert p.title, m.id
        assert p.locator, m.id
        assert p.named_by, m.id
        assert p.how_known, m.id
        assert p.lineage, m.id
        assert p.source.startswith(p.title)
        assert p.source.endswith(p.locator)
        assert p.edition in p.source or p.edition.startswith("not ")
        if m.category == "porous-panel":
            # Cells of exactly 1 do not happen in a laboratory, five at a time.
            np.testing.assert_array_equal(m.clipped, (m.absorption == 1.0) & ~m.assumed)


def test_material_of_ones_own_has_an_uncertainty_too():
    own = make_material("x", [0.1, 0.2, 0.4, 0.6, 0.8, 0.9, 0.9, 0.9], source="data sheet")
    np.testing.assert_allclose(own.uncertainty, reproducibility(own.absorption))
    assert not own.uncertainty.flags.writeable


def test_edge_effect_is_bounded():
    # Bartel 1981 measured up to E = 3.3 1/m; the textbook slope is 0.1 to 0.3 m in the middle bands (from
    # memory). A panel of 0.6 m x 1.2 m has E = 5 1/m and gets no more than one of 3.3.
    alpha = frozen([0.2, 0.4, 0.8, 1.0, 1.0, 1.0, 1.0, 1.0])
    gain, doubt = edge_gain(alpha, 0.6, 1.2)
    assert gain[[0, 1, 7]].tolist() == [0.0] * 3
    assert gain[3] == pytest.approx(0.1 * (LARGEST - 1.2))
    assert gain[2] == pytest.approx(0.8 * 0.21)
    np.testing.assert_allclose(edge_gain(alpha, 0.3, 0.3)[0], gain)
    assert np.all(gain <= 0.3 * (LARGEST - 1.2))
    np.testing.assert_allclose(doubt, gain)
    # A sample as big as a laboratory's gains nothing, and no coefficient is lifted beyond 1.3.
    assert not edge_gain(alpha, 3.0, 4.0)[0].any()
    assert edge_gain(frozen([1.25] * 8), 0.6, 1.2)[0][3] == pytest.approx(0.05)
