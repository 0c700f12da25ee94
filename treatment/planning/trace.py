"""Rays through a scene: decay times that check the formulas."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.decay import DecayFigures, decay_figures, double_slope, figure_errors, place_mean
from treatment.acoustics.ray_tracing import TracedDecay, trace_decay
from treatment.acoustics.tiles import RayPatch
from treatment.bands import Array, frozen
from treatment.errors import Finding, PlanError
from treatment.planning.evaluate import patches_of
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.standing import furnished
from treatment.scene.model import Scene

#: Seed of the rays, so that a plan is the same every time.
SEED = 20_001
#: Relative standard error of T30 at one seat at which tracing stops.
PRECISION = 0.03


@dataclass(frozen=True, eq=False)
class Traced:
    """What rays say about a room.

    Parameters
    ----------
    result : TracedDecay
        Decays from every loudspeaker to every seat.
    t30, t30_error : numpy.ndarray
        Mean over all places and its standard error, shape (8,), s; NaN where the decay does not reach.
    edt : numpy.ndarray
        Mean early decay time, shape (8,), s.
    figures, errors : DecayFigures
        EDT, T20, T30, C50, C80, D50, Ts and curvature of each loudspeaker and seat, and their standard
        errors.
    double : numpy.ndarray
        Bands in which the decay bends at half of the places or more, shape (8,), bool.
    """

    result: TracedDecay
    t30: Array
    t30_error: Array
    edt: Array
    figures: DecayFigures
    errors: DecayFigures
    double: NDArray[np.bool_]


def trace_scene(
    scene: Scene,
    placements: Sequence[Placement],
    rays: int,
    *,
    seed: int = SEED,
    precision: float = PRECISION,
    progress: Callable[[float], None] | None = None,
) -> Traced:
    """Trace rays through a room with these panels in it.

    Parameters
    ----------
    scene : Scene
        The room, with at least one loudspeaker and one seat.
    placements : sequence of Placement
        The panels.
    rays : int
        At most so many, all loudspeakers together.
    seed : int
        Of the rays.
    precision : float
        Relative standard error of T30 at one seat, from 250 Hz to 4 kHz, at which to stop.
    progress : callable, optional
        Called with the share done, 0 to 1.

    Returns
    -------
    Traced
        Times, their errors, and where the decay bends.

    Raises
    ------
    PlanError
        When there is no loudspeaker or no seat.
    """
    if not scene.loudspeakers or not scene.seats:
        raise PlanError(
            "rays need at least one loudspeaker and one seat", hint="add [[loudspeakers]] and [[seats]]"
        )
    scene = furnished(scene, placements)
    patches = [
        RayPatch(p.surface, p.rectangle, p.material.absorption, p.material.scattering)
        for p in patches_of(scene, placements)
    ]
    result = trace_decay(
        scene.enclosure,
        scene.air,
        np.array([s.material.absorption for s in scene.surfaces]),
        np.array([s.material.scattering for s in scene.surfaces]),
        np.array([s.position for s in scene.loudspeakers]),
        np.array([s.position for s in scene.seats]),
        np.random.default_rng(seed),
        patches=patches,
        precision=precision,
        max_rays=rays,
        bands_that_count=list(range(bands.band_index(250), bands.band_index(4000) + 1)),
        progress=progress,
    )
    t30, error = place_mean(result.decay, "t30")
    edt, _ = place_mean(result.decay, "edt")
    bends = double_slope(result.decay)
    share = bends.reshape(-1, bends.shape[-1]).mean(axis=0)
    return Traced(
        result,
        frozen(t30),
        frozen(error),
        frozen(edt),
        decay_figures(result.decay),
        figure_errors(result.decay),
        np.asarray(share >= 0.5, dtype=bool),
    )


def with_rays(evaluation: Evaluation, traced: Traced) -> Evaluation:
    """Return an evaluation with traced times beside the formulas.

    Parameters
    ----------
    evaluation : Evaluation
        Of the same room and panels.
    traced : Traced
        What rays found.

    Returns
    -------
    Evaluation
        ``reverberation["traced"]`` filled, and findings about the decay added.
    """
    times = {**evaluation.reverberation, "traced": traced.t30}
    found = list(evaluation.findings)
    if traced.double.any():
        names = ", ".join(
            bands.band_label(f) for f, bent in zip(bands.NOMINAL_HZ, traced.double, strict=True) if bent
        )
        found.append(
            Finding(
                "double-slope",
                "note",
                "reverberation",
                f"the traced decay bends at {names}: part of the room dies away slowly between bare surfaces",
                "one number cannot tell it; spread the absorption over all three pairs of surfaces",
            )
        )
    if not traced.result.reached:
        found.append(
            Finding(
                "too-few-rays",
                "note",
                "reverberation",
                f"{traced.result.rays} rays did not reach a standard error of {100.0 * PRECISION:.0f} %",
                "ask for more with --rays",
            )
        )
    return replace(evaluation, reverberation=times, findings=tuple(found))
