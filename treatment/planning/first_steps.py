"""What a weak plan leaves: its largest part, and what cheaper than panels to do about it first.

What is advised is evaluated, with the same function as the plan: a carpet over a bare floor, a curtain before
the glass of one side.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, band_index, band_slice, decibels
from treatment.materials.library import load_library
from treatment.materials.material import Material
from treatment.materials.prices import Prices
from treatment.measures import area_words
from treatment.planning.covering_price import CARPET, CURTAIN, covering_price
from treatment.planning.evaluate import evaluate
from treatment.planning.fate import Fate, fate_of
from treatment.planning.main_seat import main_seat
from treatment.planning.plan import Evaluation, Indices
from treatment.planning.targets import CRITERION_BANDS, CRITERION_MS
from treatment.scene.model import Scene

#: A plan is called weak when more than this share of the strong single bounces stays ...
_STAY: Final = 0.75
#: ... and Eyring's time, mean of 500 Hz and 1 kHz, is above the range by more than this factor.
_LONG: Final = 1.5
#: A floor that absorbs less than this at 1 kHz is bare.
_BARE: Final = 0.25
#: Sides are told apart from this difference on, when the panels made it larger by the second (dB); about
#: 1 dB is the least that is heard (common practice).
_UNEVEN_DB, _MORE_DB = 1.5, 1.0
_CARPET: Final = "carpet-heavy-on-hairfelt"
_CURTAIN: Final = "curtain-heavy-velour-half-area-aad"
_MIDDLE: Final = band_slice(500, 1000)


@dataclass(frozen=True)
class Sides:
    """Single bounces that reach the main seat early from the left and from the right.

    Parameters
    ----------
    left, right : float
        Energy sums re the direct sound, mean of 1 to 8 kHz, dB; minus infinity where there are none.
    """

    left: float
    right: float

    @property
    def apart(self) -> float:
        """How much more comes from the left, dB; 0 where one side sends nothing."""
        return self.left - self.right if np.isfinite(self.left) and np.isfinite(self.right) else 0.0


def first_steps(
    before: Evaluation, after: Evaluation, prices: Prices | None = None, *, offers: bool = True
) -> tuple[str, ...]:
    """Say of a weak plan that it is weak, what is the largest thing left, and what to do first.

    Parameters
    ----------
    before, after : Evaluation
        Of the room without and with the panels.
    prices : Prices, optional
        Of one's own; default those of the scene, and invented examples for what has none.
    offers : bool
        Whether a carpet and a curtain are tried, each with an evaluation of its own.

    Returns
    -------
    tuple of str
        Sentences; nothing for a plan that is neither weak nor treats one side alone.
    """
    if not before.arrivals.order.size or not after.placements:
        return ()
    words = (_weak(before, after, prices, offers=offers), _uneven(before, after, prices, offers=offers))
    return tuple(x for x in words if x)


def _weak(before: Evaluation, after: Evaluation, prices: Prices | None, *, offers: bool) -> str:
    fate = fate_of(before, after, 1)
    now, most = (float(x[_MIDDLE].mean()) for x in (after.eyring, after.target.upper))
    if fate.before == 0 or fate.stay <= _STAY * fate.before or not now > _LONG * most:
        return ""
    words = (
        f"This plan is weak for the room: {fate.stay} of {fate.before} strong single bounces stay, and at "
        f"500 Hz and 1 kHz the sound dies away in {now:.2f} s (Eyring), where at most {most:.2f} s is wanted."
    )
    name, count, share = largest_left(after)
    words += f" The largest thing left is the {_called(after.scene, name)}: it sends {count} of those that "
    words += f"stay, {100.0 * share:.0f} % of their energy."
    return words + (_carpet(before, after, fate, now, prices) if offers else "")


def largest_left(after: Evaluation) -> tuple[str, int, float]:
    """Find the surface that sends most of the single bounces that are strong.

    Parameters
    ----------
    after : Evaluation
        With at least one such bounce.

    Returns
    -------
    tuple of (str, int, float)
        Its name, how many it sends, and its share of their energy, summed over 1 to 8 kHz.
    """
    a, scene = after.arrivals, after.scene
    strong = np.flatnonzero((a.order == 1) & np.array([v == "treat" for v in a.verdict], dtype=bool))
    energy = _energy(a.level_db[strong])
    sums: dict[str, tuple[int, float]] = {}
    for i, e in zip(strong, energy, strict=True):
        index = int(a.surfaces[i, 0])
        name = scene.surfaces[index].name if index < len(scene.surfaces) else a.names[i][0]
        count, total = sums.get(name, (0, 0.0))
        sums[name] = (count + 1, total + float(e))
    best = max(sums, key=lambda n: sums[n][1])
    return best, sums[best][0], sums[best][1] / float(energy.sum())


def _carpet(before: Evaluation, after: Evaluation, fate: Fate, now: float, prices: Prices | None) -> str:
    """What a carpet over a bare floor does to a weak plan; nothing where it does little."""
    scene = before.scene
    band = band_index(1000)
    bare = [s for s in scene.surfaces if s.ground]
    bare = [s for s in bare if s.material.absorption[band] < _BARE]
    if not bare:
        return ""
    names = {s.name for s in bare}
    laid = _covered(scene, load_library().get(_CARPET), lambda n: n in names, surfaces=True)
    then = evaluate(laid, after.placements, order=1)
    stay, seconds = fate_of(before, then, 1), float(then.eyring[_MIDDLE].mean())
    if stay.stay + stay.new >= fate.stay + fate.new and seconds > 0.95 * now:
        return ""
    area = sum(r.area for r in then.rows if r.kind == "surface" and r.name in names)
    return (
        f" A carpet first, before more panels: with a heavy one on a soft underlay ({_CARPET}) over the "
        f"whole bare floor ({area_words(area, scene.units, 0)}, "
        f"{covering_price(CARPET, area, scene, prices)}) {stay.stay} would stay, at {seconds:.2f} s."
    )


def sides_of(e: Evaluation) -> Sides:
    """Add up the single bounces that reach the main seat early from each side.

    Parameters
    ----------
    e : Evaluation
        Of a room with seats.

    Returns
    -------
    Sides
        Of all loudspeakers.
    """
    return Sides(*(_level(e, _from_side(e, sign)) for sign in (1.0, -1.0)))


def _from_side(e: Evaluation, sign: float) -> Indices:
    a = e.arrivals
    own = (a.seat == main_seat(e.scene)) & (a.order == 1) & (a.delay_ms <= CRITERION_MS) & a.lateral
    return np.flatnonzero(own & (sign * a.direction_deg[:, 0] > 0.0))


def _level(e: Evaluation, which: NDArray[np.intp]) -> float:
    if len(which) == 0:
        return -np.inf
    return float(decibels(np.array(_energy(e.arrivals.level_db[which]).sum() / 4.0)))


def _energy(level_db: Array) -> Array:
    """Energy re the direct sound, summed over 1 to 8 kHz, shape (n, 8) -> (n,)."""
    return np.asarray((10.0 ** (level_db[:, CRITERION_BANDS] / 10.0)).sum(axis=1))


def _uneven(before: Evaluation, after: Evaluation, prices: Prices | None, *, offers: bool) -> str:
    """Say that left and right differ by the panels, and what a curtain before glass does about it."""
    was, now = sides_of(before), sides_of(after)
    if abs(now.apart) < _UNEVEN_DB or abs(now.apart) < abs(was.apart) + _MORE_DB:
        return ""
    louder, sign = ("left", 1.0) if now.apart > 0.0 else ("right", -1.0)
    seat = after.scene.seats[main_seat(after.scene)].name
    words = (
        f"Left and right now differ: at '{seat}' {abs(now.apart):.1f} dB more comes early by single bounces "
        f"from the {louder} ({abs(was.apart):.1f} dB of difference without the panels)."
    )
    a, scene = after.arrivals, after.scene
    glass = {s.name for s in scene.surfaces if s.material.category == "window"}
    glass |= {o.name for o in scene.openings if o.material.category == "window"}
    names = {a.names[i][0] for i in _from_side(after, sign)} & glass
    if not names or not offers:
        return words
    draped = _covered(scene, load_library().get(_CURTAIN), lambda n: n in names)
    drawn = evaluate(draped, after.placements, order=1)
    area = sum(r.area for r in drawn.rows if r.kind in ("surface", "opening") and r.name in names)
    glazed = " and ".join(f"'{n}'" for n in sorted(names))
    words += f" A heavy draped curtain ({_CURTAIN}) across {glazed}, {area_words(area, scene.units)}, "
    words += f"{covering_price(CURTAIN, area, scene, prices)}, "
    then = sides_of(drawn)
    if sign * then.apart >= 0.0:
        return f"{words}brings the difference to {sign * then.apart:.1f} dB."
    enough = area_words(area * share_to_even(now, then), scene.units, 0)
    return (
        f"{words}is more than that needs: then {abs(then.apart):.1f} dB more comes from the other side; "
        f"about {enough} of it, where the sound lands, would even them."
    )


def share_to_even(bare: Sides, covered: Sides) -> float:
    """Part of a curtain that makes both sides equal, when all of it is too much.

    Parameters
    ----------
    bare, covered : Sides
        Without and with all of it; the louder side is another one in each.

    Returns
    -------
    float
        0 to 1, when each part of it takes the same energy.
    """
    level = (bare.left, bare.right, covered.left, covered.right)
    left, right, left_then, right_then = (10.0 ** (x / 10.0) for x in level)
    return float((left - right) / ((left - right) - (left_then - right_then)))


def _covered(
    scene: Scene, material: Material, named: Callable[[str], bool], *, surfaces: bool = False
) -> Scene:
    """Room with another material on some of its surfaces and openings."""
    changed = tuple(replace(s, material=material) if named(s.name) else s for s in scene.surfaces)
    if surfaces:
        return replace(scene, surfaces=changed)
    doors = tuple(replace(o, material=material) if named(o.name) else o for o in scene.openings)
    return replace(scene, surfaces=changed, openings=doors)


def _called(scene: Scene, name: str) -> str:
    surface = next((s for s in scene.surfaces if s.name == name), None)
    own = surface is not None and not surface.obstacle and not surface.recess
    wall = own and surface is not None and surface.kind == "wall" and "wall" not in name
    return f"{name} wall" if wall else name
