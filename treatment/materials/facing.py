"""What covers the face of a porous build: cloth, foil, or a perforated sheet, as a series impedance.

Time factor exp(+jwt). All impedances are over ``rho0 c`` of the air.

References
----------
D.-Y. Maa, Potential of microperforated panel absorber, J. Acoust. Soc. Am. 104 (1998) 2861: resistance and
mass of a round hole with viscosity, approximate formulas (from memory; checked against the exact Bessel
form of Crandall in the tests). End correction 0.85 d for both ends of a round hole: handbooks of room
acoustics, for open areas below about 10 %.
The inner end moves the air between the fibres where a porous layer touches the sheet: Atalla & Sgard,
J. Sound Vib. 303 (2007) 195 (from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, Protocol

import numpy as np

from treatment.bands import Array
from treatment.errors import MaterialError
from treatment.materials.build import Layer
from treatment.materials.porous import Complex, miki
from treatment.materials.sheet import PerforatedSheet

#: Both ends of a round hole in a sheet, over its diameter: 0.85 d. US handbooks use 0.8 d.
END_CORRECTION: Final = 0.85
VISCOSITY: Final = 1.84e-5  # Pa s, air at 20 degrees C


class Gas(Protocol):
    """What is needed of the air: `treatment.air.Air`, or anything with these two."""

    @property
    def speed_of_sound(self) -> float:
        """Speed of sound in m/s."""

    @property
    def density(self) -> float:
        """Density in kg/m3."""


@dataclass(frozen=True)
class Facing:
    """Cover of the face.

    Parameters
    ----------
    resistance : float
        Airflow resistance of a cloth, Pa s/m; an open weave has 10 to 100 (common practice). 0 beside a
        mass means airtight: a foil.
    mass : float
        Mass of a cloth or foil that is free to move, kg/m2; 0 beside a resistance means held still.
    open_share : float
        Share of the sheet that is holes, 0 to 1; 0 for no perforated sheet.
    hole_diameter : float
        Of the round holes, m.
    sheet_thickness : float
        Of the perforated sheet, m. The sheet itself does not move.

    Raises
    ------
    MaterialError
        When a value is out of range.
    """

    resistance: float = 0.0
    mass: float = 0.0
    open_share: float = 0.0
    hole_diameter: float = 0.0
    sheet_thickness: float = 0.0

    def __post_init__(self) -> None:
        limits = {
            "resistance": (0.0, 10_000.0, "Pa s/m"),
            "mass": (0.0, 50.0, "kg/m2"),
            "open_share": (0.0, 0.9, "as a fraction: 5 % is 0.05"),
            "hole_diameter": (0.0, 0.1, "m"),
            "sheet_thickness": (0.0, 0.1, "m"),
        }
        for name, (low, high, unit) in limits.items():
            value = getattr(self, name)
            if not (math.isfinite(value) and low <= value <= high):
                raise MaterialError(f"{value:g} is outside {low:g} to {high:g}", where=name, hint=unit)
        if self.open_share > 0.0 and not (self.hole_diameter > 0.0 and self.sheet_thickness > 0.0):
            raise MaterialError(
                "a perforated sheet needs the diameter of its holes and its thickness",
                where="open_share",
                hint="give hole_diameter and sheet_thickness",
            )

    @property
    def perforated(self) -> bool:
        """Whether it is a perforated sheet."""
        return self.open_share > 0.0


def facing_of(sheet: PerforatedSheet, cloth: Facing | None = None) -> Facing:
    """Cover of a perforated sheet, and of a cloth before it.

    Parameters
    ----------
    sheet : PerforatedSheet
        Board with holes.
    cloth : Facing, optional
        Its resistance and mass count.
    """
    held = (cloth.resistance, cloth.mass) if cloth else (0.0, 0.0)
    return Facing(*held, sheet.open_share, sheet.hole, sheet.thickness)


def hole_impedance(
    frequency: Any, diameter: float, thickness: float, gas: Gas, inner: Complex | float = 1.0
) -> Complex:
    """Impedance of a round hole with its ends, over ``rho0 c``, on the area of the hole.

    Parameters
    ----------
    frequency : array_like
        In Hz.
    diameter, thickness : float
        Of the hole, m.
    gas : Gas
        The air.
    inner : array_like
        Effective density of what touches the inner end, over that of the air: ``Zc k`` of a porous layer.

    Returns
    -------
    numpy.ndarray
        Shape of the frequencies.
    """
    omega = 2.0 * np.pi * np.asarray(frequency, dtype=np.float64)
    rho, c = gas.density, gas.speed_of_sound
    x2 = diameter**2 * omega * rho / (4.0 * VISCOSITY)
    resistance = (
        32.0 * VISCOSITY * thickness / (rho * c * diameter**2)
        * (np.sqrt(1.0 + x2 / 32.0) + math.sqrt(2.0) / 32.0 * np.sqrt(x2) * diameter / thickness)
    )  # fmt: skip
    mass = thickness * (1.0 + 1.0 / np.sqrt(9.0 + x2 / 2.0))
    end = 0.5 * END_CORRECTION * diameter
    return np.asarray(resistance + 1j * omega / c * (mass + end * (1.0 + np.asarray(inner))))


def facing_impedance(facing: Facing, frequency: Any, gas: Gas, behind: Layer | None = None) -> Complex:
    """Series impedance of a cover, over ``rho0 c``.

    Parameters
    ----------
    facing : Facing
        Cloth, foil, perforated sheet, or all of them together.
    frequency : array_like
        In Hz.
    gas : Gas
        The air.
    behind : Layer, optional
        Porous layer that touches a perforated sheet from behind; default air.

    Returns
    -------
    numpy.ndarray
        Shape of the frequencies: of cloth ``R jwm/(R + jwm)`` over ``rho0 c``, of foil ``jwm``; of a
        perforated sheet the impedance of a hole over the share of the holes.
    """
    f: Array = np.asarray(frequency, dtype=np.float64)
    rho_c = gas.density * gas.speed_of_sound
    z: Complex = np.zeros(f.shape, dtype=np.complex128)
    inertia = 2j * np.pi * f * facing.mass
    if facing.resistance > 0.0 and facing.mass > 0.0:
        # Air passes through the cloth and takes it along: the two ways lie side by side.
        z = z + facing.resistance * inertia / (facing.resistance + inertia) / rho_c
    else:
        z = z + (facing.resistance + inertia) / rho_c
    if facing.perforated:
        inner: Complex | float = 1.0
        if behind is not None:
            zc, k = miki(f, behind.airflow_resistivity)
            inner = zc * k
        z = (
            z
            + hole_impedance(f, facing.hole_diameter, facing.sheet_thickness, gas, inner) / facing.open_share
        )
    return np.asarray(z)
