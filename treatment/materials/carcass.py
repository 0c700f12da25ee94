"""Timber of a panel: the frame round the slab and the rails across its back, as masses.

Common practice: boards on edge go round the slab; where there is a gap behind, rails lie flat across the
back of the frame, and what carries the panel holds on to them.
"""

from __future__ import annotations

from typing import Final

TIMBER_DENSITY: Final = 500.0  # kg/m3, softwood frame boards; common practice
BOARD_DENSITY: Final = 600.0  # kg/m3, plywood; common practice
#: Width of the rails that a mass is reckoned with (m): of the board that is usual for them.
RAIL_WIDTH: Final = 0.07
#: A panel longer than this gets a third rail and a further pair of fixings (m). Common practice.
LONG: Final = 1.3
#: A gap may be this much smaller than a rail is thick (m).
_PLAY: Final = 0.0015


def frame_mass(width: float, height: float, thickness: float, frame_thickness: float) -> float:
    """Mass of the frame boards that go round a slab.

    Parameters
    ----------
    width, height : float
        Slab in m.
    thickness : float
        Depth of the boards in m.
    frame_thickness : float
        Thickness of the boards in m.

    Returns
    -------
    float
        In kg, softwood of `TIMBER_DENSITY`.
    """
    outer = (width + 2.0 * frame_thickness) * (height + 2.0 * frame_thickness)
    return (outer - width * height) * thickness * TIMBER_DENSITY


def rails_fit(air_gap: float, frame_thickness: float) -> bool:
    """Tell whether rails have room behind a frame.

    Parameters
    ----------
    air_gap : float
        Behind the panel, m.
    frame_thickness : float
        Of the boards of frame and rails, m; 0 for a panel without a frame.
    """
    return frame_thickness > 0.0 and air_gap >= frame_thickness - _PLAY


def rail_count(width: float, height: float) -> int:
    """Number of rails across the back.

    Parameters
    ----------
    width, height : float
        Over the frame, m.

    Returns
    -------
    int
        Two; three where a side is longer than `LONG`.
    """
    return 3 if max(width, height) > LONG else 2


def rails_mass(width: float, height: float, air_gap: float, frame_thickness: float) -> float:
    """Mass of the rails across the back of a frame.

    Parameters
    ----------
    width, height : float
        Slab in m.
    air_gap : float
        Behind the panel, m.
    frame_thickness : float
        Of the boards, m.

    Returns
    -------
    float
        In kg; 0 where there is no room for rails. They are taken as long as the longer side: which way they
        run is known only where the panel hangs, and no load shall be told too small.
    """
    if not rails_fit(air_gap, frame_thickness):
        return 0.0
    outer = [x + 2.0 * frame_thickness for x in (width, height)]
    return rail_count(*outer) * max(outer) * RAIL_WIDTH * frame_thickness * TIMBER_DENSITY
