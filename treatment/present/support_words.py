"""Words for what carries a panel: studs, joists, the grid of a suspended ceiling."""

from __future__ import annotations

from collections.abc import Callable

from treatment.planning.members import fixing_points, framing_of, grid_of, tile_numbers
from treatment.planning.plan import Placement
from treatment.planning.standing import feet_depth, feet_ground
from treatment.present.corner_words import corner_words
from treatment.present.tape import tape_starts
from treatment.scene.model import Scene

#: Writes a length in m as one marks it.
TapeWords = Callable[[float], str]


def member_words(scene: Scene, placement: Placement, tape: TapeWords) -> str:
    """Which studs or joists carry a panel, and where its screws go.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        A hanging panel.
    tape : callable
        Writes a length in m as one marks it.

    Returns
    -------
    str
        ``screws at 0.40 m and 0.80 m from the left wall, into studs 2 and 3``, or that it reaches fewer
        than two; empty where the scene names no framing.
    """
    framing = framing_of(scene, placement.surface)
    if framing is None or placement.solid:
        return ""
    points = fixing_points(framing, placement.rectangle)
    kind = "joists"
    if scene.surfaces[placement.surface].kind == "wall":
        kind = "studs" if framing.along == "u" else "battens"
    if not points:
        return f"reaches fewer than two {kind}: screw battens across first, or move it"
    start = tape_starts(scene, placement.surface, placement.rectangle)[framing.axis]
    (first, low), (last, high) = points
    near, far = tape(start.reading(low)), tape(start.reading(high))
    return f"screws at {near} and {far} {start.words}, into {kind} {first} and {last}"


def tile_words(scene: Scene, placement: Placement) -> str:
    """Which tiles of a suspended ceiling a panel replaces.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        A hanging panel.

    Returns
    -------
    str
        ``tile column 3, rows 2 to 3``; empty where there is no grid.
    """
    grid = grid_of(scene, placement.surface)
    if grid is None or placement.solid:
        return ""
    bounds = scene.surfaces[placement.surface].polygon.bounds
    left, right, near, far = tile_numbers(grid, bounds, placement.rectangle)
    columns = f"column {left}" if left == right else f"columns {left} to {right}"
    rows = f"row {near}" if near == far else f"rows {near} to {far}"
    from_u, from_v = (start.words for start in tape_starts(scene, placement.surface))
    return f"tile {columns} {from_u}, {rows} {from_v}, whole tiles counted"


def _standing_words(scene: Scene, p: Placement, tape: TapeWords) -> str:
    """How a standing panel is turned, and what its feet need."""
    u_from, v_from = (start.edge for start in tape_starts(scene, p.surface))
    ground = feet_ground(p.rectangle, p.build)
    beside = v_from if ground.width - p.rectangle.width < 1e-9 else u_from
    deep = feet_depth(p.build)
    # The checklist has one line for it; the rest is told in docs/guide/hanging.md.
    height = tape(p.build.outer_height)
    return (
        f"stands on the floor, {height} high, parallel to the {beside}; feet {tape(deep)} "
        f"deep, {tape((deep - p.build.thickness) / 2.0)} out each way"
    )


def support_words(scene: Scene, placement: Placement, tape: TapeWords) -> str:
    """What carries a panel, where the scene names it, or that it stands.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        The panel.
    tape : callable
        Writes a length in m as one marks it.

    Returns
    -------
    str
        Studs, joists or tiles; how high a standing panel is; in which corner one is and how it is held; empty
        where there is nothing to say.
    """
    if placement.standing:
        return _standing_words(scene, placement, tape)
    if placement.corner is not None:
        return corner_words(scene, placement, tape)
    return tile_words(scene, placement) or member_words(scene, placement, tape)
