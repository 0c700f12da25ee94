"""Further places for a choice that is stated already: of one build each, legal like all others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from treatment.geometry.boxes import Boxes, boxes_on
from treatment.planning.candidates import Around, Sites, mirrors
from treatment.planning.early import Coverage, coverage
from treatment.planning.kept import depth_on
from treatment.planning.places import legal_region, may_lie
from treatment.planning.problem import Problem, clear_of_twins
from treatment.planning.walkways import passages

#: Places this near to each other are one (m).
_SAME = 1e-6
#: Surface, bounds in wall coordinates, build: a place that is wished for.
Wish = tuple[int, tuple[float, float, float, float], int]


class MorePlaces:
    """Adds places to a problem; what they keep clear of is listed once.

    Parameters
    ----------
    problem : Problem
        The choice.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._around = Around.of(problem.scene, problem.hanging)
        # A wall with panels across its corners alone has no place of its own to go by.
        flat = np.unique(problem.sites.surface[_flat(problem.sites)])
        self._regions = {i: legal_region(problem.scene, i) for i in flat}
        self._known: dict[tuple[int, ...], int] = {}

    def add(self, wishes: Sequence[Wish]) -> list[int]:
        """Add places to the problem, and their images on the other side of the room where these are legal.

        Parameters
        ----------
        wishes : sequence of Wish
            On surfaces that panels hang on.

        Returns
        -------
        list of int
            Index of each among the sites of `problem`, which is a new one then; -1 where the place is not
            legal.
        """
        keys = [_key(*w) for w in wishes]
        images = [self._image(w) for w in wishes]
        fresh = {_key(*w): w for w in (*wishes, *(i for i in images if i is not None))}
        fresh = {k: w for k, w in fresh.items() if k not in self._known}
        if fresh:
            self._extend(list(fresh.values()), list(fresh))
        return [self._known[k] for k in keys]

    def _image(self, wish: Wish) -> Wish | None:
        """The same place on the other side of the room; None where no surface is there."""
        scene, (surface, bounds, build) = self.problem.scene, wish
        corners = scene.surfaces[surface].polygon.to_room(np.array([bounds[:2], bounds[2:]]))
        corners[:, 1] = 2.0 * float(scene.hall[:, 1].mean()) - corners[:, 1]
        normal = scene.surfaces[surface].polygon.normal * np.array([1.0, -1.0, 1.0])
        for i in self._regions:
            polygon = scene.surfaces[i].polygon
            if np.allclose(polygon.normal, normal, atol=1e-6) and np.allclose(
                polygon.height_above(corners), 0.0, atol=1e-6
            ):
                on = polygon.to_wall(corners)
                low, high = on.min(axis=0), on.max(axis=0)
                return int(i), (float(low[0]), float(low[1]), float(high[0]), float(high[1])), build
        return None

    def _extend(self, wishes: list[Wish], keys: list[tuple[int, ...]]) -> None:
        sites, builds = self.problem.sites, self.problem.builds
        allowed = self.problem.allowed.copy()
        fresh: list[Wish] = []
        for key, wish, legal in zip(keys, wishes, self._legal(wishes), strict=True):
            at = self._there(wish) if legal else -1
            self._known[key] = at
            if at >= 0 and not allowed[at, wish[2]]:
                # A place that is listed for flatter builds stays one of theirs.
                deep = depth_on(self.problem.scene, wish[0], builds[wish[2]]) > sites.depth[at] + 1e-9
                self._known[key] = -1 if deep else at
                allowed[at, wish[2]] = not deep
            elif legal and at < 0:
                self._known[key] = len(sites) + len(fresh)
                fresh.append(wish)
        self.problem = replace(self.problem, allowed=allowed)
        if fresh:
            self.problem = _joined(self.problem, fresh)

    def _legal(self, wishes: Sequence[Wish]) -> NDArray[np.bool_]:
        scene, good = self.problem.scene, np.zeros(len(wishes), dtype=bool)
        for i, build in sorted({(w[0], w[2]) for w in wishes}):
            mine = np.array([n for n, w in enumerate(wishes) if (w[0], w[2]) == (i, build)])
            table = np.array([wishes[n][1] for n in mine])
            depth = depth_on(scene, i, self.problem.builds[build])
            inside = may_lie(scene, i, self._regions[i], table)
            inside[inside] = self._around.clear(scene, i, table[inside], depth)
            good[mine] = inside
        return good

    def _there(self, wish: Wish) -> int:
        """Site of the problem at the same place; -1 where there is none."""
        s = self.problem.sites
        near = np.abs(s.rectangle - np.array(wish[1])).max(axis=1) < _SAME
        same = np.flatnonzero(_flat(s) & (s.surface == wish[0]) & near)
        return int(same[0]) if len(same) else -1


def _key(surface: int, bounds: Sequence[float], build: int) -> tuple[int, ...]:
    return (surface, build, *(round(x / _SAME) for x in bounds))


def _joined(problem: Problem, wishes: Sequence[Wish]) -> Problem:
    """The problem with further sites behind its own."""
    s, scene, count = problem.sites, problem.scene, len(problem.sites)
    surface = np.array([w[0] for w in wishes], dtype=np.intp)
    table, build = np.array([w[1] for w in wishes]), np.array([w[2] for w in wishes], dtype=np.intp)
    frame = np.array([problem.builds[b].frame_thickness for b in build])
    depth = np.array([depth_on(scene, i, problem.builds[b]) for i, b in zip(surface, build, strict=True)])
    bodies, ways = [], []
    for i, row, deep in zip(surface, table, depth, strict=True):
        bodies.append(boxes_on(scene.surfaces[i].polygon, row[None], float(deep)))
        ways.append(passages(scene, int(i), row[None], float(deep)))
    more = Sites(
        surface,
        table,
        table + frame[:, None] * np.array([1.0, 1.0, -1.0, -1.0]),
        Boxes.joined(bodies),
        depth,
        Boxes.joined(ways),
        np.full(len(wishes), -1, dtype=np.intp),
    )
    allowed = np.zeros((len(wishes), len(problem.builds)), dtype=bool)
    allowed[np.arange(len(wishes)), build] = True
    # What a panel adds depends on its surface alone.
    first = np.array([np.flatnonzero((s.surface == i) & _flat(s))[0] for i in surface])
    sites = Sites(
        np.concatenate([s.surface, more.surface]),
        np.concatenate([s.rectangle, more.rectangle]),
        np.concatenate([s.face, more.face]),
        Boxes.joined([s.body, more.body]),
        np.concatenate([s.depth, more.depth]),
        Boxes.joined([s.passage, more.passage]),
        np.concatenate([s.mirror, more.mirror]),
        None if s.corner is None else np.concatenate([s.corner, np.full(len(wishes), -1)]),
    )
    flat = np.flatnonzero(_flat(sites))
    twins = mirrors(scene, sites.surface[flat], sites.rectangle[flat])
    mirror = sites.mirror.copy()
    mirror[flat] = np.where(twins >= 0, flat[twins], -1)
    sites = replace(sites, mirror=mirror)
    apart = np.concatenate([problem.apart, np.zeros(len(wishes), dtype=bool)])
    changed = np.flatnonzero(np.concatenate([s.mirror != mirror[:count], np.ones(len(wishes), dtype=bool)]))
    apart[changed] = clear_of_twins(sites, changed)
    return replace(
        problem,
        sites=sites,
        cover=_more_cover(problem.cover, coverage(scene, problem.early, more), count),
        allowed=np.concatenate([problem.allowed, allowed]),
        added_area=np.concatenate([problem.added_area, problem.added_area[first]]),
        apart=apart,
        known=np.concatenate([problem.known, np.zeros(len(wishes), dtype=bool)]),
    )


def _flat(sites: Sites) -> NDArray[np.bool_]:
    return np.ones(len(sites), dtype=bool) if sites.corner is None else sites.corner < 0


def _more_cover(own: Coverage, more: Coverage, sites: int) -> Coverage:
    """Shares of further sites behind those of `sites` ones."""
    groups = len(own.group_site)
    return Coverage(
        np.concatenate([own.site, more.site + sites]),
        np.concatenate([own.bounce, more.bounce]),
        np.concatenate([own.share, more.share]),
        np.concatenate([own.group, more.group + groups]),
        np.concatenate([own.group_site, more.group_site + sites]),
        np.concatenate([own.group_arrival, more.group_arrival]),
    )
