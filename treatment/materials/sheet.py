"""A perforated board before the slab of a panel: what it is made of, and what of it is open."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final

from treatment.materials.table import Problems

#: Lowest and highest, SI. Holes of less than 2 mm and shares beyond the one of the published row are not what
#: the prediction was compared with (docs/method/resonant.md).
_LIMITS: Final = {
    "thickness": (0.001, 0.030, "m"),
    "hole": (0.002, 0.030, "m"),
    "spacing": (0.003, 0.300, "m"),
    "density": (0.0, 8000.0, "kg/m3"),
}
#: The end correction is meant for less than about this; up to the other one published row was compared.
FEW_HOLES: Final = 0.10
MOST_HOLES: Final = 0.20
#: A hole comes out this much wider or narrower, and a grid of holes is drawn no better (m). Common practice.
HOLE_TOLERANCE: Final = 0.001

_NUMBER: Final = r"([0-9.]+)"
_WORDS: Final = re.compile(
    rf"([a-z][a-z -]*?)\s+{_NUMBER}\s*mm(?:\s*@\s*{_NUMBER})?\s*,"
    rf"\s*holes\s+{_NUMBER}\s*mm\s+at\s+{_NUMBER}\s*mm(\s*,\s*staggered)?(\s*,\s*drilled)?"
)


def open_share(hole_diameter: float, spacing: float, *, staggered: bool = False) -> float:
    """Share of a sheet that is round holes.

    Parameters
    ----------
    hole_diameter, spacing : float
        Diameter, and distance of neighbours from centre to centre, m.
    staggered : bool
        Rows are shifted by half a spacing, so that each hole has six neighbours.

    Returns
    -------
    float
        ``pi/4 (d/b)**2``, or ``pi/(2 sqrt(3)) (d/b)**2`` when staggered (handbooks: 0.9).
    """
    return (math.pi / (2.0 * math.sqrt(3.0)) if staggered else math.pi / 4.0) * (hole_diameter / spacing) ** 2


@dataclass(frozen=True)
class PerforatedSheet:
    """A rigid board with round holes, screwed to the front of a panel's frame.

    Parameters
    ----------
    thickness : float
        In m; part of the panel's body.
    hole : float
        Diameter of the holes, m.
    spacing : float
        From the middle of a hole to that of its neighbour, m.
    staggered : bool
        Each hole has six neighbours, not four.
    density : float
        Of the board without holes, kg/m3; 0 when not known.
    board : str
        What it is made of (``hardboard``).
    drilled : bool
        Whether one drills the holes, in a plain board; else the board is bought with its holes.
    """

    thickness: float
    hole: float
    spacing: float
    staggered: bool = False
    density: float = 0.0
    board: str = "hardboard"
    drilled: bool = False

    @property
    def open_share(self) -> float:
        """Share of its area that is holes, 0 to 1."""
        return open_share(self.hole, self.spacing, staggered=self.staggered)

    @property
    def words(self) -> str:
        """``hardboard 3 mm, holes 5 mm at 25 mm``: as a table of builds writes it, without the density."""
        return f"{self.board} {1000.0 * self.thickness:g} mm, {self.grid}"

    @property
    def grid(self) -> str:
        """``holes 5 mm at 25 mm``: in millimetres everywhere, since an eighth of an inch tells no drill."""
        rows = ", staggered" if self.staggered else ""
        return f"holes {1000.0 * self.hole:g} mm at {1000.0 * self.spacing:g} mm{rows}"

    def holes(self, width: float, height: float) -> int:
        """Number of holes over a face, about.

        Parameters
        ----------
        width, height : float
            Of the slab behind, m.
        """
        return round(self.open_share * width * height / (0.25 * math.pi * self.hole**2))

    def mass(self, width: float, height: float) -> float:
        """Mass of a piece, the holes taken out, kg; 0 when the density is not known.

        Parameters
        ----------
        width, height : float
            Of the piece, m.
        """
        return self.density * self.thickness * width * height * (1.0 - self.open_share)


def parse_sheet(text: str) -> PerforatedSheet | None:
    """Read a perforated sheet as the table of builds writes it.

    Parameters
    ----------
    text : str
        ``hardboard 3 mm @ 900, holes 5 mm at 25 mm``: board, thickness, density in kg/m3 (which may be left
        out), diameter and spacing; then ``, staggered`` and ``, drilled`` where it is so.

    Returns
    -------
    PerforatedSheet or None
        None for an empty text.

    Raises
    ------
    ValueError
        When it cannot be read.
    """
    if not text:
        return None
    match = _WORDS.fullmatch(text.strip())
    if match is None:
        raise ValueError(text.strip())
    board, thickness, density, hole, spacing, staggered, drilled = match.groups()
    return PerforatedSheet(
        float(thickness) / 1000.0,
        float(hole) / 1000.0,
        float(spacing) / 1000.0,
        staggered=bool(staggered),
        density=float(density or 0.0),
        board=board,
        drilled=bool(drilled),
    )


def check_sheet(sheet: PerforatedSheet, problems: Problems) -> None:
    """Refuse a sheet that cannot be, or of which the prediction knows nothing.

    Parameters
    ----------
    sheet : PerforatedSheet
        Any values.
    problems : Problems
        Where what is wrong is added.
    """
    before = len(problems.found)
    for key, (low, high, unit) in _LIMITS.items():
        value = getattr(sheet, key)
        if math.isfinite(value) and low <= value <= high:
            continue
        if unit == "m":
            words = f"{1000.0 * value:g} mm is outside {1000.0 * low:g} to {1000.0 * high:g} mm"
        else:
            words = f"{value:g} is outside {low:g} to {high:g} {unit}"
        problems.add(f"perforated.{key}: {words}", "check the unit")
    if not (sheet.board.strip() and sheet.board.isprintable()):
        problems.add("perforated.board: no plain text", 'say what the board is: "hardboard"')
    if len(problems.found) > before:
        return
    if sheet.hole >= sheet.spacing:
        problems.add(
            f"perforated.hole: holes of {1000.0 * sheet.hole:g} mm at {1000.0 * sheet.spacing:g} mm run into "
            "each other",
            "spacing is from the middle of a hole to the middle of the next",
        )
    elif sheet.open_share > MOST_HOLES:
        problems.add(
            f"perforated: {100.0 * sheet.open_share:.0f} % of it is open, more than the "
            f"{100.0 * MOST_HOLES:.0f} % that the prediction was compared with",
            "smaller holes or a wider spacing; a sheet so open hardly changes the wool: leave it out",
        )
