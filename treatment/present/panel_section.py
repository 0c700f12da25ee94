"""Shapes of a cut through a panel where it hangs: what lies where between wall and cloth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.sheet import PerforatedSheet
from treatment.materials.stock import Stock
from treatment.planning.carriers import CORNER_BATTEN, Carrier, batten_board
from treatment.planning.hardware import needs_wire
from treatment.planning.pieces import BACK_FOLD, BACK_MARGIN

#: Board on walls and ceilings, and how much of a stud or joist is drawn behind it (m).
BOARD: Final = 0.0125
_MEMBER: Final = 0.045
_STRAP: Final = 0.003


@dataclass(frozen=True)
class Shape:
    """One part of a cut, in the cut's own coordinates.

    Parameters
    ----------
    part : str
        What it is: a key of the legend; empty for what needs no name.
    fill : str
        ``timber``, ``sheet``, ``wool``, ``metal``, ``wall``, ``member``, or ``cloth``, ``fleece``, ``wire``
        for lines.
    points : tuple of (float, float)
        Corners, or the points of a line: along the cut from the panel's low edge, and away from the
        surface into the room, m.
    """

    part: str
    fill: str
    points: tuple[tuple[float, float], ...]

    @property
    def is_line(self) -> bool:
        """Whether it is a line, not a body."""
        return self.fill in {"cloth", "fleece", "wire"}


def section(build: PanelBuild, carrier: Carrier, stock: Stock) -> tuple[float, list[Shape]]:
    """Cut through a panel as it hangs.

    Parameters
    ----------
    build : PanelBuild
        With a frame.
    carrier : Carrier
        What holds it.
    stock : Stock
        What is sold.

    Returns
    -------
    length : float
        Of the panel in the cut, m: across the rails on a wall, along a rail overhead and across a corner.
    shapes : list of Shape
        In the order of painting.
    """
    on_wall = carrier.kind in {"cleat", "plates"}
    length = carrier.along if carrier.kind == "cleat" else carrier.across
    if carrier.kind == "plates":
        length = build.outer_height
    gap, t = (0.0 if carrier.kind == "corner" else build.air_gap), build.frame_thickness
    face, front = gap + build.thickness, gap + build.frame_depth
    shapes = _corner(length) if carrier.kind == "corner" else _surface(length, on_wall)
    shapes += [
        _box("slab", "wool", t, length - t, gap, front),
        _box("frame", "timber", 0.0, t, gap, front),
        _box("frame", "timber", length - t, length, gap, front),
    ]
    if build.sheet:
        shapes += _sheet(build.sheet, length, t, front)
    if carrier.kind == "cleat":
        shapes += _cleat(carrier, gap, length)
    elif carrier.kind == "battens":
        shapes += _battens(carrier, gap, length, stock)
    elif carrier.kind in {"plates", "brackets"}:
        shapes += _plates(carrier, gap, length)
    shapes.append(Shape("fleece", "fleece", ((BACK_MARGIN, gap), (length - BACK_MARGIN, gap))))
    if needs_wire(build, carrier):
        depth = gap if carrier.kind == "corner" else face
        shapes.append(Shape("wire", "wire", ((0.0, depth), (length, depth))))
    fold = min(BACK_FOLD, length / 4.0)
    around = ((fold, gap), (0.0, gap), (0.0, face), (length, face), (length, gap), (length - fold, gap))
    shapes.append(Shape("cloth", "cloth", around))
    return length, shapes


def _box(part: str, fill: str, a0: float, a1: float, d0: float, d1: float) -> Shape:
    return Shape(part, fill, ((a0, d0), (a1, d0), (a1, d1), (a0, d1)))


def _sheet(sheet: PerforatedSheet, length: float, frame: float, front: float) -> list[Shape]:
    """What is left of the sheet between its holes; the cut goes through a row of them."""
    inside = length - 2.0 * frame
    number = max(1, int(inside / sheet.spacing + 1e-6))
    first = frame + (inside - (number - 1) * sheet.spacing) / 2.0
    ends = [0.0]
    for k in range(number):
        middle = first + k * sheet.spacing
        ends += [middle - sheet.hole / 2.0, middle + sheet.hole / 2.0]
    ends.append(length)
    pairs = zip(ends[::2], ends[1::2], strict=True)
    return [_box("sheet", "sheet", a, b, front, front + sheet.thickness) for a, b in pairs]


def _surface(length: float, on_wall: bool) -> list[Shape]:
    over = 0.03
    return [
        _box("stud" if on_wall else "joist", "member", -over, length + over, -BOARD - _MEMBER, -BOARD),
        _box("", "wall", -over, length + over, -BOARD, 0.0),
    ]


def _cleat(carrier: Carrier, gap: float, length: float) -> list[Shape]:
    """Upper rail and cleat meet at 45 degrees; the pocket opens upwards, at the wall's side."""
    w, back, front = carrier.width, gap - carrier.thickness, gap
    joint = length - carrier.line  # highest edge of the cleat, at the panel's back
    low = joint - carrier.thickness
    hook = ((length, back), (length, front), (joint, front), (low, back))
    cleat = ((joint, front), (low, back), (joint - w, back), (joint - w, front))
    found = [
        Shape("upper rail", "timber", hook),
        Shape("cleat", "timber", cleat),
        _box("rail", "timber", 0.0, w, back, front),
    ]
    found += [
        _box("rail", "timber", r - w / 2.0, r + w / 2.0, back, front) for r in sorted(carrier.rails)[1:-1]
    ]
    if carrier.spacer:
        found.append(_box("cleat batten", "timber", joint - w, low, 0.0, carrier.spacer))
        found.append(_box("block", "timber", 0.0, w, 0.0, carrier.spacer))
    return found


def _battens(carrier: Carrier, gap: float, length: float, stock: Stock) -> list[Shape]:
    board = batten_board(carrier.spacer, stock)
    thick = min(board.thickness if board else 0.044, length / 3.0)
    low, high = max(carrier.spacer - 0.03, 0.004), gap + 0.03
    return [
        _box("rail", "timber", 0.0, length, gap - carrier.thickness, gap),
        _box("ceiling batten", "timber", 0.0, thick, 0.0, carrier.spacer),
        _box("ceiling batten", "timber", length - thick, length, 0.0, carrier.spacer),
        _box("strap", "metal", -_STRAP, 0.0, low, high),
        _box("strap", "metal", length, length + _STRAP, low, high),
    ]


def _plates(carrier: Carrier, gap: float, length: float) -> list[Shape]:
    """Plates on the upper board on a wall; brackets on two boards, and rails where there are, overhead."""
    found = []
    if carrier.rails:
        found.append(_box("rail", "timber", 0.0, length, gap - carrier.thickness, gap))
    if carrier.kind == "plates":
        return [
            _box("plate", "metal", length, length + _STRAP, 0.0, gap + 0.04),
            _box("plate", "metal", length, length + 0.035, 0.0, _STRAP),
        ]
    for a, b in ((-_STRAP, -0.035), (length + _STRAP, length + 0.035)):
        near = 0.0 if a < 0.0 else length
        found.append(_box("bracket", "metal", min(a, near), max(a, near), 0.0, gap + 0.04))
        found.append(_box("bracket", "metal", min(b, near), max(b, near), 0.0, _STRAP))
    return found


def _corner(length: float) -> list[Shape]:
    """Two walls at a right angle behind the panel, an upright batten on each."""
    apex, deep = (length / 2.0, -length / 2.0), 0.04
    walls = (
        (-0.02, 0.02), apex, (length + 0.02, 0.02), (length + 0.02 + deep, 0.02),
        (apex[0], apex[1] - deep), (-0.02 - deep, 0.02),
    )  # fmt: skip
    side = CORNER_BATTEN * 2**0.5
    return [
        Shape("", "wall", walls),
        Shape("corner batten", "timber", ((0.0, 0.0), (side, 0.0), (side / 2.0, -side / 2.0))),
        Shape(
            "corner batten",
            "timber",
            ((length, 0.0), (length - side, 0.0), (length - side / 2.0, -side / 2.0)),
        ),
    ]
