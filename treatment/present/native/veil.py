"""A picture that lies over or beside the room in the window, as a texture of the toolkit."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from treatment.present.native.paint import Pixels

#: Edge of the tiles by which an overlay is told to be empty, pixels.
_TILE: Final = 16


class Sheet:
    """A picture laid over a renderer, pixel by pixel; where it is empty nothing is painted.

    Parameters
    ----------
    renderer : vtkRenderer
        Which it covers.
    solid : bool
        Whether its pictures are painted all over.
    """

    def __init__(self, renderer: Any, *, solid: bool = False) -> None:
        from vtkmodules.vtkCommonDataModel import vtkImageData
        from vtkmodules.vtkRenderingCore import vtkPolyDataMapper2D, vtkTexture, vtkTexturedActor2D

        self._solid = solid
        self._image, self._texture = vtkImageData(), vtkTexture()
        self._texture.SetInputData(self._image)
        self._texture.InterpolateOff()
        self._mapper = vtkPolyDataMapper2D()
        actor = vtkTexturedActor2D()
        actor.SetMapper(self._mapper)
        actor.SetTexture(self._texture)
        renderer.AddViewProp(actor)
        self._buffer: Pixels = np.zeros((0, 0, 4), dtype=np.uint8)
        self._array: Any = None
        self._last: Any = None

    def show(self, pixels: Pixels) -> None:
        """Show a picture.

        Parameters
        ----------
        pixels : numpy.ndarray
            Shape (rows, columns, 4), uint8, first row on top. The same object again costs nothing.
        """
        if pixels is self._last:
            return
        self._last = pixels
        if pixels.shape != self._buffer.shape:
            self._make(pixels.shape[1], pixels.shape[0])
        self._buffer[:] = pixels[::-1]
        self._array.Modified()
        self._image.Modified()
        if not self._solid:
            self._cover(used_boxes(self._buffer))

    def _make(self, width: int, height: int) -> None:
        from vtkmodules.util import numpy_support

        # The toolkit's helper is untyped.
        numpy_to_vtk: Any = numpy_support.numpy_to_vtk
        self._buffer = np.zeros((height, width, 4), dtype=np.uint8)
        self._image.SetDimensions(width, height, 1)
        self._array = numpy_to_vtk(self._buffer.reshape(-1, 4), deep=False)
        self._image.GetPointData().SetScalars(self._array)
        self._cover([(0, 0, width, height)])

    def _cover(self, boxes: Sequence[tuple[int, int, int, int]]) -> None:
        """Show the picture inside of rectangles only: what lies between them need not be blended."""
        from vtkmodules.util import numpy_support
        from vtkmodules.vtkCommonCore import vtkPoints
        from vtkmodules.vtkCommonDataModel import vtkCellArray, vtkPolyData

        numpy_to_vtk: Any = numpy_support.numpy_to_vtk
        size = np.array(self._buffer.shape[1::-1], dtype=np.float64)
        corners = np.array([[(x0, y0), (x1, y0), (x1, y1), (x0, y1)] for x0, y0, x1, y1 in boxes]).reshape(
            -1, 2
        )
        points, cells, mesh = vtkPoints(), vtkCellArray(), vtkPolyData()
        flat = np.concatenate([corners, np.zeros((len(corners), 1))], axis=1)
        points.SetData(numpy_to_vtk(flat.astype(np.float32), deep=True))
        for k in range(0, len(corners), 4):
            cells.InsertNextCell(4, [k, k + 1, k + 2, k + 3])
        mesh.SetPoints(points)
        mesh.SetPolys(cells)
        mesh.GetPointData().SetTCoords(numpy_to_vtk((corners / size).astype(np.float32), deep=True))
        self._mapper.SetInputData(mesh)


def used_boxes(pixels: Pixels) -> list[tuple[int, int, int, int]]:
    """Cover what is painted with rectangles.

    Parameters
    ----------
    pixels : numpy.ndarray
        Shape (rows, columns, 4), uint8.

    Returns
    -------
    list of (int, int, int, int)
        First column and row, and those behind the last; they do not overlap.
    """
    rows, columns = pixels.shape[:2]
    filled = np.ascontiguousarray(pixels).view(np.uint32)[..., 0]
    for axis in (0, 1):
        filled = np.bitwise_or.reduceat(filled, np.arange(0, filled.shape[axis], _TILE), axis=axis)
    used = np.pad(filled != 0, ((0, 1), (1, 1)))
    runs: dict[tuple[int, int], list[int]] = {}
    found = []
    for row, tiles in enumerate(used):
        edges = np.flatnonzero(tiles[1:] != tiles[:-1]).tolist()
        now = list(zip(edges[::2], edges[1::2], strict=True))
        # A run that goes on below its like makes its rectangle higher.
        for run in [r for r in runs if r not in now]:
            first = runs.pop(run)[0]
            box = (_TILE * run[0], _TILE * first, min(_TILE * run[1], columns), min(_TILE * row, rows))
            found.append(box)
        for run in now:
            runs.setdefault(run, [row])
    return found
