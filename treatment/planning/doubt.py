"""How sure the reverberation times are: formulas that differ, and materials that are not known exactly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from treatment import bands
from treatment.bands import Array, frozen
from treatment.planning.furnishing import attenuation, free_volume
from treatment.planning.plan import Evaluation

#: A coefficient is wrong by this share of itself at worst. Judgement.
WORST_SHARE = 0.5


@dataclass(frozen=True, eq=False)
class Doubt:
    """An interval for the reverberation time by band, and where it comes from.

    Parameters
    ----------
    lower, upper : numpy.ndarray
        Shape (8,), s.
    formulas : tuple of numpy.ndarray
        Shortest and longest time over the formulas with the materials as listed, shape (8,), s each.
    materials : numpy.ndarray
        Relative expanded uncertainty (k = 2) of the time that the materials' coefficients bring, shape (8,).
    """

    lower: Array
    upper: Array
    formulas: tuple[Array, Array]
    materials: Array


def doubt_of(evaluation: Evaluation) -> Doubt:
    """Work out how far the reverberation times may be off.

    Parameters
    ----------
    evaluation : Evaluation
        With or without panels.

    Returns
    -------
    Doubt
        The materials' uncertainties (k = 2) are fully correlated within a material, which is wrong
        everywhere in the same way, and independent between materials:
        ``u(A)**2 = sum over materials (sum S u)**2``. A coefficient is taken to be right within half of
        itself at worst (`WORST_SHARE`): the reproducibility of laboratories is stated for absorbers, and
        would let a hard wall absorb nothing or thrice as much.
        The time follows the absorption area with Eyring's slope,
        ``dT/T = -(dA/(1 - A/S) + dA_obj) / (-S ln(1 - A/S) + A_obj + 4mV)``. The interval is
        the formulas' range, widened by that.
    """
    rows = [r for r in evaluation.rows if r.area > 0.0]
    areas = np.array([r.area for r in rows])
    surface = float(areas.sum())
    absorption = np.array([r.absorption for r in rows])
    uncertainty = np.minimum(np.array([r.uncertainty for r in rows]), WORST_SHARE * absorption)
    names = np.array([r.material for r in rows])
    squared, objects, scene = np.zeros(bands.COUNT), np.zeros(bands.COUNT), evaluation.scene
    for name in np.unique(names):
        squared += np.square(areas[names == name] @ uncertainty[names == name])
    mean = np.minimum(areas @ absorption / surface, 0.95)
    for name in sorted({o.material for o in scene.objects}):
        mine = [
            o.count * np.minimum(o.uncertainty, WORST_SHARE * o.area)
            for o in scene.objects
            if o.material == name
        ]
        objects += np.square(np.sum(mine, axis=0))
    air = 4.0 * attenuation(scene) * free_volume(scene) / surface
    exponent = -np.log1p(-mean) + air
    # An object's area stands in the exponent as it is, a wall's through the logarithm.
    relative = np.sqrt(squared / (1.0 - mean) ** 2 + objects) / surface / exponent
    shortest, longest = evaluation.spread
    # A relative change of more than one half is no longer linear; the time falls as one over the absorption.
    lower = shortest / (1.0 + relative)
    upper = longest * np.where(relative < 0.8, 1.0 / (1.0 - np.minimum(relative, 0.8)), 5.0)
    return Doubt(frozen(lower), frozen(upper), (frozen(shortest), frozen(longest)), frozen(relative))


def doubt_words(doubt: Doubt, schroeder_hz: float) -> tuple[str, ...]:
    """Say in words how sure the times are.

    Parameters
    ----------
    doubt : Doubt
        From `doubt_of`.
    schroeder_hz : float
        Below it the times are indicative only.

    Returns
    -------
    tuple of str
        One sentence for the bass, one for the middle, one for the treble.
    """
    said = []
    for low, high in ((63, 125), (250, 500), (1000, 4000)):
        part = bands.band_slice(low, high)
        least, most = float(doubt.lower[part].min()), float(doubt.upper[part].max())
        indicative = " (indicative: single modes decide there)" if low < schroeder_hz else ""
        advice = "; measure before you buy bass absorbers for it" if most > 1.8 * least and low < 200 else ""
        said.append(
            f"From {bands.band_label(low)} to {bands.band_label(high)} anything from {least:.2f} to "
            f"{most:.2f} s{indicative}{advice}."
        )
    return tuple(said)
