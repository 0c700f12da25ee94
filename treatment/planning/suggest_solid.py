"""Where one more panel that stands, or goes across a corner, does most.

A standing panel goes where it stands in the strongest early reflections without being in anybody's way; one
across a corner into the corner that has the fewest, lowest first. Where there is no such place, the one with
the least against it is offered: the review says what that is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from treatment import bands
from treatment.bands import Array
from treatment.geometry.boxes import box_on
from treatment.geometry.corners import Corner
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.corner_sites import legal_bottoms, surroundings_of
from treatment.planning.corners import angle_refusal, corner_placement, corners_of
from treatment.planning.kept import kept_free
from treatment.planning.legal import review_placements
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.standing import can_stand, crossed, footprint
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.model import Scene

#: Grid on which a standing panel is tried (m).
_STEP: Final = 0.25
#: Least distance of its sides from the edge of the floor (m).
_OFF: Final = 0.05
#: Places that stop no strong reflection: so many of them are looked at closely.
_MOST: Final = 80


def open_corners(scene: Scene) -> tuple[Corner, ...]:
    """Corners of the room that a panel may stand across, by their angle.

    Parameters
    ----------
    scene : Scene
        The room, without panels.
    """
    return tuple(c for c in corners_of(scene) if not angle_refusal(c))


def suggest_standing(
    evaluation: Evaluation, build: PanelBuild, others: Sequence[Placement]
) -> Placement | None:
    """Find a place for one more standing panel.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room with the panels that are there.
    build : PanelBuild
        What shall stand there.
    others : sequence of Placement
        Panels that are there.

    Returns
    -------
    Placement or None
        Without an id; None when it fits nowhere.
    """
    scene = evaluation.scene
    floors = [i for i, s in enumerate(scene.surfaces) if s.ground]
    kept = kept_free(scene)
    tried: list[tuple[float, float, int, Rectangle]] = []
    start, end, weight = _legs(evaluation)
    for floor in floors:
        for place in _grid(scene, floor, build):
            box = box_on(scene.surfaces[floor].polygon, place, build.outer_height).bounds[0]
            met = crossed(box, start, end).reshape(2, -1).any(axis=0) if len(start) else np.zeros(0, bool)
            off = float(scene.surfaces[floor].polygon.region.boundary.distance(place.shape()))
            tried.append((-float(weight[met].sum()), off, floor, place))
    tried.sort(key=lambda t: (t[0], t[1], t[2], t[3].bounds))
    worthy = [t for t in tried if t[0] < 0.0]
    idle = [t for t in tried if t[0] >= 0.0]
    chosen = [*worthy, *idle[:: max(1, len(idle) // _MOST)]]
    for _, _, floor, place in chosen:
        if not can_stand(scene, floor, place, build, kept, others):
            return Placement("", build, floor, place, standing=True)
    for _, _, floor, place in chosen:
        panel = Placement("", build, floor, place, standing=True)
        if not _errors(scene, panel, others):
            return panel
    return None


def suggest_corner(
    scene: Scene, build: PanelBuild, others: Sequence[Placement], walls: tuple[int, int] | None = None
) -> Placement | None:
    """Find a place for one more panel across a corner.

    Parameters
    ----------
    scene : Scene
        The room.
    build : PanelBuild
        What shall stand there.
    others : sequence of Placement
        Panels that are there.
    walls : tuple of int, optional
        The two walls of the corner that is wanted; default any.

    Returns
    -------
    Placement or None
        Without an id; None when it fits nowhere.
    """
    around = surroundings_of(scene)
    corners = [c for c in open_corners(scene) if walls is None or set(c.walls) == set(walls)]

    def taken(c: Corner) -> int:
        return sum(p.corner is not None and {p.surface, p.corner} == set(c.walls) for p in others)

    corners.sort(key=lambda c: (taken(c), c.foot[0], c.foot[1]))
    if "corner" in build.on:
        for c in corners:
            for bottom in legal_bottoms(scene, c, build, around, others):
                return corner_placement(scene, c, build, bottom, "")
    for c in corners:
        for bottom in (0.0, build.outer_height):
            panel = corner_placement(scene, c, build, bottom, "")
            if bottom + build.outer_height <= c.height + 1e-6 and not _errors(scene, panel, others):
                return panel
    return None


def _errors(scene: Scene, panel: Placement, others: Sequence[Placement]) -> bool:
    """Whether a review refuses a panel."""
    found = review_placements(scene, [*others, replace(panel, id="?")])
    return any(f.severity == "error" and f.where.split(", ")[-1] == "?" for f in found)


def _grid(scene: Scene, floor: int, build: PanelBuild) -> list[Rectangle]:
    """Footprints all over a floor, along both walls, on whole centimetres from its edges."""
    low_u, low_v, high_u, high_v = scene.surfaces[floor].polygon.bounds
    made = []
    for along_u in (True, False):
        size = footprint(build, (0.0, 0.0), along_u)
        width, depth = size.width, size.height
        for u in np.arange(low_u + _OFF, high_u - width - _OFF + 1e-9, _STEP):
            for v in np.arange(low_v + _OFF, high_v - depth - _OFF + 1e-9, _STEP):
                made.append(Rectangle(round(float(u), 2), round(float(v), 2), width, depth))
    return made


def _legs(evaluation: Evaluation) -> tuple[Array, Array, Array]:
    """Both legs of the strong early first reflections, (2k, 3) each end, and their energies, (k,)."""
    scene, a = evaluation.scene, evaluation.arrivals
    strong = np.flatnonzero((a.order == 1) & np.array([v == "treat" for v in a.verdict], dtype=bool))
    source = np.array([scene.loudspeakers[int(a.source[i])].position for i in strong]).reshape(-1, 3)
    seat = np.array([scene.seats[int(a.seat[i])].position for i in strong]).reshape(-1, 3)
    bounce = a.points[strong, 0].reshape(-1, 3)
    energy = bands.energy_ratio(a.level_db[strong][:, CRITERION_BANDS]).max(axis=1, initial=0.0)
    return np.concatenate([source, bounce]), np.concatenate([bounce, seat]), np.asarray(energy)
