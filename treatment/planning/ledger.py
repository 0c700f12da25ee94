"""What absorbs the sound: by surface and band, before and after."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from treatment import bands
from treatment.bands import Array, frozen
from treatment.planning.furnishing import free_volume
from treatment.planning.plan import Evaluation

#: Groups in the order in which they are told and drawn.
GROUPS: Final = (
    "walls",
    "floor",
    "ceiling",
    "openings",
    "obstacles",
    "furniture and people",
    "air",
    "panels",
)
_OF_KIND: Final[Mapping[str, str]] = {
    "opening": "openings",
    "panel": "panels",
    "obstacle": "obstacles",
    "object": "furniture and people",
    "people": "furniture and people",
    "air": "air",
}
_NOTHING: Final = frozen(np.zeros(bands.COUNT))


@dataclass(frozen=True, eq=False)
class Line:
    """What one thing absorbs.

    Parameters
    ----------
    name : str
        Surface, opening, obstacle, panel, object, or ``air``.
    kind : str
        ``surface``, ``opening``, ``obstacle``, ``panel``, ``object``, ``people`` or ``air``.
    group : str
        One of `GROUPS`.
    material : str
        What it is made of; empty for the air.
    exposed : tuple of float
        Area that sound meets before and after, m2; 0 for objects and the air.
    before, after : numpy.ndarray
        Equivalent absorption area, shape (8,), m2.
    """

    name: str
    kind: str
    group: str
    material: str
    exposed: tuple[float, float]
    before: Array
    after: Array


@dataclass(frozen=True, eq=False)
class Ledger:
    """Everything that absorbs, before and after.

    Parameters
    ----------
    lines : tuple of Line
        Surfaces, openings, obstacles, objects, air, panels.
    before, after : numpy.ndarray
        Sum of the lines, shape (8,), m2: ``A + A_obj + 4 m V'`` of Sabine's formula.
    """

    lines: tuple[Line, ...]
    before: Array
    after: Array

    def share(self, line: Line, after: bool = True) -> Array:
        """Part that a line has in the whole.

        Parameters
        ----------
        line : Line
            One of `lines`.
        after : bool
            With the panels, or without.

        Returns
        -------
        numpy.ndarray
            0 to 1, shape (8,).
        """
        part, whole = (line.after, self.after) if after else (line.before, self.before)
        return np.asarray(part / np.maximum(whole, 1e-12))

    def by_group(self, after: bool = True) -> dict[str, Array]:
        """Absorption area by group.

        Parameters
        ----------
        after : bool
            With the panels, or without.

        Returns
        -------
        dict of str to numpy.ndarray
            Groups that absorb anything, in the order of `GROUPS`, shape (8,) each, m2.
        """
        return self._summed(lambda x: x.group, after, GROUPS)

    def by_part(self, after: bool = True) -> dict[str, Array]:
        """Absorption area by surface and thing, all panels as one.

        Parameters
        ----------
        after : bool
            With the panels, or without.

        Returns
        -------
        dict of str to numpy.ndarray
            By name, shape (8,) each, m2.
        """
        return self._summed(lambda x: "panels" if x.kind == "panel" else x.name, after)

    def _summed(
        self, key: Callable[[Line], str], after: bool, order: tuple[str, ...] = ()
    ) -> dict[str, Array]:
        sums: dict[str, Array] = {name: np.zeros(bands.COUNT) for name in order}
        for x in self.lines:
            sums[key(x)] = sums.get(key(x), np.zeros(bands.COUNT)) + (x.after if after else x.before)
        return {k: v for k, v in sums.items() if v.any()}


def ledger_of(before: Evaluation, after: Evaluation | None = None) -> Ledger:
    """Add up what absorbs.

    Parameters
    ----------
    before : Evaluation
        The room as it is.
    after : Evaluation, optional
        The same room with panels; default the same as before.

    Returns
    -------
    Ledger
        By Sabine's area, ``S alpha`` of each piece: the formulas differ in what they make of it. The
        faces of an obstacle are one line. A panel takes its area from the surface behind it; in bands in
        which that surface absorbs more, its value holds through the panel and is the surface's own.
    """
    now = after or before
    was, then = _boundary(before), _boundary(now)
    lines = []
    for key in dict.fromkeys((*was, *then)):
        a, b = was.get(key), then.get(key)
        some = b or a
        assert some is not None  # every key is from one of the two
        lines.append(
            Line(
                some.name,
                some.kind,
                some.group,
                some.material,
                (a.exposed if a else 0.0, b.exposed if b else 0.0),
                a.area if a else _NOTHING,
                b.area if b else _NOTHING,
            )
        )
    lines += [
        Line(o.name, o.kind, _OF_KIND[o.kind], o.material, (0.0, 0.0), area, area)
        for o in before.scene.objects
        for area in (frozen(o.count * o.area),)
    ]
    air = [frozen(4.0 * e.scene.air.power_attenuation() * free_volume(e.scene)) for e in (before, now)]
    lines.append(Line("air", "air", "air", "", (0.0, 0.0), air[0], air[1]))
    # Panels last, on top of what was there.
    lines.sort(key=lambda x: x.kind == "panel")
    return Ledger(
        tuple(lines),
        frozen(np.sum([x.before for x in lines], axis=0)),
        frozen(np.sum([x.after for x in lines], axis=0)),
    )


@dataclass(eq=False)
class _Piece:
    """What one thing of the boundary absorbs in one state."""

    name: str
    kind: str
    group: str
    material: str
    exposed: float
    area: Array


def _boundary(evaluation: Evaluation) -> dict[tuple[str, str], _Piece]:
    """Rows of an evaluation by kind and name; the sides of an obstacle or a standing panel are one."""
    found: dict[tuple[str, str], _Piece] = {}
    for i, row in enumerate(evaluation.rows):
        kind, group = row.kind, _OF_KIND.get(row.kind, "walls")
        if i < len(evaluation.scene.surfaces) and kind == "surface":
            surface = evaluation.scene.surfaces[i]
            kind = "obstacle" if surface.obstacle else "surface"
            ways = {"floor": "floor", "ceiling": "ceiling"}
            group = _OF_KIND.get(kind) or ways.get(surface.kind, "walls")
        area = row.area * row.absorption
        if row.borrowed.any():
            # The wall goes on absorbing behind a panel that lets its bands through.
            wall = evaluation.scene.surfaces[row.surface]
            behind = found["obstacle" if wall.obstacle else "surface", wall.name]
            behind.area = frozen(behind.area + np.where(row.borrowed, area, 0.0))
            area = np.where(row.borrowed, 0.0, area)
        piece = found.get((kind, row.name))
        if piece is None:
            found[kind, row.name] = _Piece(row.name, kind, group, row.material, row.area, frozen(area))
        else:
            piece.exposed += row.area
            piece.area = frozen(piece.area + area)
            if row.material not in piece.material.split(", "):
                piece.material += f", {row.material}"
    return found
