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
import shapely
from numpy.typing import NDArray

from treatment.acoustics.zones import Zone
from treatment.bands import Array
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.plan import Placement
from treatment.planning.sight import clear_spaces, unhindered
from treatment.planning.wishes import kept_zones, outside_kept_zones
from treatment.scene.model import Scene

#: Free strip around every panel: room for the cleat, for skirting and for a crooked corner (m).
EDGE_MARGIN = 0.05
#: Panels start this far above the floor: skirting, sockets, feet (m). Common practice.
FLOOR_MARGIN = 0.15
#: Grid of positions along a row, and between rows (m).
STEP_U, STEP_V = 0.15, 0.30
#: Space kept around a loudspeaker or a head (m).
SPEAKER_SPACE, HEAD_SPACE = 0.25, 0.30
#: Surfaces made of these carry no panel.
NOT_FOR_PANELS = ("opening", "window", "door")
#: Tape step (m).
TAPE_STEP = 0.05


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
    body : numpy.ndarray
        Bounds in the room of the deepest body that fits there, shape (g, 2, 3), m.
    depth : numpy.ndarray
        Depth of that body, shape (g,), m.
    mirror : numpy.ndarray
        Index of the site on the other side of the room's middle, shape (g,): its own where it lies in
        the middle, -1 where there is none.
    """

    surface: NDArray[np.intp]
    rectangle: Array
    face: Array
    body: Array
    depth: Array
    mirror: NDArray[np.intp]

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


def body_bounds(polygon: Polygon, rectangle: Rectangle, depth: float) -> Array:
    """Bounds in the room of one panel's body, its gap included, shape (2, 3), m.

    Parameters
    ----------
    polygon : Polygon
        The surface it hangs on.
    rectangle : Rectangle
        Its outline in wall coordinates.
    depth : float
        From the surface to the face, m.
    """
    return np.asarray(bodies(polygon, np.array([rectangle.bounds]), depth)[0])


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


def kept_free(scene: Scene) -> list[tuple[Array, str]]:
    """Volumes in which nothing may stand, with their names.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    list of (numpy.ndarray, str)
        Bounds, shape (2, 3), m, and what they are.
    """
    found = []
    for k in scene.keep_outs:
        polygon = scene.surfaces[k.surface].polygon
        found.append((body_bounds(polygon, k.rectangle, max(k.depth, 0.01)), k.name))
    sounding = [(s.position, s.name) for s in scene.loudspeakers]
    sounding += [(s.position, s.name) for s in scene.subwoofers]
    for position, name in sounding:
        found.append((position + SPEAKER_SPACE * np.array([[-1.0], [1.0]]), name))
    for seat in scene.seats:
        reach = HEAD_SPACE + seat.spread
        found.append((seat.position + reach * np.array([[-1.0], [1.0]]), seat.name))
    return found


def legal_region(scene: Scene, surface: int) -> Any:
    """Part of a surface on which a panel may lie.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.

    Returns
    -------
    shapely geometry
        In wall coordinates: the surface without its margins, openings and keep-outs.
    """
    region = scene.surfaces[surface].polygon.region.buffer(-EDGE_MARGIN, join_style="mitre")
    if scene.surfaces[surface].kind == "wall":
        low_u, low_v, high_u, high_v = scene.surfaces[surface].polygon.bounds
        polygon = scene.surfaces[surface].polygon
        foot = float(polygon.to_room(np.array([0.0, low_v]))[2]) - float(scene.enclosure.bounds[0, 2])
        if foot < FLOOR_MARGIN:
            region = region.intersection(shapely.box(low_u, low_v + FLOOR_MARGIN - foot, high_u, high_v))
    taken = [(o.surface, o.rectangle) for o in scene.openings]
    taken += [(k.surface, k.rectangle) for k in scene.keep_outs]
    for where, rectangle in taken:
        if where == surface:
            region = region.difference(rectangle.grown(EDGE_MARGIN).shape())
    return region


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
    volumes = [bounds for bounds, _ in kept_free(scene)]
    volumes += [body_bounds(scene.surfaces[p.surface].polygon, p.rectangle, p.build.depth) for p in hanging]
    taken = np.array(volumes).reshape(-1, 2, 3)
    keep_clear, kept = clear_spaces(scene), kept_zones(scene)
    surface, rectangle, face, body, depths = [], [], [], [], []
    for i, s in enumerate(scene.surfaces):
        if s.obstacle or s.kind == "floor" or s.material.category in NOT_FOR_PANELS:
            continue
        region = legal_region(scene, i)
        centres = [z.outline.centroid for z in zones if z.surface == i and len(z.route) == 1]
        for (width, height), (depth, frame) in sorted(_sizes(builds, s.kind).items()):
            table = _grid(scene, i, region, width, height, centres)
            table = np.concatenate([table, _places(earlier, i, region, width, height)])
            bounds = bodies(s.polygon, table, depth)
            common = np.minimum(bounds[:, None, 1], taken[:, 1]) - np.maximum(bounds[:, None, 0], taken[:, 0])
            clear = ~np.all(common > 1e-3, axis=2).any(axis=1)
            clear[clear] = _in_the_air(scene, i, table[clear], depth)
            clear[clear] = unhindered(s.polygon, table[clear], depth, keep_clear)
            clear[clear] = outside_kept_zones(i, table[clear], kept)
            surface.append(np.full(int(clear.sum()), i, dtype=np.intp))
            rectangle.append(table[clear])
            face.append(table[clear] + frame * np.array([1.0, 1.0, -1.0, -1.0]))
            body.append(bounds[clear])
            depths.append(np.full(int(clear.sum()), depth))
    if not surface:
        nothing = np.zeros((0, 4))
        index = np.zeros(0, dtype=np.intp)
        return Sites(index, nothing, nothing, np.zeros((0, 2, 3)), np.zeros(0), index)
    where, places = np.concatenate(surface), np.concatenate(rectangle)
    return Sites(
        where,
        places,
        np.concatenate(face),
        np.concatenate(body),
        np.concatenate(depths),
        _mirrors(scene, where, places),
    )


def _sizes(builds: Sequence[PanelBuild], kind: str) -> dict[tuple[float, float], tuple[float, float]]:
    """Outer sizes that may hang on a kind of surface, upright and turned: greatest depth, least frame."""
    sizes: dict[tuple[float, float], tuple[float, float]] = {}
    for b in builds:
        if suits(b, kind):
            for size in {(b.outer_width, b.outer_height), (b.outer_height, b.outer_width)}:
                depth, frame = sizes.get(size, (0.0, b.frame_thickness))
                sizes[size] = max(depth, b.depth), min(frame, b.frame_thickness)
    return sizes


def bodies(polygon: Polygon, table: Array, depth: float) -> Array:
    """Bounds in the room of panels of one depth, their gaps included.

    Parameters
    ----------
    polygon : Polygon
        The surface they hang on.
    table : numpy.ndarray
        ``(u_low, v_low, u_high, v_high)``, shape (n, 4), m.
    depth : float
        From the surface to the face, m.

    Returns
    -------
    numpy.ndarray
        Lowest and highest corners, shape (n, 2, 3), m.
    """
    corners = table[:, [[0, 1], [2, 1], [2, 3], [0, 3]]]
    points = np.concatenate([polygon.to_room(corners), polygon.to_room(corners, out=depth)], axis=1)
    return np.stack([points.min(axis=1), points.max(axis=1)], axis=1)


def _grid(
    scene: Scene, surface: int, region: Any, width: float, height: float, centres: Sequence[Any]
) -> Array:
    """Rectangles of one size on one surface, on tape steps, inside the legal region, shape (n, 4), m."""
    if region.is_empty:
        return np.zeros((0, 4))
    low_u, low_v, high_u, high_v = (float(x) for x in region.bounds)
    if high_u - low_u < width - 1e-9 or high_v - low_v < height - 1e-9:
        return np.zeros((0, 4))
    middle_u = float(np.median([c.x for c in centres])) if centres else (low_u + high_u) / 2.0
    middle_v = float(np.median([c.y for c in centres])) if centres else (low_v + high_v) / 2.0
    even_u, even_v = _symmetric(scene, surface)
    us = _positions(
        low_u, high_u - width, (middle_u if even_u is None else even_u) - width / 2.0, STEP_U, even_u
    )
    vs = _positions(
        low_v, high_v - height, (middle_v if even_v is None else even_v) - height / 2.0, STEP_V, even_v
    )
    u, v = (x.ravel() for x in np.meshgrid(us, vs, indexing="ij"))
    slack = region.buffer(1e-6, join_style="mitre")
    shapely.prepare(slack)
    inside = shapely.contains(slack, shapely.box(u, v, u + width, v + height))
    return np.asarray(np.column_stack([u, v, u + width, v + height])[inside])


def _places(earlier: Sequence[Placement], surface: int, region: Any, width: float, height: float) -> Array:
    """Places of an earlier plan that are still legal for this size, shape (n, 4), m."""
    slack = region.buffer(1e-4, join_style="mitre")
    kept = [
        p.rectangle.bounds
        for p in earlier
        if p.surface == surface
        and abs(p.rectangle.width - width) < 1e-3
        and abs(p.rectangle.height - height) < 1e-3
        and slack.contains(p.rectangle.shape())
    ]
    return np.array(kept).reshape(-1, 4)


def _symmetric(scene: Scene, surface: int) -> tuple[float | None, float | None]:
    """Wall coordinate of the room's middle along u and v, where the surface runs from left to right.

    Positions there are counted from the middle, so that each has its twin on the other side.
    """
    polygon = scene.surfaces[surface].polygon
    low, high = scene.enclosure.bounds
    middle = float(low[1] + high[1]) / 2.0
    along = [float(axis[1]) for axis in (polygon.u_axis, polygon.v_axis)]
    found: list[float | None] = [None, None]
    for k, share in enumerate(along):
        if abs(share) > 1.0 - 1e-9:
            found[k] = float((middle - polygon.origin[1]) / share)
    return found[0], found[1]


def _positions(low: float, high: float, through: float, step: float, middle: float | None) -> Array:
    """Positions from low to high that pass through a wished one; on tape steps unless symmetry asks."""
    if middle is None:
        first, last = np.ceil(low / TAPE_STEP - 1e-9), np.floor(high / TAPE_STEP + 1e-9)
        if last < first:
            return np.array([low])
        through = float(np.clip(round(through / TAPE_STEP), first, last) * TAPE_STEP)
    count_below = max(0, int((through - low) / step + 1e-9))
    count_above = max(0, int((high - through) / step + 1e-9))
    places = through + step * np.arange(-count_below, count_above + 1)
    return np.asarray(np.round(places[(places >= low - 1e-9) & (places <= high + 1e-9)], 6))


def _in_the_air(scene: Scene, surface: int, table: Array, depth: float) -> NDArray[np.bool_]:
    """Whether the bodies of panels stand in the room's air: inner corners and slopes cut into some."""
    if len(table) == 0:
        return np.zeros(0, dtype=bool)
    polygon = scene.surfaces[surface].polygon
    inner = table + 0.005 * np.array([1.0, 1.0, -1.0, -1.0])
    corners = inner[:, [[0, 1], [2, 1], [2, 3], [0, 3]]]
    start, end = polygon.to_room(corners, out=1e-4), polygon.to_room(corners, out=depth)
    first = np.concatenate([start, end, end], axis=1)
    second = np.concatenate([end, np.roll(end, 1, axis=1), np.roll(end, 2, axis=1)], axis=1)
    cut = scene.enclosure.blocked(first.reshape(-1, 3), second.reshape(-1, 3))
    return np.asarray(~cut.reshape(len(table), -1).any(axis=1), dtype=bool)


def _mirrors(scene: Scene, surface: NDArray[np.intp], rectangle: Array) -> NDArray[np.intp]:
    """For each site the one at the mirrored place, left for right; -1 where there is none."""
    low, high = scene.enclosure.bounds
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
