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

from functools import cache

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.bands import Array, frozen

Complex = NDArray[np.complex128]
Indices = NDArray[np.intp]

#: Frequencies at which each octave band is sampled, evenly on a logarithmic axis. A seating area is sampled
#: at as many points, each with its own frequency of every band: one average over both.
SAMPLES_PER_BAND = 5
SAMPLE_HZ = frozen(
    np.asarray(bands.EXACT_HZ)[:, None]
    * bands.OCTAVE_RATIO ** ((np.arange(SAMPLES_PER_BAND) + 0.5) / SAMPLES_PER_BAND - 0.5)
)

_REACH, _RADII, _ANGLES = 12.0, 241, 97


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


@cache
def _tails() -> Complex:
    """Table of ``int_0^inf h/(h**2 + (x+s)**2) exp(j(2xs + s**2)) ds`` by radius and angle of (x, h).

    The path is turned by 45 degrees into the complex plane, where the integrand decays and does not
    oscillate; the substitution ``|s| = rho sinh(tau)`` resolves the peak at small radii.
    """
    rho = np.linspace(0.0, _REACH, _RADII)[1:, None]
    phi = np.linspace(0.0, np.pi / 2.0, _ANGLES)[None, :]
    node, weight = np.polynomial.legendre.leggauss(40)
    top = np.arcsinh(6.0 / rho)
    h, x = rho * np.sin(phi), rho * np.cos(phi)
    total = np.zeros(h.shape, dtype=np.complex128)
    turn = np.exp(0.25j * np.pi)
    for t, w in zip((node + 1.0) / 2.0, weight / 2.0, strict=True):
        s = rho * np.sinh(t * top) * turn
        total += (
            w
            * top
            * rho
            * np.cosh(t * top)
            * turn
            * h
            / (h * h + (x + s) ** 2)
            * np.exp(1j * s * (2.0 * x + s))
        )
    # At the specular point itself the tail is the angle alone.
    table = np.concatenate([phi + 0j, total])
    table.setflags(write=False)
    return table


@cache
def _plain_tails() -> Complex:
    """Table of ``int_0^inf exp(j(2xs + s**2)) ds`` over x up to the table's reach."""
    x = np.linspace(0.0, _REACH, _RADII)[:, None]
    node, weight = np.polynomial.legendre.leggauss(60)
    turn = np.exp(0.25j * np.pi)
    s = 3.5 * (node + 1.0) * turn
    table = np.asarray((np.exp(1j * s * (2.0 * x + s)) * (3.5 * weight * turn)).sum(axis=1))
    table.setflags(write=False)
    return table


@cache
def _planes() -> tuple[Array, Array]:
    """Real and imaginary part of the table, each on its own and flat: they are read many times faster."""
    table = _tails().ravel()
    return frozen(table.real.copy()), frozen(table.imag.copy())


@cache
def _across() -> tuple[Array, Array]:
    """Last column of the table, where the angle is a right one: real and imaginary part."""
    column = _tails()[:, -1]
    return frozen(column.real.copy()), frozen(column.imag.copy())


def _rows(rho: Array) -> tuple[Indices, Array]:
    """Row of the table above each radius, and how far below that row it lies, 0 to 1."""
    down = np.minimum(rho, _REACH - 1e-9)
    down *= (_RADII - 1) / _REACH
    above = down.astype(np.intp)
    down -= above
    return above, down


def _between(plane: Array, at: Indices, step: int, part: Array) -> Array:
    """Between the value at an index and that one step on, linearly."""
    # The indices cannot lie outside; "clip" only spares a slow check of each.
    first = np.take(plane, at, mode="clip")
    found = np.take(plane[step:], at, mode="clip")
    found -= first
    found *= part
    found += first
    return found


def _tail(rho: Array, phi: Array) -> Complex:
    """Tail integral at radii (..., f) and angles (...); bilinear in the table, asymptotic beyond it."""
    column = phi * ((_ANGLES - 1) / (np.pi / 2.0))
    first = np.minimum(column.astype(np.intp), _ANGLES - 2)
    right = np.broadcast_to((column - first)[..., None], rho.shape)
    at, down = _rows(rho)
    at *= _ANGLES
    at += first[..., None]
    found = np.empty(rho.shape, dtype=np.complex128)
    for plane, half in zip(_planes(), (found.real, found.imag), strict=True):
        upper = _between(plane, at, 1, right)
        lower = _between(plane[_ANGLES:], at, 1, right)
        lower -= upper
        lower *= down
        np.add(lower, upper, out=half)
    far = np.flatnonzero(rho > _REACH)
    if len(far):
        # Far out the denominator hardly changes over the decay: sin(phi)/rho times a plain Fresnel tail.
        radius, angle = rho.ravel()[far], phi.ravel()[far // rho.shape[-1]]
        x = radius * np.cos(angle)
        position = np.minimum(x, _REACH - 1e-9) * ((_RADII - 1) / _REACH)
        low = position.astype(np.intp)
        plain = _plain_tails()
        value = plain[low] + (plain[low + 1] - plain[low]) * (position - low)
        value *= np.minimum(_REACH / np.maximum(x, 1e-9), 1.0)
        found.ravel()[far] = np.sin(angle) / radius * value
    return found


def _tail_across(rho: Array) -> Complex:
    """Tail integral at radii (...) where the angle is a right one, as at the nearest point of an edge."""
    above, down = _rows(rho)
    found = np.empty(rho.shape, dtype=np.complex128)
    for plane, half in zip(_across(), (found.real, found.imag), strict=True):
        half[...] = _between(plane, above, 1, down)
    far = np.flatnonzero(rho > _REACH)
    if len(far):
        found.ravel()[far] = _plain_tails()[0] / rho.ravel()[far]
    return found


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
    wave = np.exp(1j * corner[..., None] * wavenumber)
    edges = segment_waves(
        a, b, foot, corner, np.roll(corner, -1, axis=1), wavenumber, (wave, np.roll(wave, -1, axis=1))
    )
    # The sign of zero counts: a point on an edge sees it under plus or minus half a turn.
    edge_waves = (np.copysign(1.0, cross)[..., None] * edges).sum(axis=1)
    return np.asarray((angle[:, None] - edge_waves) / (2.0 * np.pi))


def segment_waves(
    from_: Array,
    to: Array,
    foot: Array,
    detour_from: Array,
    detour_to: Array,
    wavenumber: Array,
    waves: tuple[Complex, Complex] | None = None,
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
    waves : tuple of numpy.ndarray, optional
        ``exp(+j k detour)`` of both ends, shape (..., f), where they are known already.

    Returns
    -------
    numpy.ndarray
        For the time factor exp(+jwt), shape (..., f): pi for an endless edge at no distance.
    """
    root = np.sqrt(wavenumber)
    h = np.sqrt(foot)
    over = np.exp(1j * foot[..., None] * wavenumber)
    # Factors of complex products have names of their own: large nameless ones would be multiplied in place,
    # which rounds differently, and an edge must take the same whatever is worked out beside it.
    tail = _tail_across(h[..., None] * root)
    whole = over * tail
    total = np.zeros(whole.shape, dtype=np.complex128)
    for side, detour, known in ((to, detour_to, 1), (from_, detour_from, 0)):
        end = np.sqrt(np.maximum(detour - foot, 0.0))
        wave = np.exp(1j * detour[..., None] * wavenumber) if waves is None else waves[known]
        tail = _tail(np.sqrt(detour)[..., None] * root, np.arctan2(h, end))
        part = whole - wave * tail
        total += (1.0 if known else -1.0) * np.sign(side)[..., None] * part
    return np.conj(total)


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
