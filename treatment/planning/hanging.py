"""Panels hung by hand: whether they can hang there, and where a new one does most."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from treatment.bands import Array
from treatment.errors import Finding
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.candidates import EDGE_MARGIN, body_bounds, find_sites, kept_free, suits
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.model import Scene

#: Bodies that share less than this are no clash (m).
_SHARED = 1e-3
_MEND = "move it, or take it down"


def check_hanging(scene: Scene, placements: Sequence[Placement]) -> tuple[Finding, ...]:
    """Check panels that a person put up.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels, in their order: of two that clash the later one is wrong.

    Returns
    -------
    tuple of Finding
        ``where`` is the panel's id. An error means that it cannot hang there, and must not be
        counted; a keep-out for electricity is one, any other keep-out a warning.
    """
    found: list[Finding] = []
    for i, p in enumerate(placements):
        problems = [*_on_surface(scene, p), *_kept_free(scene, p), *_clashes(scene, p, placements[:i])]
        found += problems
    return tuple(found)


def can_hang(placements: Sequence[Placement], findings: Sequence[Finding]) -> tuple[Placement, ...]:
    """Leave out the panels that cannot hang.

    Parameters
    ----------
    placements : sequence of Placement
        All panels.
    findings : sequence of Finding
        From `check_hanging`.

    Returns
    -------
    tuple of Placement
        Those without an error.
    """
    wrong = {f.where for f in findings if f.severity == "error"}
    return tuple(p for p in placements if p.id not in wrong)


def _body(scene: Scene, p: Placement) -> Array:
    return body_bounds(scene.surfaces[p.surface].polygon, p.rectangle, p.build.depth)


def _meet(a: Array, b: Array) -> bool:
    return bool(np.all(np.minimum(a[1], b[1]) - np.maximum(a[0], b[0]) > _SHARED))


def _on_surface(scene: Scene, p: Placement) -> Iterator[Finding]:
    surface = scene.surfaces[p.surface]
    if surface.kind == "floor":
        yield Finding("panel-on-floor", "error", p.id, "a panel does not hang on a floor", _MEND)
        return
    if not surface.polygon.region.buffer(1e-6, join_style="mitre").contains(p.rectangle.shape()):
        message = f"{p.id} reaches beyond {surface.name}"
        yield Finding("panel-outside-surface", "error", p.id, message, _MEND)
        return
    for opening in scene.openings:
        if opening.surface == p.surface and opening.rectangle.overlaps(p.rectangle):
            message = f"{p.id} covers {opening.name}"
            yield Finding("panel-over-opening", "error", p.id, message, _MEND)
    if not suits(p.build, surface.kind):
        message = f"{p.build.id} is not meant for a {surface.kind}"
        yield Finding("panel-place", "warning", p.id, message, "choose another build for this place")
    if _through_something(scene, p):
        message = f"{p.id} is {1000.0 * p.build.depth:.0f} mm deep and cuts into another surface"
        yield Finding(
            "panel-too-deep", "error", p.id, message, "move it away from the corner or the obstacle"
        )
    elif not surface.polygon.region.buffer(-0.5 * EDGE_MARGIN, join_style="mitre").contains(
        p.rectangle.shape()
    ):
        message = f"{p.id} leaves less than {500.0 * EDGE_MARGIN:.0f} mm to the edge of {surface.name}"
        hint = "a crooked corner or a skirting may be in the way"
        yield Finding("panel-near-edge", "note", p.id, message, hint)


def _through_something(scene: Scene, p: Placement) -> bool:
    """Whether the body of a panel leaves the room's air."""
    low_u, low_v, high_u, high_v = p.rectangle.grown(-0.005).bounds
    corners = np.array([[low_u, low_v], [high_u, low_v], [high_u, high_v], [low_u, high_v]])
    polygon = scene.surfaces[p.surface].polygon
    start, end = polygon.to_room(corners, out=1e-4), polygon.to_room(corners, out=p.build.depth)
    first = np.concatenate([start, end, end])
    second = np.concatenate([end, np.roll(end, 1, axis=0), np.roll(end, 2, axis=0)])
    return bool(scene.enclosure.blocked(first, second).any())


def _kept_free(scene: Scene, p: Placement) -> Iterator[Finding]:
    body = _body(scene, p)
    volumes = kept_free(scene)
    for keep, (bounds, name) in zip(scene.keep_outs, volumes, strict=False):
        if not _meet(body, bounds):
            continue
        if keep.reason == "electrical":
            message = f"{p.id} stands in the space that {name} needs (electrical)"
            hint = "electrical working space stays free, whatever hangs there would do; local codes rule"
            yield Finding("panel-in-electrical-space", "error", p.id, message, hint)
        else:
            message = f"{p.id} stands in the space kept free for {name} ({keep.reason})"
            yield Finding(
                "panel-in-kept-free-space", "warning", p.id, message, "you may force it: look first"
            )
    for bounds, name in volumes[len(scene.keep_outs) :]:
        if _meet(body, bounds):
            message = f"{p.id} comes close to {name}"
            yield Finding("panel-near-thing", "warning", p.id, message, "is there room for both?")


def _clashes(scene: Scene, p: Placement, earlier: Sequence[Placement]) -> Iterator[Finding]:
    body = _body(scene, p)
    for q in earlier:
        same = p.surface == q.surface
        if p.rectangle.overlaps(q.rectangle) if same else _meet(body, _body(scene, q)):
            message = f"{p.id} and {q.id} are in the same place"
            yield Finding("panels-overlap", "error", p.id, message, _MEND)


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
    on = np.flatnonzero(sites.depth >= build.depth - 1e-9)
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
