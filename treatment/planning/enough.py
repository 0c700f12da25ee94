"""How many panels are enough, how many are too many, and what the last one brought."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.reverberation import DECAY_CONSTANT
from treatment.bands import Array, frozen
from treatment.planning.boundary import absorption_rows
from treatment.planning.evaluate import reverberation_times
from treatment.planning.furnishing import attenuation, free_volume
from treatment.planning.patches import patches_of
from treatment.planning.plan import Evaluation, Placement, Plan
from treatment.planning.standing import furnished
from treatment.planning.targets import outside
from treatment.scene.model import Scene

#: The mean of these bands stands for the middle of the range (ISO 3382-2, 6.2: T_mid; from memory).
MIDDLE: Final = bands.band_slice(500, 1000)
#: No number of panels.
NEVER: Final = -1


@dataclass(frozen=True, eq=False)
class Enough:
    """From how many panels on the reverberation is right, and from how many it is too short.

    Parameters
    ----------
    formula : str
        ``eyring`` or ``sabine``.
    times : numpy.ndarray
        By number of panels from none on, shape (n + 1, 8), s.
    planned : int
        Panels of the plan; what `times` holds beyond is a continuation with more of the last kind.
    met, overshot : numpy.ndarray
        Smallest number of panels with which a band is not above its range, and with which it is below,
        shape (8,); `NEVER` where walls and ceiling do not hold so many, or nothing is asked.
    middle_met, middle_overshot : int
        The same for the mean of the 500 Hz and 1 kHz bands.
    """

    formula: str
    times: Array
    planned: int
    met: NDArray[np.intp]
    overshot: NDArray[np.intp]
    middle_met: int
    middle_overshot: int


@dataclass(frozen=True, eq=False)
class LastPanel:
    """What the last panel of a plan brought.

    Parameters
    ----------
    id, build : str
        Which, and what it is.
    area : numpy.ndarray
        Absorption area that it adds, shape (8,), m2.
    time : numpy.ndarray
        Change of Eyring's time, shape (8,), s; negative is shorter.
    excess_db : float or None
        What it takes off the early excess over all arrivals, dB; None for panels that were not chosen here.
    price : float
        In the budget's currency.
    """

    id: str
    build: str
    area: Array
    time: Array
    excess_db: float | None
    price: float


def with_panels(scene: Scene, placements: Sequence[Placement]) -> tuple[Array, dict[str, Array | None]]:
    """Absorption area of a room's boundary with panels, and its reverberation.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    area : numpy.ndarray
        Sum of ``S alpha`` over the rows, shape (8,), m2.
    times : dict of str to numpy.ndarray or None
        By formula, as `treatment.planning.evaluate.evaluate` makes them.
    """
    room = furnished(scene, placements)
    patches = patches_of(room, placements)
    rows = absorption_rows(room, patches)
    areas, absorption = np.array([r.area for r in rows]), np.array([r.absorption for r in rows])
    surface = np.array([r.surface for r in rows], dtype=np.intp)
    return np.asarray(areas @ absorption), reverberation_times(room, areas, absorption, surface)


def times_of_area(evaluation: Evaluation, area: Array, formula: str) -> Array:
    """Reverberation time of a room whose boundary absorbs an area.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.
    area : numpy.ndarray
        Sum of ``S alpha``, shape (..., 8), m2.
    formula : str
        ``eyring`` or ``sabine``.

    Returns
    -------
    numpy.ndarray
        Shape (..., 8), s.
    """
    scene, surface = evaluation.scene, evaluation.surface_area
    volume = free_volume(scene)
    if formula == "eyring":
        area = -surface * np.log1p(-np.minimum(area / surface, 0.9999))
    whole = area + 4.0 * attenuation(scene) * volume
    return np.asarray(DECAY_CONSTANT / scene.air.speed_of_sound * volume / whole)


def area_of_times(evaluation: Evaluation, times: Array, formula: str) -> Array:
    """Absorption area of the boundary that a reverberation time asks for; the inverse of `times_of_area`.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.
    times : numpy.ndarray
        Shape (..., 8), s.
    formula : str
        ``eyring`` or ``sabine``.

    Returns
    -------
    numpy.ndarray
        Sum of ``S alpha``, shape (..., 8), m2.
    """
    scene, surface = evaluation.scene, evaluation.surface_area
    volume = free_volume(scene)
    whole = DECAY_CONSTANT / scene.air.speed_of_sound * volume / times - 4.0 * attenuation(scene) * volume
    return np.asarray(surface * -np.expm1(-whole / surface) if formula == "eyring" else whole)


def area_off(evaluation: Evaluation, formula: str = "eyring") -> Array:
    """Absorption area that a room lacks to be in its target range, or has too much.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.
    formula : str
        ``eyring`` or ``sabine``.

    Returns
    -------
    numpy.ndarray
        Shape (8,), m2: positive where it lacks, negative where it has too much, 0 inside the range, NaN
        where the range says nothing.
    """
    times, target = np.asarray(evaluation.reverberation[formula]), evaluation.target
    off = outside(times, target)
    known = np.isfinite(target.lower) & np.isfinite(target.upper)
    edge = np.where(off > 0.0, target.upper, np.where(off < 0.0, target.lower, times))
    difference = area_of_times(evaluation, edge, formula) - area_of_times(evaluation, times, formula)
    return frozen(np.where(known, np.where(off == 0.0, 0.0, difference), np.nan))


def enough(plan: Plan, formula: str = "eyring") -> Enough:
    """Find how many panels are enough and how many are too many.

    Parameters
    ----------
    plan : Plan
        Any plan.
    formula : str
        ``eyring`` or ``sabine``.

    Returns
    -------
    Enough
        Panels in the order of the plan, then more like its last one, as many as walls and ceiling
        hold. Without any panel there is no kind to go on with.
    """
    panels = plan.placements
    states = [with_panels(plan.scene, panels[:n]) for n in range(len(panels) + 1)]
    area = np.array([a for a, _ in states])
    times = np.array([t[formula] for _, t in states], dtype=np.float64)
    if panels:
        last = panels[-1]
        kinds = np.array([p.build.id == last.build.id for p in panels])
        room = sum(s.polygon.area for s in plan.scene.surfaces if s.kind != "floor" and not s.obstacle)
        taken = sum(p.rectangle.area for p in panels)
        # A standing panel takes little floor, but shows as much as one that hangs.
        fits = max(0, int((room - taken) / max(last.rectangle.area, last.build.width * last.build.height)))
        each = np.diff(area, axis=0)[kinds].mean(axis=0)
        further = area[-1] + each * np.arange(1, fits + 1)[:, None]
        times = np.concatenate([times, times_of_area(plan.after, further, formula)])
    target = plan.after.target
    middle = times[:, MIDDLE].mean(axis=1)
    return Enough(
        formula,
        frozen(times),
        len(plan.placements),
        np.array([_first(t <= edge) for t, edge in zip(times.T, target.upper, strict=True)], dtype=np.intp),
        np.array([_first(t < edge) for t, edge in zip(times.T, target.lower, strict=True)], dtype=np.intp),
        _first(middle <= target.upper[MIDDLE].mean()),
        _first(middle < target.lower[MIDDLE].mean()),
    )


def _first(flags: NDArray[np.bool_]) -> int:
    return int(flags.argmax()) if flags.any() else NEVER


def last_panel(plan: Plan) -> LastPanel | None:
    """Tell what the last panel of a plan brought.

    Parameters
    ----------
    plan : Plan
        Any plan.

    Returns
    -------
    LastPanel or None
        None without panels.
    """
    if not plan.placements:
        return None
    last, number = plan.placements[-1], len(plan.placements)
    (area, times), (less, longer) = (
        with_panels(plan.scene, plan.placements[:n]) for n in (number, number - 1)
    )
    steps = {s.panels: s.excess_db for s in plan.progress}
    known = number in steps and number - 1 in steps
    return LastPanel(
        last.id,
        last.build.id,
        frozen(area - less),
        frozen(np.asarray(times["eyring"]) - np.asarray(longer["eyring"])),
        steps[number - 1] - steps[number] if known else None,
        last.build.price,
    )
