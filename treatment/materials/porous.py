"""Porous absorbers: from airflow resistivity to absorption.

Time factor exp(+jwt). Impedances are normalised by ``rho0 c`` of the air, wavenumbers by
``k0 = 2 pi f/c``, so the density of the air cancels and only its speed of sound is asked for.

References
----------
Y. Miki, Acoustical properties of porous materials - modifications of Delany-Bazley models,
J. Acoust. Soc. Jpn. (E) 11 (1990) 19-24: characteristic impedance and wavenumber. The paper was not
opened; the coefficients were read in two independent open implementations that agree.
Paris mean of the statistical absorption coefficient: H. Kuttruff, Room Acoustics, chapter 2, from
memory.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final, Protocol

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.bands import Array
from treatment.materials.build import Layer

Complex = NDArray[np.complex128]
#: Series impedance of a cover over ``rho0 c``, by frequency in Hz (`treatment.materials.facing`).
Front = Callable[[Array], Complex]

#: Range of f/sigma (Hz per Pa s/m2) over which the formula was fitted.
MIKI_RANGE: Final = (0.01, 1.0)

# Nodes, set by trial against 400 and 300, for 25 to 150 mm of 3000 to 40 000 Pa s/m2 with gaps up
# to 300 mm: at one frequency 64 leave 0.003, in the octave mean 24 and 12 leave 0.001.
_ANGLES: Final = 64
_OCTAVE_ANGLES: Final = 24
_PER_OCTAVE: Final = 12


class Medium(Protocol):
    """What is needed of the air: `treatment.air.Air`, or anything with a speed of sound."""

    @property
    def speed_of_sound(self) -> float:
        """Speed of sound in m/s."""


def miki(frequency: Any, airflow_resistivity: float) -> tuple[Complex, Complex]:
    """Characteristic impedance and wavenumber of a porous material.

    Parameters
    ----------
    frequency : array_like
        In Hz, any shape.
    airflow_resistivity : float
        In Pa s/m2.

    Returns
    -------
    impedance : numpy.ndarray
        ``1 + 0.070 Y**-0.632 - j 0.107 Y**-0.632``, over ``rho0 c``, with ``Y = f/sigma``.
    wavenumber : numpy.ndarray
        ``1 + 0.109 Y**-0.618 - j 0.160 Y**-0.618``, over ``k0``.
    """
    y = np.asarray(frequency, dtype=np.float64) / airflow_resistivity
    impedance = 1.0 + (0.070 - 0.107j) * y**-0.632
    wavenumber = 1.0 + (0.109 - 0.160j) * y**-0.618
    return np.asarray(impedance, dtype=np.complex128), np.asarray(wavenumber, dtype=np.complex128)


def _tangent(z: Complex) -> Complex:
    # tanh overflows inside for a large real part, where it is 1 to double precision long before.
    return np.asarray(np.tanh(np.minimum(z.real, 40.0) + 1j * z.imag))


def surface_admittance(
    layers: Sequence[Layer],
    air_gap: float,
    frequency: Any,
    angle: Any,
    medium: Medium,
    front: Front | None = None,
) -> Complex:
    """Admittance of the front face of layers before a rigid wall, extended reaction.

    The rigid wall has admittance 0; each sheet, the gap first, takes it to its own front:
    ``Y = (Yb + T/Z)/(1 + Yb Z T)`` with ``T = tanh(j kz d)``, ``Z = Zc k/kz`` and
    ``kz = sqrt(k**2 - k0**2 sin**2(angle))``. It is the cotangent form of the handbooks,
    ``-j Zc cot(k d)`` on a rigid wall, written so that a sheet of no thickness needs no limit.

    Parameters
    ----------
    layers : sequence of Layer
        From the room side.
    air_gap : float
        Between the last layer and the wall, m.
    frequency : array_like
        In Hz.
    angle : array_like
        Angle of incidence from the normal in radians, 0 to below pi/2; broadcasts with frequency.
    medium : Medium
        The air.
    front : callable, optional
        Impedance of a cover over ``rho0 c`` by frequency, the same at every angle.

    Returns
    -------
    numpy.ndarray
        Admittance times ``rho0 c``, broadcast shape.
    """
    f, theta = np.broadcast_arrays(
        np.asarray(frequency, dtype=np.float64), np.asarray(angle, dtype=np.float64)
    )
    k0 = 2.0 * np.pi * f / medium.speed_of_sound
    sine2 = np.sin(theta) ** 2
    y = np.zeros(f.shape, dtype=np.complex128)
    one = np.ones(f.shape, dtype=np.complex128)
    sheets = [(one, one, air_gap)]
    sheets += [(*miki(f, layer.airflow_resistivity), layer.thickness) for layer in reversed(layers)]
    for zc, k, depth in sheets:
        if depth <= 0.0:
            continue
        kz = np.sqrt(k * k - sine2)
        z = zc * k / kz
        t = _tangent(np.asarray(1j * kz * k0 * depth))
        y = (y + t / z) / (1.0 + y * z * t)
    return y if front is None else np.asarray(y / (1.0 + y * front(f)))


def surface_impedance(
    layers: Sequence[Layer], air_gap: float, frequency: Any, angle: Any, medium: Medium
) -> Complex:
    """Impedance of the front face of layers before a rigid wall, extended reaction.

    Parameters
    ----------
    layers, air_gap, frequency, angle, medium
        As for `surface_admittance`.

    Returns
    -------
    numpy.ndarray
        Impedance over ``rho0 c``, broadcast shape; infinite for a bare wall.
    """
    y = surface_admittance(layers, air_gap, frequency, angle, medium)
    out = np.full(y.shape, complex(np.inf, 0.0))
    return np.asarray(np.divide(1.0, y, out=out, where=y != 0.0))


def absorption(admittance: Any, angle: Any = 0.0) -> Array:
    """Absorption coefficient of a plane wave, ``1 - |(cos - Y)/(cos + Y)|**2``.

    Parameters
    ----------
    admittance : array_like
        Admittance of the face times ``rho0 c``.
    angle : array_like
        Angle of incidence in radians; broadcasts.

    Returns
    -------
    numpy.ndarray
        0 to 1, broadcast shape.
    """
    y = np.asarray(admittance, dtype=np.complex128)
    cosine = np.cos(np.asarray(angle, dtype=np.float64))
    return np.asarray(4.0 * cosine * y.real / np.abs(cosine + y) ** 2)


def normal_incidence_absorption(
    layers: Sequence[Layer], air_gap: float, frequency: Any, medium: Medium
) -> Array:
    """Absorption coefficient at normal incidence.

    Parameters
    ----------
    layers, air_gap, frequency, medium
        As for `surface_admittance`.

    Returns
    -------
    numpy.ndarray
        Shape of the frequencies.
    """
    return absorption(surface_admittance(layers, air_gap, frequency, 0.0, medium))


def _paris(angles: int) -> tuple[Array, Array]:
    """Angles in (0, pi/2) and weights of the mean with ``sin(2 angle)``."""
    node, weight = np.polynomial.legendre.leggauss(angles)
    theta = (node + 1.0) * (np.pi / 4.0)
    return theta, weight * (np.pi / 4.0) * np.sin(2.0 * theta)


def random_incidence_mean(admittance: Any, angles: int = _ANGLES) -> Array:
    """Random-incidence absorption of a locally reacting face (Paris, 0 to 90 degrees).

    Parameters
    ----------
    admittance : array_like
        Admittance times ``rho0 c``, the same at every angle, any shape.
    angles : int
        Gauss-Legendre nodes.

    Returns
    -------
    numpy.ndarray
        Same shape.
    """
    theta, weight = _paris(angles)
    return np.asarray(absorption(np.asarray(admittance)[..., None], theta) @ weight)


def random_incidence_absorption(
    layers: Sequence[Layer],
    air_gap: float,
    frequency: Any,
    medium: Medium,
    *,
    local: bool = False,
    angles: int = _ANGLES,
    front: Front | None = None,
) -> Array:
    """Random-incidence absorption coefficient: ``integral of alpha sin(2 angle)``, 0 to 90 degrees.

    Parameters
    ----------
    layers, air_gap, frequency, medium
        As for `surface_admittance`.
    local : bool
        Take the admittance at normal incidence for every angle (a gap with partitions).
    angles : int
        Gauss-Legendre nodes.
    front : callable, optional
        Impedance of a cover, as for `surface_admittance`.

    Returns
    -------
    numpy.ndarray
        Shape of the frequencies. An infinite flat sheet: it holds no edge effect and never exceeds 1.
    """
    f = np.asarray(frequency, dtype=np.float64)
    if local:
        return random_incidence_mean(surface_admittance(layers, air_gap, f, 0.0, medium, front), angles)
    theta, weight = _paris(angles)
    y = surface_admittance(layers, air_gap, f[..., None], theta, medium, front)
    return np.asarray(absorption(y, theta) @ weight)


def octave_absorption(
    layers: Sequence[Layer],
    air_gap: float,
    medium: Medium,
    *,
    per_octave: int = _PER_OCTAVE,
    angles: int = _OCTAVE_ANGLES,
    front: Front | None = None,
) -> Array:
    """Random-incidence absorption by octave band, mean over each octave.

    Parameters
    ----------
    layers, air_gap, medium
        As for `surface_admittance`.
    per_octave : int
        Frequencies in each octave, equally spaced on a logarithmic axis.
    angles : int
        Gauss-Legendre nodes.
    front : callable, optional
        Impedance of a cover, as for `surface_admittance`.

    Returns
    -------
    numpy.ndarray
        Shape (8,).
    """
    step = (np.arange(per_octave) + 0.5) / per_octave
    f = bands.LOWER_EDGE_HZ[:, None] * bands.OCTAVE_RATIO**step
    mean = random_incidence_absorption(layers, air_gap, f, medium, angles=angles, front=front).mean(axis=-1)
    return np.asarray(mean)


def within_range(layers: Sequence[Layer]) -> NDArray[np.bool_]:
    """Where Miki's formula stays within the range it was fitted to, ``0.01 < f/sigma < 1``.

    Parameters
    ----------
    layers : sequence of Layer
        Porous layers; every one must be within.

    Returns
    -------
    numpy.ndarray
        Shape (8,), bool, at the exact mid-bands. Outside, the prediction stays between 0 and 1 but
        is an extrapolation.
    """
    low, high = MIKI_RANGE
    y = bands.EXACT_HZ / np.array([[layer.airflow_resistivity] for layer in layers], dtype=np.float64)
    return np.asarray(np.all((low < y) & (y < high), axis=0))
