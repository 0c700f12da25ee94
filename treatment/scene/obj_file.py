"""OBJ text to faces with their groups.

Read here and not by a library, for two reasons: names of groups and materials are kept whether or not
a material file lies beside, and a face of many corners may bend inwards, as an L-shaped floor does,
which cutting it like a cake would turn into overlapping triangles.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely

from treatment.bands import Array
from treatment.errors import GeometryError
from treatment.geometry.polygon import Polygon
from treatment.scene.mesh_file import RawMesh


def read_obj(text: str) -> RawMesh:
    """Read an OBJ file.

    Parameters
    ----------
    text : str
        The file.

    Returns
    -------
    RawMesh
        Vertices as in the file. Groups are those of ``g``; where these tell nothing apart, of
        ``usemtl``, else of ``o``.

    Raises
    ------
    ValueError
        When a line cannot be read, or a face names a vertex that is not there.
    """
    vertices: list[tuple[float, float, float]] = []
    faces: list[tuple[int, int, int]] = []
    labels: list[tuple[str, str, str]] = []
    wide: list[tuple[list[int], tuple[str, str, str]]] = []
    now = {"g": "", "usemtl": "", "o": ""}
    label = ("", "", "")
    for number, line in enumerate(text.replace("\\\n", " ").splitlines(), start=1):
        kind, _, rest = line.strip().partition(" ")
        if kind == "v":
            x, y, z, *_ = map(float, rest.split())
            vertices.append((x, y, z))
        elif kind == "f":
            at = [int(word.split("/", 1)[0]) for word in rest.split()]
            corners = [i - 1 if i > 0 else len(vertices) + i for i in at]
            if len(corners) < 3 or min(corners) < 0 or max(corners) >= len(vertices) or 0 in at:
                raise ValueError(f"line {number}: a face names a corner that is not there")
            if len(corners) == 3:
                faces.append((corners[0], corners[1], corners[2]))
                labels.append(label)
            else:
                wide.append((corners, label))
        elif kind in now:
            now[kind] = " ".join(rest.split())
            label = (now["g"], now["usemtl"], now["o"])
    table = np.array(vertices).reshape(-1, 3)
    for corners, whose in wide:
        # A face given twice, once for each side, must be cut the same way both times.
        first = corners.index(min(corners))
        ring = corners[first:] + corners[:first]
        turned = ring[1] > ring[-1]
        cut = _triangles(table, [ring[0], *ring[:0:-1]] if turned else ring)
        if turned:
            cut = [(a, c, b) for a, b, c in cut]
        faces += cut
        labels += [whose] * len(cut)
    kinds = [[pick[k] for pick in labels] for k in range(3)]
    chosen = next((names for names in kinds if len(set(names)) > 1), kinds[0])
    names, group = np.unique(np.array(chosen, dtype=object).astype(str), return_inverse=True)
    return RawMesh(
        table,
        np.array(faces, dtype=np.intp).reshape(-1, 3),
        group.reshape(-1).astype(np.intp),
        tuple(str(n) for n in names),
    )


def _triangles(vertices: Array, corners: list[int]) -> list[tuple[int, int, int]]:
    """Cut a face of four corners or more; a bent one is cut like a cake."""
    fan = [(corners[0], b, c) for b, c in pairwise(corners[1:])]
    points = vertices[corners]
    # Vertices are in the file's unit, which may be large: the shape is all that counts here.
    points = (points - points[0]) / max(float(np.ptp(points, axis=0).max()), 1e-300)
    vector = 0.5 * np.cross(points, np.roll(points, -1, axis=0)).sum(axis=0)
    area = float(np.linalg.norm(vector))
    if area < 1e-9:
        return fan
    normal = vector / area
    try:
        plane = Polygon.in_plane(normal, [(points, [])])
    except GeometryError:
        return fan
    flat = plane.to_wall(points)
    known = {(float(u), float(v)): corner for (u, v), corner in zip(flat, corners, strict=True)}
    cut = []
    for piece in shapely.get_parts(shapely.constrained_delaunay_triangles(shapely.Polygon(flat))):
        ring = [known.get((u, v)) for u, v in list(piece.exterior.coords)[:3]]
        a, b, c = ring
        if a is None or b is None or c is None:
            return fan
        p, q, r = (np.array(xy) for xy in list(piece.exterior.coords)[:3])
        turn = (q - p)[0] * (r - p)[1] - (q - p)[1] * (r - p)[0]
        along = turn * float(np.cross(plane.u_axis, plane.v_axis) @ normal)
        cut.append((a, b, c) if along > 0.0 else (a, c, b))
    return cut
