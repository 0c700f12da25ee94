"""Materials in use whose published rows contradict each other."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from treatment.bands import NOMINAL_HZ, band_label
from treatment.errors import Finding
from treatment.materials.material import Material
from treatment.scene.codes import finding

#: Rows that lie further apart than this in some band are told. Judgement: more than laboratories differ by.
_TOLD: Final = 0.15


def disagreeing(materials: Iterable[Material]) -> Iterable[Finding]:
    """Say which materials in use have other published values.

    Parameters
    ----------
    materials : iterable of Material
        Those of the scene's surfaces and openings, each once.

    Yields
    ------
    Finding
        One at most, with the band in which each differs most, and the note of a row that names what decides.
    """
    told, asked = [], []
    for m in materials:
        farthest = m.apart.max(axis=0)
        k = int(np.argmax(farthest))
        if farthest[k] <= _TOLD:
            continue
        low, high = (float(m.absorption[k]) + side for side in (-m.apart[0, k], m.apart[1, k]))
        told.append(
            f"{m.id} has {m.absorption[k]:.2f} at {band_label(NOMINAL_HZ[k])}, published rows go from "
            f"{low:.2f} to {high:.2f} ({', '.join(m.provenance.conflicts_with)})"
        )
        if m.provenance.note:
            asked.append(f"{m.id}: {m.provenance.note}")
    if told:
        hint = "; ".join(asked) or "look which row describes your room best, and name it"
        yield finding("sources-disagree", "surfaces", "; ".join(told), hint)
