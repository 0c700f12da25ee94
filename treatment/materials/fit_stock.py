"""Shipped builds for the slabs and boards that one's shops sell: the inside of a frame is a slab as sold."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.carcass import frame_mass, rails_mass
from treatment.materials.describe import description_of
from treatment.materials.stock import METRIC, Stock

#: The tables of builds are written for this slab (m).
_TABLE: Final = METRIC.slabs[0]
_SAME: Final = 0.001
#: A slab this far (share) from that of the tables is another trade's answer to it; others are cut from.
_ALIKE: Final = 0.25
#: A face of one's own that is this near (share) to a slab as sold is meant to be one.
_NEAR: Final = 0.02
#: A sheet that is this little (in pieces) too small for one more piece gives it, a little smaller.
_ALMOST: Final = 0.05


def fit_builds(
    builds: Sequence[PanelBuild], stock: Stock, own: frozenset[str] = frozenset()
) -> tuple[PanelBuild, ...]:
    """Give builds the size of the slab that is sold, the true thickness of its boards, and their names.

    Parameters
    ----------
    builds : sequence of PanelBuild
        From the tables, and a person's own ones.
    stock : Stock
        What is sold.
    own : frozenset of str
        Ids of those whose size a person stated: it stays unless a slab as sold is within 2 % of it.

    Returns
    -------
    tuple of PanelBuild
        In the same order; what needs no change is the same object. An example price follows the area.
    """
    return tuple(_worded(_fitted(b, stock, b.id in own), stock) for b in builds)


def _worded(build: PanelBuild, stock: Stock) -> PanelBuild:
    words = description_of(build, stock.units)
    return build if words == build.description else replace(build, description=words)


def _fitted(build: PanelBuild, stock: Stock, own: bool) -> PanelBuild:
    if not build.layers and not build.frame_thickness:
        return build  # a curtain: no slab in it
    width, height = (_nearest if own else _converted)(build.width, build.height, stock)
    board = stock.board_for(build.frame_thickness, build.frame_depth) if build.frame_thickness else None
    frame = board.thickness if board else build.frame_thickness
    if build.sheet and not own:
        width, height = _cut_well(build, frame, stock)
    if max(abs(width - build.width), abs(height - build.height), abs(frame - build.frame_thickness)) < 1e-6:
        return build
    width, height = round(width, 6), round(height, 6)  # 24 times 0.0254 is not quite 0.6096
    area = width * height / build.face_area
    price = build.price if own else round(build.price * area, 2)
    fitted = replace(build, width=width, height=height, frame_thickness=frame, price=price)
    # Boards by their own dimensions; the rest, the slab above all, by the area of the face.
    return (
        replace(fitted, mass=max(build.mass - _boards(build), 0.0) * area + _boards(fitted))
        if (build.mass > 0.0)
        else fitted
    )


def _cut_well(build: PanelBuild, frame: float, stock: Stock) -> tuple[float, float]:
    """Inside of a frame whose perforated face is cut from a sheet as sold: slabs are trimmed to it."""
    inside = []
    for x, whole in zip((build.width, build.height), sorted(stock.sheet), strict=True):
        number = max(1, int(whole / (x + 2.0 * build.frame_thickness) + _ALMOST))
        piece = (whole - (number - 1) * stock.kerf) / number
        inside.append(min(x, piece - 2.0 * frame))
    return inside[0], inside[1]


def _boards(build: PanelBuild) -> float:
    frame = frame_mass(build.width, build.height, build.frame_depth, build.frame_thickness)
    sheet = build.sheet.mass(build.outer_width, build.outer_height) if build.sheet else 0.0
    return frame + sheet + rails_mass(build.width, build.height, build.air_gap, build.frame_thickness)


def _converted(width: float, height: float, stock: Stock) -> tuple[float, float]:
    """Size of a shipped build in slabs as sold, where it is a size in slabs of the tables."""
    short, long = sorted(stock.slabs[0])
    if abs(short / _TABLE[0] - 1.0) > _ALIKE or abs(long / _TABLE[1] - 1.0) > _ALIKE:
        return width, height

    def sides(x: float) -> float:
        n = round(x / _TABLE[0])
        if n < 1 or abs(x - n * _TABLE[0]) > _SAME:
            return x
        return n // 2 * long if n % 2 == 0 else n * short

    return sides(width), sides(height)


def _nearest(width: float, height: float, stock: Stock) -> tuple[float, float]:
    """The slab as sold that a face is meant to be, turned like the face; the face itself without one."""
    ways = [s for slab in stock.slabs for s in (slab, slab[::-1])]
    away = [max(abs(width / s[0] - 1.0), abs(height / s[1] - 1.0)) for s in ways]
    best = min(range(len(ways)), key=away.__getitem__)
    return ways[best] if away[best] <= _NEAR else (width, height)
