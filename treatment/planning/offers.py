"""What works where nothing may hang, worked out: a panel that stands, one beside, one at another bounce."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.zones import seat_samples
from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.candidates import Sites, find_sites
from treatment.planning.evaluate import evaluate
from treatment.planning.gains import EVEN_SHARE
from treatment.planning.kept import kept_free
from treatment.planning.pairing import same_paths
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.standing import can_stand, crossed, footprint
from treatment.planning.targets import CRITERION_BANDS, CRITERION_MS
from treatment.planning.why_not import Hindrance
from treatment.scene.model import Scene
from treatment.units import format_length

Indices = NDArray[np.intp]

#: Distances from what must stay free at which a standing panel is tried (m).
_OFF = (0.05, 0.15, 0.30, 0.50)
#: Places that are tried, best first.
_MOST_PLACES = 60
#: What makes early sound weaker by less than this together is not offered (dB).
_LEAST_WORTH = 0.5
#: Bands by which the build of an offer is chosen, 250 Hz to 4 kHz: thin felt only dulls a reflection.
_EVEN = bands.band_slice(250, 4000)
#: Name of what is only offered.
_OFFERED = "offered"

#: How the sentence begins that says why no free-standing panel helps.
NO_SCREEN: Final = "no free-standing panel: wherever it would stop them"


def early_change(before: Evaluation, after: Evaluation, source: int, seat: int) -> float:
    """How much weaker all early reflections from a loudspeaker at a seat become together.

    Parameters
    ----------
    before, after : Evaluation
        Of one room.
    source, seat : int
        Indices.

    Returns
    -------
    float
        Energy of reflections of first and second order within the criterion's time, mean of the bands from
        1 to 8 kHz, dB.
    """

    def energy(e: Evaluation) -> Array:
        a = e.arrivals
        own = (a.source == source) & (a.seat == seat) & (a.order > 0) & (a.delay_ms <= CRITERION_MS)
        return np.asarray(bands.energy_ratio(a.level_db[own][:, CRITERION_BANDS]).sum(axis=0))

    ratio = np.maximum(energy(before), 1e-9) / np.maximum(energy(after), 1e-9)
    return float(bands.decibels(ratio).mean())


def with_screen(scene: Scene, after: Evaluation, paths: Indices, hindrance: Hindrance) -> str:
    """Work out what a free-standing panel in front of a blocked place does.

    Parameters
    ----------
    scene : Scene
        The room, without standing panels of its own.
    after : Evaluation
        With all panels of the plan.
    paths : numpy.ndarray
        Indices of the first reflections that meet the blocked place, all on one surface, shape (k,).
    hindrance : Hindrance
        What blocks it.

    Returns
    -------
    str
        A sentence part with the place and what it does, or why there is none; empty when no build may stand
        or the surface is no wall along x or y.
    """
    builds = [b for b in scene.builds if "free-standing" in b.on]
    surface = int(after.arrivals.surfaces[paths[0], 0])
    polygon = scene.surfaces[surface].polygon
    across = int(np.argmax(np.abs(polygon.normal)))
    if not builds or across == 2 or abs(polygon.normal[across]) < 1.0 - 1e-6:
        return ""
    build = max(builds, key=lambda b: float(b.material.capped[_EVEN].mean()))
    found, why = _best_place(scene, after, paths, hindrance, build)
    if found is None:
        return f"{NO_SCREEN} {why}" if why else ""
    floor, place = found
    screen = Placement(_OFFERED, build, floor, place, standing=True)
    then = evaluate(scene, (*after.placements, screen))
    gone = same_paths(after.arrivals, then.arrivals)[paths] < 0
    if not gone.any():
        return ""
    a = after.arrivals
    pairs = {(int(a.source[i]), int(a.seat[i])) for i in paths[gone]}
    change = float(np.mean([early_change(after, then, *p) for p in pairs]))
    if change < _LEAST_WORTH:
        return ""
    low, high = scene.surfaces[floor].polygon.to_room([place.bounds[:2], place.bounds[2:]])
    x, y = (f"{_words(scene, low[k])} to {_words(scene, high[k])}" for k in (0, 1))
    return (
        f"a free-standing '{build.id}' ({_words(scene, build.outer_width)} wide, "
        f"{_words(scene, build.outer_height)} high) at x {x}, y {y} stops {int(gone.sum())} of "
        f"{len(paths)} such reflections; all early reflections concerned become {change:.1f} dB weaker "
        "together, its own included, what bends round its edges left out"
    )


def _words(scene: Scene, metres: float) -> str:
    return format_length(float(metres), scene.units)


def _legs(scene: Scene, after: Evaluation, paths: Indices) -> tuple[Array, Array, Array]:
    """From loudspeaker to wall, and wall to heads, for all points of the seats' areas, shape (k, 5, 3)."""
    a = after.arrivals
    polygon = scene.surfaces[int(a.surfaces[paths[0], 0])].polygon
    source = np.array([scene.loudspeakers[int(a.source[i])].position for i in paths])[:, None]
    heads = np.array(
        [
            seat_samples(seat.position[None], np.array([seat.spread]))
            for seat in (scene.seats[int(a.seat[i])] for i in paths)
        ]
    )
    near, far = polygon.height_above(source), polygon.height_above(heads)
    image = source - 2.0 * near[..., None] * polygon.normal
    share = (far / (far + near))[..., None]
    return np.broadcast_to(source, heads.shape), heads + share * (image - heads), heads


def _best_place(
    scene: Scene, after: Evaluation, paths: Indices, hindrance: Hindrance, build: PanelBuild
) -> tuple[tuple[int, Rectangle] | None, str]:
    """Legal place in which a panel along the wall stands in most of the reflections, or why there is none."""
    source, bounce, heads = _legs(scene, after, paths)
    polygon = scene.surfaces[int(after.arrivals.surfaces[paths[0], 0])].polygon
    across = int(np.argmax(np.abs(polygon.normal)))
    floors = [i for i, s in enumerate(scene.surfaces) if s.kind == "floor" and not s.obstacle]
    if not floors:
        return None, ""
    floor = scene.surfaces[floors[0]].polygon
    tried: dict[tuple[float, float], tuple[float, Rectangle]] = {}
    for off in _OFF:
        out = hindrance.depth + off + build.thickness / 2.0
        for start, end in ((bounce, source), (bounce, heads)):
            rise = polygon.height_above(end)
            share = np.clip(out / np.maximum(rise, 1e-9), 0.0, 1.0)[..., None]
            for point in (start + share * (end - start)).mean(axis=1):
                centre = np.round(point / 0.05) * 0.05
                centre[across] = polygon.origin[across] + out * polygon.normal[across]
                u, v = floor.to_wall(centre)
                along_u = abs(float(floor.u_axis[across])) < 0.5
                place = footprint(build, (float(u), float(v)), along_u)
                low, high = floor.to_room([place.bounds[:2], place.bounds[2:]])
                box = np.array([low, high])
                box[1, 2] += build.outer_height
                stopped = crossed(box, source.reshape(-1, 3), bounce.reshape(-1, 3))
                stopped |= crossed(box, bounce.reshape(-1, 3), heads.reshape(-1, 3))
                tried[float(u), float(v)] = (float(stopped.sum()) - off, place)
    kept, reasons = kept_free(scene), []
    ranked = sorted(tried.values(), key=lambda t: (-t[0], t[1].bounds))
    for worth, place in ranked[:_MOST_PLACES]:
        if worth <= 0.0:
            break
        why = can_stand(scene, floors[0], place, build, kept, after.placements)
        if not why:
            return (floors[0], place), ""
        reasons.append(why)
    return None, max(set(reasons), key=lambda r: (reasons.count(r), r)) if reasons else ""


def with_neighbours(scene: Scene, after: Evaluation, paths: Indices, hindrance: Hindrance) -> tuple[str, str]:
    """Work out what panels beside a blocked place, and at the other bounce of later reflections, do.

    Parameters
    ----------
    scene : Scene
        The room, without standing panels of its own.
    after : Evaluation
        With all panels of the plan.
    paths : numpy.ndarray
        Indices of the first reflections that meet the blocked place, all on one surface, shape (k,).
    hindrance : Hindrance
        What blocks it.

    Returns
    -------
    beside, other : str
        Sentence parts; empty where nothing fits or nothing is gained.
    """
    a = after.arrivals
    surface = int(a.surfaces[paths[0], 0])
    hung = [b for b in scene.builds if {"wall", "ceiling"} & set(b.on)]
    if not hung:
        return "", ""
    middle, high = bands.band_index(500), bands.band_index(2000)
    hung = [b for b in hung if b.material.capped[middle] >= EVEN_SHARE * b.material.capped[high]] or hung
    sites = find_sites(scene, (), hung, after.placements)
    point = scene.surfaces[surface].polygon.to_wall(a.points[paths, 0]).mean(axis=0)
    beside = ""
    found = _nearest(scene, sites, surface, point, hung, reach=1.0)
    if found is not None:
        then = evaluate(scene, (*after.placements, found))
        change = _weaker(after, then, paths)
        if change >= _LEAST_WORTH:
            beside = (
                f"'{found.build.id}' right beside it takes {change:.1f} dB off these reflections, no cure"
                if change < 6.0
                else f"'{found.build.id}' right beside it takes {change:.1f} dB off these reflections"
            )
    return beside, _other_bounce(scene, after, paths, hindrance, sites, hung)


def _counted(number: int) -> str:
    if number == 1:
        return "one second reflection that meets it meets"
    return f"{number} second reflections that meet it meet"


def _weaker(before: Evaluation, after: Evaluation, paths: Indices) -> float:
    again = same_paths(before.arrivals, after.arrivals)[paths]
    both = again >= 0
    if not both.any():
        return 0.0
    was = before.arrivals.level_db[paths[both]][:, CRITERION_BANDS]
    return float((was - after.arrivals.level_db[again[both]][:, CRITERION_BANDS]).mean())


def _nearest(
    scene: Scene, sites: Sites, surface: int, point: Array, builds: Sequence[PanelBuild], reach: float
) -> Placement | None:
    """Best build at the legal site nearest to a point; None when it ends further than `reach` away."""
    on = np.flatnonzero(sites.surface == surface)
    if len(on) == 0:
        return None
    r = sites.rectangle[on]
    gap = np.maximum(np.maximum(r[:, :2] - point, point - r[:, 2:]), 0.0)
    middle = np.hypot(*((r[:, :2] + r[:, 2:]) / 2.0 - point).T)
    best = int(on[np.lexsort((middle, np.hypot(*gap.T)))[0]])
    if float(np.hypot(*gap[np.flatnonzero(on == best)[0]])) > reach:
        return None
    place = sites.at(best)
    kind, size = scene.surfaces[surface].kind, sorted((place.width, place.height))
    fitting = [
        b
        for b in builds
        if kind in b.on
        and b.depth <= sites.depth[best] + 1e-9
        and np.allclose(sorted((b.outer_width, b.outer_height)), size, atol=1e-3)
    ]
    if not fitting:
        return None
    build = max(fitting, key=lambda b: float(b.material.capped[_EVEN].mean()))
    return Placement(_OFFERED, build, surface, place)


def _other_bounce(
    scene: Scene,
    after: Evaluation,
    paths: Indices,
    hindrance: Hindrance,
    sites: Sites,
    builds: Sequence[PanelBuild],
) -> str:
    """What a panel at the other bounce does to the second reflections that meet the blocked place."""
    a = after.arrivals
    if hindrance.rectangle is None:
        return ""
    surface = int(a.surfaces[paths[0], 0])
    low_u, low_v, high_u, high_v = hindrance.rectangle.bounds
    strong = np.array([v == "treat" for v in a.verdict], dtype=bool) & (a.order == 2)
    groups: dict[int, list[tuple[int, Array]]] = {}
    for i in np.flatnonzero(strong):
        for k in (0, 1):
            u, v = scene.surfaces[surface].polygon.to_wall(a.points[i, k])
            if a.surfaces[i, k] == surface and low_u <= u <= high_u and low_v <= v <= high_v:
                other = int(a.surfaces[i, 1 - k])
                groups.setdefault(other, []).append((int(i), a.points[i, 1 - k]))
    for other, members in sorted(groups.items(), key=lambda g: (-len(g[1]), g[0])):
        polygon = scene.surfaces[other].polygon
        point = polygon.to_wall(np.array([p for _, p in members])).mean(axis=0)
        found = _nearest(scene, sites, other, point, builds, reach=0.1)
        if found is None:
            continue
        then = evaluate(scene, (*after.placements, found))
        change = _weaker(after, then, np.array([i for i, _ in members]))
        if change >= 1.0:
            return (
                f"{_counted(len(members))} also '{scene.surfaces[other].name}': '{found.build.id}' there "
                f"takes {change:.1f} dB off"
            )
    return ""
