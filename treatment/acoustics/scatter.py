"""Directions of rays, and how bands of unlike scattering share them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.geometry.rays import dots

#: Variance that sharing rays may add to the weight of a band at one bounce (mean over the surface).
#: Forty bounces make a factor of 1.5 of it.
_SHARED_VARIANCE = 0.01


@dataclass(frozen=True, eq=False)
class Branching:
    """How rays choose between a specular and a diffuse bounce, for bands that share them.

    Parameters
    ----------
    members : numpy.ndarray
        Indices of the bands, shape (g,).
    chance : numpy.ndarray
        Probability of a diffuse bounce on each tile, shape (n,).
    specular, diffuse : numpy.ndarray
        Factor on the energy of each band when the one or the other is chosen, shape (g, n): what the
        band returns that way over the probability of the choice, so that the mean is right in every
        band.
    """

    members: NDArray[np.intp]
    chance: Array
    specular: Array
    diffuse: Array


def branchings(absorption: Array, scattering: Array, areas: Array) -> tuple[Branching, ...]:
    """Part the bands into groups that can share rays.

    A ray can take one direction only. Bands whose scattering is alike share it; where a group's
    members differ a little, factors on their energy make up for it. Bands that differ much would see
    their energies scatter wildly, and get rays of their own.

    Parameters
    ----------
    absorption, scattering : numpy.ndarray
        Of the tiles, shape (n, b), 0 to 1.
    areas : numpy.ndarray
        Shape (n,), m2.

    Returns
    -------
    tuple of Branching
        Groups of neighbouring bands; every band in one of them.
    """
    b = scattering.shape[1]
    weight = areas / areas.sum()
    groups: list[list[int]] = []
    for band in range(b):
        if groups:
            wider = [*groups[-1], band]
            chance = scattering[:, wider].mean(axis=1)
            if (weight @ _added_variance(scattering[:, wider], chance)).max() <= _SHARED_VARIANCE:
                groups[-1] = wider
                continue
        groups.append([band])
    made = []
    for members in groups:
        s, r = scattering[:, members].T, 1.0 - absorption[:, members].T
        chance = s.mean(axis=0)
        made.append(
            Branching(
                np.array(members),
                chance,
                np.ascontiguousarray(r * (1.0 - s) / np.where(chance < 1.0, 1.0 - chance, 1.0)),
                np.ascontiguousarray(r * s / np.where(chance > 0.0, chance, 1.0)),
            )
        )
    return tuple(made)


def _added_variance(scattering: Array, chance: Array) -> Array:
    """Variance of the factor ``s/p`` or ``(1-s)/(1-p)`` about its mean of 1, shape (n, g)."""
    p = np.clip(chance, 1e-12, 1.0 - 1e-12)[:, None]
    return scattering**2 / p + (1.0 - scattering) ** 2 / (1.0 - p) - 1.0


def even_directions(count: int, rng: np.random.Generator) -> Array:
    """Directions spread evenly over the sphere, in a random position.

    Parameters
    ----------
    count : int
        How many.
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    numpy.ndarray
        Unit vectors, shape (count, 3): a Fibonacci lattice under a random rotation and a random turn
        along its spiral. Every direction is equally likely, and the gaps are even, which lowers the
        error of the early sound.
    """
    return lattice_directions(np.arange(count), count) @ random_rotation(rng).T


def lattice_directions(which: NDArray[np.intp], count: int) -> Array:
    """Some directions of a Fibonacci lattice on the sphere.

    Parameters
    ----------
    which : numpy.ndarray
        Indices, 0 to `count` - 1, shape (k,).
    count : int
        Size of the whole lattice.

    Returns
    -------
    numpy.ndarray
        Unit vectors, shape (k, 3).
    """
    z = 1.0 - 2.0 * (which + 0.5) / count
    turn = np.pi * (1.0 + np.sqrt(5.0)) * which
    r = np.sqrt(1.0 - z * z)
    return np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)


def random_rotation(rng: np.random.Generator) -> Array:
    """Draw a rotation, all equally likely.

    Parameters
    ----------
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    numpy.ndarray
        Shape (3, 3).
    """
    # A random unit quaternion is a uniform random rotation (Shoemake, Graphics Gems III (1992) 124).
    w, x, y, v = (q := rng.normal(size=4)) / np.linalg.norm(q)
    return np.array(
        [
            [1 - 2 * (y * y + v * v), 2 * (x * y - v * w), 2 * (x * v + y * w)],
            [2 * (x * y + v * w), 1 - 2 * (x * x + v * v), 2 * (y * v - x * w)],
            [2 * (x * v - y * w), 2 * (y * v + x * w), 1 - 2 * (x * x + y * y)],
        ]
    )


def diffuse_directions(normals: Array, rng: np.random.Generator) -> Array:
    """Directions by Lambert's law about normals.

    Parameters
    ----------
    normals : numpy.ndarray
        Unit vectors, shape (k, 3).
    rng : numpy.random.Generator
        Source of chance.

    Returns
    -------
    numpy.ndarray
        Unit vectors, shape (k, 3), with density ``cos(theta)/pi``: the normal plus a point of the unit
        sphere, made to length one, has that density (the chord from the pole of a sphere).
    """
    z = rng.uniform(-1.0, 1.0, len(normals))
    turn = rng.uniform(0.0, 2.0 * np.pi, len(normals))
    r = np.sqrt(1.0 - z * z)
    sum_ = normals + np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1)
    length = np.sqrt(dots(sum_, sum_))
    # A point exactly opposite the normal has no direction; it takes the normal.
    return np.where(length[:, None] > 1e-9, sum_ / np.maximum(length, 1e-9)[:, None], normals)


def mirrored_directions(directions: Array, normals: Array) -> Array:
    """Directions after a specular bounce.

    Parameters
    ----------
    directions, normals : numpy.ndarray
        Unit vectors, shape (k, 3).

    Returns
    -------
    numpy.ndarray
        ``d - 2 (d . n) n``, shape (k, 3).
    """
    return np.asarray(directions - 2.0 * dots(directions, normals)[:, None] * normals)
