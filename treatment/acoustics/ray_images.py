"""The part of a decay that image sources hold, and the two ends of all paths."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from treatment.acoustics.image_sources import Paths, find_paths
from treatment.acoustics.ray_passes import Stage
from treatment.acoustics.tiles import RayPatch, Tiles
from treatment.air import Air
from treatment.bands import Array
from treatment.geometry.enclosure import Enclosure


class Ends:
    """Both ends of all paths; the fewer of them scatter rays (`near`), the others look (`far`).

    Parameters
    ----------
    sources, receivers : numpy.ndarray
        Shapes (e, 3) and (q, 3), m.
    """

    def __init__(self, sources: Array, receivers: Array) -> None:
        self.sources, self.receivers = sources, receivers
        self.swapped = len(receivers) < len(sources)
        self.near, self.far = (receivers, sources) if self.swapped else (sources, receivers)

    def by_source(self, values: Array) -> Array:
        """Return values by (near, far, ...) as (sources, receivers, ...): paths go both ways alike.

        Parameters
        ----------
        values : numpy.ndarray
            Shape (near, far, ...).

        Returns
        -------
        numpy.ndarray
            Shape (sources, receivers, ...), in the unit of the values.
        """
        return values.swapaxes(0, 1) if self.swapped else values


def specular_part(
    enclosure: Enclosure,
    air: Air,
    tiles: Tiles,
    patches: Sequence[RayPatch],
    ends: Ends,
    order: int,
    stage: Stage,
) -> Array:
    """Direct sound and specular paths up to an order.

    Parameters
    ----------
    enclosure : Enclosure
        The room.
    air : Air
        Its air.
    tiles : Tiles
        Materials of its surfaces and patches.
    patches : sequence of RayPatch
        Openings and panels.
    ends : Ends
        Sources and receivers.
    order : int
        Highest number of mirrors, 0 to 3.
    stage : Stage
        For the time steps.

    Returns
    -------
    numpy.ndarray
        Energy relative to the free field at 1 m, shape (sources, receivers, b, t), with time zero at
        the direct sound. Each mirror leaves ``(1 - alpha)(1 - s)`` of the material at its point.
    """
    paths = find_paths(enclosure, ends.sources, ends.receivers, order)
    returned = _returned(enclosure, paths, tiles, patches)
    loss = np.exp(-air.power_attenuation() * paths.length[:, None])
    energy = returned * loss / np.maximum(paths.length, 0.1)[:, None] ** 2
    late = np.floor((paths.length - paths.direct) / stage.bin_length + 1e-9).astype(np.intp)
    made = np.zeros((len(ends.sources), len(ends.receivers), tiles.absorption.shape[1], stage.bins))
    kept = late < stage.bins
    np.add.at(
        made.transpose(0, 1, 3, 2), (paths.source[kept], paths.receiver[kept], late[kept]), energy[kept]
    )
    return made


def _returned(enclosure: Enclosure, paths: Paths, tiles: Tiles, patches: Sequence[RayPatch]) -> Array:
    """Share of the energy that the mirrors of each path leave, shape (n, b)."""
    share = np.ones((len(paths), tiles.absorption.shape[1]))
    mirror = (1.0 - tiles.absorption) * (1.0 - tiles.scattering)
    path, rank = np.nonzero(paths.surfaces >= 0)
    surface = paths.surfaces[path, rank]
    wall = enclosure.wall_coordinates(surface, paths.points[path, rank])
    row: NDArray[np.intp] = surface.copy()
    for i, patch in enumerate(patches):
        u0, v0, u1, v1 = patch.rectangle.bounds
        on = (surface == patch.surface) & (wall[:, 0] >= u0) & (wall[:, 0] < u1)
        row[on & (wall[:, 1] >= v0) & (wall[:, 1] < v1)] = len(enclosure.polygons) + i
    np.multiply.at(share, path, mirror[row])
    return share


def from_direct(energy: Array, ends: Ends, bin_length: float) -> Array:
    """Move time zero from the emission to the arrival of the direct sound.

    Parameters
    ----------
    energy : numpy.ndarray
        Since the emission, shape (sources, receivers, b, t).
    ends : Ends
        Sources and receivers.
    bin_length : float
        Length of path of one time step, m.

    Returns
    -------
    numpy.ndarray
        Since the time that the straight line takes, blocked or not, same shape.
    """
    away = np.linalg.norm(ends.sources[:, None] - ends.receivers[None], axis=-1) / bin_length
    moved = np.zeros_like(energy)
    for i, j in np.ndindex(away.shape):
        whole, part = int(away[i, j]), away[i, j] % 1.0
        late = energy[i, j][:, whole:]
        moved[i, j][:, : late.shape[1]] = (1.0 - part) * late
        moved[i, j][:, : late.shape[1] - 1] += part * late[:, 1:]
    return moved
