"""What works where nothing may hang, worked out: a panel that stands in the reflections."""

from __future__ import annotations

from typing import Final

import numpy as np

from treatment import bands
from treatment.acoustics.zones import seat_samples
from treatment.bands import Array
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.kept import bodies_clear, kept_free
from treatment.planning.neighbours import EVEN, OFFERED
from treatment.planning.pairing import same_paths
from treatment.planning.part_room import Part
from treatment.planning.plan import Evaluation, Indices, Placement
from treatment.planning.sight import clear_spaces
from treatment.planning.standing import IN_THE_WAY, can_stand, crossed
from treatment.planning.standing_places import OFF, axis_of, before_wall, off_wall, own_floor
from treatment.planning.targets import CRITERION_BANDS, CRITERION_MS
from treatment.planning.walkways import at_least_a_way
from treatment.scene.model import Scene
from treatment.units import format_length

#: Places that are tried, best first.
_MOST_PLACES = 60
#: What makes early sound weaker by less than this together is not offered (dB).
_LEAST_WORTH = 0.5
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


class Screens:
    """Standing panels in front of the blocked places of a plan.

    Parameters
    ----------
    scene : Scene
        The room, without standing panels of its own.
    after : Evaluation
        With all panels of the plan.
    """

    def __init__(self, scene: Scene, after: Evaluation) -> None:
        self._scene, self._after = scene, after
        self._room = at_least_a_way(scene)
        self._kept, self._sight = kept_free(scene), clear_spaces(scene)
        builds = [b for b in scene.builds if "free-standing" in b.on and scene.limits.suit(b)]
        self._build = max(builds, key=lambda b: float(b.material.capped[EVEN].mean())) if builds else None

    def offer(self, paths: Indices, part: Part, depth: float) -> str:
        """Work out what a free-standing panel in front of a blocked place does.

        Parameters
        ----------
        paths : numpy.ndarray
            Indices of the first reflections that meet the blocked place, all on one surface, shape (k,).
        part : Part
            The part of the room that they belong to.
        depth : float
            How far the space before it stays free, m.

        Returns
        -------
        str
            A sentence part with the place and what it does, or why there is none; empty when no build may
            stand or the surface is no wall along x or y.
        """
        scene, build = self._scene, self._build
        surface = int(self._after.arrivals.surfaces[paths[0], 0])
        if build is None or axis_of(scene, surface) is None:
            return ""
        found, why = self._best_place(paths, depth, build)
        if found is None:
            return f"{NO_SCREEN} {why}" if why else ""
        floor, place = found
        then = part.with_more([Placement(OFFERED, build, floor, place, standing=True)])
        a = part.before.arrivals
        gone = same_paths(a, then.arrivals)[part.paths] < 0
        if not gone.any():
            return ""
        pairs = {(int(a.source[i]), int(a.seat[i])) for i in part.paths[gone]}
        change = float(np.mean([early_change(part.before, then, *p) for p in pairs]))
        if change < _LEAST_WORTH:
            return f"{NO_SCREEN} all early reflections together get only {max(change, 0.0):.1f} dB weaker"
        low, high = scene.surfaces[floor].polygon.to_room([place.bounds[:2], place.bounds[2:]])
        x, y = (f"{_words(scene, low[k])} to {_words(scene, high[k])}" for k in (0, 1))
        return (
            f"a free-standing '{build.id}' ({_words(scene, build.outer_width)} wide, "
            f"{_words(scene, build.outer_height)} high) at x {x}, y {y} stops {int(gone.sum())} of "
            f"{len(paths)} such reflections; all early reflections concerned become {change:.1f} dB weaker "
            "together, its own included, what bends round its edges left out"
        )

    def _best_place(
        self, paths: Indices, depth: float, build: PanelBuild
    ) -> tuple[tuple[int, Rectangle] | None, str]:
        """Legal place in which a panel along the wall stands in most of the reflections, or why not."""
        scene, floor = self._scene, own_floor(self._scene)
        if floor is None:
            return None, ""
        source, bounce, heads = _legs(scene, self._after, paths)
        surface = int(self._after.arrivals.surfaces[paths[0], 0])
        polygon = scene.surfaces[surface].polygon
        along = 1 - int(np.argmax(np.abs(polygon.normal)))
        tried: dict[tuple[float, ...], tuple[float, Rectangle]] = {}
        for off in OFF:
            out = depth + off_wall(build) + off
            for end in (source, heads):
                rise = polygon.height_above(end)
                share = np.clip((out + build.thickness / 2.0) / np.maximum(rise, 1e-9), 0.0, 1.0)[..., None]
                for at in (bounce + share * (end - bounce))[..., along].mean(axis=1):
                    middle = float(np.round(at / 0.05) * 0.05)
                    place = before_wall(scene, floor, surface, build, out, middle)
                    low, high = scene.surfaces[floor].polygon.to_room([place.bounds[:2], place.bounds[2:]])
                    box = np.array([np.minimum(low, high), np.maximum(low, high)])
                    box[1, 2] += build.outer_height
                    stopped = crossed(box, source.reshape(-1, 3), bounce.reshape(-1, 3))
                    stopped |= crossed(box, bounce.reshape(-1, 3), heads.reshape(-1, 3))
                    tried[place.bounds] = (float(stopped.sum()) - off, place)
        ranked = sorted(tried.values(), key=lambda t: (-t[0], t[1].bounds))[:_MOST_PLACES]
        worth = [place for stopped, place in ranked if stopped > 0.0]
        if not worth:
            return None, ""
        # Most are in the way of something plain: that is seen for all at once.
        table, height = np.array([p.bounds for p in worth]), build.outer_height
        clear = bodies_clear(self._room, floor, table, height, self._kept, self._after.placements)
        reasons = [IN_THE_WAY] * int((~clear).sum())
        for n in np.flatnonzero(clear):
            place = worth[int(n)]
            why = can_stand(self._room, floor, place, build, self._kept, self._after.placements, self._sight)
            if not why:
                return (floor, place), ""
            reasons.append(why)
        return None, max(set(reasons), key=lambda r: (reasons.count(r), r))


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
