"""What carries a panel: rails across its back, cleats, battens and plates, and where they lie.

One construction (common practice). Boards on edge go round the slab. Where there is a gap behind, rails lie
flat across the back of the frame. On a wall the upper rail is one half of a split cleat, the other half is
screwed to the studs over a batten that makes up the gap; blocks do so below. Overhead two battens cross the
joists, as deep as the gap less the rail, and a strap joins frame and batten at each end of each rail; where
the joists are known a rail lies below a joist. Without a gap plates or brackets on the frame hold it.
Across a corner the frame is screwed to an upright batten on either wall.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.carcass import RAIL_WIDTH, rail_count, rails_fit
from treatment.materials.stock import Board, Stock
from treatment.planning.members import fixing_points, framing_of, grid_of
from treatment.planning.plan import Placement
from treatment.scene.model import Scene

#: Without known joists the rails lie this far inside the panel's ends (m, to their middle). Common practice.
INSET: Final = 0.10
#: Blocks behind the lower rail are so long (m), two of them. Common practice.
BLOCK: Final = 0.08
#: What is thinner needs no timber: a washer does it (m).
_THIN: Final = 0.003
#: A rail is cut from a board at least this wide (m).
_LEAST_RAIL: Final = 0.055
#: Depth of the upright battens of a corner (m), and least thickness of any batten. Common practice.
CORNER_BATTEN: Final = 0.038
_BATTEN: Final = 0.035
#: A batten that is longer than its panel ends this far beyond the joists (m). Common practice.
_BEYOND: Final = 0.05


@dataclass(frozen=True)
class Carrier:
    """What holds one panel; lengths in m.

    Parameters
    ----------
    kind : str
        ``cleat``, ``plates`` (both on a wall), ``battens``, ``brackets`` (both overhead) or ``corner``.
    axis : int
        0 where the rails follow each other along u, 1 along v; they run along the other.
    rails : tuple of float
        Middles of the rails from the panel's low edge along `axis`; empty without rails.
    across, along : float
        Extent of the panel in the direction in which the rails run, and in which they follow each other.
    thickness, width : float
        Of a rail; 0 without rails.
    spacer : float
        What is left of the gap behind the rails: depth of battens and blocks; 0 where nothing is.
    batten : float
        Length of each of the two battens overhead, which cross the joists; 0 without them.
    """

    kind: str
    axis: int
    rails: tuple[float, ...]
    across: float
    along: float
    thickness: float = 0.0
    width: float = 0.0
    spacer: float = 0.0
    batten: float = 0.0

    @property
    def line(self) -> float:
        """How far below the panel's top edge the highest edge of the wall's cleat lies, m.

        Both halves are bevelled at 45 degrees: the short face of the rail ends there.
        """
        return self.width - self.thickness


def carrier_for(placement: Placement, scene: Scene | None, stock: Stock) -> Carrier | None:
    """Tell what holds a panel.

    Parameters
    ----------
    placement : Placement
        The panel.
    scene : Scene or None
        Tells on what it hangs; without it a panel hangs overhead, or where alone its build may go.
    stock : Stock
        What is sold: decides how thick and wide the rails are.

    Returns
    -------
    Carrier or None
        None for a panel without a frame, one that stands, and one in the grid of a suspended ceiling.
    """
    build, (left, low, right, high) = placement.build, placement.rectangle.bounds
    kind = _kind(placement, scene)
    if not build.frame_thickness or kind == "floor":
        return None
    if scene is not None and grid_of(scene, placement.surface) is not None and not placement.solid:
        return None
    if kind == "corner":
        return Carrier("corner", 1, (), build.outer_width, build.outer_height)
    size = (right - left, high - low)
    board = rail_board(build, stock)
    thickness = board.thickness if board else build.frame_thickness
    if not rails_fit(build.air_gap, thickness):
        axis = int(size[1] >= size[0])
        return Carrier("plates" if kind == "wall" else "brackets", axis, (), size[1 - axis], size[axis])
    width = min(board.width, RAIL_WIDTH) if board else RAIL_WIDTH
    spacer = build.air_gap - thickness
    spacer = spacer if spacer >= _THIN else 0.0
    number = rail_count(build.outer_width, build.outer_height)
    if kind == "wall":
        ends = (width / 2.0, size[1] - width / 2.0)
        return Carrier("cleat", 1, _spread(ends, number), size[0], size[1], thickness, width, spacer)
    axis = int(size[1] >= size[0])
    inset = min(INSET, 0.25 * size[axis])
    ends = (inset, size[axis] - inset)
    batten, framing = 0.0, framing_of(scene, placement.surface) if scene is not None else None
    if framing is not None:
        axis = framing.axis
        start, end = placement.rectangle.bounds[axis], placement.rectangle.bounds[axis + 2]
        points = [p - start for _, p in fixing_points(framing, placement.rectangle)]
        inset = min(INSET, 0.25 * (end - start))
        if points:
            # A rail ends with the frame: at the very edge it lies a little inside of its joist's middle.
            ends = (max(points[0], width / 2.0), min(points[-1], end - start - width / 2.0))
        else:
            # One joist or none: longer battens reach two.
            ends, batten = (inset, end - start - inset), framing.spacing + 2.0 * _BEYOND
    kind = "battens" if spacer else "brackets"
    rails, batten = _spread(ends, number), max(batten, size[axis])
    return Carrier(kind, axis, rails, size[1 - axis], size[axis], thickness, width, spacer, batten)


def _kind(placement: Placement, scene: Scene | None) -> str:
    if placement.corner is not None:
        return "corner"
    if placement.standing:
        return "floor"
    if scene is not None:
        return scene.surfaces[placement.surface].kind
    on = placement.build.on
    if "ceiling" in on:
        return "ceiling"
    return {"corner": "corner", "free-standing": "floor"}.get(on[0], "wall") if on else "wall"


def _spread(ends: tuple[float, ...], number: int) -> tuple[float, ...]:
    return (ends[0], (ends[0] + ends[1]) / 2.0, ends[1]) if number == 3 else ends


def rail_board(build: PanelBuild, stock: Stock) -> Board | None:
    """Board that rails and cleats are cut from.

    Parameters
    ----------
    build : PanelBuild
        A panel with a frame: rails are as thick as its boards.
    stock : Stock
        What is sold.

    Returns
    -------
    Board or None
        None where nothing of that thickness is sold: strips of a sheet then.
    """
    return stock.board_for(build.frame_thickness, _LEAST_RAIL)


def batten_board(depth: float, stock: Stock) -> Board | None:
    """Board that battens and blocks of a depth are ripped from.

    Parameters
    ----------
    depth : float
        From the surface to the rail, m.
    stock : Stock
        What is sold.

    Returns
    -------
    Board or None
        The narrowest that is wide enough and at least 35 mm thick, else the thickest; None where none is
        wide enough.
    """
    wide = [b for b in stock.boards if b.width > depth - 0.0005]
    stout = [b for b in wide if b.thickness >= _BATTEN]
    if stout:
        return min(stout, key=lambda b: (b.width, b.thickness))
    return max(wide, key=lambda b: (b.thickness, -b.width), default=None)
