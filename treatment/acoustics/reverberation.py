"""Reverberation time by formula.

All of them presuppose a field that is mixed well enough, above the Schroeder frequency; in small
rooms the bands below it are indicative only. Which formula is right depends on how evenly the
absorption is spread; their spread is part of the answer. Those that need three axes are in
`reverberation_axes`.

References
----------
Kuttruff, Room Acoustics, chapter 5; Sabine (1922); Eyring, JASA 1 (1930) 217; Millington, JASA 4
(1932) 69; Sette, JASA 4 (1933) 193; EN 12354-6:2003, formulas (1), (4) and (5). The formula as used is
``T = 24 ln(10)/c * V / (A + 4 m V)``, with ``24 ln(10) = 55.26`` (ISO 354 prints 55.3/c).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.materials.material import CAP

#: 60 dB of decay per unit of exponent: 24 ln(10).
DECAY_CONSTANT: Final = 24.0 * np.log(10.0)
#: Times longer than this are reported as this (s): a closed, loss-free room has no finite one.
LONGEST_S: Final = 60.0
#: Variance of the free paths over their mean squared, in rooms of ordinary proportions (Kuttruff, ch. 5,
#: from memory: 0.3 to 0.6; 0.34 for a cube).
PATH_VARIANCE: Final = 0.4


def _time(volume: float, exponent_area: Array, speed_of_sound: float, air: Array) -> Array:
    with np.errstate(divide="ignore"):
        t = DECAY_CONSTANT / speed_of_sound * volume / (exponent_area + 4.0 * air * volume)
    return np.asarray(np.minimum(t, LONGEST_S))


def absorption_area(areas: Array, absorption: Array) -> Array:
    """Equivalent absorption area.

    Parameters
    ----------
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Shape (n, b).

    Returns
    -------
    numpy.ndarray
        ``A = sum(S alpha)``, shape (b,), m2.
    """
    return np.asarray(areas @ absorption)


def sabine(volume: float, areas: Array, absorption: Array, speed_of_sound: float, air: Array) -> Array:
    """Sabine's reverberation time.

    Parameters
    ----------
    volume : float
        m3.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Coefficients, shape (n, b); values above 1 are legal here.
    speed_of_sound : float
        m/s.
    air : numpy.ndarray
        Power attenuation m, shape (b,), 1/m.

    Returns
    -------
    numpy.ndarray
        ``24 ln(10)/c V/(A + 4mV)``, shape (b,), s.
    """
    return _time(volume, absorption_area(areas, absorption), speed_of_sound, air)


def eyring(volume: float, areas: Array, absorption: Array, speed_of_sound: float, air: Array) -> Array:
    """Eyring's reverberation time.

    Parameters
    ----------
    volume : float
        m3.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Coefficients, shape (n, b). Their mean must stay below 1; it is limited to 0.9999.
    speed_of_sound : float
        m/s.
    air : numpy.ndarray
        Power attenuation m, shape (b,), 1/m.

    Returns
    -------
    numpy.ndarray
        ``24 ln(10)/c V/(-S ln(1 - mean alpha) + 4mV)``, shape (b,), s.
    """
    surface = float(areas.sum())
    mean = np.minimum(absorption_area(areas, absorption) / surface, 0.9999)
    return _time(volume, -surface * np.log1p(-mean), speed_of_sound, air)


def capped(absorption: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Copy coefficients for a formula that needs them below 1.

    Parameters
    ----------
    absorption : numpy.ndarray
        Coefficients, any shape; laboratory data may exceed 1.

    Returns
    -------
    copy : numpy.ndarray
        At most `CAP`.
    touched : numpy.ndarray
        Where the copy differs, bool: to be said beside the result.
    """
    values = np.asarray(absorption, dtype=np.float64)
    return np.minimum(values, CAP), values > CAP


def millington(volume: float, areas: Array, absorption: Array, speed_of_sound: float, air: Array) -> Array:
    """Reverberation time by Millington and Sette.

    It says too little where a patch absorbs nearly all that meets it: one small patch with a
    coefficient near 1 rules the sum. Of no use with laboratory data near 1.

    Parameters
    ----------
    volume : float
        m3.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Coefficients, shape (n, b); a copy capped at `CAP` is used.
    speed_of_sound : float
        m/s.
    air : numpy.ndarray
        Power attenuation m, shape (b,), 1/m.

    Returns
    -------
    numpy.ndarray
        ``24 ln(10)/c V/(-sum(S ln(1 - alpha)) + 4mV)``, shape (b,), s.
    """
    return _time(volume, -(areas @ np.log1p(-capped(absorption)[0])), speed_of_sound, air)


def kuttruff_path(
    volume: float,
    areas: Array,
    absorption: Array,
    speed_of_sound: float,
    air: Array,
    path_variance: float = PATH_VARIANCE,
) -> Array:
    """Eyring's time corrected for free paths of unequal length.

    Parameters
    ----------
    volume : float
        m3.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Coefficients, shape (n, b); their mean is limited to `CAP`.
    speed_of_sound : float
        m/s.
    air : numpy.ndarray
        Power attenuation m, shape (b,), 1/m.
    path_variance : float
        Variance of the free paths over their mean squared.

    Returns
    -------
    numpy.ndarray
        With ``a (1 - g2 a/2)`` for Eyring's ``a = -ln(1 - mean alpha)``, shape (b,), s. The correction is
        the first term of a series: where ``a`` exceeds ``1/g2`` (mean alpha of 0.92 at 0.4) it would
        turn back, and the value at ``1/g2`` is held.
    """
    surface = float(areas.sum())
    a = -np.log1p(-np.minimum(absorption_area(areas, absorption) / surface, CAP))
    if path_variance > 0.0:
        a = np.minimum(a, 1.0 / path_variance)
    return _time(volume, surface * a * (1.0 - 0.5 * path_variance * a), speed_of_sound, air)


def kuttruff_nonuniform(
    volume: float,
    areas: Array,
    absorption: Array,
    speed_of_sound: float,
    air: Array,
    surface: NDArray[np.intp] | None = None,
) -> Array:
    """Eyring's time corrected for unevenly spread absorption between diffusely reflecting walls.

    Parameters
    ----------
    volume : float
        m3.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Coefficients, shape (n, b); a copy capped at `CAP` is used.
    speed_of_sound : float
        m/s.
    air : numpy.ndarray
        Power attenuation m, shape (b,), 1/m.
    surface : numpy.ndarray, optional
        Which plane each row lies in, shape (n,). Pieces of one plane send nothing to each other, so
        that they count as one with their mean. Default: every row is a plane of its own.

    Returns
    -------
    numpy.ndarray
        With ``-ln(rm) + ln(1 + sum(r (r - rm) S^2)/((rm S)^2 - sum(r^2 S^2)))`` for the exponent, r the
        reflection factor of each plane and rm their mean by area, shape (b,), s (Kuttruff, ch. 5).
        The walls are taken to scatter all they reflect: in a box of flat walls the truth lies on the
        other side of Eyring's time.
    """
    r = 1.0 - capped(absorption)[0]
    if surface is not None:
        _, plane = np.unique(surface, return_inverse=True)
        planes = np.zeros((int(plane.max()) + 1, r.shape[1]))
        np.add.at(planes, plane, areas[:, None] * r)
        areas = np.asarray(np.bincount(plane, weights=areas), dtype=np.float64)
        r = planes / np.maximum(areas, 1e-12)[:, None]
    total = float(areas.sum())
    mean = areas @ r / total
    squares = areas**2
    uneven = squares @ (r * (r - mean)) / ((mean * total) ** 2 - squares @ r**2)
    return _time(volume, total * (np.log1p(uneven) - np.log(mean)), speed_of_sound, air)


def with_objects(
    volume: float,
    areas: Array,
    absorption: Array,
    speed_of_sound: float,
    air: Array,
    object_volume: float,
    object_area: Array,
) -> Array:
    """Sabine's time with objects in the room, and the volume they take.

    Parameters
    ----------
    volume : float
        Of the empty room, m3.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Coefficients, shape (n, b).
    speed_of_sound : float
        m/s.
    air : numpy.ndarray
        Power attenuation m, shape (b,), 1/m.
    object_volume : float
        Of all objects together, m3, less than the room's.
    object_area : numpy.ndarray
        Equivalent absorption area of all objects together, shape (b,), m2.

    Returns
    -------
    numpy.ndarray
        ``24 ln(10)/c V (1 - psi)/(A + 4 m V (1 - psi))`` with ``psi`` the share of the volume that the
        objects take, shape (b,), s (EN 12354-6:2003, formulas (1), (2) and (5)). The standard means
        rooms where psi is below 0.2.
    """
    left = volume - object_volume
    return _time(left, absorption_area(areas, absorption) + object_area, speed_of_sound, air)


def schroeder_frequency(reverberation: float, volume: float) -> float:
    """Frequency above which a room's modes overlap enough for statistics.

    Parameters
    ----------
    reverberation : float
        s.
    volume : float
        m3.

    Returns
    -------
    float
        ``2000 sqrt(T/V)`` in Hz (Schroeder & Kuttruff, JASA 34 (1962) 76).
    """
    return float(2000.0 * np.sqrt(reverberation / volume))
