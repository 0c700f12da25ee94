"""How much of a reflection a patch of a wall takes part in, by band.

A specular point is where the shortest path touches the wall, but a wave is reflected by an area
around it: the first Fresnel zone, whose points lengthen the path by no more than half a wavelength.
A patch (panel, door) acts on the reflection by the share of that zone which it covers. The zone is
large in the bass (0.9 m radius at 500 Hz for legs of 2 and 3 m), so that a small panel does little
there even when it sits exactly on the point.

`patch_shares` is the only place that knows this model.
"""

from __future__ import annotations

import numpy as np

from treatment import bands
from treatment.bands import Array


def zone_radius(before: Array, after: Array, speed_of_sound: float, frequency_hz: Array) -> Array:
    """Radius of the first Fresnel zone across the plane of incidence.

    Parameters
    ----------
    before, after : numpy.ndarray
        Path lengths before and after the bounce, shape (...), m.
    speed_of_sound : float
        m/s.
    frequency_hz : numpy.ndarray
        Shape (f,).

    Returns
    -------
    numpy.ndarray
        ``sqrt(lambda a1 a2 / (a1 + a2))``, shape (..., f), m. Along the plane of incidence the
        zone is longer by ``1/cos(theta)`` (Kuttruff, Room Acoustics, ch. 2; from memory).
    """
    together = before * after / (before + after)
    return np.asarray(np.sqrt(speed_of_sound / frequency_hz * together[..., None]))


def patch_shares(
    point: Array,
    along: Array,
    cosine: Array,
    before: Array,
    after: Array,
    patches: Array,
    speed_of_sound: float,
    frequency_hz: Array = bands.EXACT_HZ,
) -> Array:
    """Share of each reflection that each patch takes part in.

    Parameters
    ----------
    point : numpy.ndarray
        Specular points in wall coordinates, shape (n, 2), m.
    along : numpy.ndarray
        Unit direction of the plane of incidence in wall coordinates, shape (n, 2).
    cosine : numpy.ndarray
        Cosine of the angle of incidence, shape (n,).
    before, after : numpy.ndarray
        Path lengths before and after the bounce, shape (n,), m.
    patches : numpy.ndarray
        Rectangles ``(u_low, v_low, u_high, v_high)`` on the same surface, shape (n, 4) or
        broadcastable to it, m.
    speed_of_sound : float
        m/s.
    frequency_hz : numpy.ndarray
        Shape (f,); default: the eight octave bands.

    Returns
    -------
    numpy.ndarray
        Covered share of the first Fresnel zone, shape (n, f), 0 to 1.

    Notes
    -----
    The zone is the ellipse about the specular point with half-axes ``r`` across and ``r/cos`` along
    the plane of incidence. Scaled to a unit circle, the rectangle becomes a parallelogram, and the
    common area is a sum over its four edges.
    """
    u = patches[:, [0, 2, 2, 0]] - point[:, :1]
    v = patches[:, [1, 1, 3, 3]] - point[:, 1:]
    down = (u * along[:, :1] + v * along[:, 1:]) * cosine[:, None]
    side = v * along[:, :1] - u * along[:, 1:]
    radius = zone_radius(before, after, speed_of_sound, frequency_hz)[:, :, None]
    shared = _area_in_unit_circle(down[:, None] / radius, side[:, None] / radius)
    return np.clip(shared / np.pi, 0.0, 1.0)


def _area_in_unit_circle(x: Array, y: Array) -> Array:
    """Area that polygons share with the unit circle; corners on the last axis, (..., c) -> (...).

    Each edge adds the signed area between itself and the centre: circle sectors where it lies outside
    the circle, a triangle where it lies inside.
    """
    dx, dy = np.roll(x, -1, axis=-1) - x, np.roll(y, -1, axis=-1) - y
    dd = np.maximum(dx * dx + dy * dy, 1e-300)
    ad = x * dx + y * dy
    inner = ad * ad - dd * (x * x + y * y - 1.0)
    root = np.sqrt(np.maximum(inner, 0.0))
    enter = np.where(inner > 0.0, np.clip((-ad - root) / dd, 0.0, 1.0), 0.0)
    leave = np.where(inner > 0.0, np.clip((-ad + root) / dd, 0.0, 1.0), 0.0)
    px, py = x + enter * dx, y + enter * dy
    qx, qy = x + leave * dx, y + leave * dy
    bx, by = x + dx, y + dy
    sectors = np.arctan2(x * py - y * px, x * px + y * py) + np.arctan2(qx * by - qy * bx, qx * bx + qy * by)
    edges = sectors + px * qy - py * qx
    return np.asarray(0.5 * np.abs(edges[..., 0] + edges[..., 1] + edges[..., 2] + edges[..., 3]))
