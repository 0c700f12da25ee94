"""Predicted absorption of a build by octave, with what is not known about it."""

from __future__ import annotations

import functools
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.materials.build import Layer
from treatment.materials.facing import Facing, facing_impedance
from treatment.materials.material import frozen_flags
from treatment.materials.porous import Complex, octave_absorption, within_range
from treatment.materials.resistivity import spread_of
from treatment.materials.uncertainty import reproducibility

#: Steps from the lowest to the highest airflow resistivity: absorption need not rise or fall all the way.
_STEPS: Final = 5
#: Frequencies in an octave and angles.
_FINE: Final = (12, 24)
_COARSE: Final = (6, 12)


@dataclass(frozen=True)
class _Gas:
    """All that the prediction asks of the air."""

    speed_of_sound: float
    density: float


@dataclass(frozen=True, eq=False)
class Prediction:
    """Absorption of an infinite sheet of a build, and its doubt.

    Parameters
    ----------
    absorption : numpy.ndarray
        Random-incidence octave mean, shape (8,).
    lowest, highest : numpy.ndarray
        Over the spread of the airflow resistivity, shape (8,).
    uncertainty : numpy.ndarray
        Expanded, k = 2, shape (8,): the larger distance to `lowest` or `highest` and the reproducibility
        of laboratories, by root of sum of squares. It does not hold the edge effect, by which a sample in
        a laboratory shows more than an infinite sheet.
    outside : numpy.ndarray
        Shape (8,), bool: the formula leaves the range it was fitted to.
    """

    absorption: Array
    lowest: Array
    highest: Array
    uncertainty: Array
    outside: NDArray[np.bool_]


def predict(
    layers: tuple[Layer, ...],
    air_gap: float,
    speed_of_sound: float,
    density: float = 1.204,
    facing: Facing | None = None,
) -> Prediction:
    """Predict the absorption of porous layers before a rigid wall.

    Parameters
    ----------
    layers : tuple of Layer
        From the room side; none for a perforated sheet over an empty space.
    air_gap : float
        Between the last layer and the wall, m.
    speed_of_sound, density : float
        Of the air, m/s and kg/m3.
    facing : Facing, optional
        Cloth, foil or perforated sheet before the first layer.

    Returns
    -------
    Prediction
        All arrays read-only. The resistivities of all layers go up and down together: they come from one
        kind of fit.
    """
    return _predict(tuple(layers), float(air_gap), float(speed_of_sound), float(density), facing)


@functools.lru_cache(maxsize=256)
def _predict(
    layers: tuple[Layer, ...], air_gap: float, speed_of_sound: float, density: float, facing: Facing | None
) -> Prediction:
    # Many builds share their layers, and nothing else of the air counts.
    gas = _Gas(speed_of_sound, density)

    def octaves(varied: tuple[Layer, ...], grid: tuple[int, int] = _FINE) -> Array:
        per_octave, angles = grid
        if facing is None:
            return octave_absorption(varied, air_gap, gas, per_octave=per_octave, angles=angles)
        behind = varied[0] if varied else None

        def front(frequency: Array) -> Complex:
            return facing_impedance(facing, frequency, gas, behind)

        return octave_absorption(varied, air_gap, gas, per_octave=per_octave, angles=angles, front=front)

    alpha = octaves(layers)
    ends = [spread_of(x.kind, x.density, x.airflow_resistivity) for x in layers]
    shifts = [np.zeros_like(alpha)]
    if layers:
        # Differences need no fine grid: this one leaves less than 0.005, at a quarter of the time.
        coarse = octaves(layers, _COARSE)
        for step in np.linspace(0.0, 1.0, _STEPS):
            values = [low * (high / low) ** step for low, high in ends]
            varied = [replace(x, airflow_resistivity=float(v)) for x, v in zip(layers, values, strict=True)]
            shifts.append(octaves(tuple(varied), _COARSE) - coarse)
    least, most = np.min(shifts, axis=0), np.max(shifts, axis=0)
    return Prediction(
        frozen(alpha),
        frozen(np.clip(alpha + least, 0.0, 1.0)),
        frozen(np.clip(alpha + most, 0.0, 1.0)),
        frozen(np.hypot(np.maximum(-least, most), reproducibility(alpha))),
        frozen_flags(~within_range(layers) if layers else [False] * 8),
    )
