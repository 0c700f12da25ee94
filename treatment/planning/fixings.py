"""How many fixings a panel needs, and what each must be rated for.

A factor of five on the rated load, two independent fixings overhead, and fixing into the structure
are common practice; local building rules decide.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.carcass import rail_count
from treatment.planning.pieces import BACK_FOLD, BACK_MARGIN, BARE

#: Rated load over mass. Common practice.
FACTOR: Final = 5.0
#: Ratings are sold in steps of about this (kg).
_STEP: Final = 5.0
#: Cloth and fleece as cut, with staples and glue, kg/m2: open-weave cloth weighs 0.2 to 0.4. Common practice.
_CLOTH: Final = 0.4


@dataclass(frozen=True)
class Fixing:
    """Fixings of one panel.

    Parameters
    ----------
    count : int
        How many.
    rating : float or None
        What each must be rated for at least, kg, in steps of 5 kg; None while the mass is not known.
    overhead : bool
        Whether a head can be below all of it.
    """

    count: int
    rating: float | None
    overhead: bool


def cloth_mass(build: PanelBuild) -> float:
    """Mass of the cloth and the back fleece of a panel.

    Parameters
    ----------
    build : PanelBuild
        What hangs there.

    Returns
    -------
    float
        kg, of both as they are cut (`treatment.planning.pieces`); a mass that was written for the build may
        hold them already, which errs on the safe side.
    """
    area = 0.0
    for margin, there in (
        (build.thickness + BACK_FOLD, build.facing not in BARE),
        (-BACK_MARGIN, build.frame_thickness > 0.0),
    ):
        if there:
            area += (build.outer_width + 2.0 * margin) * (build.outer_height + 2.0 * margin)
    return _CLOTH * area


def fixing_for(build: PanelBuild, kind: str) -> Fixing | None:
    """Fixings of a panel on a kind of surface.

    Parameters
    ----------
    build : PanelBuild
        What hangs there.
    kind : str
        ``wall``, ``ceiling`` (level or sloping overhead) or ``floor``.

    Returns
    -------
    Fixing or None
        On a wall the fixings share five times the mass, cloth and fleece included, which the mass of a build
        leaves out. Overhead each of them is rated for five times the whole of it, so that any one may fail.
        None for what stands on the floor, and for a panel without a frame on a wall, which hangs as its
        description says.
    """
    if kind == "floor" or (kind == "wall" and not build.frame_thickness):
        return None
    overhead = kind == "ceiling"
    more = rail_count(build.outer_width, build.outer_height) - 2  # one point in 0.6 to 0.7 m
    count = (4 + 2 * more) if overhead else (2 + more)
    if not build.mass > 0.0:
        return Fixing(count, None, overhead)
    load = FACTOR * (build.mass + cloth_mass(build)) / (1 if overhead else count)
    return Fixing(count, _STEP * math.ceil(load / _STEP - 1e-9), overhead)
