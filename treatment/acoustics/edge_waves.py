"""What an edge takes from a wave that passes it.

In the picture of rays a path exists or it does not. A wave that is reflected near the rim of a surface, or
that passes a corner closely, is weaker than that picture says: half the pressure, -6 dB, is left where the
ray meets the edge itself. Both cases are one: a straight line from the (image) source to the (image) receiver
and an edge beside it. Kirchhoff's integral over all that is open is

    F = 1 - sum over edges of s/(2 pi) int h/(h**2 + x**2) exp(-j (h**2 + x**2)) dx

with the same integral along edges as in `fresnel`: h**2 is the phase of the shortest way over the edge less
that of the straight line; s = 1 for an edge between the line and what is closed, -1 for the far edges of the
same obstacle. Detours are exact; they are least where both ways make equal angles with the edge.

References
----------
Born & Wolf, Principles of Optics, 8.9 (edge waves), 11.5 (half-plane); Keller, J. Opt. Soc. Am. 52 (1962) 116
(point of diffraction on an edge). For one endless edge the integral is the knife edge of ITU-R P.526.
"""

from __future__ import annotations

import numpy as np

from treatment.acoustics.fresnel import Complex, segment_waves
from treatment.bands import Array

#: In the last two centimetres before an edge (m) a path fades to a tenth of its energy: what lies beyond an
#: edge is not listed, and nothing may jump. A tape is no better than that.
BRINK, LEAST = 0.020, 0.1


def over_edges(a: Array, b: Array, edges: Array, wavenumber: Array) -> Complex:
    """Wave that edges take from the straight way between two points.

    Parameters
    ----------
    a, b : numpy.ndarray
        (Image) source and (image) receiver, shape (p, 3), m.
    edges : numpy.ndarray
        One for each pair, shape (p, 2, 3), m.
    wavenumber : numpy.ndarray
        Shape (f,), 1/m.

    Returns
    -------
    numpy.ndarray
        The integral above over 2 pi, shape (p, f): 1/2 where the line meets an endless edge, falling to
        0 far from it; complex for the time factor exp(+jwt).
    """
    _, size, za, zb, ra, rb = _along(a, b, edges)
    straight = np.linalg.norm(b - a, axis=1)
    foot = _shortest(za, zb, ra, rb)

    def detour(z: Array) -> Array:
        return np.asarray(np.maximum(np.hypot(ra, z - za) + np.hypot(rb, z - zb) - straight, 0.0))

    first, last = detour(np.zeros_like(size)), detour(size)
    least = np.minimum(np.maximum(np.hypot(ra + rb, zb - za) - straight, 0.0), np.minimum(first, last))
    return np.asarray(segment_waves(-foot, size - foot, least, first, last, wavenumber) / (2.0 * np.pi))


def meeting_points(a: Array, b: Array, edges: Array) -> tuple[Array, Array]:
    """Where the shortest way over an endless edge meets it, and the point of the straight line beside it.

    Parameters
    ----------
    a, b, edges : numpy.ndarray
        As for `over_edges`.

    Returns
    -------
    met, beside : numpy.ndarray
        Shape (p, 3), m; their difference is perpendicular to the edge.
    """
    e, _, za, zb, ra, rb = _along(a, b, edges)
    part = ra / np.maximum(ra + rb, 1e-12)
    return edges[:, 0] + _shortest(za, zb, ra, rb)[:, None] * e, a + part[:, None] * (b - a)


def faded(gap: Array) -> Array:
    """Energy that is left so near to an edge beyond which a path is not listed.

    Parameters
    ----------
    gap : numpy.ndarray
        Distance from the edge, any shape, m.

    Returns
    -------
    numpy.ndarray
        `LEAST` on the edge to 1 from `BRINK` on, same shape.
    """
    return np.asarray(LEAST + (1.0 - LEAST) * smooth_step(gap / BRINK))


def smooth_step(t: Array) -> Array:
    """Rise from 0 at 0 to 1 at 1 without a kink at either end.

    Parameters
    ----------
    t : numpy.ndarray
        Any shape.

    Returns
    -------
    numpy.ndarray
        Same shape.
    """
    t = np.clip(t, 0.0, 1.0)
    return np.asarray(t * t * (3.0 - 2.0 * t))


def _along(a: Array, b: Array, edges: Array) -> tuple[Array, Array, Array, Array, Array, Array]:
    """Unit direction and length of edges; where along them, and how far off, either point lies."""
    e = edges[:, 1] - edges[:, 0]
    size = np.maximum(np.linalg.norm(e, axis=1), 1e-12)
    e = e / size[:, None]
    to_a, to_b = a - edges[:, 0], b - edges[:, 0]
    za, zb = (to_a * e).sum(axis=1), (to_b * e).sum(axis=1)
    ra = np.linalg.norm(to_a - za[:, None] * e, axis=1)
    rb = np.linalg.norm(to_b - zb[:, None] * e, axis=1)
    return e, size, za, zb, ra, rb


def _shortest(za: Array, zb: Array, ra: Array, rb: Array) -> Array:
    """Where along an endless edge the way over it is shortest."""
    return np.asarray((za * rb + zb * ra) / np.maximum(ra + rb, 1e-12))
