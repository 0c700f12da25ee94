"""A mesh file to the surfaces of a room: axes, mending, merging, names."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Final

import numpy as np

from treatment.bands import Array
from treatment.errors import Finding, GeometryError
from treatment.geometry.faces import place_text
from treatment.geometry.mend import mend
from treatment.geometry.merge import Merged, crossings, merge
from treatment.scene.codes import finding
from treatment.scene.fields import LONGEST_NAME
from treatment.scene.mesh_file import KINDS, LARGEST_FILE, MOST_FACES, RawMesh, read_mesh
from treatment.scene.naming import numbered, surface_name
from treatment.scene.outline import Shell, check_sizes
from treatment.scene.schema import MeshEntry
from treatment.units import UNITS

#: Surfaces in the order in which a box has them.
_ORDER: Final = ("front", "back", "left", "right", "floor", "ceiling")
#: More planar surfaces than this take long.
DETAILED: Final = 400
#: A body thinner than this is none (m).
FLATTEST: Final = 0.001

_Result = tuple[Shell | None, list[Finding]]


def make_mesh_shell(entry: MeshEntry, unit: str, folder: Path | None) -> _Result:
    """Make the surfaces of a room from a mesh file.

    Parameters
    ----------
    entry : MeshEntry
        What the scene file says.
    unit : str
        Unit that the person uses, for messages.
    folder : pathlib.Path or None
        Folder of the scene file.

    Returns
    -------
    shell : Shell or None
        None when the mesh is no room.
    findings : list of Finding
        What was mended, and what is wrong or worth knowing.
    """
    path = (folder or Path()) / entry.file
    problem = _check_file(path, entry)
    if problem is not None:
        return None, [problem]
    gltf = path.suffix.lower() in {".gltf", ".glb"}
    try:
        raw = read_mesh(path)
    except GeometryError as error:
        code = "mesh-too-large" if str(MOST_FACES) in error.message else "mesh-unreadable"
        return None, [finding(code, "room.file", error.message, error.hint)]
    scale = UNITS[entry.unit or "m"]
    turned = _axes(entry, gltf=gltf)
    if turned is None:
        message = f'up is "{entry.up or "z"}" and forward is "{entry.forward or "-x"}": both in one line'
        hint = "forward is where the screen is, seen from the seats; it lies level"
        return None, [finding("mesh-axes-parallel", "room.forward", message, hint)]
    used = np.unique(raw.faces)
    vertices = scale * raw.vertices @ turned.T
    if entry.origin == "front-left":
        vertices = vertices - vertices[used].min(axis=0)
    size = np.ptp(vertices[used], axis=0)
    if size.min() < FLATTEST:
        message = f"the mesh is flat: it is {size[0]:.3f} by {size[1]:.3f} by {size[2]:.3f} m"
        hint = "export the room as a closed body: floor, ceiling and all walls"
        return None, [finding("mesh-flat", "room.file", message, hint)]
    findings = check_sizes(_sizes(vertices[used]), unit)
    for f in findings:
        if f.severity == "error":
            return None, [
                finding(f.code, "room.unit", f.message, 'is the unit of the mesh right? write unit = "cm"')
            ]
    skin = mend(vertices, raw.faces, raw.groups)
    findings += [
        finding("mesh-mended", "room.file", text, "look whether it was meant so") for text in skin.mends
    ]
    if skin.faults:
        found = [finding(f"mesh-{f.kind}", "room.file", f.message, f.hint) for f in skin.faults]
        return None, findings + found
    try:
        merged = merge(skin)
        shell = _named(raw, merged)
        polygons = shell.enclosure.polygons
    except GeometryError as error:
        return None, [*findings, finding("mesh-faces-overlap", "room.file", error.message, error.hint)]
    cut, stacked = crossings(polygons)
    if cut:
        message = f"surfaces of the mesh cut through each other, at {_places(cut)}"
        hint = "join the bodies in the modelling program (a union), or give one of them as an obstacle"
        return None, [*findings, finding("mesh-self-intersecting", "room.file", message, hint)]
    if stacked:
        message = f"faces lie on each other in one plane, at {_places(stacked)}"
        hint = "delete the faces that cover others"
        return None, [*findings, finding("mesh-faces-overlap", "room.file", message, hint)]
    return shell, findings + _remarks(merged)


def _check_file(path: Path, entry: MeshEntry) -> Finding | None:
    kind = path.suffix.lower()
    try:
        there, size = path.is_file(), path.stat().st_size if path.is_file() else 0
    except (OSError, ValueError):
        there, size = False, 0
    if not there:
        message = f'there is no mesh file "{entry.file[:80]}"'
        return finding("mesh-missing", "room.file", message, "it is looked for beside the scene file")
    if kind not in KINDS:
        message = f'"{path.name[:60]}" is none of {", ".join(KINDS)}'
        return finding("mesh-unreadable", "room.file", message, "export the room as one of them")
    if size > LARGEST_FILE:
        message = f"the mesh file has {size / 1e6:.0f} MB; {LARGEST_FILE / 1e6:g} MB is the most"
        hint = "export the bare room: walls, floor, ceiling, without furniture and pictures"
        return finding("mesh-too-large", "room.file", message, hint)
    if entry.unit is None and kind not in {".gltf", ".glb"}:
        message = f'"unit" is missing: a {kind} file does not say what its numbers are'
        return finding("missing-key", "room.unit", message, f"write unit = one of {', '.join(UNITS)}")
    return None


def _axes(entry: MeshEntry, *, gltf: bool) -> Array | None:
    """Rotation from the file's axes to the room's; rows are the room's x, y, z in the file's axes."""

    def axis(text: str) -> Array:
        unit: Array = np.eye(3)["xyz".index(text[-1])]
        return -unit if text.startswith("-") else unit

    up = axis(entry.up or ("y" if gltf else "z"))
    forward = axis(entry.forward or "-x")
    if abs(up @ forward) > 0.5:
        return None
    # x runs from the screen to the back, z up; y completes them, from the left to the right.
    return np.stack([-forward, np.cross(up, -forward), up])


def _sizes(vertices: Array) -> dict[str, float]:
    length, width, height = (float(s) for s in np.ptp(vertices, axis=0))
    return {"file (along x)": length, "file (along y)": width, "height": height}


def _places(points: Sequence[Array]) -> str:
    return "; ".join(place_text(p[None]) for p in points)


def _named(raw: RawMesh, merged: Merged) -> Shell:
    """Name the surfaces: by their group where it has one surface, else by group and side."""
    cleaned = ["".join(c for c in n if c.isprintable()).strip()[: LONGEST_NAME - 20] for n in raw.names]
    if len(set(merged.groups)) == 1:
        cleaned = [""] * len(cleaned)
    sizes = np.bincount(merged.groups, minlength=len(cleaned))
    sides = [surface_name(p.normal) for p in merged.polygons]
    order = sorted(
        range(len(sides)),
        key=lambda i: (
            _ORDER.index(sides[i]) if sides[i] in _ORDER else len(_ORDER),
            -round(merged.polygons[i].area, 6),
        ),
    )
    names = []
    for i in order:
        group = cleaned[merged.groups[i]]
        alone = bool(group) and sizes[merged.groups[i]] == 1
        names.append(group if alone else f"{group}-{sides[i]}" if group else sides[i])
    return Shell(
        tuple(merged.polygons[i] for i in order),
        tuple(numbered(names)),
        groups=tuple(cleaned[merged.groups[i]] for i in order),
    )


def _remarks(merged: Merged) -> list[Finding]:
    findings = []
    if merged.curved:
        message = (
            f"{merged.curved} of {len(merged.polygons)} surfaces meet a neighbour at less than 30 degrees: "
            "curved parts stay flat facets"
        )
        hint = "a curve focuses or spreads sound; facets do so only roughly, and above their own size"
        findings.append(finding("mesh-curved", "room.file", message, hint))
    if len(merged.polygons) > DETAILED:
        message = f"the mesh has {len(merged.polygons)} planar surfaces; computing takes long"
        hint = "export the bare room with curves of few facets"
        findings.append(finding("mesh-detailed", "room.file", message, hint))
    return findings
