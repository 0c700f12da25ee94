"""Where one more panel does most: a legal place near the strongest early reflection that is left."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.candidates import find_sites
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.model import Scene


def suggest_place(
    evaluation: Evaluation, build: PanelBuild, hanging: Sequence[Placement], surface: int | None = None
) -> tuple[int, Rectangle] | None:
    """Find a legal place for one more panel: as near as possible to the strongest early reflection.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room with the panels that hang.
    build : PanelBuild
        What shall hang there.
    hanging : sequence of Placement
        Their places are taken.
    surface : int, optional
        Index of the surface; default any.

    Returns
    -------
    tuple of int and Rectangle, or None
        Surface and place; None when the build fits nowhere there.
    """
    scene, a = evaluation.scene, evaluation.arrivals
    sites = find_sites(scene, (), (build,), tuple(hanging))
    on = np.arange(len(sites))
    if surface is not None:
        on = on[sites.surface[on] == surface]
    if len(on) == 0:
        return None
    middle = (sites.rectangle[:, :2] + sites.rectangle[:, 2:]) / 2.0
    strength = a.level_db[:, CRITERION_BANDS].max(axis=1)
    early = np.flatnonzero((a.order == 1) & np.array([v == "treat" for v in a.verdict], dtype=bool))
    for i in early[np.argsort(-strength[early], kind="stable")]:
        where = int(a.surfaces[i, 0])
        here = on[sites.surface[on] == where]
        if len(here) == 0:
            continue
        point = scene.surfaces[where].polygon.to_wall(a.points[i, 0])
        away = np.hypot(*(middle[here] - point).T)
        # A panel beside the point is no cure: it has to reach over it.
        if float(away.min()) < 0.5 * min(build.outer_width, build.outer_height):
            return where, sites.at(int(here[np.argmin(away)]))
    first = int(on[0]) if surface is None else int(on[np.argmin(_off_centre(scene, surface, middle[on]))])
    return int(sites.surface[first]), sites.at(first)


def _off_centre(scene: Scene, surface: int, points: Array) -> Array:
    centre = scene.surfaces[surface].polygon.region.centroid
    return np.asarray(np.hypot(points[:, 0] - centre.x, points[:, 1] - centre.y))
