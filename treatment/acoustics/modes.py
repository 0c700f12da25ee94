"""Room modes: standing waves of any room with hard walls, and the sound field that they make up.

In a box they are products of cosines. In any other room they are found by the Rayleigh-Ritz method: products
of cosines of the bounding box as trial functions, mass and stiffness integrated over the air of the room.
Hard walls are the natural boundary condition of the variational form, so no trial function has to fulfil it
(Courant and Hilbert, Methods of Mathematical Physics I, ch. VI). Box and other rooms share one type.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen
from treatment.geometry.columns import cosine_integrals
from treatment.geometry.enclosure import Enclosure

#: Trial functions reach so far above the highest mode asked for, and at least to so many Hz.
_BEYOND: Final = 2.0
_LEAST_HZ: Final = 480.0
#: Without a highest mode they reach to here, Hz.
_WHOLE_HZ: Final = 500.0
#: Trial functions at most; more cost time and hardly change the modes below 200 Hz of a small room.
_MOST: Final = 900
#: Combinations of trial functions that hardly live in the air (relative to the largest) are dropped.
_FAINT: Final = 1e-8


@dataclass(frozen=True, eq=False)
class Modes:
    """Modes of a room with hard walls, the constant one (0 Hz) first.

    Parameters
    ----------
    frequency_hz : numpy.ndarray
        Ascending, shape (m,).
    index : numpy.ndarray or None
        Half waves along x, y and z, shape (m, 3); None where the room is no box.
    low, size : numpy.ndarray
        Bounding box: lowest corner and extent, shape (3,), m.
    terms : numpy.ndarray
        Half waves of the cosines that modes are made of, shape (t, 3).
    weights : numpy.ndarray
        Their shares, shape (t, m), such that the mean square of each mode over the air is 1; shape (m,) in a
        box, where each mode is one term.
    volume : float
        Of the air, m3.
    reach_hz : float
        Up to here nothing of the sound field is missing.
    """

    frequency_hz: Array
    index: NDArray[np.intp] | None
    low: Array
    size: Array
    terms: NDArray[np.intp]
    weights: Array
    volume: float
    reach_hz: float

    def shapes(self, points: Array) -> Array:
        """Pressure of each mode at points.

        Parameters
        ----------
        points : numpy.ndarray
            Shape (p, 3), m.

        Returns
        -------
        numpy.ndarray
            Shape (p, m), mean square over the room 1.
        """
        along = (np.asarray(points, dtype=float) - self.low) / self.size * math.pi
        cosines = np.cos(along[:, None, :] * self.terms).prod(axis=-1)
        return np.asarray(cosines * self.weights if self.weights.ndim == 1 else cosines @ self.weights)


def box_modes(low: Array, size: Array, speed_of_sound: float, highest_hz: float) -> Modes:
    """Modes of a rectangular room.

    Parameters
    ----------
    low, size : numpy.ndarray
        Lowest corner and extent, shape (3,), m.
    speed_of_sound : float
        m/s.
    highest_hz : float
        Modes up to here.

    Returns
    -------
    Modes
        ``f = (c/2) sqrt((nx/Lx)^2 + (ny/Ly)^2 + (nz/Lz)^2)`` (Rayleigh; Kuttruff, Room Acoustics, eq. 3.16).
    """
    size = np.asarray(size, dtype=float)
    terms = _terms(size, speed_of_sound, highest_hz)
    frequency = _frequency(terms, size, speed_of_sound)
    # The mean square of a cosine is a half along each axis that it varies on.
    weights = np.sqrt(2.0) ** (terms > 0).sum(axis=1)
    return Modes(
        frozen(frequency), terms, frozen(low), frozen(size), terms, frozen(weights), float(size.prod()),
        highest_hz,
    )  # fmt: skip


def room_modes(enclosure: Enclosure, speed_of_sound: float, highest_hz: float = math.inf) -> Modes:
    """Modes of any closed room, obstacles included.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    speed_of_sound : float
        m/s.
    highest_hz : float
        Modes up to here. Default: as many as there are trial functions up to 500 Hz; the upper half of them
        are no true modes, but their sum is the best approximation to the field (Galerkin's).

    Returns
    -------
    Modes
        Those of the Rayleigh-Ritz method; each frequency lies at or a little above the true one
        (min-max principle), see docs/method/modes.md for by how much.
    """
    low, high = enclosure.bounds
    size = high - low
    trial = max(_BEYOND * highest_hz, _LEAST_HZ) if math.isfinite(highest_hz) else _WHOLE_HZ
    terms = _terms(size, speed_of_sound, trial)[:_MOST]
    most = tuple(2 * terms.max(axis=0) + 1)
    table = cosine_integrals(enclosure, (int(most[0]), int(most[1]), int(most[2])))
    mass, stiffness = _matrices(table, terms, size)
    spread, directions = np.linalg.eigh(mass)
    keep = spread > _FAINT * spread[-1]
    whiten = directions[:, keep] / np.sqrt(spread[keep])
    values, vectors = np.linalg.eigh(whiten.T @ stiffness @ whiten)
    frequency = speed_of_sound / (2.0 * math.pi) * np.sqrt(np.maximum(values, 0.0))
    frequency[0] = 0.0
    wanted = frequency <= highest_hz
    weights = whiten @ vectors[:, wanted] * math.sqrt(float(table[0, 0, 0]))
    return Modes(
        frozen(frequency[wanted]),
        None,
        frozen(low),
        frozen(size),
        terms,
        frozen(weights),
        float(table[0, 0, 0]),
        min(highest_hz, float(_frequency(terms[-1:], size, speed_of_sound)[0])),
    )


def _frequency(terms: NDArray[np.intp], size: Array, speed_of_sound: float) -> Array:
    return np.asarray(speed_of_sound / 2.0 * np.sqrt(((terms / size) ** 2).sum(axis=1)))


def _terms(size: Array, speed_of_sound: float, highest_hz: float) -> NDArray[np.intp]:
    """Numbers of half waves whose box mode lies at or below a frequency, ascending."""
    most = [math.floor(2.0 * highest_hz * extent / speed_of_sound) for extent in size]
    grid = np.stack(np.meshgrid(*(np.arange(n + 1) for n in most), indexing="ij"), axis=-1).reshape(-1, 3)
    frequency = _frequency(grid, size, speed_of_sound)
    order = np.argsort(frequency, kind="stable")
    return np.asarray(grid[order][frequency[order] <= highest_hz], dtype=np.intp)


def _matrices(table: Array, terms: NDArray[np.intp], size: Array) -> tuple[Array, Array]:
    """Mass and stiffness of the trial functions from integrals of single cosines.

    ``cos a cos b`` is half the sum, ``sin a sin b`` half the difference of cosines of a - b and a + b.
    """
    far = np.abs(terms[:, None] - terms[None])
    near = terms[:, None] + terms[None]
    wave = math.pi * terms / size
    mass = np.zeros((len(terms), len(terms)))
    stiffness = np.zeros_like(mass)
    products = [wave[:, None, axis] * wave[None, :, axis] for axis in range(3)]
    for signs in itertools.product((0, 1), repeat=3):
        i, j, k = ((near if s else far)[..., axis] for axis, s in enumerate(signs))
        part = table[i, j, k] / 8.0
        mass += part
        for axis, s in enumerate(signs):
            stiffness += (-part if s else part) * products[axis]
    return mass, stiffness
