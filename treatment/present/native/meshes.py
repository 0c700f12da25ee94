"""Arrays -> meshes of the toolkit: triangles, lines and points, each vertex with its colour.

They are made of whole arrays, without the wrapper that pyvista puts about each: it would cost more than
the mesh.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.present.forms import Face
from treatment.present.palette import rgb
from treatment.present.triangles import brightness, triangles_of

Colours = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class Soup:
    """Triangles that share no corner.

    Parameters
    ----------
    points : numpy.ndarray
        Three to a triangle, shape (3n, 3), m.
    tint : numpy.ndarray
        Colour of each point, shape (3n, 3), uint8.
    """

    points: Array
    tint: Colours


def soup_of(faces: Sequence[Face]) -> Soup:
    """Cut areas into triangles, shaded by their slant.

    Parameters
    ----------
    faces : sequence of Face
        Any number, of any colours.

    Returns
    -------
    Soup
        Of all of them.
    """
    points, tint = [np.zeros((0, 3))], [np.zeros((0, 3))]
    for face in faces:
        corners = triangles_of(face).reshape(-1, 3)
        points.append(corners)
        tint.append(np.broadcast_to(brightness(face) * np.array(rgb(face.colour)), corners.shape))
    return Soup(np.concatenate(points), np.concatenate(tint).clip(0, 255).astype(np.uint8))


def ball(middle: Array, radius: float, colour: str) -> Soup:
    """Make a ball, lighter at its top.

    Parameters
    ----------
    middle : numpy.ndarray
        Shape (3,), m.
    radius : float
        m.
    colour : str
        ``#rrggbb``.

    Returns
    -------
    Soup
        Of 20 slices and 18 rings.
    """
    around = np.linspace(0.0, 2.0 * np.pi, 21)
    down = np.linspace(0.0, np.pi, 20)
    ring = np.stack(np.broadcast_arrays(np.cos(around), np.sin(around)), axis=-1)
    grid = np.concatenate(
        [np.sin(down)[:, None, None] * ring, np.broadcast_to(np.cos(down)[:, None, None], (20, 21, 1))],
        axis=-1,
    )
    a, b, c, d = grid[:-1, :-1], grid[1:, :-1], grid[1:, 1:], grid[:-1, 1:]
    unit = np.concatenate([np.stack(t, axis=2).reshape(-1, 3) for t in ((a, b, c), (a, c, d))])
    tint = np.outer(0.85 + 0.25 * unit[:, 2], rgb(colour)).clip(0, 255).astype(np.uint8)
    return Soup(middle + radius * unit, tint)


def joined(parts: Sequence[Soup]) -> Soup:
    """Put triangles together.

    Parameters
    ----------
    parts : sequence of Soup
        One or more.

    Returns
    -------
    Soup
        In their order.
    """
    return Soup(np.concatenate([p.points for p in parts]), np.concatenate([p.tint for p in parts]))


def triangles_mesh(soup: Soup) -> Any:
    """Mesh of triangles.

    Parameters
    ----------
    soup : Soup
        Triangles.

    Returns
    -------
    vtkPolyData
        A cell for each.
    """
    count = len(soup.points) // 3
    return _mesh(soup.points, "SetPolys", np.full(count, 3), soup.tint)


def lines_mesh(points: Array, lengths: NDArray[np.intp], tint: Colours | None = None) -> Any:
    """Mesh of polylines.

    Parameters
    ----------
    points : numpy.ndarray
        One line behind the other, shape (k, 3), m.
    lengths : numpy.ndarray
        How many points each has, shape (n,).
    tint : numpy.ndarray, optional
        Colour of each line, shape (n, 3), uint8.

    Returns
    -------
    vtkPolyData
        A cell for each.
    """
    each = None if tint is None else np.repeat(tint, lengths, axis=0)
    return _mesh(points, "SetLines", lengths, each)


def chains_mesh(chains: Sequence[Array]) -> Any:
    """Mesh of polylines of one colour.

    Parameters
    ----------
    chains : sequence of numpy.ndarray
        One or more, each (k, 3), m.

    Returns
    -------
    vtkPolyData
        A cell for each.
    """
    return lines_mesh(np.concatenate(chains), np.array([len(c) for c in chains]))


def outline_of(faces: Sequence[Face]) -> list[Array]:
    """Outlines of areas and of their holes.

    Parameters
    ----------
    faces : sequence of Face
        Any number.

    Returns
    -------
    list of numpy.ndarray
        Closed, each (k, 3), m.
    """
    return [np.vstack([ring, ring[:1]]) for f in faces for ring in f.rings]


def points_mesh(points: Array, tint: Colours) -> Any:
    """Mesh of points.

    Parameters
    ----------
    points : numpy.ndarray
        Shape (n, 3), m.
    tint : numpy.ndarray
        Shape (n, 3), uint8.

    Returns
    -------
    vtkPolyData
        A cell for each.
    """
    return _mesh(points, "SetVerts", np.ones(len(points), dtype=np.intp), tint)


def _mesh(points: Array, put: str, lengths: NDArray[np.intp], tint: Colours | None) -> Any:
    from vtkmodules.util import numpy_support
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

    # The toolkit's helpers are untyped.
    to_vtk: Any = numpy_support.numpy_to_vtk
    to_ids: Any = numpy_support.numpy_to_vtkIdTypeArray
    place, cells, mesh = vtkPoints(), vtkCellArray(), vtkPolyData()
    place.SetData(to_vtk(np.ascontiguousarray(points, dtype=np.float32), deep=True))
    starts = np.concatenate([[0], np.cumsum(lengths)]).astype(np.int64)
    cells.SetData(to_ids(starts, deep=True), to_ids(np.arange(starts[-1], dtype=np.int64), deep=True))
    mesh.SetPoints(place)
    getattr(mesh, put)(cells)
    if tint is not None:
        mesh.GetPointData().SetScalars(to_vtk(np.ascontiguousarray(tint), deep=True))
    return mesh
