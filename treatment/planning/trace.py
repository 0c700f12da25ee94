"""Rays through a scene: decay times that check the formulas."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from treatment import bands
from treatment.acoustics.decay import decay_figures, double_slope, figure_errors
from treatment.acoustics.decay_means import figure_means, widened
from treatment.acoustics.ray_tracing import trace_decay
from treatment.acoustics.tiles import RayPatch
from treatment.errors import PlanError
from treatment.planning.furnishing import objects_attenuation
from treatment.planning.patches import patches_of
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.standing import furnished
from treatment.planning.traced import Traced
from treatment.scene.model import Scene

#: Seed of the rays, so that a plan is the same every time.
SEED = 20_001
#: Relative standard error of T30 at one seat at which tracing stops.
PRECISION = 0.03
#: Rays at most when only a precision is asked for.
MOST_RAYS = 500_000


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
        Quantities by place, seat and room, their errors, and where the decay bends.

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
        clutter=objects_attenuation(scene),
        progress=progress,
    )
    bends = double_slope(result.decay)
    share = bends.reshape(-1, bends.shape[-1]).mean(axis=0)
    places = decay_figures(result.decay), figure_errors(result.decay)
    seats, whole = (figure_means(result.decay, axis=axis) for axis in (0, (0, 1)))
    known = [(values, widened(errors, result.widening)) for values, errors in (places, seats, whole)]
    return Traced(
        result,
        precision,
        *known[0],
        *known[1],
        *known[2],
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
        ``reverberation["traced"]``, ``traced`` and ``traced_error`` filled; findings about the decay added.
    """
    return replace(
        evaluation,
        reverberation={**evaluation.reverberation, "traced": traced.t30},
        findings=(*evaluation.findings, *traced.findings()),
        traced=traced,
        traced_error=traced.t30_error,
    )
