"""What one reads off a tape: where it starts, in words, and how far it is from there.

Every output that tells a person where something goes takes its distances from here, so that checklist,
hanging sheet, drawings, report and tables say the same number from the same edge.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely

from treatment.geometry.polygon import Rectangle
from treatment.geometry.tape import TapeEnd, tape_end
from treatment.measures import place_words
from treatment.present.wording import is_level, is_sloped, surface_words
from treatment.scene.model import Scene, Surface
from treatment.units import IMPERIAL, format_imperial, format_metric

#: What a tape and a pencil hold, m.
STEP: Final = 0.005
#: A point this near to a surface belongs to it (m).
_TOUCHING: Final = 1e-3
#: A wall under a slope that is no higher than this is a knee wall (m). Common practice.
_KNEE: Final = 1.5


@dataclass(frozen=True)
class TapeStart:
    """Where a tape starts.

    Parameters
    ----------
    at : float
        Wall coordinate of its start, m: what to take off a wall coordinate to get a reading.
    edge : str
        What is there: ``left wall``, ``fold with slope-left``, ``face of the soffit``.
    manner : str
        How the tape lies: ``up the slope``, ``along the panel's lower edge``, or empty.
    """

    at: float
    edge: str
    manner: str = ""

    @property
    def words(self) -> str:
        """Phrase after a distance: ``from the left wall``, ``up the slope from the fold over ...``."""
        if self.manner.startswith("along"):
            return f"from the {self.edge}, {self.manner}"
        return f"{self.manner} from the {self.edge}".strip()

    @property
    def name(self) -> str:
        """The edge with the manner behind it, for a cell of a table: ``fold over ..., up the slope``."""
        return f"{self.edge}, {self.manner}" if self.manner else self.edge

    def reading(self, coordinate: float) -> float:
        """Distance from the start to a wall coordinate.

        Parameters
        ----------
        coordinate : float
            In m.

        Returns
        -------
        float
            In m; zero where rounding would make it a little less.
        """
        away = coordinate - self.at
        return 0.0 if abs(away) < 1e-6 else away


def tape(metres: float, units: str = "m") -> str:
    """Write a length as one marks it.

    Parameters
    ----------
    metres : float
        In m.
    units : {"m", "cm", "mm", "ft", "in"}
        What the person measures in.

    Returns
    -------
    str
        Feet and inches to the nearest 1/8 in, or metres to the nearest 5 mm.
    """
    return format_imperial(metres) if units in {"ft", "in"} else format_metric(metres, STEP)


def tape_pair(metres: float, units: str = "m") -> tuple[str, str]:
    """Write a length as one marks it in both systems, the one that a person measures in first.

    Parameters
    ----------
    metres : float
        In m.
    units : {"m", "cm", "mm", "ft", "in"}
        What the person measures in.

    Returns
    -------
    tuple of str
        Each to what its tape holds.
    """
    both = tape(metres, "m"), tape(metres, "ft")
    return both[::-1] if units in IMPERIAL else both


def both_tapes(metres: float, units: str = "m") -> str:
    """As `tape_pair`, for a sentence: ``1.25 m (4 ft 1 1/4 in)``.

    Parameters
    ----------
    metres : float
        In m.
    units : {"m", "cm", "mm", "ft", "in"}
        What the person measures in.

    Returns
    -------
    str
        The other system in brackets.
    """
    first, second = tape_pair(metres, units)
    return f"{first} ({second})"


def tape_starts(scene: Scene, index: int, rectangle: Rectangle | None = None) -> tuple[TapeStart, TapeStart]:
    """Where the tape starts for u and for v.

    Parameters
    ----------
    scene : Scene
        The room.
    index : int
        Index of the surface.
    rectangle : Rectangle, optional
        What is to be marked there, in wall coordinates; default the whole surface.

    Returns
    -------
    tuple of TapeStart
        The edge that a tape meets from the rectangle towards lower u, and towards lower v: the front wall
        and the floor on the left wall of a box.
    """
    first, second = (_start(scene, index, rectangle, axis) for axis in (0, 1))
    return first, second


def _start(scene: Scene, index: int, rectangle: Rectangle | None, axis: int) -> TapeStart:
    own = scene.surfaces[index]
    end = tape_end(own.polygon, rectangle, axis)
    edge = _edge_words(scene, index, end, axis)
    manner = "up the slope" if axis == 1 and is_sloped(own) else ""
    if not end.square and rectangle is not None:
        lower = "first" if is_level(own) else "lower"
        manner = f"along the panel's {'near' if axis == 1 else lower} edge"
    return TapeStart(end.at, edge, manner)


def _edge_words(scene: Scene, index: int, end: TapeEnd, axis: int) -> str:
    own = scene.surfaces[index]
    flat = (end.at, end.across) if axis == 0 else (end.across, end.at)
    point = own.polygon.to_room(flat)
    coplanar = ""
    room = scene.enclosure
    off = np.abs(((point - room.origins) * room.normals).sum(axis=1))
    for i in np.flatnonzero(off <= _TOUCHING).tolist():
        other = scene.surfaces[i]
        p = other.polygon
        if i == index:
            continue
        if p.region.distance(shapely.Point(p.to_wall(point))) > _TOUCHING:
            continue
        if abs(float(p.normal @ own.polygon.normal)) <= 0.9999:
            return _met_words(own, other, axis)
        coplanar = coplanar or _joint_words(own, other)
    return coplanar or f"edge at {place_words(point, scene.units)}"


def _joint_words(own: Surface, other: Surface) -> str:
    """Name the line where two surfaces in one plane meet."""
    if own.recess != other.recess:
        return f"mouth of the {other.recess or own.recess}"
    return f"joint with {other.obstacle or surface_words(other)}"


def _met_words(own: Surface, other: Surface, axis: int) -> str:
    """Name the edge where two surfaces meet, as one finds it from the first."""
    if other.recess and other.recess != own.recess:
        return f"edge of the {other.recess}"
    if other.obstacle and other.obstacle != own.obstacle:
        up = float(other.polygon.normal[2])
        side = "top" if up > 0.7 else "underside" if up < -0.7 else "face"
        return f"{side} of the {other.obstacle}"
    words = surface_words(other)
    if own.kind == "ceiling" and other.kind == "ceiling":
        return f"fold with {words}"
    if own.kind == "ceiling" and is_sloped(own) and axis == 1:
        low, high = other.polygon.bounds[1::2]
        knee = other.kind == "wall" and high - low <= _KNEE and words.endswith(" wall")
        return f"fold over the {words[:-5]} knee wall" if knee else f"fold over the {words}"
    return words
