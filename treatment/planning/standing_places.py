"""Places in which a panel on the floor may be worth something: in early reflections, and along walls.

There are finitely many, all on marks that a tape finds. Whether a panel may really stand there is asked
afterwards, of `treatment.planning.standing.can_stand`: the best place first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.image_sources import Paths
from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.plan import Placement
from treatment.planning.standing import crossed, feet_depth, footprint
from treatment.scene.model import Scene

#: Distances from what must stay free at which a panel is tried, beyond those that its feet need (m).
OFF: Final = (0.0, 0.15, 0.30)
#: Places along a wall are apart by this (m), and those in reflections fall on multiples of the second.
_APART, _MARK = 0.30, 0.10
_LEVEL = 1e-6


@dataclass(frozen=True)
class Place:
    """A piece of floor for one panel.

    Parameters
    ----------
    build : int
        Index of the build.
    floor : int
        Index of the floor's surface.
    rectangle : Rectangle
        Ground under its body, in the floor's wall coordinates.
    """

    build: int
    floor: int
    rectangle: Rectangle

    @property
    def key(self) -> tuple[int, ...]:
        """The same for the same place to a millimetre."""
        return (self.build, *(round(1e3 * x) for x in self.rectangle.bounds))

    def placement(self, builds: Sequence[PanelBuild], name: str) -> Placement:
        """Stand a panel there.

        Parameters
        ----------
        builds : sequence of PanelBuild
            All builds.
        name : str
            Id of the panel.
        """
        return Placement(name, builds[self.build], self.floor, self.rectangle, standing=True)

    def bounds(self, scene: Scene, builds: Sequence[PanelBuild]) -> Array:
        """Lowest and highest corner of the body, shape (2, 3), m.

        Parameters
        ----------
        scene : Scene
            The room.
        builds : sequence of PanelBuild
            All builds.
        """
        r = self.rectangle.bounds
        ends = scene.surfaces[self.floor].polygon.to_room([r[:2], r[2:]])
        ends[:, 2] += [0.0, builds[self.build].outer_height]
        return np.array([ends.min(axis=0), ends.max(axis=0)])


def own_floor(scene: Scene) -> int | None:
    """Index of the room's own floor; None where it has no level one.

    Parameters
    ----------
    scene : Scene
        The room.
    """
    for i, s in enumerate(scene.surfaces):
        if s.ground and s.polygon.normal[2] > 1.0 - _LEVEL:
            return i
    return None


def axis_of(scene: Scene, surface: int) -> int | None:
    """Axis of the room, 0 or 1, that a wall is square to; None for all other surfaces.

    Parameters
    ----------
    scene : Scene
        The room.
    surface : int
        Index of the surface.
    """
    normal = np.abs(scene.surfaces[surface].polygon.normal)
    across = int(np.argmax(normal))
    return None if across == 2 or normal[across] < 1.0 - _LEVEL else across


def off_wall(build: PanelBuild) -> float:
    """Distance of a panel's back from what must stay free, so that its feet are clear of it.

    Parameters
    ----------
    build : PanelBuild
        The panel.

    Returns
    -------
    float
        A multiple of 50 mm, m.
    """
    feet = (feet_depth(build) - build.thickness) / 2.0
    return float(np.ceil(feet / 0.05 - 1e-6) * 0.05)


def before_wall(
    scene: Scene, floor: int, surface: int, build: PanelBuild, out: float, along: float
) -> Rectangle:
    """Ground under a panel that stands parallel to a wall.

    Parameters
    ----------
    scene : Scene
        The room.
    floor, surface : int
        Indices of the floor and of the wall, which `axis_of` knows.
    build : PanelBuild
        The panel.
    out : float
        From the wall to the panel's back, m.
    along : float
        Coordinate of its middle along the wall, in the room, m.

    Returns
    -------
    Rectangle
        In the floor's wall coordinates.
    """
    wall, ground = scene.surfaces[surface].polygon, scene.surfaces[floor].polygon
    across = int(np.argmax(np.abs(wall.normal)))
    centre = np.array([along, along, float(ground.origin[2])])
    centre[across] = wall.origin[across] + (out + build.thickness / 2.0) * wall.normal[across]
    u, v = ground.to_wall(centre)
    found = footprint(build, (float(u), float(v)), abs(float(ground.u_axis[across])) < 0.5)
    # A tenth of a millimetre is exact here; sums of binary fractions are not.
    return Rectangle(*(round(x, 4) for x in (found.u, found.v, found.width, found.height)))


def find_places(
    scene: Scene,
    paths: Paths,
    receivers: Array,
    builds: Sequence[PanelBuild | None],
    earlier: Iterable[Placement] = (),
) -> list[Place]:
    """List the places that are tried.

    Parameters
    ----------
    scene : Scene
        The room.
    paths : Paths
        Reflections above the criterion, to points of the areas of heads.
    receivers : numpy.ndarray
        Those points, shape (r, 3), m.
    builds : sequence of PanelBuild
        All builds; None for those that may not stand free.
    earlier : iterable of Placement
        Standing panels of an earlier plan: their places are tried as well.

    Returns
    -------
    list of Place
        Parallel to walls along the room's axes: where first reflections off them come and go, just outside
        the wall's own kept-free spaces or as near to the wall as the feet let it be; and in steps along each
        wall. Each with its mirrored twin, in the order of their keys.
    """
    floor = own_floor(scene)
    if floor is None:
        return []
    sources = np.array([s.position for s in scene.loudspeakers])
    found: dict[tuple[int, ...], Place] = {}
    for k, build in enumerate(builds):
        if build is None:
            continue
        for i, s in enumerate(scene.surfaces):
            across = axis_of(scene, i)
            if across is None or s.obstacle or s.kind != "wall":
                continue
            outs = _outs(scene, i, build)
            spots = [(outs[0], along) for along in _along(scene, i, across, build)]
            spots += _in_paths(scene, i, across, build, outs, paths, receivers, sources)
            for out, along in spots:
                place = Place(k, floor, before_wall(scene, floor, i, build, out, along))
                found[place.key] = place
        for p in earlier:
            if p.standing and p.build.id == build.id:
                place = Place(k, floor, p.rectangle)
                found[place.key] = place
    for place in list(found.values()):
        twin = mirrored(scene, place)
        found.setdefault(twin.key, twin)
    return [found[key] for key in sorted(found)]


def mirrored(scene: Scene, place: Place) -> Place:
    """Return the place on the other side of the room's middle.

    Parameters
    ----------
    scene : Scene
        The room.
    place : Place
        Any place.
    """
    ground, r = scene.surfaces[place.floor].polygon, place.rectangle
    centre = ground.to_room(np.array(r.centre))
    centre[1] = float(scene.hall[:, 1].sum()) - centre[1]
    u, v = (float(x) for x in ground.to_wall(centre))
    there = Rectangle(round(u - r.width / 2.0, 4), round(v - r.height / 2.0, 4), r.width, r.height)
    return Place(place.build, place.floor, there)


def _outs(scene: Scene, surface: int, build: PanelBuild) -> list[float]:
    """Distances of a panel's back from a wall."""
    near = off_wall(build)
    deep = {0.0, *(k.depth for k in scene.keep_outs if k.surface == surface)}
    return sorted({round(d + near + more, 4) for d in deep for more in OFF})


def _along(scene: Scene, surface: int, across: int, build: PanelBuild) -> list[float]:
    """Middles of panels along a wall, counted from the room's middle on walls that run left to right."""
    points = scene.surfaces[surface].polygon
    low, high = (
        float(f(points.to_room(points.edges[:, 0])[:, 1 - across])) + sign * build.outer_width / 2.0
        for f, sign in ((np.min, 1.0), (np.max, -1.0))
    )
    start = low + 0.05
    if across == 0:
        middle = float(scene.hall[:, 1].mean())
        start = middle - np.floor((middle - start) / _APART) * _APART
    return [float(x) for x in np.arange(start, high - 0.05 + 1e-9, _APART)]


def _in_paths(
    scene: Scene,
    surface: int,
    across: int,
    build: PanelBuild,
    outs: Sequence[float],
    paths: Paths,
    receivers: Array,
    sources: Array,
) -> list[tuple[float, float]]:
    """Distance from the wall and middle along it where first reflections come and go."""
    wall = scene.surfaces[surface].polygon
    own = np.flatnonzero((paths.order == 1) & (paths.surfaces[:, 0] == surface))
    spots: set[tuple[float, float]] = set()
    for ends in (sources[paths.source[own]], receivers[paths.receiver[own]]):
        bounce = paths.points[own, 0]
        rise = wall.height_above(ends)
        for out in outs:
            share = (out + build.thickness / 2.0) / np.maximum(rise, 1e-9)
            at = bounce[:, 1 - across] + share * (ends - bounce)[:, 1 - across]
            # Edges on marks from the front wall; middles on marks from the room's middle, so that twins are.
            zero = build.outer_width / 2.0 if across == 1 else float(scene.hall[:, 1].mean())
            marks = np.unique(np.round((at[share < 1.0] - zero) / _MARK))
            spots |= {(out, float(m) * _MARK + zero) for m in marks}
    return sorted(spots)


def cut_paths(bounds: Array, paths: Paths, receivers: Array, sources: Array) -> NDArray[np.bool_]:
    """Tell which paths a body stands in.

    Parameters
    ----------
    bounds : numpy.ndarray
        Lowest and highest corner, shape (2, 3), m.
    paths : Paths
        n paths.
    receivers, sources : numpy.ndarray
        Their ends, shapes (r, 3) and (s, 3), m.

    Returns
    -------
    numpy.ndarray
        Shape (n,), bool.
    """
    cut = np.zeros(len(paths), dtype=bool)
    start = sources[paths.source]
    for k in range(paths.points.shape[1] + 1):
        here = paths.order >= k
        end = receivers[paths.receiver]
        if k < paths.points.shape[1]:
            end = np.where((paths.order > k)[:, None], paths.points[:, k], end)
        cut[here] |= crossed(bounds, start[here], end[here])
        start = end
    return cut
