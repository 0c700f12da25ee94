"""Framing and tile grids of the file, put on their surfaces."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from treatment.errors import Finding
from treatment.scene.codes import finding, nearest
from treatment.scene.document import Document
from treatment.scene.model import Surface
from treatment.scene.schema import FramingEntry, TileGridEntry, WalkwaysEntry
from treatment.scene.structure import Framing, TileGrid, Walkways
from treatment.units import format_length

#: Fewer members than this carry no panel.
_LEAST_MEMBERS: Final = 2


def fit_structure(
    document: Document, surfaces: tuple[Surface, ...], unit: str
) -> tuple[tuple[Framing, ...], tuple[TileGrid, ...], Walkways, list[Finding]]:
    """Put framing and tile grids on their surfaces.

    Parameters
    ----------
    document : Document
        What the file says.
    surfaces : tuple of Surface
        Of the scene.
    unit : str
        For messages.

    Returns
    -------
    framing : tuple of Framing
        Those that fit.
    grids : tuple of TileGrid
        Those that fit.
    walkways : Walkways
        What stays free to walk through.
    findings : list of Finding
        What is wrong with the others.
    """
    found: list[Finding] = []
    own = {s.name: i for i, s in enumerate(surfaces) if not s.obstacle}
    framing: dict[int, Framing] = {}
    for k, entry in document.entries("framing", FramingEntry):
        where = f"framing[{k}]"
        i = _surface(where, entry.surface, own, framing, found)
        if i is None:
            continue
        made = Framing(i, entry.spacing, entry.first, entry.along, entry.width)
        bounds = surfaces[i].polygon.bounds
        low, high = bounds[made.axis], bounds[made.axis + 2]
        if entry.width > entry.spacing or len(made.middles(low, high)) < _LEAST_MEMBERS:
            message = (
                f'"{entry.surface}" is {format_length(high - low, unit)} long along {entry.along}: '
                f"with a spacing of {format_length(entry.spacing, unit)} and faces of "
                f"{format_length(entry.width, unit)} no two members carry a panel"
            )
            hint = "spacing is from middle to middle; look at `first`, and at `along`: u for upright studs"
            found.append(finding("structure-unclear", f"{where}.spacing", message, hint))
            continue
        framing[i] = made
    grids: dict[int, TileGrid] = {}
    for k, grid in document.entries("tile_grids", TileGridEntry):
        where = f"tile_grids[{k}]"
        i = _surface(where, grid.surface, own, {**framing, **grids}, found)
        if i is None:
            continue
        (low_u, low_v, high_u, high_v), normal = surfaces[i].polygon.bounds, surfaces[i].polygon.normal
        fits = grid.tile[0] <= high_u - low_u and grid.tile[1] <= high_v - low_v
        if normal[2] > -1.0 + 1e-6 or not fits:
            message = f'"{grid.surface}" is no level ceiling with room for one tile of this size'
            hint = "a tile grid belongs to a suspended ceiling; tile is [along u, along v]"
            found.append(finding("structure-unclear", f"{where}.surface", message, hint))
            continue
        size, first = (grid.tile[0], grid.tile[1]), (grid.first[0], grid.first[1])
        grids[i] = TileGrid(i, size, first, grid.mass_per_tile)
    entry_ = document.table("walkways", WalkwaysEntry)
    walkways = Walkways(entry_.width, entry_.height) if entry_ else Walkways()
    return tuple(framing.values()), tuple(grids.values()), walkways, found


def _surface(
    where: str, name: str, own: dict[str, int], taken: Iterable[int], found: list[Finding]
) -> int | None:
    """Index of the surface that is meant, or None and a finding."""
    if name not in own:
        message, hint = f'the room has no surface "{name[:60]}"', nearest(name, own)
        found.append(finding("unknown-surface", f"{where}.surface", message, hint))
        return None
    if own[name] in set(taken):
        message = f'"{name}" has a framing or a tile grid already'
        found.append(finding("structure-unclear", f"{where}.surface", message, "keep one of the two"))
        return None
    return own[name]
