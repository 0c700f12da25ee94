"""Small moves of chosen panels that leave less disorder: of one, of twins together, of a whole row."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from treatment.bands import Array
from treatment.planning.members import grid_of
from treatment.planning.order import LINE, Bounds, Middle, aligning_moves, disorder, middle_line
from treatment.planning.problem import Problem
from treatment.planning.swaps import Pairs

#: No panel moves further than this along either coordinate (m): a row of the choice's own steps.
REACH: Final = 0.30 + 1e-6
#: Numbers of panels in the choice that move together.
_Unit = tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Move:
    """Some panels, by their number in the choice, and where they would hang.

    Parameters
    ----------
    saved : int
        By how much the disorder falls.
    far : float
        How far they move, m.
    rank : tuple of float
        Number of the first, and where it would be: the same in the mirrored room.
    places : dict
        Bounds in wall coordinates by number, m.
    """

    saved: int
    far: float
    rank: tuple[float, ...]
    places: dict[int, Bounds]

    @property
    def key(self) -> tuple[float, ...]:
        """Most order first, then the shortest way, then the panels of most benefit."""
        return (-self.saved, round(self.far, 6), *self.rank)


class TidyMoves:
    """Finds the moves; what it worked out of one surface it remembers.

    Parameters
    ----------
    problem : Problem
        The choice.
    """

    def __init__(self, problem: Problem) -> None:
        self._scene, self._middle = problem.scene, float(problem.scene.hall[:, 1].mean())
        self._lines: dict[int, Middle | None] = {}
        self._tables: dict[tuple[int, bytes], int] = {}
        #: Panels that hang already, by surface.
        self._fixed: dict[int, list[Bounds]] = {}
        for p in problem.hanging:
            if not p.solid:
                self._fixed.setdefault(p.surface, []).append(p.rectangle.bounds)

    def find(self, problem: Problem, pairs: Pairs) -> list[Move]:
        """List the moves that leave less disorder, the best first.

        Parameters
        ----------
        problem : Problem
            The choice, with the places of the panels.
        pairs : list of (site, build)
            The panels.

        Returns
        -------
        list of Move
            Each once.
        """
        hung = _Hung(problem, pairs)
        found: dict[tuple[object, ...], Move] = {}
        for unit in hung.units():
            for member, step in self._steps(hung, unit):
                places = self._moved(hung, unit, member, step)
                key = tuple((n, *(round(x, 6) for x in b)) for n, b in sorted(places.items()))
                if places and key not in found:
                    far = float(np.abs(step).sum())
                    saved = self._saved(hung, places)
                    found[key] = Move(saved, far, self._rank(hung, unit, places), places)
        return sorted((m for m in found.values() if m.saved > 0), key=lambda m: m.key)

    def _line(self, surface: int) -> Middle | None:
        if surface not in self._lines:
            self._lines[surface] = middle_line(self._scene, surface)
        return self._lines[surface]

    def _steps(self, hung: _Hung, unit: _Unit) -> Iterator[tuple[int, Array]]:
        """Which member is lined up with something, and its step along u and v, shape (2,)."""
        for member in unit:
            surface = hung.surface[member]
            others = [hung.bounds[n] for n in hung.on(surface) if n not in unit]
            others += self._fixed.get(surface, [])
            table = np.array(others).reshape(-1, 4)
            for step in aligning_moves(hung.bounds[member], table, self._line(surface), REACH):
                yield member, step
        if len(unit) == 1:
            yield from ((unit[0], step) for step in self._to_twins(hung, unit[0]))

    def _to_twins(self, hung: _Hung, panel: int) -> Iterator[Array]:
        """Steps to the image, left for right, of another panel of the same build."""
        polygon = self._scene.surfaces[hung.surface[panel]].polygon
        u, v, high_u, high_v = hung.bounds[panel]
        for other in hung.flat:
            if other == panel or hung.build[other] != hung.build[panel]:
                continue
            low = self._scene.surfaces[hung.surface[other]].polygon
            b = hung.bounds[other]
            image = low.to_room(np.array([(b[0] + b[2]) / 2.0, (b[1] + b[3]) / 2.0]))
            image = image * [1.0, -1.0, 1.0] + [0.0, 2.0 * self._middle, 0.0]
            if abs(float(polygon.height_above(image))) < 1e-6:
                step = polygon.to_wall(image) - [(u + high_u) / 2.0, (v + high_v) / 2.0]
                if LINE < np.abs(step).max() <= REACH:
                    yield step

    def _moved(self, hung: _Hung, unit: _Unit, member: int, step: Array) -> dict[int, Bounds]:
        """Where a unit's panels would hang; nothing where they would not move as they belong together."""
        polygon = self._scene.surfaces[hung.surface[member]].polygon
        way = step[0] * polygon.u_axis + step[1] * polygon.v_axis
        twins = unit == (member,) or set(unit) == {member, hung.twin[member]}
        if abs(way[1]) > 1e-9 and (not twins or hung.twin[member] == member):
            # A row with its images, or what hangs in the middle, moves neither to the left nor to the right.
            return {}
        places = {}
        for n in unit:
            own, axes = way.copy(), self._scene.surfaces[hung.surface[n]].polygon
            if n != member and twins:
                own[1] = -own[1]
            if abs(own @ axes.normal) > 1e-9:
                return {}
            du, dv = float(own @ axes.u_axis), float(own @ axes.v_axis)
            low_u, low_v, high_u, high_v = hung.bounds[n]
            moved = (low_u + du, low_v + dv, high_u + du, high_v + dv)
            places[n] = tuple(round(x, 6) for x in moved)
        return places  # type: ignore[return-value]

    def _saved(self, hung: _Hung, places: dict[int, Bounds]) -> int:
        """By how much the disorder falls."""
        before = after = 0
        for surface in sorted({hung.surface[n] for n in places}):
            before += self._disorder(surface, [hung.bounds[n] for n in hung.on(surface)])
            after += self._disorder(surface, [places.get(n, hung.bounds[n]) for n in hung.on(surface)])
        return before - after

    def _disorder(self, surface: int, panels: list[Bounds]) -> int:
        table = np.array(panels + self._fixed.get(surface, []))
        key = surface, table.tobytes()
        if key not in self._tables:
            self._tables[key] = disorder(table, self._line(surface))
        return self._tables[key]

    def _rank(self, hung: _Hung, unit: _Unit, places: dict[int, Bounds]) -> tuple[float, ...]:
        polygon, b = self._scene.surfaces[hung.surface[unit[0]]].polygon, places[unit[0]]
        x, y, z = polygon.to_room(np.array([(b[0] + b[2]) / 2.0, (b[1] + b[3]) / 2.0]))
        place = (abs(float(y) - self._middle), float(x), float(z))
        return (len(unit), unit[0], *(round(c, 6) for c in place))


class _Hung:
    """Where chosen panels hang flat, and which belong together."""

    def __init__(self, problem: Problem, pairs: Pairs) -> None:
        s = problem.sites
        self.surface = [int(s.surface[g]) for g, _ in pairs]
        self.bounds: list[Bounds] = [tuple(float(x) for x in s.rectangle[g]) for g, _ in pairs]  # type: ignore[misc]
        self.build = [b for _, b in pairs]
        self.flat = [n for n, (g, _) in enumerate(pairs) if s.across(g) is None]
        at = {pair: n for n, pair in enumerate(pairs)}
        self.twin = [at.get((int(s.mirror[g]), b), -1) for g, b in pairs]
        free = [
            n in set(self.flat) and not problem.known[g] and grid_of(problem.scene, self.surface[n]) is None
            for n, (g, _) in enumerate(pairs)
        ]
        self.free = [f and (t < 0 or free[t]) for f, t in zip(free, self.twin, strict=True)]

    def on(self, surface: int) -> list[int]:
        """Panels on one surface."""
        return [n for n in self.flat if self.surface[n] == surface]

    def units(self) -> list[_Unit]:
        """Single panels and twins, then rows of these with a common edge."""
        alone: list[_Unit] = []
        for n in range(len(self.bounds)):
            twin = self.twin[n]
            if self.free[n] and (twin in (-1, n) or n < twin):
                alone.append((n,) if twin in (-1, n) else (n, twin))
        rows: dict[_Unit, None] = {}
        for unit in alone:
            for n in unit:
                for edge in range(4):
                    beside = [m for m in self.on(self.surface[n]) if self._flush(n, m, edge)]
                    row = [u for u in alone if set(u) & set(beside)]
                    if len(row) > 1:
                        rows[tuple(sorted(m for u in row for m in u))] = None
        return [*alone, *rows]

    def _flush(self, n: int, m: int, edge: int) -> bool:
        return abs(self.bounds[n][edge] - self.bounds[m][edge]) <= LINE
