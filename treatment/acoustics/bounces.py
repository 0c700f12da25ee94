"""The bounces of paths one by one: where on which surface, from where, at what angle."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.image_sources import Paths
from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure

Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Bounces:
    """Every bounce of every path; m bounces in all.

    Parameters
    ----------
    path : numpy.ndarray
        Index of the path, shape (m,).
    rank : numpy.ndarray
        0 for the first bounce after the source, shape (m,).
    surface : numpy.ndarray
        Surface index, shape (m,).
    wall : numpy.ndarray
        Wall coordinates of the specular point, shape (m, 2), m.
    along : numpy.ndarray
        Unit direction of the plane of incidence in wall coordinates, shape (m, 2).
    cosine : numpy.ndarray
        Cosine of the angle of incidence, shape (m,).
    before, after : numpy.ndarray
        Path length before and after the bounce, shape (m,), m.
    """

    path: Indices
    rank: Indices
    surface: Indices
    wall: Array
    along: Array
    cosine: Array
    before: Array
    after: Array

    def taken(self, index: Indices, renumbered: Indices | None = None) -> Bounces:
        """Return some of the bounces.

        Parameters
        ----------
        index : numpy.ndarray
            Indices of the bounces to keep, shape (k,).
        renumbered : numpy.ndarray, optional
            New index of every path, when the paths were thinned out as well.

        Returns
        -------
        Bounces
            k bounces.
        """
        kept = Bounces(*(getattr(self, f.name)[index] for f in fields(self)))
        return kept if renumbered is None else replace(kept, path=renumbered[kept.path])


def bounces_of(enclosure: Enclosure, paths: Paths, sources: Array) -> Bounces:
    """List the bounces of paths.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    paths : Paths
        Any paths in it.
    sources : numpy.ndarray
        Source positions that the paths refer to, shape (s, 3), m.

    Returns
    -------
    Bounces
        In the order of the paths, then from the source.
    """
    path, rank = np.nonzero(paths.surfaces >= 0)
    surface = paths.surfaces[path, rank]
    here = paths.points[path, rank]
    start = sources[paths.source]
    legs = np.diff(np.concatenate([start[:, None], paths.points], axis=1), axis=1)
    travelled = np.cumsum(np.linalg.norm(legs, axis=2), axis=1)
    before = travelled[path, rank]
    incoming = _directed(enclosure, paths, legs)[path, rank]
    frames = enclosure.frames[surface]
    flat = np.einsum("kij,kj->ki", frames, incoming)
    size = np.linalg.norm(flat, axis=1)
    upright = size < 1e-9 * np.maximum(np.linalg.norm(incoming, axis=1), 1e-9)
    along = np.where(upright[:, None], [1.0, 0.0], flat / np.where(upright, 1.0, size)[:, None])
    length = np.linalg.norm(incoming, axis=1)
    normal_part = np.abs(np.einsum("kj,kj->k", incoming, enclosure.normals[surface]))
    cosine = np.where(length > 1e-9, normal_part / np.maximum(length, 1e-12), 1.0)
    return Bounces(
        path,
        rank,
        surface,
        enclosure.wall_coordinates(surface, here),
        along,
        np.maximum(cosine, 1e-3),
        np.maximum(before, 1e-6),
        np.maximum(paths.length[path] - before, 1e-6),
    )


def _directed(enclosure: Enclosure, paths: Paths, legs: Array) -> Array:
    """Legs, where one of no length (both points lie in the same corner) takes its direction from the last."""
    going = legs.copy()
    for k in range(1, legs.shape[1]):
        short = np.flatnonzero((np.linalg.norm(legs[:, k], axis=1) < 1e-6) & (paths.surfaces[:, k] >= 0))
        n = enclosure.normals[paths.surfaces[short, k - 1]]
        last = going[short, k - 1]
        going[short, k] = last - 2.0 * (last * n).sum(axis=1, keepdims=True) * n
    return going


def path_energy(paths: Paths, bounces: Bounces, reflected: NDArray[np.complex128]) -> Array:
    """Energy that is left of each path after all its bounces.

    Parameters
    ----------
    paths : Paths
        n paths.
    bounces : Bounces
        Their m bounces.
    reflected : numpy.ndarray
        Pressure reflection factor of each bounce, shape (m, f), complex.

    Returns
    -------
    numpy.ndarray
        Product of the squared magnitudes, shape (n, f); 1 for the direct sound.
    """
    energy = np.ones((len(paths), reflected.shape[-1]))
    np.multiply.at(energy, bounces.path, np.square(np.abs(reflected)))
    return energy


def path_levels(paths: Paths, energy: Array, attenuation_db_per_m: Array) -> Array:
    """Levels of paths relative to the direct sound.

    Parameters
    ----------
    paths : Paths
        n paths.
    energy : numpy.ndarray
        What the bounces leave of the energy, shape (n, b).
    attenuation_db_per_m : numpy.ndarray
        Of the air, shape (b,).

    Returns
    -------
    numpy.ndarray
        ``20 lg(d0/d) + 10 lg(energy) - (d - d0) alpha_air``, shape (n, b), dB.
    """
    spreading = 20.0 * np.log10(paths.direct / paths.length)
    detour = (paths.length - paths.direct)[:, None]
    return np.asarray(spreading[:, None] + bands.decibels(energy) - detour * attenuation_db_per_m)
