"""Openings and panels as pieces of their surfaces."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from treatment.bands import frozen
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.materials.material import Material, frozen_flags
from treatment.planning.plan import Placement
from treatment.scene.model import Scene


@dataclass(frozen=True, eq=False)
class Patch:
    """A rectangle of a surface with its own absorption: an opening or a panel.

    Parameters
    ----------
    name : str
        What a reflection off it is called.
    kind : str
        ``opening`` or ``panel``.
    surface : int
        Index of the surface.
    rectangle : Rectangle
        Where, in wall coordinates.
    material : Material
        What it is made of.
    label : str
        Material or build id.
    build : PanelBuild or None
        Of a panel.
    """

    name: str
    kind: str
    surface: int
    rectangle: Rectangle
    material: Material
    label: str
    build: PanelBuild | None = None


def patches_of(scene: Scene, placements: Sequence[Placement]) -> tuple[Patch, ...]:
    """Openings and panels as patches.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    tuple of Patch
        Openings first. What stands on the floor or across a corner is no patch but part of the room: see
        `furnished`.
    """
    openings = [
        Patch(o.name, "opening", o.surface, o.rectangle, o.material, o.material.id) for o in scene.openings
    ]
    hung = [p for p in placements if not p.solid]
    panels = [
        Patch(p.id, "panel", p.surface, p.face, _in_front_of(scene, p), p.build.id, p.build) for p in hung
    ]
    return (*openings, *panels)


def _in_front_of(scene: Scene, placement: Placement) -> Material:
    """Panel's material with the wall behind it: it is open to the bass, where boards go on absorbing.

    So in no band does it absorb less than what it covers. Where the wall's value is taken, so is what is
    known of it.
    """
    panel, wall = placement.build.material, scene.surfaces[placement.surface].material
    taken = borrowed(placement.build, wall)
    if not taken.any():
        return panel
    return replace(
        panel,
        absorption=frozen(np.maximum(panel.absorption, wall.absorption)),
        assumed=frozen_flags(np.where(taken, wall.assumed, panel.assumed)),
        clipped=frozen_flags(np.where(taken, wall.clipped, panel.clipped)),
        uncertainty=frozen(np.where(taken, wall.uncertainty, panel.uncertainty)),
        apart=frozen(np.where(taken, wall.apart, panel.apart)),
        own=frozen(np.where(taken, wall.alone, panel.alone)),
    )


def borrowed(build: PanelBuild, wall: Material) -> NDArray[np.bool_]:
    """Bands in which a panel absorbs less than the wall that it covers, whose value then holds.

    Parameters
    ----------
    build : PanelBuild
        The panel.
    wall : Material
        What it hangs on.

    Returns
    -------
    numpy.ndarray
        Shape (8,), bool.
    """
    return frozen_flags(build.material.absorption < wall.absorption)


def hidden_pieces(patches: Sequence[Patch]) -> list[tuple[int, Rectangle]]:
    """Pieces of openings that panels cover.

    Parameters
    ----------
    patches : sequence of Patch
        Openings and panels.

    Returns
    -------
    list of (int, Rectangle)
        Index of the opening's patch, and the piece.
    """
    found = []
    for i, opening in enumerate(patches):
        for panel in patches if opening.kind == "opening" else ():
            if panel.kind == "panel" and panel.surface == opening.surface:
                low = np.maximum(opening.rectangle.bounds[:2], panel.rectangle.bounds[:2])
                size = np.minimum(opening.rectangle.bounds[2:], panel.rectangle.bounds[2:]) - low
                if np.all(size > 0.0):
                    found.append((i, Rectangle(*(float(x) for x in (*low, *size)))))
    return found
