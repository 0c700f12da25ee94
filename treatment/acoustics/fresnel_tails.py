"""The wave of an edge, from a place on it outward to infinity: a table, read at many places at once.

An edge that begins at the place (x, h) as seen from the point of least detour, h across and x along, sends

    exp(-j rho**2) int_0^inf h/(h**2 + (x+s)**2) exp(-j (2xs + s**2)) ds,    rho**2 = h**2 + x**2,

a generalised Fresnel integral (Born & Wolf, Principles of Optics, 8.9). Here is the integral without the
factor before it, by radius and angle of (x, h), conjugated.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen

_REACH, _RADII, _ANGLES = 12.0, 241, 97


@cache
def _tails() -> NDArray[np.complex128]:
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
def _plain_tails() -> NDArray[np.complex128]:
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
def _last_column() -> tuple[Array, Array]:
    """Real and imaginary part of the table where the angle is a right one."""
    column = _tails()[:, -1]
    return frozen(column.real.copy()), frozen(column.imag.copy())


def _between(plane: Array, at: NDArray[np.intp], part: Array) -> Array:
    """Between the value at an index and the next one, linearly."""
    # The indices cannot lie outside; "clip" only spares a slow check of each.
    first = np.take(plane, at, mode="clip")
    found = np.take(plane[1:], at, mode="clip")
    found -= first
    found *= part
    found += first
    return found


class Radii:
    """Radii at which tails are read, for one angle of each or for several.

    Parameters
    ----------
    rho : numpy.ndarray
        Shape (..., f), without unit.
    """

    def __init__(self, rho: Array) -> None:
        self.rho = rho
        down = np.minimum(rho, _REACH - 1e-9)
        down *= (_RADII - 1) / _REACH
        self._row = down.astype(np.intp)
        down -= self._row
        self._down = down
        self._far = np.flatnonzero(rho > _REACH)

    def tails(self, phi: Array) -> tuple[Array, Array]:
        """Tails at angles: bilinear in the table, asymptotic beyond it.

        Parameters
        ----------
        phi : numpy.ndarray
            Shape (...), 0 to a right angle, rad.

        Returns
        -------
        real, imaginary : numpy.ndarray
            Shape (..., f).
        """
        column = phi * ((_ANGLES - 1) / (np.pi / 2.0))
        first = np.minimum(column.astype(np.intp), _ANGLES - 2)
        right = np.broadcast_to((column - first)[..., None], self.rho.shape)
        at = self._row * _ANGLES
        at += first[..., None]
        parts = []
        for plane in _planes():
            upper = _between(plane, at, right)
            found = _between(plane[_ANGLES:], at, right)
            found -= upper
            found *= self._down
            found += upper
            parts.append(found)
        if len(self._far):
            # Far out the denominator hardly changes over the decay: sin(phi)/rho times a plain Fresnel tail.
            radius, angle = self.rho.ravel()[self._far], phi.ravel()[self._far // self.rho.shape[-1]]
            x = radius * np.cos(angle)
            position = np.minimum(x, _REACH - 1e-9) * ((_RADII - 1) / _REACH)
            low = position.astype(np.intp)
            plain = _plain_tails()
            value = plain[low] + (plain[low + 1] - plain[low]) * (position - low)
            value *= np.minimum(_REACH / np.maximum(x, 1e-9), 1.0)
            value *= np.sin(angle) / radius
            for part, far in zip(parts, (value.real, value.imag), strict=True):
                part.ravel()[self._far] = far
        return parts[0], parts[1]

    def across(self) -> tuple[Array, Array]:
        """Tails where the angle is a right one, as at the nearest point of an edge.

        Returns
        -------
        real, imaginary : numpy.ndarray
            Shape (..., f).
        """
        parts = [_between(column, self._row, self._down) for column in _last_column()]
        if len(self._far):
            value = _plain_tails()[0]
            for part, far in zip(parts, (value.real, value.imag), strict=True):
                part.ravel()[self._far] = far / self.rho.ravel()[self._far]
        return parts[0], parts[1]
