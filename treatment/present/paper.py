"""Where a surface lies on a sheet: scale, direction of view, and the dimensions it needs."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from treatment.errors import PlanError
from treatment.geometry.polygon import Rectangle
from treatment.planning.plan import Placement
from treatment.present.before_walls import drawn_bounds
from treatment.present.svg import Box
from treatment.present.tape import TapeStart, tape_starts
from treatment.present.wording import is_level, surface_title
from treatment.scene.model import Scene

#: Width and height of a sheet, mm: what A4 and Letter in landscape both hold inside 8 mm margins.
SHEET: Final = (263.0, 190.0)
SCALES: Final = (10, 20, 25, 40, 50, 75, 100, 200, 500)
#: Height of the title and of the foot, mm.
TOP: Final = 19.0
FOOT: Final = 15.0
#: Pitch of dimensions: with both units on two lines and the panel's extent, or on one line without it.
PITCH: Final = {False: 8.0, True: 5.0}
#: Width of one block of the list of panels, and height of a panel's two lines in it, mm.
BLOCK: Final = 122.0
ENTRY: Final = 7.0
_HEAD, _LEFT, _RIGHT = 5.0, 8.0, 20.0
_NAMED: Final = 3.0  # for the name of another start of the tape, mm


@dataclass(frozen=True)
class Run:
    """One running dimension: from the tape's start to a panel, and the panel's own extent.

    Parameters
    ----------
    zero : float
        Wall coordinate where the tape starts, m.
    edge : str
        What is there.
    start, extent : float
        From there to the panel, and the panel's own, m; an extent of 0 is not drawn.
    ids : tuple of str
        Panels that share it.
    """

    zero: float
    edge: str
    start: float
    extent: float
    ids: tuple[str, ...]


@dataclass(frozen=True)
class Paper:
    """Where a surface lies on the sheet.

    Parameters
    ----------
    scale : int
        1 : scale.
    left, top : float
        Corner of the drawing in mm.
    bounds : tuple of float
        Of the surface in wall coordinates, m.
    across_is_u : bool
        Whether u runs across the sheet (walls) or down it (level surfaces, front wall at the top).
    flip_across, flip_down : bool
        Whether the coordinate grows to the left, and downwards.
    compact : bool
        Whether dimensions have one line each and leave the panels' extents to the list.
    list_at : {"below", "beside", "nowhere"}
        Where the list of panels stands.
    units : {"m", "cm", "mm", "ft", "in"}
        What the person measures in: its system comes first and is written larger.
    """

    scale: int
    left: float
    top: float
    bounds: tuple[float, float, float, float]
    across_is_u: bool
    flip_across: bool
    flip_down: bool
    compact: bool = False
    list_at: str = "below"
    units: str = "m"

    @property
    def box(self) -> Box:
        """Outline of the surface's bounding rectangle on paper."""
        w, h = self.extent
        return (self.left, self.top, self.left + w, self.top + h)

    @property
    def extent(self) -> tuple[float, float]:
        """Width and height on paper, mm."""
        u, v = self.bounds[2] - self.bounds[0], self.bounds[3] - self.bounds[1]
        k = 1000.0 / self.scale
        return (u * k, v * k) if self.across_is_u else (v * k, u * k)

    def across(self, value: float) -> float:
        """Place on paper of a coordinate that runs across, mm."""
        low, high = self.bounds[0 if self.across_is_u else 1], self.bounds[2 if self.across_is_u else 3]
        k = 1000.0 / self.scale
        return self.left + k * (high - value if self.flip_across else value - low)

    def down(self, value: float) -> float:
        """Place on paper of a coordinate that runs up or down, mm."""
        low, high = self.bounds[1 if self.across_is_u else 0], self.bounds[3 if self.across_is_u else 2]
        k = 1000.0 / self.scale
        return self.top + k * (value - low if self.flip_down else high - value)

    def point(self, u: float, v: float) -> tuple[float, float]:
        """Wall coordinates to paper.

        Returns
        -------
        tuple of float
            From the left and from the top of the sheet, mm.
        """
        return (self.across(u), self.down(v)) if self.across_is_u else (self.across(v), self.down(u))

    def rectangle(self, r: Rectangle) -> Box:
        """Rectangle in wall coordinates to a box on paper.

        Returns
        -------
        tuple of float
            Left, top, right and bottom on the sheet, mm.
        """
        low_u, low_v, high_u, high_v = r.bounds
        (ax, ay), (bx, by) = self.point(low_u, low_v), self.point(high_u, high_v)
        return (min(ax, bx), min(ay, by), max(ax, bx), max(ay, by))


def row_levels(rows: Sequence[Run], compact: bool) -> list[float]:
    """How far below the surface the rows of dimensions lie, with room to name each start of the tape.

    Parameters
    ----------
    rows : sequence of Run
        Those with one start follow each other.
    compact : bool
        Whether dimensions have one line each.

    Returns
    -------
    list of float
        In mm.
    """
    levels, level = [], 7.0
    for n, run in enumerate(rows):
        if n:
            level += PITCH[compact] + (_NAMED if run.zero != rows[n - 1].zero else 0.0)
        levels.append(level)
    return levels


def id_list(ids: Sequence[str]) -> str:
    """Shorten a list of panel ids: ``P1-P4, P7``.

    Parameters
    ----------
    ids : sequence of str
        Ids of a letter and a number, in any order.

    Returns
    -------
    str
        Runs of three or more are joined.
    """
    numbers = sorted(int(i[1:]) for i in ids if i[:1] == "P" and i[1:].isdigit())
    if len(numbers) != len(ids):
        return ", ".join(ids)
    groups: list[list[int]] = []
    for n in numbers:
        if groups and n == groups[-1][-1] + 1:
            groups[-1].append(n)
        else:
            groups.append([n])
    words = [f"P{g[0]}-P{g[-1]}" if len(g) > 2 else ", ".join(f"P{n}" for n in g) for g in groups]
    return ", ".join(words)


def arranged(scene: Scene, index: int, panels: Sequence[Placement]) -> tuple[Paper, list[Run], list[Run]]:
    """Choose the largest usual scale at which a surface and its dimensions fit a sheet.

    Parameters
    ----------
    scene : Scene
        The room.
    index : int
        Index of the surface.
    panels : sequence of Placement
        What hangs on it.

    Returns
    -------
    paper : Paper
        Where the surface lies.
    rows, columns : list of Run
        Dimensions across and up.

    Raises
    ------
    PlanError
        When not even the smallest scale does.
    """
    for list_at, compact, scale in _layouts():
        paper, rows, columns = _laid_out(scene, index, panels, scale, compact, list_at)
        if paper is not None:
            return paper, rows, columns
    raise PlanError(f"{surface_title(scene.surfaces[index])} is too large to be drawn on a sheet")


def _layouts() -> list[tuple[str, bool, int]]:
    """Ways to arrange a sheet, best first: a larger scale counts more than roomy dimensions."""
    ways = [("below", False), ("beside", False), ("below", True), ("beside", True)]
    listed = [(at, compact, scale) for scale in SCALES[:-2] for at, compact in ways]
    # So many panels, or so large a room, that the list must be left to the report.
    return listed + [("nowhere", True, scale) for scale in SCALES]


def _laid_out(
    scene: Scene, index: int, panels: Sequence[Placement], scale: int, compact: bool, list_at: str
) -> tuple[Paper | None, list[Run], list[Run]]:
    """Arrange a sheet in one way; no paper when it does not fit."""
    surface = scene.surfaces[index]
    level = is_level(surface)
    starts = [tape_starts(scene, index, p.rectangle) for p in panels]
    u_runs = _runs(panels, [u for u, _ in starts], lambda r: (r.u, r.width), compact)
    v_runs = _runs(panels, [v for _, v in starts], lambda r: (r.v, r.height), compact)
    rows, columns = (v_runs, u_runs) if level else (u_runs, v_runs)
    left = _LEFT + PITCH[compact] * len(columns)
    room_w = SHEET[0] - _RIGHT - left
    room_h = SHEET[1] - TOP - FOOT - max(row_levels(rows, compact), default=0.0) - 10.0
    if list_at == "beside":
        room_w -= BLOCK - _RIGHT + 12.0
        if ENTRY * len(panels) + _HEAD > SHEET[1] - TOP - FOOT:
            return None, rows, columns
    elif list_at == "below":
        room_h -= ENTRY * -(-len(panels) // 2) + _HEAD
    bounds = drawn_bounds(scene, index)
    # On a level surface the front wall is at the top: u runs down; from below, y runs to the left.
    flips = (surface.polygon.mirrored, level)
    paper = Paper(scale, left, TOP, bounds, not level, *flips, compact, list_at, scene.units)
    if paper.extent[0] > room_w or paper.extent[1] > room_h:
        return None, rows, columns
    left += max(0.0, (room_w - paper.extent[0]) / 2.0)
    return replace(paper, left=left), rows, columns


def _runs(
    panels: Sequence[Placement],
    starts: Sequence[TapeStart],
    part: Callable[[Rectangle], tuple[float, float]],
    compact: bool,
) -> list[Run]:
    found: dict[tuple[float, str, float, float], list[str]] = {}
    for p, zero in zip(panels, starts, strict=True):
        low, extent = part(p.rectangle)
        key = (
            round(zero.at, 4),
            zero.name,
            round(zero.reading(low), 4),
            0.0 if compact else round(extent, 4),
        )
        found.setdefault(key, []).append(p.id)
    return [Run(*key, tuple(ids)) for key, ids in sorted(found.items())]
