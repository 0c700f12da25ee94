"""What the modes of a room leave out near a source: the part of its field that no cut-off may drop.

A sum over modes converges slowly, and a sum that stops at some frequency depends on where it stops.
Ewald's splitting (Ann. Physik 369 (1921) 253; for the Helmholtz equation Linton, J. Eng. Math. 33 (1998)
377; both from memory) divides ``1 / (x - z) = exp(-tau (x - z)) / (x - z) + integral from 0 to tau of
exp(-t (x - z)) dt``: the first part, summed over modes, dies away like a Gaussian; the second is
diffusion from the source for a short while, which hardly leaves its surroundings. There the room is the
open plus the nearest walls, each an image.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.modal_response import modal_pressure, mode_damping
from treatment.acoustics.modes import Modes
from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure

#: Weight that a mode at the end of the sum still has at 0 Hz is the exponential of minus this.
FADE: Final = 4.0
#: Beyond so many lengths of diffusion nothing is left (erfc 3 = 2e-5).
_LENGTHS: Final = 3.0
#: Nodes of the quadrature over time.
_NODES: Final = 40
#: Nearer to a source than this the level is that of so far away, m: drivers are no points.
_DRIVER: Final = 0.1


def fade_time(reach_hz: float) -> float:
    """Time of the splitting.

    Parameters
    ----------
    reach_hz : float
        The modes are whole up to here.

    Returns
    -------
    float
        ``tau = 4 / w^2``, s2: at the end of the sum a mode counts exp(-4) of what it does in a plain sum.
    """
    return FADE / (2.0 * math.pi * reach_hz) ** 2


def room_pressure(
    enclosure: Enclosure,
    modes: Modes,
    sources: Array,
    receivers: Array,
    frequency_hz: Array,
    decay_s: Array,
    speed_of_sound: float,
) -> NDArray[np.complex128]:
    """Pressure of point sources in a room, each alone, whatever the modes leave out.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    modes : Modes
        Of this room, whole up to well above the highest frequency.
    sources, receivers : numpy.ndarray
        Shapes (s, 3) and (r, 3), m.
    frequency_hz : numpy.ndarray
        Shape (f,), Hz, above 0.
    decay_s : numpy.ndarray
        Decay time by octave band, shape (8,), s.
    speed_of_sound : float
        m/s.

    Returns
    -------
    numpy.ndarray
        Shape (s, r, f), over the pressure that the same source gives at 1 m in the open. Up to 0.6 times the
        reach of the modes within 6 % of the rms pressure of any longer sum (docs/method/modes.md).
    """
    fade = fade_time(modes.reach_hz)
    damping = mode_damping(modes, decay_s)
    far = modal_pressure(modes, sources, receivers, frequency_hz, damping, speed_of_sound, fade)
    return far + near_pressure(enclosure, sources, receivers, frequency_hz, modes.reach_hz, speed_of_sound)


def near_pressure(
    enclosure: Enclosure,
    sources: Array,
    receivers: Array,
    frequency_hz: Array,
    reach_hz: float,
    speed_of_sound: float,
) -> NDArray[np.complex128]:
    """Part of the pressure that belongs to the surroundings of each source.

    Parameters
    ----------
    enclosure : Enclosure
        The room, with hard walls.
    sources, receivers : numpy.ndarray
        Shapes (s, 3) and (r, 3), m.
    frequency_hz : numpy.ndarray
        Shape (f,), Hz, below `reach_hz`.
    reach_hz : float
        The modes are whole up to here.
    speed_of_sound : float
        m/s.

    Returns
    -------
    numpy.ndarray
        Shape (s, r, f), over the pressure at 1 m in the open: of the source itself and of its images in the
        surfaces that a straight line over them reaches, zero beyond three lengths of diffusion (2 c sqrt(tau)
        each, 0.44 m at a reach of 500 Hz). Images of images are left out.
    """
    sources, receivers = np.atleast_2d(sources).astype(float), np.atleast_2d(receivers).astype(float)
    frequency = np.asarray(frequency_hz, dtype=float)
    found = np.zeros((len(sources), len(receivers), len(frequency)), dtype=np.complex128)
    length = 2.0 * speed_of_sound * math.sqrt(fade_time(reach_hz))
    direct = np.linalg.norm(sources[:, None] - receivers[None], axis=-1)
    # No image is nearer than its source: where the source is far away there is nothing to add.
    for s, r in np.argwhere(direct < _LENGTHS * length):
        away = [direct[s, r], *_images(enclosure, sources[s], receivers[r], _LENGTHS * length)]
        found[s, r] = _diffused(np.array(away), frequency, length, speed_of_sound).sum(axis=0)
    return found


def _images(enclosure: Enclosure, source: Array, receiver: Array, farthest: float) -> list[float]:
    """Distances from images in the surfaces to a receiver, m."""
    found = []
    for polygon in enclosure.polygons:
        above, below = polygon.height_above(np.stack([receiver, source]))
        image = source - 2.0 * below * polygon.normal
        away = float(np.linalg.norm(image - receiver))
        if min(above, below) < 0.0 or away >= farthest:
            continue
        share = below / (above + below) if above + below > 0.0 else 0.0
        u, v = polygon.to_wall((source + share * (receiver - source))[None])[0]
        if _holds(polygon.region, float(u), float(v)):
            found.append(away)
    return found


def _holds(region: object, u: float, v: float) -> bool:
    import shapely

    return bool(shapely.intersects_xy(region, u, v))


def _diffused(away: Array, frequency_hz: Array, length: float, speed_of_sound: float) -> Array:
    """``2/sqrt(pi) integral from 1/L of exp(-(R s)^2 + (k/2s)^2) ds``, shape (n, f), 1/m, by s = 1/(L u)."""
    x, w = np.polynomial.legendre.leggauss(_NODES)
    u, w = (x + 1.0) / 2.0, w / 2.0
    k = 2.0 * math.pi * frequency_hz / speed_of_sound
    outward = np.exp(-((np.maximum(away, _DRIVER)[:, None] / (length * u)) ** 2)) * w / (length * u * u)
    return np.asarray(2.0 / math.sqrt(math.pi) * outward @ np.exp((0.5 * k * length * u[:, None]) ** 2))
