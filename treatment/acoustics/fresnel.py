"""How much of a reflection a patch of a wall takes part in, by frequency.

A specular point is where the shortest path touches the wall, but a wave is reflected by an area around it.
Kirchhoff's integral over a patch (panel, door), divided by the wave of the image source, is the patch's
*share* ``F``, a complex number: 1 when the patch covers everything, 0 when it vanishes, and neither just
because the specular point lies inside or outside. A wall with patches sends back

    R = R_wall + sum (R_patch - R_wall) F

times the image's wave, with pressure reflection factors ``R = sqrt(1 - alpha)``; their phase is taken as
zero, because absorption coefficients say nothing about it.

The phase of the integrand is ``k`` times the detour over a point of the wall. With the detour's square root
as radius about the specular point, the area integral of ``exp(-j rho**2)`` becomes one along the outline
(Green's theorem):

    F = 1/(2 pi) (total angle under which the outline is seen  -  sum over edges of
        int h/(h**2 + x**2) exp(-j (h**2 + x**2)) dx)

The first term is the point picture (1 inside, 0 outside); the second is the wave that each edge sends. An
edge at distance ``h`` contributes a generalised Fresnel integral, which is tabulated once. Any polygon in
any orientation to the plane of incidence is covered; a rectangle needs no special case.

References
----------
Born & Wolf, Principles of Optics, 8.3 (Kirchhoff's integral, Fresnel approximation) and 8.9 (reduction to a
line integral, after Maggi and Rubinowicz). Detours of corners and of the edges' nearest points are exact;
the quadratic approximation is used for the angles only.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.fresnel_tails import Radii
from treatment.bands import Array, frozen

Complex = NDArray[np.complex128]

#: Frequencies at which each octave band is sampled, evenly on a logarithmic axis. A seating area is sampled
#: at as many points, each with its own frequency of every band: one average over both.
SAMPLES_PER_BAND = 5
SAMPLE_HZ = frozen(
    np.asarray(bands.EXACT_HZ)[:, None]
    * bands.OCTAVE_RATIO ** ((np.arange(SAMPLES_PER_BAND) + 0.5) / SAMPLES_PER_BAND - 0.5)
)


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
    frequency_hz: Array,
) -> Complex:
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
        Shape (f,).

    Returns
    -------
    numpy.ndarray
        Complex shares ``F`` for the time factor exp(+jwt), shape (n, f).
    """
    # Offsets of the corners from the specular point, along and across the plane of incidence.
    u = patches[:, [0, 2, 2, 0]] - point[:, :1]
    v = patches[:, [1, 1, 3, 3]] - point[:, 1:]
    down = u * along[:, :1] + v * along[:, 1:]
    side = v * along[:, :1] - u * along[:, 1:]
    # In the plane of (down * cosine, side) the detour grows with the square of the radius.
    x, y = down * cosine[:, None], side
    ex, ey = np.roll(x, -1, axis=1) - x, np.roll(y, -1, axis=1) - y
    size = np.maximum(np.hypot(ex, ey), 1e-12)
    ex, ey = ex / size, ey / size
    cross = x * ey - y * ex
    a = x * ex + y * ey
    b = a + size
    fx, fy = x - a * ex, y - a * ey
    corner = _detour(down, side, cosine, before, after)
    foot = np.minimum(
        _detour(fx / cosine[:, None], fy, cosine, before, after),
        np.minimum(corner, np.roll(corner, -1, axis=1)),
    )
    dot = x * np.roll(x, -1, axis=1) + y * np.roll(y, -1, axis=1)
    angle = np.arctan2(cross * size, dot).sum(axis=1)

    wavenumber = 2.0 * np.pi * frequency_hz / speed_of_sound
    # The sign of zero counts: a point on an edge sees it under plus or minus half a turn.
    edge_waves = outline_waves(a, b, foot, corner, np.copysign(1.0, cross), wavenumber)
    return np.asarray((angle[:, None] - edge_waves) / (2.0 * np.pi))


def outline_waves(
    from_: Array, to: Array, foot: Array, corner: Array, weight: Array, wavenumber: Array
) -> Complex:
    """Sum of the waves of all edges round an outline: as `segment_waves` of each, in half the time.

    Parameters
    ----------
    from_, to : numpy.ndarray
        As for `segment_waves`, shape (n, c); edge k goes from corner k to the next.
    foot, corner : numpy.ndarray
        Detour over each edge's point of least detour and over each corner, shape (n, c), m.
    weight : numpy.ndarray
        Of each edge, shape (n, c).
    wavenumber : numpy.ndarray
        Shape (f,), 1/m.

    Returns
    -------
    numpy.ndarray
        Shape (n, f).
    """
    root, back = np.sqrt(wavenumber), np.roll(np.arange(corner.shape[1]), 1)
    begins, ends = weight * np.sign(from_), weight * np.sign(to)
    # Two edges meet at a corner: both tails begin at one radius and have one wave before them.
    radii = Radii(np.sqrt(corner)[..., None] * root)
    one = _weighted(radii, begins, foot, corner)
    other = _weighted(radii, -ends[:, back], foot[:, back], corner)
    real, imaginary = _turned(one[0] + other[0], one[1] + other[1], corner[..., None] * wavenumber)
    # An edge whose point of least detour lies beyond its ends sends their waves alone.
    within = np.nonzero(begins != ends)
    near = foot[within]
    whole = _turned(*Radii(np.sqrt(near)[..., None] * root).across(), near[..., None] * wavenumber)
    both = (ends - begins)[within][..., None]
    real[within] += both * whole[0]
    imaginary[within] += both * whole[1]
    total = np.empty((len(corner), len(wavenumber)), dtype=np.complex128)
    total.real, total.imag = _summed(real), -_summed(imaginary)
    return total


def _weighted(radii: Radii, weight: Array, foot: Array, corner: Array) -> tuple[Array, Array]:
    """Real and imaginary part of the tails of edges from their corners on."""
    real, imaginary = radii.tails(np.arctan2(np.sqrt(foot), np.sqrt(np.maximum(corner - foot, 0.0))))
    real *= weight[..., None]
    imaginary *= weight[..., None]
    return real, imaginary


def _turned(real: Array, imaginary: Array, phase: Array) -> tuple[Array, Array]:
    """Multiply by ``exp(+j phase)``; in real numbers, which round the same whatever is beside them."""
    cosine, sine = np.cos(phase), np.sin(phase)
    return real * cosine - imaginary * sine, real * sine + imaginary * cosine


def _summed(values: Array) -> Array:
    """Sum over the edges, in their order however many rows there are, shape (n, c, f) -> (n, f)."""
    total = values[:, 0].copy()
    for k in range(1, values.shape[1]):
        total += values[:, k]
    return total


def segment_waves(
    from_: Array,
    to: Array,
    foot: Array,
    detour_from: Array,
    detour_to: Array,
    wavenumber: Array,
) -> Complex:
    """Integral along straight edges, ``int h/(h**2 + x**2) exp(-j (h**2 + x**2)) dx``.

    Parameters
    ----------
    from_, to : numpy.ndarray
        Where each edge begins and ends, counted along it from the point of least detour, shape (...);
        only their signs matter.
    foot, detour_from, detour_to : numpy.ndarray
        Detour over the point of least detour and over both ends, shape (...), m.
    wavenumber : numpy.ndarray
        Shape (f,), 1/m.

    Returns
    -------
    numpy.ndarray
        For the time factor exp(+jwt), shape (..., f): pi for an endless edge at no distance.
    """
    root, h = np.sqrt(wavenumber), np.sqrt(foot)
    whole = _turned(*Radii(h[..., None] * root).across(), foot[..., None] * wavenumber)
    total = np.zeros(whole[0].shape, dtype=np.complex128)
    for sign, side, detour in ((1.0, to, detour_to), (-1.0, from_, detour_from)):
        end = np.sqrt(np.maximum(detour - foot, 0.0))
        tails = Radii(np.sqrt(detour)[..., None] * root).tails(np.arctan2(h, end))
        part = _turned(*tails, detour[..., None] * wavenumber)
        weight = sign * np.sign(side)[..., None]
        total.real += weight * (whole[0] - part[0])
        total.imag -= weight * (whole[1] - part[1])
    return total


def _detour(down: Array, side: Array, cosine: Array, before: Array, after: Array) -> Array:
    """Exact detour over points of the wall, shape (n, c), m, never negative."""
    a1, a2, c = before[:, None], after[:, None], cosine[:, None]
    sine = np.sqrt(np.maximum(1.0 - c * c, 0.0))
    across = side * side
    r1 = np.sqrt((down + a1 * sine) ** 2 + across + (a1 * c) ** 2)
    r2 = np.sqrt((down - a2 * sine) ** 2 + across + (a2 * c) ** 2)
    return np.maximum(r1 + r2 - a1 - a2, 0.0)


def limiting_frequency(
    before: float, after: float, area: float, cosine: float, speed_of_sound: float
) -> float:
    """Frequency above which a free panel reflects like an endless one.

    Parameters
    ----------
    before, after : float
        Path lengths before and after the bounce, m.
    area : float
        Of the panel, m2.
    cosine : float
        Of the angle of incidence.
    speed_of_sound : float
        m/s.

    Returns
    -------
    float
        ``f_g = c a* / (2 S cos)`` with ``a* = 2 a1 a2/(a1 + a2)``, Hz; below it the level falls by about 6 dB
        per octave (Rindel, Acustica 60 (1986); from memory).
    """
    together = 2.0 * before * after / (before + after)
    return speed_of_sound * together / (2.0 * area * cosine)
