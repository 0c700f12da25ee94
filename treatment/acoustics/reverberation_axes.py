"""Reverberation time where absorption differs by axis: Fitzroy, Arau-Puchades.

Both take the room as three pairs of parallel surfaces and Eyring's time of each pair as if the whole
room were like it. They hold for boxes of flat walls that scatter little; without three axes at right
angles there is nothing to group. Then each surface may be shared out among three directions by the squares
of its direction cosines (`facing_shares`): an own extension, not published, which is the grouping where
there are axes.

References
----------
Fitzroy, JASA 31 (1959) 893; Arau-Puchades, Acustica 65 (1988) 163; Neubauer, Building Acoustics 8
(2001) 1, for where they fail (from memory).
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.reverberation import eyring
from treatment.bands import Array

#: Surfaces within this angle of an axis belong to it (degrees).
_AXIS_DEGREES: Final = 1.0


def axis_groups(normals: Array) -> NDArray[np.intp] | None:
    """Group surfaces by the axis that they face.

    Parameters
    ----------
    normals : numpy.ndarray
        Unit normals, shape (n, 3).

    Returns
    -------
    numpy.ndarray or None
        Axis 0, 1 or 2 of each surface, shape (n,); None when the surfaces do not face three axes at right
        angles. The axes need not be those of the room's coordinates.
    """
    unit = np.asarray(normals, dtype=np.float64)
    along, across = np.cos(np.radians(_AXIS_DEGREES)), np.sin(np.radians(_AXIS_DEGREES))
    group = np.full(len(unit), -1, dtype=np.intp)
    for axis in range(3):
        rest = np.flatnonzero(group < 0)
        if not len(rest):
            return None
        dot = np.abs(unit @ unit[rest[0]])
        fits = (group < 0) & (dot >= along)
        if np.any(dot[group >= 0] > across):
            return None
        group[fits] = axis
    return group if np.all(group >= 0) else None


def facing_shares(normals: Array, areas: Array) -> Array:
    """Share out surfaces among three directions at right angles: the vertical and two level ones.

    Parameters
    ----------
    normals : numpy.ndarray
        Unit normals, shape (n, 3), z up.
    areas : numpy.ndarray
        Shape (n,), m2.

    Returns
    -------
    numpy.ndarray
        Squared direction cosines, shape (n, 3); rows sum to 1. The level directions are those that the
        walls face most: they maximise ``sum S (nx**2 + ny**2) cos(4 (azimuth - direction))``, so that turning
        the room changes nothing.
    """
    unit = np.asarray(normals, dtype=np.float64)
    level = np.square(unit[:, :2]).sum(axis=1)
    azimuth = np.arctan2(unit[:, 1], unit[:, 0])
    turn = float(np.angle(np.sum(areas * level * np.exp(4j * azimuth)))) / 4.0
    c, s = np.cos(turn), np.sin(turn)
    return np.asarray(np.square(unit @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])))


def _axial_times(
    volume: float,
    areas: Array,
    absorption: Array,
    axis: NDArray[np.intp] | Array,
    speed_of_sound: float,
    air: Array,
) -> tuple[Array, Array]:
    """Share of the area (3,) and Eyring's time of the whole room as if it were like it (3, b)."""
    facing = axis if axis.ndim == 2 else np.eye(3)[np.asarray(axis, dtype=np.intp)]
    total, facing_areas = float(areas.sum()), facing.T * areas
    times = [
        eyring(volume, np.array([total]), (mine @ absorption / mine.sum())[None], speed_of_sound, air)
        for mine in facing_areas
    ]
    return np.asarray(facing_areas.sum(axis=1) / total), np.array(times)


def fitzroy(
    volume: float,
    areas: Array,
    absorption: Array,
    axis: NDArray[np.intp] | Array,
    speed_of_sound: float,
    air: Array,
) -> Array:
    """Reverberation time by Fitzroy.

    It says too much where one pair of surfaces is nearly bare: its long time enters by its share.

    Parameters
    ----------
    volume : float
        m3.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Coefficients, shape (n, b); the mean of an axis is limited to 0.9999.
    axis : numpy.ndarray
        Axis of each row, shape (n,), as from `axis_groups`; each of 0, 1, 2 must occur. Or shares, shape
        (n, 3), as from `facing_shares`.
    speed_of_sound : float
        m/s.
    air : numpy.ndarray
        Power attenuation m, shape (b,), 1/m.

    Returns
    -------
    numpy.ndarray
        Mean of the three axial times by area, shape (b,), s.
    """
    shares, times = _axial_times(volume, areas, absorption, axis, speed_of_sound, air)
    return np.asarray(shares @ times)


def arau_puchades(
    volume: float,
    areas: Array,
    absorption: Array,
    axis: NDArray[np.intp] | Array,
    speed_of_sound: float,
    air: Array,
) -> Array:
    """Reverberation time by Arau-Puchades.

    Parameters
    ----------
    volume : float
        m3.
    areas : numpy.ndarray
        Shape (n,), m2.
    absorption : numpy.ndarray
        Coefficients, shape (n, b); the mean of an axis is limited to 0.9999.
    axis : numpy.ndarray
        Axis of each row, shape (n,), as from `axis_groups`; each of 0, 1, 2 must occur. Or shares, shape
        (n, 3), as from `facing_shares`.
    speed_of_sound : float
        m/s.
    air : numpy.ndarray
        Power attenuation m, shape (b,), 1/m.

    Returns
    -------
    numpy.ndarray
        Geometric mean of the three axial times by area, shape (b,), s.
    """
    shares, times = _axial_times(volume, areas, absorption, axis, speed_of_sound, air)
    return np.asarray(np.exp(shares @ np.log(times)))
