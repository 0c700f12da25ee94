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
        faces of an obstacle are one line. A panel takes its area from the surface behind it.
    """
    scene, now = before.scene, after or before
    found: dict[tuple[str, str], list[Line]] = {}
    count = len(scene.surfaces)
    for i, row in enumerate(now.rows[:count]):
        surface = scene.surfaces[i]
        kind = "obstacle" if surface.obstacle else "surface"
        group = {"floor": "floor", "ceiling": "ceiling"}.get(surface.kind, "walls")
        was = before.rows[i]
        line = Line(
            row.name,
            kind,
            _OF_KIND.get(kind, group),
            row.material,
            (was.area, row.area),
            frozen(was.area * was.absorption),
            frozen(row.area * row.absorption),
        )
        found.setdefault((kind, row.name), []).append(line)
    lines = [_as_one(parts) for parts in found.values()]
    nothing = frozen(np.zeros(bands.COUNT))
    panels: list[Line] = []
    for row in now.rows[count:]:
        area = frozen(row.area * row.absorption)
        is_panel = row.kind == "panel"
        line = Line(
            row.name,
            row.kind,
            _OF_KIND[row.kind],
            row.material,
            (0.0 if is_panel else row.area, row.area),
            nothing if is_panel else area,
            area,
        )
        (panels if is_panel else lines).append(line)
    for o in scene.objects:
        area = frozen(o.count * o.area)
        lines.append(Line(o.name, o.kind, _OF_KIND[o.kind], o.material, (0.0, 0.0), area, area))
    air = frozen(4.0 * scene.air.power_attenuation() * free_volume(scene))
    lines.append(Line("air", "air", "air", "", (0.0, 0.0), air, air))
    lines += panels
    return Ledger(
        tuple(lines),
        frozen(np.sum([x.before for x in lines], axis=0)),
        frozen(np.sum([x.after for x in lines], axis=0)),
    )


def _as_one(parts: list[Line]) -> Line:
    """Pieces of one name as one line."""
    if len(parts) == 1:
        return parts[0]
    first = parts[0]
    return Line(
        first.name,
        first.kind,
        first.group,
        ", ".join(dict.fromkeys(p.material for p in parts)),
        (sum(p.exposed[0] for p in parts), sum(p.exposed[1] for p in parts)),
        frozen(np.sum([p.before for p in parts], axis=0)),
        frozen(np.sum([p.after for p in parts], axis=0)),
    )
