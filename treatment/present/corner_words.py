"""Panels across corners, in words and as seen from either of their two walls."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from treatment.bands import Array
from treatment.geometry.corners import corner_solid
from treatment.geometry.polygon import Polygon
from treatment.planning.corners import corner_of, strips
from treatment.planning.plan import Placement
from treatment.scene.model import Scene


def corner_name(scene: Scene, placement: Placement) -> str:
    """Name the corner that a panel stands across.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall.

    Returns
    -------
    str
        ``corner of front and left``.
    """
    first, second = (scene.surfaces[i].name for i in corner_of(scene, placement).walls)
    return f"corner of {first} and {second}"


def corner_words(scene: Scene, placement: Placement, tape: Callable[[float], str]) -> str:
    """Where a panel across a corner goes, as one marks it.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall.
    tape : callable
        Writes a length in m as one marks it.

    Returns
    -------
    str
        The corner, how far its back reaches along both walls, the height of its lower edge.
    """
    corner = corner_of(scene, placement)
    bottom = float(corner.foot[2] - scene.hall[0, 2])
    leg = tape(corner.leg(placement.build.outer_width))
    height = "on the floor" if bottom < 1e-3 else f"from the floor {tape(bottom)}"
    return f"{corner_name(scene, placement)}: legs {leg} along both walls, {height}"


def seen_on(scene: Scene, placements: Sequence[Placement], surface: int) -> list[Placement]:
    """Panels of one surface, those across its corners from either wall.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels.
    surface : int
        Index of the surface.

    Returns
    -------
    list of Placement
        Of a panel across a corner the rectangle is what it takes of this wall.
    """
    found = []
    for p in placements:
        if p.surface == surface:
            found.append(p)
        elif p.corner == surface:
            (first, _), (_, rectangle) = strips(scene, p)
            found.append(replace(p, surface=surface, corner=first, rectangle=rectangle))
    return found


def corner_faces(scene: Scene, placement: Placement) -> tuple[Polygon, ...]:
    """Faces of a panel across a corner, those against the walls too; the front comes first.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall.

    Returns
    -------
    tuple of Polygon
        In room coordinates, m.
    """
    build, corner = placement.build, corner_of(scene, placement)
    return corner_solid(corner, build.outer_width, 0.0, build.outer_height, build.thickness)


def corner_points(scene: Scene, placement: Placement) -> Array:
    """Corners of the body of a panel across a corner, shape (n, 3), m.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall.
    """
    faces = corner_faces(scene, placement)
    return np.concatenate([f.to_room(f.edges[:, 0]) for f in faces])
