"""What works where nothing may hang, worked out: a panel right beside, and one at the other bounce."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from treatment import bands
from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.candidates import Sites, find_sites
from treatment.planning.gains import EVEN_SHARE
from treatment.planning.part_room import Part
from treatment.planning.patches import patches_of
from treatment.planning.plan import Evaluation, Indices, Placement
from treatment.planning.seen import within
from treatment.scene.model import Scene

#: What makes these reflections weaker by less than this is not offered: beside, at the other bounce (dB).
_BESIDE_WORTH: Final = 0.5
_OTHER_WORTH: Final = 1.0
#: From so much on it is called a cure (dB).
_CURE: Final = 6.0
#: Other surfaces that are tried, those with most bounces first.
_MOST_TRIED: Final = 2
#: Bands by which the build of an offer is chosen, 250 Hz to 4 kHz: thin felt only dulls a reflection.
EVEN: Final = bands.band_slice(250, 4000)
#: Name of what is only offered.
OFFERED: Final = "offered"


class Neighbours:
    """Legal places beside the panels of a plan, listed once for all blocked places.

    Parameters
    ----------
    scene : Scene
        The room, without standing panels of its own.
    after : Evaluation
        With all panels of the plan.
    """

    def __init__(self, scene: Scene, after: Evaluation) -> None:
        self._scene, self._after = scene, after
        hung = [b for b in scene.builds if {"wall", "ceiling"} & set(b.on) and scene.limits.suit(b)]
        middle, high = bands.band_index(500), bands.band_index(2000)
        even = [b for b in hung if b.material.capped[middle] >= EVEN_SHARE * b.material.capped[high]]
        self._builds = even or hung
        self._sites: Sites | None = None

    @property
    def _places(self) -> Sites:
        if self._sites is None:
            self._sites = find_sites(self._scene, (), self._builds, self._after.placements)
        return self._sites

    def beside(self, paths: Indices, part: Part) -> str:
        """Work out what a panel right beside a blocked place does.

        Parameters
        ----------
        paths : numpy.ndarray
            Indices of the first reflections that meet the blocked place, all on one surface, shape (k,).
        part : Part
            The part of the room that they belong to.

        Returns
        -------
        str
            A sentence part; empty where nothing fits or nothing is gained.
        """
        if not self._builds:
            return ""
        a = self._after.arrivals
        surface = int(a.surfaces[paths[0], 0])
        point = self._scene.surfaces[surface].polygon.to_wall(a.points[paths, 0]).mean(axis=0)
        found = self._nearest(surface, point, reach=1.0)
        if found is None:
            return ""
        change = part.weaker(part.with_more([found]))
        if change < _BESIDE_WORTH:
            return ""
        cure = "" if change >= _CURE else ", no cure"
        return f"'{found.build.id}' right beside it takes {change:.1f} dB off these reflections{cure}"

    def other_bounce(self, surface: int, blocked: Rectangle) -> str:
        """Work out what a panel does at the other bounce of second reflections that meet a blocked place.

        Parameters
        ----------
        surface : int
            Index of the surface.
        blocked : Rectangle
            Where nothing may hang, in its wall coordinates.

        Returns
        -------
        str
            A sentence part, or why there is none, beginning with ``no``.
        """
        groups = self._second(surface, blocked)
        if not groups:
            return "no second reflection above the criterion meets it as well"
        ranked = sorted(groups.items(), key=lambda g: (-len(g[1]), g[0]))
        why: dict[str, int] = {}
        tried = 0
        for other, members in ranked:
            reason = self._no_panel_at(other, members)
            if not reason and tried < _MOST_TRIED:
                tried += 1
                words, reason = self._at_other(other, members)
                if words:
                    return words
            reason = reason or "a panel more would do little"
            why[reason] = why.get(reason, 0) + len(members)
        told = ", ".join(f"{n} times {reason}" for reason, n in sorted(why.items(), key=lambda w: -w[1]))
        return f"no further panel at the other bounce of the second reflections that meet it: {told}"

    def _second(self, surface: int, blocked: Rectangle) -> dict[int, list[tuple[int, Array]]]:
        """Second reflections above the criterion that meet a place, by their other surface."""
        a = self._after.arrivals
        strong = np.array([v == "treat" for v in a.verdict], dtype=bool) & (a.order == 2)
        groups: dict[int, list[tuple[int, Array]]] = {}
        for k in (0, 1):
            mine = np.flatnonzero(strong & (a.surfaces[:, k] == surface))
            if len(mine) == 0:
                continue
            on = within(self._scene.surfaces[surface].polygon.to_wall(a.points[mine, k]), blocked)
            for i in mine[on]:
                other = int(a.surfaces[i, 1 - k])
                if other < len(self._scene.surfaces):
                    groups.setdefault(other, []).append((int(i), a.points[i, 1 - k]))
        return groups

    def _no_panel_at(self, other: int, members: Sequence[tuple[int, Array]]) -> str:
        """Why nothing more can hang where the others bounce."""
        s = self._scene.surfaces[other]
        if s.kind == "floor":
            return "on the floor, where a rug works"
        if not self._builds:
            return "where no build that may be built hangs"
        wall = s.polygon.to_wall(np.array([p for _, p in members]))
        panels = [
            p
            for p in patches_of(self._scene, self._after.placements)
            if p.kind == "panel" and p.surface == other
        ]
        covered = np.zeros(len(wall), dtype=bool)
        for p in panels:
            covered |= within(wall, p.rectangle)
        return "where a panel hangs already" if covered.mean() > 0.5 else ""

    def _at_other(self, other: int, members: Sequence[tuple[int, Array]]) -> tuple[str, str]:
        """Offer at the site that holds most of the other bounces, or why there is none."""
        name, polygon = self._scene.surfaces[other].name, self._scene.surfaces[other].polygon
        wall = polygon.to_wall(np.array([p for _, p in members]))
        sites = self._places
        on = np.flatnonzero(sites.surface == other)
        r = sites.rectangle[on][:, None]
        inside = np.all((wall >= r[..., :2]) & (wall <= r[..., 2:]), axis=2)
        if not inside.any():
            return "", f"on '{name}', where nothing fits"
        count = inside.sum(axis=1)
        away = np.hypot(*np.moveaxis((r[..., :2] + r[..., 2:]) / 2.0 - wall, 2, 0)).mean(axis=1)
        best = int(np.lexsort((away, -count))[0])
        found = self._at(int(on[best]))
        if found is None:
            return "", f"on '{name}', where nothing fits"
        met = np.array([members[int(n)][0] for n in np.flatnonzero(inside[best])], dtype=np.intp)
        part = Part.of(self._scene, self._after, met)
        change = part.weaker(part.with_more([found]))
        if change < _OTHER_WORTH:
            return "", ""
        counted = (
            "one second reflection that meets it meets"
            if len(met) == 1
            else f"{len(met)} second reflections that meet it meet"
        )
        return f"{counted} also '{name}': '{found.build.id}' there takes {change:.1f} dB off", ""

    def _nearest(self, surface: int, point: Array, reach: float) -> Placement | None:
        """Best build at the legal site nearest to a point; None when it ends further than `reach` away."""
        sites = self._places
        on = np.flatnonzero(sites.surface == surface)
        if len(on) == 0:
            return None
        r = sites.rectangle[on]
        gap = np.maximum(np.maximum(r[:, :2] - point, point - r[:, 2:]), 0.0)
        middle = np.hypot(*((r[:, :2] + r[:, 2:]) / 2.0 - point).T)
        first = int(np.lexsort((middle, np.hypot(*gap.T)))[0])
        if float(np.hypot(*gap[first])) > reach:
            return None
        return self._at(int(on[first]))

    def _at(self, best: int) -> Placement | None:
        """Best build at a legal site."""
        sites = self._places
        surface = int(sites.surface[best])
        place, kind = sites.at(best), self._scene.surfaces[surface].kind
        size = sorted((place.width, place.height))

        def fits(b: PanelBuild) -> bool:
            same = np.allclose(sorted((b.outer_width, b.outer_height)), size, atol=1e-3)
            return kind in b.on and b.depth <= sites.depth[best] + 1e-9 and bool(same)

        fitting = [b for b in self._builds if fits(b)]
        if not fitting:
            return None
        build = max(fitting, key=lambda b: float(b.material.capped[EVEN].mean()))
        return Placement(OFFERED, build, surface, place)
