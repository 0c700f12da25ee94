"""Panels across an upright corner of the room: where they are, what they are made of, what they cover.

Such a panel is a solid of the room, with the triangle behind it closed off: nothing sounds there. The face
has the absorption of the build with the mean depth of that triangle as the gap behind it, where its
absorption is a prediction from its layers; a measured row stays as measured. Boards of the frame, edges and
lids are like the first wall, or the build's `back` where it names one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np

from treatment.air import Air
from treatment.bands import Array, frozen
from treatment.errors import GeometryError
from treatment.geometry.boxes import Boxes
from treatment.geometry.corners import Corner, back_plane, corner_box, corner_solid, inner_corners
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.materials.build import PanelBuild
from treatment.materials.material import Material
from treatment.materials.predicted import predicted_material
from treatment.planning.plan import Placement
from treatment.scene.model import Scene, Surface

#: Angles between two walls that a panel can stand across, degrees: this project's choice. In a sharper corner
#: its back stands far out, in a flatter one there is nothing behind it.
ANGLES: Final = (60.0, 120.0)

#: What a prediction of such a panel leaves out, in words.
LEFT_OUT: Final = (
    "predicted with the mean depth of the corner behind it, the triangle empty and closed above and below; "
    "that the pressure of room modes is highest in corners is not counted: in the bass it may do more"
)


def corners_of(scene: Scene) -> tuple[Corner, ...]:
    """Upright inner corners between the room's own walls.

    Parameters
    ----------
    scene : Scene
        The room, without panels.

    Returns
    -------
    tuple of Corner
        Of any angle below 180 degrees.
    """
    walls = [i for i, s in enumerate(scene.surfaces) if s.kind == "wall" and not s.obstacle]
    return inner_corners([s.polygon for s in scene.surfaces], walls)


def angle_refusal(corner: Corner) -> str:
    """Why no panel stands across a corner, for its angle alone.

    Parameters
    ----------
    corner : Corner
        Any.

    Returns
    -------
    str
        In words; empty when it may.
    """
    angle, (low, high) = float(np.degrees(corner.angle)), ANGLES
    if low - 0.1 <= angle <= high + 0.1:
        return ""
    return f"the walls meet at {angle:.0f} degrees; panels go across {low:.0f} to {high:.0f} degrees only"


def corner_of(scene: Scene, placement: Placement) -> Corner:
    """Corner that a panel stands across, its foot at the panel's lower edge.

    Parameters
    ----------
    scene : Scene
        The room, with or without panels: only the planes of its walls count.
    placement : Placement
        With a second wall.

    Returns
    -------
    Corner
        As high as the panel.

    Raises
    ------
    GeometryError
        When the two walls are not upright or run along each other.
    """
    i, j = placement.surface, placement.surface if placement.corner is None else placement.corner
    a, b = scene.surfaces[i].polygon, scene.surfaces[j].polygon
    normals = np.array([a.normal[:2], b.normal[:2]])
    upright = abs(float(a.normal[2])) < 2e-3 and abs(float(b.normal[2])) < 2e-3
    if not upright or abs(float(np.linalg.det(normals))) < 0.1:
        raise GeometryError(
            f"'{scene.surfaces[i].name}' and '{scene.surfaces[j].name}' do not meet in an upright corner",
            where=placement.id,
            hint="name two walls that meet",
        )
    xy = np.linalg.solve(normals, [a.origin[:2] @ a.normal[:2], b.origin[:2] @ b.normal[:2]])
    low = float(a.to_room([placement.rectangle.u, placement.rectangle.v])[2])
    along = []
    for wall, other in ((a, b), (b, a)):
        way = np.cross(wall.normal, [0.0, 0.0, 1.0])
        way = way / np.linalg.norm(way)
        along.append(way if way @ other.normal > 0.0 else -way)
    return Corner((i, j), frozen([*xy, low]), frozen(along), placement.build.outer_height)


def strips(scene: Scene, placement: Placement) -> tuple[tuple[int, Rectangle], tuple[int, Rectangle]]:
    """What a panel across a corner takes of the two walls: surface and rectangle of each.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall; of its rectangle only the lower edge counts.

    Returns
    -------
    tuple of (int, Rectangle)
        Of the first wall, then of the second.
    """
    corner = corner_of(scene, placement)
    first, second = (
        (w, strip_on(scene.surfaces[w].polygon, corner, k, placement.build))
        for k, w in enumerate(corner.walls)
    )
    return first, second


def strip_on(
    polygon: Polygon, corner: Corner, which: int, build: PanelBuild, bottom: float = 0.0
) -> Rectangle:
    """Strip of one wall behind a panel across a corner.

    Parameters
    ----------
    polygon : Polygon
        The wall.
    corner : Corner
        Where the panel stands.
    which : int
        0 for the corner's first wall, 1 for the second.
    build : PanelBuild
        The panel.
    bottom : float
        Height of its lower edge above the corner's foot, m.

    Returns
    -------
    Rectangle
        In the wall's coordinates.
    """
    leg = corner.leg(build.outer_width)
    base = corner.foot + np.array([0.0, 0.0, bottom])
    ends = polygon.to_wall([base, base + leg * corner.along[which]])
    u, v = float(ends[:, 0].min()), float(ends[:, 1].min())
    return Rectangle(round(u, 6), round(v, 6), round(leg, 6), build.outer_height)


def corner_placement(
    scene: Scene, corner: Corner, build: PanelBuild, bottom: float, name: str, reasons: tuple[str, ...] = ()
) -> Placement:
    """Put a panel across a corner.

    Parameters
    ----------
    scene : Scene
        The room.
    corner : Corner
        From `corners_of`.
    build : PanelBuild
        The panel.
    bottom : float
        Height of its lower edge above the corner's foot, m.
    name : str
        Its id.
    reasons : tuple of str
        Why it is there.

    Returns
    -------
    Placement
        On the corner's first wall, with the second as its `corner`.
    """
    first, second = corner.walls
    place = strip_on(scene.surfaces[first].polygon, corner, 0, build, bottom)
    return Placement(name, build, first, place, reasons, corner=second)


def material_across(build: PanelBuild, corner: Corner, air: Air) -> Material:
    """Absorption of a build's face with the mean depth of the corner behind it.

    Parameters
    ----------
    build : PanelBuild
        The panel.
    corner : Corner
        Where it stands.
    air : Air
        Of the room.

    Returns
    -------
    Material
        Predicted anew where the build's own absorption is a prediction from its layers and its perforated
        sheet; else the build's. The room behind is a wedge from nothing to twice the mean: resonances are
        smeared out, and in the bass, where the wedge is small against the wavelength, only its volume counts.
    """
    if build.basis != "predicted" or not build.layers:
        return build.material
    flat, _ = predicted_material(build.id, build.layers, build.air_gap, air, sheet=build.sheet)
    # A cloth that the prediction held is not known here any more: then the flat curve stays.
    if not np.allclose(flat.absorption, build.material.absorption, atol=2e-3):
        return build.material
    gap = corner.gap(build.outer_width)
    found, _ = predicted_material(build.id, build.layers, gap, air, sheet=build.sheet)
    return replace(
        build.material,
        description=f"{build.id} across a corner, {1000.0 * gap:.0f} mm mean gap",
        absorption=found.absorption,
        uncertainty=found.uncertainty,
        own=found.own,
        air_gap=gap,
    )


def corner_sides(scene: Scene, placement: Placement) -> list[Surface]:
    """Surfaces of a panel across a corner.

    Parameters
    ----------
    scene : Scene
        The room, without panels.
    placement : Placement
        With a second wall.

    Returns
    -------
    list of Surface
        As from `corner_solid`, named and owned by the panel's id; what lies against the walls included. The
        face has the share of absorption that the slab has of the panel, frame included.
    """
    build, corner = placement.build, corner_of(scene, placement)
    hard = build.back or scene.surfaces[placement.surface].material
    soft = material_across(build, corner, scene.air)
    share = build.face_area / (build.outer_width * build.outer_height)
    face = replace(
        soft,
        absorption=frozen(share * soft.absorption + (1.0 - share) * hard.absorption),
        uncertainty=frozen(share * soft.uncertainty + (1.0 - share) * hard.uncertainty),
        apart=frozen(share * soft.apart),
        own=frozen(share * soft.alone + (1.0 - share) * hard.uncertainty),
    )
    sides = corner_solid(corner, build.outer_width, 0.0, build.outer_height, build.thickness)
    return [
        Surface(placement.id, side, hard if k else face, obstacle=placement.id)
        for k, side in enumerate(sides)
    ]


def settled(scene: Scene, placement: Placement) -> Placement:
    """Put a panel across a corner where its two walls and the height of its lower edge say.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall; of its rectangle only ``v`` counts.

    Returns
    -------
    Placement
        With the rectangle that its back takes of the first wall.

    Raises
    ------
    GeometryError
        When the two walls do not meet in an upright corner.
    """
    return replace(placement, rectangle=strips(scene, placement)[0][1])


def corner_middle(scene: Scene, placement: Placement) -> Array:
    """Middle of the slab of a panel across a corner, shape (3,), m.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall.
    """
    build, corner = placement.build, corner_of(scene, placement)
    out = corner.setback(build.outer_width) + build.thickness / 2.0
    return np.asarray(corner.foot + out * corner.outward + [0.0, 0.0, build.outer_height / 2.0])


def corner_body(scene: Scene, placement: Placement) -> Boxes:
    """Body of a panel across a corner with the space behind it, one box; see `corner_box`.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall.
    """
    build, corner = placement.build, corner_of(scene, placement)
    return corner_box(corner, build.outer_width, 0.0, build.outer_height, build.thickness)


def corner_frame(scene: Scene, placement: Placement) -> tuple[Polygon, Array, float]:
    """Plane that a panel's body is drawn out from: for whatever tests bodies that stand on a surface.

    Parameters
    ----------
    scene : Scene
        The room.
    placement : Placement
        With a second wall.

    Returns
    -------
    plane : Polygon
        Through the corner, see `treatment.geometry.corners.back_plane`.
    table : numpy.ndarray
        The panel's outline on it, shape (1, 4), m.
    depth : float
        From the plane to the panel's face, m.
    """
    build, corner = placement.build, corner_of(scene, placement)
    plane = back_plane(corner, build.outer_width, 0.0, build.outer_height)
    table = np.array([[0.0, 0.0, build.outer_width, build.outer_height]])
    return plane, table, corner.setback(build.outer_width) + build.thickness
