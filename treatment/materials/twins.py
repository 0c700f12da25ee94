"""Published rows of much the same build as a predicted one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from treatment.materials.build import Layer
from treatment.materials.library import Library
from treatment.materials.material import Material

#: How far a row's density may be off: beyond, its airflow resistivity is another.
_DENSITY: Final = 0.25
#: Words by which a row's description and a layer's kind know each other.
_WORDS: Final = {
    "stone wool": ("stone wool", "mineral", "fibreglass or stone"),
    "glass wool": ("glass", "fibreglass"),
    "polyester": ("polyester",),
}


def twins(layers: Sequence[Layer], air_gap: float, library: Library) -> tuple[Material, ...]:
    """Find published rows of the same build.

    Parameters
    ----------
    layers : sequence of Layer
        Of the build; rows are known for one layer of one kind only.
    air_gap : float
        In m.
    library : Library
        Where to look.

    Returns
    -------
    tuple of Material
        Rows of the same kind, thickness (10 %), density (25 %) and gap, the nearest density first. A row
        that does not state its gap is taken to lie flat on a wall, as samples do by default; its
        ``mounting`` says so.
    """
    if len(layers) != 1 or not layers[0].kind or layers[0].density <= 0.0:
        return ()
    layer = layers[0]
    found = []
    for row in library.materials.values():
        words = row.description.lower()
        if (
            row.category == "porous-panel"
            and row.thickness is not None
            and row.density is not None
            and abs(row.thickness - layer.thickness) <= 0.1 * layer.thickness
            and abs(row.density - layer.density) <= _DENSITY * layer.density
            and abs((row.air_gap or 0.0) - air_gap) <= max(0.1 * air_gap, 0.005)
            and any(word in words for word in _WORDS[layer.kind])
        ):
            found.append((abs(row.density - layer.density), row.id, row))
    return tuple(row for _, _, row in sorted(found, key=lambda item: item[:2]))
