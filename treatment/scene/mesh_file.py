"""Mesh files to faces with their groups, as they stand in the file."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.errors import GeometryError

#: Kinds of files, and whether they fix unit and axes themselves (glTF 2.0, 3.4: metres, y up).
KINDS: Final = (".obj", ".ply", ".stl", ".gltf", ".glb")
LARGEST_FILE: Final = 100_000_000
MOST_FACES: Final = 200_000


@dataclass(frozen=True, eq=False)
class RawMesh:
    """Triangles of a file, in its unit and its axes.

    Parameters
    ----------
    vertices : numpy.ndarray
        Shape (n, 3).
    faces : numpy.ndarray
        Shape (m, 3).
    groups : numpy.ndarray
        Index of the name of each face's group, shape (m,).
    names : tuple of str
        Names of the groups; empty text where there is none.
    """

    vertices: Array
    faces: NDArray[np.intp]
    groups: NDArray[np.intp]
    names: tuple[str, ...]


def read_mesh(path: Path) -> RawMesh:
    """Read a mesh file.

    Parameters
    ----------
    path : pathlib.Path
        Ends in one of `KINDS`.

    Returns
    -------
    RawMesh
        What it holds.

    Raises
    ------
    GeometryError
        When it cannot be read, holds no faces or too many, or numbers that are not finite.
    """
    try:
        mesh = _read(path)
    except (MemoryError, RecursionError, Exception) as error:
        # Readers of foreign formats raise whatever they stumble over.
        reason = " ".join(str(error).split())[:120] or type(error).__name__
        hint = "export it again, as OBJ with groups if you can"
        raise GeometryError(f"the mesh cannot be read: {reason}", hint=hint) from None
    if len(mesh.faces) == 0:
        raise GeometryError(
            "the mesh holds no faces", hint="export the room with its faces, not points or lines"
        )
    if len(mesh.faces) > MOST_FACES:
        raise GeometryError(
            f"the mesh has {len(mesh.faces)} faces, more than {MOST_FACES}",
            hint="export the bare room: walls, floor, ceiling, without furniture; or simplify it first",
        )
    if not np.isfinite(mesh.vertices).all():
        raise GeometryError("the mesh holds numbers that are not finite", hint="export it again")
    return mesh


def _read(path: Path) -> RawMesh:
    if path.suffix.lower() == ".obj":
        from treatment.scene.obj_file import read_obj

        return read_obj(path.read_text(encoding="utf-8", errors="replace"))
    import trimesh  # here, because it takes more than a second to import

    kind = path.suffix.lower()[1:]
    options: dict[str, Any] = {"skip_materials": True} if kind in {"gltf", "glb"} else {}
    scene = trimesh.load_scene(str(path), file_type=kind, process=False, **options)
    vertices, faces, groups = [], [], []
    names: list[str] = []
    count = 0
    for node in scene.graph.nodes_geometry:
        transform, key = scene.graph[node]
        mesh = scene.geometry[key]
        if not isinstance(mesh, trimesh.Trimesh):
            continue
        points = np.asarray(mesh.vertices, dtype=np.float64)
        if not np.array_equal(transform, np.eye(4)):
            points = points @ transform[:3, :3].T + transform[:3, 3]
        triangles = np.asarray(mesh.faces, dtype=np.intp)
        if np.linalg.det(transform[:3, :3]) < 0.0:
            triangles = triangles[:, ::-1]
        vertices.append(points)
        faces.append(triangles + count)
        groups.append(np.full(len(triangles), len(names), dtype=np.intp))
        name = str(key)
        names.append("" if name in {path.name, path.stem} or name.startswith("geometry_") else name)
        count += len(points)
    return RawMesh(
        np.concatenate([np.zeros((0, 3)), *vertices]),
        np.concatenate([np.zeros((0, 3), dtype=np.intp), *faces]),
        np.concatenate([np.zeros(0, dtype=np.intp), *groups]),
        tuple(names),
    )
