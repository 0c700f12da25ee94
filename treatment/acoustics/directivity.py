"""How much less a loudspeaker radiates to the side: three simple models, each stated.

*Piston*: a flat disc in a wide baffle, ``2 J1(ka sin t)/(ka sin t)`` (Kinsler & Frey, Fundamentals of
Acoustics, 7.4; from memory); behind the baffle's plane the value at 90 degrees is taken further down by the
shadow of a box, ``10 lg(1 + (k b cos t)**2)`` with b the box's half-width (a smooth stand-in, common
practice). *Horn*: nominal coverage angles, at which the level is 6 dB down, holding above a lowest frequency
and widening below it. *Table*: level by angle and band, as measured. No model goes below `FLOOR_DB`: nulls
are filled by what else a real loudspeaker radiates.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from treatment import bands
from treatment.bands import Array

#: Deepest level off axis (dB).
FLOOR_DB: Final = -20.0


def _bessel_over_argument(x: Array) -> Array:
    """``2 J1(x)/x`` by its integral, ``J1(x) = 1/pi int_0^pi cos(t - x sin t) dt``, for |x| < 60."""
    node, weight = np.polynomial.legendre.leggauss(64)
    t = np.pi * (node + 1.0) / 2.0
    value = (np.cos(t - x[..., None] * np.sin(t)) * weight).sum(axis=-1) / 2.0
    return np.where(np.abs(x) < 1e-6, 1.0, 2.0 * value / np.where(np.abs(x) < 1e-6, 1.0, x))


def piston_db(angle: Array, radius: float, box_half_width: float, speed_of_sound: float) -> Array:
    """Level of a piston in a box relative to its axis.

    Parameters
    ----------
    angle : numpy.ndarray
        From the axis, shape (n,), radians, 0 to pi.
    radius : float
        Of the piston, m.
    box_half_width : float
        Half the width of the box, m.
    speed_of_sound : float
        m/s.

    Returns
    -------
    numpy.ndarray
        Shape (n, 8), dB, 0 to `FLOOR_DB`.
    """
    k = 2.0 * np.pi * np.asarray(bands.EXACT_HZ) / speed_of_sound
    sine = np.where(angle < np.pi / 2.0, np.sin(angle), 1.0)
    front = np.minimum(np.abs(_bessel_over_argument(np.outer(sine, np.minimum(k * radius, 60.0)))), 1.0)
    level = 20.0 * np.log10(np.maximum(front, 1e-6))
    behind = np.where(angle > np.pi / 2.0, np.cos(angle), 0.0)
    level -= 10.0 * np.log10(1.0 + np.square(np.outer(behind, k * box_half_width)))
    return np.asarray(np.maximum(level, FLOOR_DB))


def horn_db(across: Array, up: Array, coverage_across: float, coverage_up: float, lowest_hz: float) -> Array:
    """Level of a horn relative to its axis.

    Parameters
    ----------
    across, up : numpy.ndarray
        Angles from the axis in the horn's two planes, shape (n,), radians.
    coverage_across, coverage_up : float
        Nominal coverage angles, at the edges of which the level is 6 dB down, radians.
    lowest_hz : float
        Frequency above which they hold; below it they widen in proportion to the wavelength.

    Returns
    -------
    numpy.ndarray
        Shape (n, 8), dB, 0 to `FLOOR_DB`.
    """
    wider = np.maximum(lowest_hz / np.asarray(bands.EXACT_HZ), 1.0)
    x = across[:, None] / np.minimum(coverage_across / 2.0 * wider, np.pi)
    y = up[:, None] / np.minimum(coverage_up / 2.0 * wider, np.pi)
    return np.asarray(np.maximum(-6.0 * (x * x + y * y), FLOOR_DB))


def table_db(angle: Array, angles: Array, levels: Array) -> Array:
    """Level by table, linear between the angles, the same all round the axis.

    Parameters
    ----------
    angle : numpy.ndarray
        From the axis, shape (n,), radians.
    angles : numpy.ndarray
        Ascending, shape (a,), radians.
    levels : numpy.ndarray
        Relative to the axis, shape (a, 8), dB.

    Returns
    -------
    numpy.ndarray
        Shape (n, 8), dB, not below `FLOOR_DB`.
    """
    columns = [np.interp(angle, angles, levels[:, b]) for b in range(levels.shape[1])]
    return np.maximum(np.stack(columns, axis=-1), FLOOR_DB)


def off_axis(direction: Array, aim: Array) -> tuple[Array, Array, Array]:
    """Angles of directions from an axis.

    Parameters
    ----------
    direction : numpy.ndarray
        Unit vectors, shape (n, 3).
    aim : numpy.ndarray
        Unit vector of the axis, shape (3,).

    Returns
    -------
    total, across, up : numpy.ndarray
        Angle from the axis, and its parts in the level and the upright plane, shape (n,), radians.
    """
    side = np.cross([0.0, 0.0, 1.0], aim)
    size = np.linalg.norm(side)
    side = side / size if size > 1e-9 else np.array([0.0, 1.0, 0.0])
    over = np.cross(aim, side)
    forward = direction @ aim
    total = np.arccos(np.clip(forward, -1.0, 1.0))
    across, up = direction @ side, direction @ over
    flat = np.maximum(np.hypot(across, up), 1e-12)
    return total, total * across / flat, total * up / flat
