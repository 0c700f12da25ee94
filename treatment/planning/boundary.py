"""The room's boundary by piece: what each absorbs, and how sure that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from treatment.bands import Array, frozen
from treatment.materials.build import PanelBuild
from treatment.materials.material import Material
from treatment.planning.patches import Patch, borrowed, hidden_pieces
from treatment.planning.plan import AbsorptionRow, Placement
from treatment.scene.model import Scene


def absorption_rows(scene: Scene, patches: Sequence[Patch]) -> tuple[AbsorptionRow, ...]:
    """The room's boundary by piece.

    Parameters
    ----------
    scene : Scene
        The room.
    patches : sequence of Patch
        Openings and panels: each takes its area from its surface, and panels theirs from the openings
        that they cover.

    Returns
    -------
    tuple of AbsorptionRow
        Surfaces, then patches; the areas sum to the enclosure's.
    """
    covered = np.zeros(len(scene.surfaces))
    for patch in patches:
        covered[patch.surface] += patch.rectangle.area
    hidden = np.zeros(len(patches))
    for under, shared in hidden_pieces(patches):
        # What lies behind a panel is neither wall nor opening any more; it counts once.
        hidden[under] += shared.area
        covered[patches[under].surface] -= shared.area
    rows = [
        _row(s.name, "surface", s.polygon.area - float(covered[i]), s.material.id, s.material, i)
        for i, s in enumerate(scene.surfaces)
    ]
    for i, p in enumerate(patches):
        row = _row(p.name, p.kind, p.rectangle.area - float(hidden[i]), p.label, p.material, p.surface)
        if p.build is not None:
            row = _hung(row, p.build, scene.surfaces[p.surface].material)
        rows.append(row)
    return tuple(rows)


def as_panels(rows: Sequence[AbsorptionRow], placements: Sequence[Placement]) -> tuple[AbsorptionRow, ...]:
    """Name the sides of panels that are solids of the room what they are.

    Parameters
    ----------
    rows : sequence of AbsorptionRow
        Of the room with its solids.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    tuple of AbsorptionRow
        Kind ``panel`` for their sides; what is made of the build may gain by its edges.
    """
    solid = {p.id: p.build for p in placements if p.solid}
    if not solid:
        return tuple(rows)
    return tuple(_side(r, solid[r.name]) if r.name in solid else r for r in rows)


def _row(name: str, kind: str, area: float, label: str, material: Material, surface: int) -> AbsorptionRow:
    m, (less, more) = material, material.sides
    return AbsorptionRow(name, kind, area, label, m.absorption, m.assumed, m.uncertainty, less, more, surface)


def _side(row: AbsorptionRow, build: PanelBuild) -> AbsorptionRow:
    own = row.material == build.material.id
    return replace(row, kind="panel", gain=build.gain if own else row.gain)


def _hung(row: AbsorptionRow, build: PanelBuild, wall: Material) -> AbsorptionRow:
    """A panel on a surface: where the wall's coefficient holds, it is as sure as the wall is.

    The panel's own coefficient may be higher than thought there too, and rule after all.
    """
    taken, material = borrowed(build, wall), build.material
    (less, more), (wall_less, wall_more) = material.sides, wall.sides

    def over(extra: Array) -> Array:
        return np.maximum(material.absorption + extra - row.absorption, 0.0)

    return replace(
        row,
        less=frozen(np.where(taken, wall_less, less)),
        more=frozen(np.where(taken, np.maximum(wall_more, over(more)), more)),
        gain=frozen(over(build.gain)),
        borrowed=taken,
    )
