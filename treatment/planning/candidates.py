"""Legal sites: where a panel could hang, before anyone asks whether it should.

The list is finite, so that a small case can be checked against full enumeration. Positions are
multiples of 50 mm from the surface's own origin, or of the zone that the row of panels is centred on:
a person has to find them with a tape.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.zones import Zone
from treatment.bands import Array
from treatment.geometry.boxes import Boxes, boxes_on, meets
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.kept import Kept, bodies_clear, depth_on, kept_free
from treatment.planning.members import grid_of, tile_refusal
from treatment.planning.places import legal_region, places_on
from treatment.planning.plan import Placement
from treatment.planning.sight import ClearSpace, clear_spaces, unhindered
from treatment.planning.walkways import passages
from treatment.planning.wishes import kept_zones, outside_kept_zones
from treatment.scene.model import Scene

#: Surfaces made of these carry no panel.
NOT_FOR_PANELS = ("opening", "window", "door")


@dataclass(frozen=True, eq=False)
class Sites:
    """Legal places; g of them.

    Parameters
    ----------
    surface : numpy.ndarray
        Surface indices, shape (g,).
    rectangle : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (g, 4), m.
    face : numpy.ndarray
        The absorbing part inside the frame, shape (g, 4), m.
    body : Boxes
        The deepest body that fits there, g boxes.
    depth : numpy.ndarray
        Depth of that body, shape (g,), m.
    passage : Boxes
        Space in front of it that no panel from across may enter; see `passages`.
    mirror : numpy.ndarray
        Index of the site on the other side of the room's middle, shape (g,): its own where it lies in
        the middle, -1 where there is none.
    corner : numpy.ndarray or None
        Second wall of the corner that a panel there stands across, shape (g,), -1 for those that hang flat;
        None where all do.
    """

    surface: NDArray[np.intp]
    rectangle: Array
    face: Array
    body: Boxes
    depth: Array
    passage: Boxes
    mirror: NDArray[np.intp]
    corner: NDArray[np.intp] | None = None

    def __len__(self) -> int:
        return len(self.surface)

    def at(self, index: int) -> Rectangle:
        """Rectangle of one site.

        Parameters
        ----------
        index : int
            Which site.

        Returns
        -------
        Rectangle
            In wall coordinates.
        """
        low_u, low_v, high_u, high_v = (float(x) for x in self.rectangle[index])
        # A tenth of a millimetre is exact here; the differences of binary fractions are not.
        return Rectangle(*(round(x, 4) for x in (low_u, low_v, high_u - low_u, high_v - low_v)))

    def across(self, index: int) -> int | None:
        """Second wall of the corner that one site stands across; None when it hangs flat.

        Parameters
        ----------
        index : int
            Which site.
        """
        if self.corner is None or self.corner[index] < 0:
            return None
        return int(self.corner[index])

    def clashing(self, index: int, among: NDArray[np.intp] | None = None) -> NDArray[np.bool_]:
        """Tell which sites cannot be used beside one of them.

        Parameters
        ----------
        index : int
            The site that is used.
        among : numpy.ndarray, optional
            Indices of those to look at, shape (k,); default all.

        Returns
        -------
        numpy.ndarray
            Shape (k,), bool. They overlap on their surface, or their bodies meet, or together they leave
            too little room to walk between them.
        """
        own = np.array([index])
        other = np.arange(len(self)) if among is None else among
        flat = np.minimum(self.rectangle[other, 2:], self.rectangle[index, 2:])
        flat = flat - np.maximum(self.rectangle[other, :2], self.rectangle[index, :2])
        same = self.surface[other] == self.surface[index]
        if self.corner is not None:
            same &= (self.corner[other] < 0) & (self.corner[index] < 0)
        found = np.asarray(same & np.all(flat > 1e-6, axis=1), dtype=bool)
        rest = np.flatnonzero(~same)
        # Asked for once, they are known of all that are taken from here.
        _ = self.body.bounds, self.passage.bounds
        body, passage = self.body.taken(own), self.passage.taken(own)
        there = self.body.taken(other[rest])
        found[rest] = meets(there, body)[:, 0]
        across = there.axes[:, 2] @ body.axes[0, 2] < -0.5
        found[rest] |= across & meets(there, passage)[:, 0]
        return found


def suits(build: PanelBuild, kind: str) -> bool:
    """Tell whether a build may hang on a kind of surface.

    Parameters
    ----------
    build : PanelBuild
        The panel.
    kind : str
        ``wall``, ``ceiling`` or ``floor``.

    Returns
    -------
    bool
        True when it may.
    """
    return kind in build.on


def may_hang(scene: Scene, surface: int, build: PanelBuild) -> bool:
    """Tell whether a build may hang on a surface at all, its place aside.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.
    build : PanelBuild
        The panel.

    Returns
    -------
    bool
        True when it suits the kind of surface, and the grid of a suspended ceiling takes it.
    """
    grid = grid_of(scene, surface)
    suited = suits(build, scene.surfaces[surface].kind)
    return suited and (grid is None or not tile_refusal(grid, build))


@dataclass(frozen=True, eq=False)
class Around:
    """What panels keep clear of, listed once for all places of a room.

    Parameters
    ----------
    kept, lines, zones : tuple
        Space that stays free, lines of sight and of sound, zones of reflections that shall stay.
    hanging : tuple of Placement
        Panels that already hang; their places are taken.
    """

    kept: tuple[Kept, ...]
    lines: tuple[ClearSpace, ...]
    zones: tuple[tuple[int, Any], ...]
    hanging: tuple[Placement, ...]

    @classmethod
    def of(cls, scene: Scene, hanging: Sequence[Placement] = ()) -> Around:
        """List it.

        Parameters
        ----------
        scene : Scene
            The room.
        hanging : sequence of Placement
            Panels that already hang.
        """
        return cls(kept_free(scene), clear_spaces(scene), kept_zones(scene), tuple(hanging))

    def clear(self, scene: Scene, surface: int, table: Array, depth: float) -> NDArray[np.bool_]:
        """Tell which places a body of some depth may take.

        Parameters
        ----------
        scene : Scene
            The room.
        surface : int
            Index of the surface.
        table : numpy.ndarray
            Rectangles, shape (n, 4), m.
        depth : float
            Of the body, m.

        Returns
        -------
        numpy.ndarray
            Shape (n,), bool.
        """
        clear = bodies_clear(scene, surface, table, depth, self.kept, self.hanging)
        clear[clear] = unhindered(scene.surfaces[surface].polygon, table[clear], depth, self.lines)
        clear[clear] = outside_kept_zones(surface, table[clear], self.zones)
        return clear


def find_sites(
    scene: Scene,
    zones: Sequence[Zone],
    builds: Sequence[PanelBuild],
    hanging: Sequence[Placement] = (),
    earlier: Sequence[Placement] = (),
) -> Sites:
    """List the legal sites of all panel sizes.

    Parameters
    ----------
    scene : Scene
        The room.
    zones : sequence of Zone
        Rows of panels are centred on these.
    builds : sequence of PanelBuild
        Panels to place.
    hanging : sequence of Placement
        Panels that already hang; their places are taken.
    earlier : sequence of Placement
        Panels of an earlier plan: their places are tried as well.

    Returns
    -------
    Sites
        Each stands for every build of that size which is not deeper than it allows.
    """
    around = Around.of(scene, hanging)
    surface, rectangle, face, body, depths, passage = [], [], [], [], [], []
    for i, s in enumerate(scene.surfaces):
        if s.obstacle or s.kind == "floor" or s.material.category in NOT_FOR_PANELS:
            continue
        region = legal_region(scene, i)
        centres = [z.outline.centroid for z in zones if z.surface == i and len(z.route) == 1]
        for size, (deep, frame) in sorted(_sizes(scene, i, builds).items()):
            rest = places_on(scene, i, region, size, centres, earlier)
            # Where the deepest build of a size does not fit, a flatter one may.
            for depth in sorted(deep, reverse=True):
                clear = around.clear(scene, i, rest, depth)
                table, rest = rest[clear], rest[~clear]
                surface.append(np.full(len(table), i, dtype=np.intp))
                rectangle.append(table)
                face.append(table + frame * np.array([1.0, 1.0, -1.0, -1.0]))
                body.append(boxes_on(s.polygon, table, depth))
                depths.append(np.full(len(table), depth))
                passage.append(passages(scene, i, table, depth))
    if not surface:
        nothing = np.zeros((0, 4))
        index = np.zeros(0, dtype=np.intp)
        none = Boxes.joined([])
        return Sites(index, nothing, nothing, none, np.zeros(0), none, index)
    where, places = np.concatenate(surface), np.concatenate(rectangle)
    return Sites(
        where,
        places,
        np.concatenate(face),
        Boxes.joined(body),
        np.concatenate(depths),
        Boxes.joined(passage),
        mirrors(scene, where, places),
    )


def _sizes(
    scene: Scene, surface: int, builds: Sequence[PanelBuild]
) -> dict[tuple[float, float], tuple[set[float], float]]:
    """Outer sizes that may hang on a surface, upright and turned: depths, least frame."""
    sizes: dict[tuple[float, float], tuple[set[float], float]] = {}
    for b in builds:
        if may_hang(scene, surface, b):
            for size in {(b.outer_width, b.outer_height), (b.outer_height, b.outer_width)}:
                depths, frame = sizes.get(size, (set(), b.frame_thickness))
                sizes[size] = {*depths, depth_on(scene, surface, b)}, min(frame, b.frame_thickness)
    return sizes


def mirrors(scene: Scene, surface: NDArray[np.intp], rectangle: Array) -> NDArray[np.intp]:
    """Find for each place the one at the mirrored place, left for right.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : numpy.ndarray
        Surface indices, shape (g,).
    rectangle : numpy.ndarray
        Places, no two alike, shape (g, 4), m.

    Returns
    -------
    numpy.ndarray
        Shape (g,): its own index where it lies in the middle, -1 where there is none.
    """
    low, high = scene.hall
    middle = (low[1] + high[1]) / 2.0
    key = np.zeros((len(surface), 9))
    for i in np.unique(surface):
        polygon = scene.surfaces[i].polygon
        on = surface == i
        r = rectangle[on]
        key[on, :3] = polygon.to_room((r[:, :2] + r[:, 2:]) / 2.0)
        size = r[:, 2:] - r[:, :2]
        key[on, 3:6] = np.abs(size[:, :1] * polygon.u_axis + size[:, 1:] * polygon.v_axis)
        key[on, 6:] = polygon.normal
    twin = key.copy()
    twin[:, 1] = 2.0 * middle - twin[:, 1]
    twin[:, 7] = -twin[:, 7]
    found = {tuple(row): j for j, row in enumerate(np.round(key * 1e3).astype(int))}
    rows = np.round(twin * 1e3).astype(int)
    return np.array([found.get(tuple(row), -1) for row in rows], dtype=np.intp)
