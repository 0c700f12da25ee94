"""Tuned absorbers: where they resonate, and what a perforated panel with porous filling absorbs.

A tuning frequency says where an absorber works, not how much it absorbs: that depends on its losses. So
nothing here turns a tuning into a coefficient. Only the perforated panel, whose losses are known from the
porous filling and the holes, is given an absorption.

References
----------
Helmholtz resonator, perforated and slatted panel, membrane: handbooks of room acoustics (Kuttruff, Room
Acoustics; Cox & D'Antonio, Acoustic Absorbers and Diffusers), from memory; the numbers of the checks stand
in the tests. Of the slatted panel a widely printed form has a sum in place of the product ``D (w + r)`` and
is wrong: its units do not fit.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from treatment.materials.build import Layer
from treatment.materials.facing import END_CORRECTION, Facing, Gas
from treatment.materials.predict import Prediction, predict
from treatment.materials.sheet import HOLE_TOLERANCE, PerforatedSheet, open_share

#: End correction of a neck with two flanged ends, over its radius: 2 x 0.85.
NECK_ENDS: Final = 1.7
#: Membrane: Hz times the root of kg/m2 times m; with porous filling air is compressed at one temperature.
MEMBRANE: Final = 60.0
MEMBRANE_FILLED: Final = 50.0


@dataclass(frozen=True)
class Tuning:
    """Frequency of a tuned absorber, and what it may be when built.

    Parameters
    ----------
    frequency : float
        As drawn, Hz.
    low, high : float
        With every dimension at the worst of its tolerance, Hz.
    """

    frequency: float
    low: float
    high: float


def tuned(
    formula: Callable[..., float], values: Mapping[str, float], tolerances: Mapping[str, float]
) -> Tuning:
    """Tuning with tolerances.

    Parameters
    ----------
    formula : callable
        One of this module, called by keyword.
    values : mapping of str to float
        Its arguments, SI.
    tolerances : mapping of str to float
        How far an argument may be off either way, in its own unit.

    Returns
    -------
    Tuning
        The formulas rise or fall with each dimension, so the ends lie at corners of the tolerances.

    Raises
    ------
    ValueError
        When a tolerance is as large as its value.
    """
    for name, width in tolerances.items():
        if not 0.0 <= width < abs(values[name]):
            raise ValueError(f"{name}: a tolerance of {width:g} makes no sense for {values[name]:g}")
    found = [
        formula(
            **{**values, **{n: values[n] + s * tolerances[n] for n, s in zip(tolerances, signs, strict=True)}}
        )
        for signs in itertools.product((-1.0, 1.0), repeat=len(tolerances))
    ]
    return Tuning(formula(**values), min(found), max(found))


def helmholtz_frequency(
    neck_radius: float, neck_length: float, volume: float, speed_of_sound: float = 343.2
) -> float:
    """Frequency of a cavity with a round neck.

    Parameters
    ----------
    neck_radius, neck_length : float
        In m.
    volume : float
        Of the cavity, m3.
    speed_of_sound : float
        In m/s.

    Returns
    -------
    float
        ``c/(2 pi) sqrt(S/(V l'))`` with ``l' = l + 1.7 r``, Hz.
    """
    length = neck_length + NECK_ENDS * neck_radius
    area = math.pi * neck_radius**2
    return speed_of_sound / (2.0 * math.pi) * math.sqrt(area / (volume * length))


def perforated_frequency(
    share: float, thickness: float, hole_diameter: float, depth: float, speed_of_sound: float = 343.2
) -> float:
    """Frequency of a perforated sheet before a closed depth.

    Parameters
    ----------
    share : float
        Share of the sheet that is holes, best below 0.1.
    thickness, hole_diameter : float
        Of the sheet and of its round holes, m.
    depth : float
        Behind the sheet, m; small against the wavelength.
    speed_of_sound : float
        In m/s.

    Returns
    -------
    float
        ``c/(2 pi) sqrt(p/(D t'))`` with ``t' = t + 0.85 d``, Hz.
    """
    effective = thickness + END_CORRECTION * hole_diameter
    return speed_of_sound / (2.0 * math.pi) * math.sqrt(share / (depth * effective))


def sheet_tuning(sheet: PerforatedSheet, depth: float, speed_of_sound: float = 343.2) -> Tuning:
    """Tuning of a perforated sheet, and where it lies when the drill was another.

    Parameters
    ----------
    sheet : PerforatedSheet
        As drawn.
    depth : float
        Behind the sheet, layers and gap, m.
    speed_of_sound : float
        In m/s.

    Returns
    -------
    Tuning
        By `perforated_frequency`, with holes up to `HOLE_TOLERANCE` narrower or wider. It knows no wool,
        which lowers a tuning by a few per cent.
    """

    def frequency(hole: float) -> float:
        share = open_share(hole, sheet.spacing, staggered=sheet.staggered)
        return perforated_frequency(share, sheet.thickness, hole, depth, speed_of_sound)

    return tuned(frequency, {"hole": sheet.hole}, {"hole": HOLE_TOLERANCE})


def slot_length(slot: float, slat: float, thickness: float) -> float:
    """Effective thickness of slats: the air in the slot and what moves with it at both ends.

    Parameters
    ----------
    slot, slat : float
        Width of the slot and of the slat, m.
    thickness : float
        Of the slat, m.

    Returns
    -------
    float
        ``t + 2 (r/pi) ln(1/sin(pi e/2))`` with ``e = r/(r + w)``, m (periodic slots, from memory).
    """
    share = slot / (slot + slat)
    return thickness + 2.0 * slot / math.pi * math.log(1.0 / math.sin(0.5 * math.pi * share))


def slatted_frequency(
    slot: float, slat: float, thickness: float, depth: float, speed_of_sound: float = 343.2
) -> float:
    """Frequency of slats before a closed depth.

    Parameters
    ----------
    slot, slat : float
        Width of the slot and of the slat, m.
    thickness : float
        Of the slat, m.
    depth : float
        Behind the slats, m.
    speed_of_sound : float
        In m/s.

    Returns
    -------
    float
        ``c/(2 pi) sqrt(r/(t_eff D (r + w)))``, Hz: the share of slots takes the place of the share of
        holes.
    """
    share = slot / (slot + slat)
    effective = slot_length(slot, slat, thickness)
    return speed_of_sound / (2.0 * math.pi) * math.sqrt(share / (depth * effective))


def membrane_frequency(mass: float, depth: float, *, filled: bool = False) -> float:
    """Frequency of a limp sheet before a closed depth.

    Parameters
    ----------
    mass : float
        Of the sheet, kg/m2. Stiffness is left out: a real board lies higher.
    depth : float
        Behind it, m.
    filled : bool
        Whether porous material fills the depth.

    Returns
    -------
    float
        ``60/sqrt(m D)``, or ``50/sqrt(m D)`` when filled, Hz (handbook constants).
    """
    return (MEMBRANE_FILLED if filled else MEMBRANE) / math.sqrt(mass * depth)


def perforated_absorption(sheet: Facing, layers: tuple[Layer, ...], air_gap: float, gas: Gas) -> Prediction:
    """Absorption of a perforated sheet with porous filling, by transfer matrix.

    Parameters
    ----------
    sheet : Facing
        With holes.
    layers : tuple of Layer
        Porous layers behind it, the first in touch with it.
    air_gap : float
        Behind the layers, m.
    gas : Gas
        The air.

    Returns
    -------
    Prediction
        Random incidence by octave, with the doubt of the airflow resistivity. Sound may run sideways in
        the gap (no partitions); the sheet is rigid and its holes small against the wavelength.

    Raises
    ------
    ValueError
        When the sheet has no holes, or nothing porous stands behind it: its losses would be guesswork.
    """
    if not sheet.perforated:
        raise ValueError("a perforated sheet is needed")
    if not layers:
        raise ValueError("without porous filling the losses, and so the absorption, are not known")
    return predict(layers, air_gap, gas.speed_of_sound, gas.density, sheet)
