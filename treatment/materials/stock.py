"""What the timber yard and the cloth shop sell: true sizes behind nominal names, lengths, slabs, rolls.

Sources
-------
Inch trade: American Softwood Lumber Standard PS 20, sizes of dry boards and dimension lumber (a
nominal 1 x 4 is 3/4 x 3 1/2 in); the widths other than of 1 x 6, 2 x 4 and 4 x 4 are from memory.
Metric trade: planed boards as merchants stock them, 6 mm less than the sawn width; common practice,
from memory (BS EN 336 has targets of its own for structural timber). Lengths, slabs, packs and rolls:
common practice. Ask before you buy.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final

from treatment.measures import in_feet, small_words
from treatment.units import format_imperial

_INCH: Final = 0.0254
#: A thickness this near (share) to a whole number of half inches is sold by that number.
_NOMINAL: Final = 0.03


@dataclass(frozen=True)
class Board:
    """A board as it is sold.

    Parameters
    ----------
    name : str
        Nominal size, as one asks for it (``1x4``, ``22 x 100``).
    thickness, width : float
        True size in m.
    inches : bool
        Whether its size is told in inches too.
    """

    name: str
    thickness: float
    width: float
    inches: bool = False

    @property
    def words(self) -> str:
        """Name and true size: ``board 1x4 (3/4 x 3 1/2 in, 19 x 89 mm)``."""
        inches = ""
        if self.inches:
            inches = f"{format_imperial(self.thickness)[:-3]} x {format_imperial(self.width)}, "
        return f"board {self.name} ({inches}{1000.0 * self.thickness:.0f} x {1000.0 * self.width:.0f} mm)"


@dataclass(frozen=True)
class Stock:
    """What can be bought, and how it is cut.

    Parameters
    ----------
    trade : str
        ``metric`` or ``inch``.
    boards : tuple of Board
        Any order.
    lengths : tuple of float
        Lengths in which boards are sold, m.
    kerf : float
        Width of a saw cut in m.
    trim : float
        Cut off each length to get a square, sound end, m.
    sheet : tuple of float
        Width and length of a sheet, for strips that no board is wide enough for, m.
    slabs : tuple of (float, float)
        Width and length of the slabs of wool as sold, m; the first is the one to cut from.
    packs : mapping of int to int
        Slabs in a pack by thickness in mm, where known.
    pack_depth : float
        Depth of a pack in m, from which the number of slabs follows where it is not known.
    roll : float
        Width of a roll of cloth, m.
    roll_step : float
        Cloth is sold in steps of this length, m.
    """

    trade: str
    boards: tuple[Board, ...]
    lengths: tuple[float, ...]
    kerf: float = 0.003
    trim: float = 0.010
    sheet: tuple[float, float] = (1.22, 2.44)
    slabs: tuple[tuple[float, float], ...] = ((0.6, 1.2), (24 * _INCH, 48 * _INCH))
    packs: Mapping[int, int] = field(default_factory=dict)
    pack_depth: float = 0.40
    roll: float = 1.50
    roll_step: float = 0.10

    @property
    def units(self) -> str:
        """What a person who buys here measures in: ``ft`` or ``m``."""
        return "ft" if self.trade == "inch" else "m"

    def per_pack(self, thickness: float) -> int:
        """Slabs in a pack.

        Parameters
        ----------
        thickness : float
            Of one slab, m.

        Returns
        -------
        int
            At least 1.
        """
        known = self.packs.get(round(1000.0 * thickness))
        return known or max(1, int(self.pack_depth / thickness + 1e-9))

    def board_for(self, thickness: float, depth: float) -> Board | None:
        """Narrowest board that a frame can be sawn from.

        Parameters
        ----------
        thickness : float
            Thickness that the build asks for, m; up to 3 mm more or less is taken.
        depth : float
            Depth of the frame, m: the board is at least as wide.

        Returns
        -------
        Board or None
            None when nothing sold is wide enough, or of that thickness.
        """
        fitting = [
            b for b in self.boards if abs(b.thickness - thickness) < 0.0031 and b.width > depth - 0.0005
        ]
        return min(fitting, key=lambda b: (b.width, abs(b.thickness - thickness)), default=None)


def _inch_boards() -> tuple[Board, ...]:
    """Dry sizes of PS 20, as fractions of an inch."""
    widths = {2: 1.5, 3: 2.5, 4: 3.5, 6: 5.5, 8: 7.25, 10: 9.25, 12: 11.25}
    return tuple(
        Board(f"{thick}x{n}", _INCH * true, _INCH * wide, inches=True)
        for thick, true in ((1, 0.75), (2, 1.5))
        for n, wide in widths.items()
    )


def _metric_boards() -> tuple[Board, ...]:
    return tuple(
        Board(f"{sawn} x {n}", planed / 1000.0, (n - 6) / 1000.0)
        for sawn, planed in ((22, 18), (25, 21), (47, 44))
        for n in (50, 75, 100, 125, 150, 175, 200)
    )


METRIC: Final = Stock("metric", _metric_boards(), (2.0, 2.5, 3.0))
INCH: Final = Stock(
    "inch",
    _inch_boards(),
    (96 * _INCH, 120 * _INCH),
    kerf=_INCH / 8,
    trim=_INCH / 2,
    sheet=(48 * _INCH, 96 * _INCH),
    slabs=((24 * _INCH, 48 * _INCH), (0.6, 1.2)),
    roll=60 * _INCH,
    roll_step=4.5 * _INCH,
)


def sold_words(thickness: float, units: str = "m") -> str:
    """Write the thickness of a slab or sheet as one asks for it: ``50 mm``, or ``2 in (50 mm)``.

    Parameters
    ----------
    thickness : float
        In m.
    units : {"m", "cm", "mm", "ft", "in"}
        What the person measures in.

    Returns
    -------
    str
        In inches the nearest half inch, where it is within 3 % of the thickness: slabs of 50 and 100 mm are
        sold as 2 and 4 in (common practice). What is reckoned with stands in brackets.
    """
    halves = round(thickness / (0.5 * _INCH))
    nominal = halves * 0.5 * _INCH
    if not in_feet(units) or not halves or abs(nominal / thickness - 1.0) > _NOMINAL:
        return small_words(thickness, units)
    inches = f"{halves // 2}{' 1/2' if halves % 2 else ''}" if halves > 1 else "1/2"
    return f"{inches} in ({1000.0 * thickness:.0f} mm)"


def stock_for(units: str) -> Stock:
    """Trade of a person who measures in a unit.

    Parameters
    ----------
    units : {"m", "cm", "mm", "ft", "in"}
        Unit of the scene file.

    Returns
    -------
    Stock
        `INCH` for feet and inches, else `METRIC`.
    """
    return INCH if units in {"ft", "in"} else METRIC
