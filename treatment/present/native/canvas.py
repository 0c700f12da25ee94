"""The room of a desk as actors of the toolkit; only what has changed is made anew.

There are few actors, whatever the room holds: with OpenGL in software each one costs about as much as a
hundred paths.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.present.camera import ONE_SIDED, Camera, hides_room
from treatment.present.forms import Face
from treatment.present.native.cutaway import hiding_walls, worth_seeing
from treatment.present.native.desk import Desk
from treatment.present.native.highlight import highlight_of
from treatment.present.native.meshes import (
    Soup,
    ball,
    chains_mesh,
    joined,
    lines_mesh,
    outline_of,
    points_mesh,
    soup_of,
    triangles_mesh,
)
from treatment.present.native.picking import targets_of
from treatment.present.palette import INK, PAPER, ZONE, rgb

#: Up to this many surfaces each can be thinned alone.
_MOST_WALLS: Final = 80
#: Opacity of a wall of an inner corner that hides a part of the room, and of a panel seen from its back.
_THIN: Final = 0.22
_THIN_PANEL: Final = 0.4
#: With more paths than this their bounces get no dots.
_MOST_DOTTED: Final = 160
#: With more paths than this they are translucent.
_MOST_SOLID: Final = 80
_HIGHLIGHT: Final = "#111a20"
#: All actors in the order of painting, which decides how translucent ones lie over one another: name, and
#: whether areas are seen from their front only.
_ORDER: Final = (
    ("walls", True), ("fixed", True), ("solid", False), ("solid edges", False), ("room edges", False),
    ("heads", False), ("panels", False), ("panel edges", False), ("bounces", False), ("thin walls", True),
    ("reach", True), ("zone", True), ("zone edges", False), ("keep-outs", False), ("keep-out edges", False),
    ("places", False), ("thin panels", False), ("paths", False), ("highlight", False),
)  # fmt: skip


class Canvas:
    """A renderer that follows a desk.

    Parameters
    ----------
    plotter : pyvista.Plotter
        Whose first renderer shows the room.
    desk : Desk
        What to show.
    """

    def __init__(self, plotter: Any, desk: Desk) -> None:
        from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

        self.plotter, self.desk = plotter, desk
        self._shown: dict[str, Any] = {}
        self._actors: dict[str, Any] = {}
        plotter.set_background(PAPER)
        # Blended in the order above: to sort what is translucent pixel by pixel costs a third of a picture.
        plotter.renderer.SetUseOIT(False)
        # The desk decides where the room is seen from: nothing is to be framed on the first picture.
        plotter.renderer.camera_set = True
        self._camera = plotter.renderer.GetActiveCamera()
        for name, culled in _ORDER:
            actor: Any = vtkActor()
            actor.SetMapper(vtkPolyDataMapper())
            actor.GetProperty().LightingOff()
            actor.GetProperty().SetBackfaceCulling(culled)
            actor.SetVisibility(False)
            plotter.renderer.AddActor(actor)
            self._actors[name] = actor
        self._build()
        self.update()

    def _build(self) -> None:
        """What never changes, and the pieces of what does."""
        desk, faces = self.desk, self.desk.shapes.faces

        def of(*groups: str) -> list[Face]:
            return [f for f in faces if f.group in groups]

        walls = of("room")
        self._wall_targets = targets_of(walls)
        self._walls = [soup_of([f]) for f in walls] if len(walls) <= _MOST_WALLS else []
        if not self._walls:
            self._fill("walls", [soup_of(walls)])
        self._cut = [f for f in faces if f.group in ONE_SIDED]
        self._fill("fixed", [soup_of(of("opening", "obstacle"))])
        solid = of("equipment", "screen")
        self._fill("solid", [soup_of(solid)])
        self._outline("solid edges", outline_of(solid))
        places = of("seat")
        self._heads = [ball(d.position, d.radius, d.colour) for d in desk.shapes.dots]
        self._places = [soup_of([f for f in places if f.name == d.name]) for d in desk.shapes.dots]
        hung = [(n, [f for f in of("panel") if f.name == n]) for n in desk.choices.panels]
        self._panels = [(mine, soup_of(mine), outline_of(mine)) for _, mine in hung]
        free = of("keep-out")
        self._fill("keep-outs", [soup_of(free)], 0.15)
        self._outline("keep-out edges", outline_of(free), 0.8)

    def update(self) -> None:
        """Show what the desk shows now; does not render."""
        desk = self.desk
        camera = desk.camera
        eye = camera.position
        up = tuple(desk.shown(mine[0]) for mine, *_ in self._panels)
        thin = tuple(
            not desk.gaze.inside and hides_room(mine[0], eye) if on else False
            for (mine, *_), on in zip(self._panels, up, strict=True)
        )
        self._change("panels", (up, thin), lambda: self._hang(up, thin))
        seated = tuple(bool(desk.shown(d)) for d in desk.shapes.dots)
        self._change("heads", seated, lambda: self._seat(seated))
        for name in ("keep-outs", "keep-out edges"):
            self._show(name, desk.state.keep_free)
        if self._walls:
            hiding = self._hiding(camera, up)
            self._change("walls", hiding, lambda: self._thin_walls(hiding))
        seen = self._facing(eye, self._cut, "cut")
        self._change("room edges", seen.tobytes(), lambda: self._edges("room edges", self._cut, seen))
        lines = desk.lines()
        if lines is not None:  # while a step is being worked out the paths of the last one stay
            self._change("paths", (lines, desk.state.view, desk.gaze.inside), self._paths)
        areas = desk.zone_areas()
        for group in ("reach", "zone"):
            mine = tuple(f for f in areas if f.group == group)
            self._change(group, mine, partial(self._zones, group, mine))
        turned_to = self._facing(eye, areas, "zones")
        self._change(
            "zone edges", (areas, turned_to.tobytes()), lambda: self._edges("zone edges", areas, turned_to)
        )
        self._change("highlight", (desk.state, desk.now), self._highlight)
        self._look(camera)

    def _look(self, camera: Camera) -> None:
        view = self._camera
        view.SetPosition(*camera.position)
        view.SetFocalPoint(*camera.focus)
        view.SetViewUp(0.0, 0.0, 1.0)
        view.SetViewAngle(camera.view_angle)
        view.SetClippingRange(*camera.clipping)

    def _change(self, name: str, key: Any, make: Any) -> None:
        if self._shown.get(name, self) != key:
            self._shown[name] = key
            make()

    def _hiding(self, camera: Camera, up: Sequence[bool]) -> tuple[bool, ...]:
        """Which walls stand between the eye and what is worth seeing."""
        desk = self.desk
        if desk.gaze.inside:
            return (False,) * len(self._walls)
        key = (camera.position.tobytes(), camera.focus.tobytes(), up)
        if self._shown.get("hiding", (None,))[0] != key:
            places = [s.position for s in desk.scene.seats]
            places += [s.position for s in desk.scene.loudspeakers]
            places += [
                mine[0].rings[0].mean(axis=0) for (mine, *_), on in zip(self._panels, up, strict=True) if on
            ]
            hiding = hiding_walls(self._wall_targets, camera, worth_seeing(places))
            self._shown["hiding"] = (key, tuple(hiding.tolist()))
        found: tuple[bool, ...] = self._shown["hiding"][1]
        return found

    def _facing(self, eye: Array, faces: Sequence[Face], name: str) -> NDArray[np.bool_]:
        """Which faces show their painted side; all of them are seen from one side only."""
        kept = self._shown.get(f"{name} planes")
        if kept is None or kept[0] is not faces:
            middles = np.array([f.rings[0].mean(axis=0) for f in faces]).reshape(-1, 3)
            normals = np.array([f.normal for f in faces]).reshape(-1, 3)
            kept = self._shown[f"{name} planes"] = (faces, middles, normals)
        found: NDArray[np.bool_] = np.einsum("ij,ij->i", eye - kept[1], kept[2]) > 0.0
        return found

    # --- parts that change ---------------------------------------------------------------------

    def _hang(self, up: Sequence[bool], thin: Sequence[bool]) -> None:
        whole: list[Soup] = []
        back: list[Soup] = []
        edges: list[Array] = []
        for (_, soup, outline), on, behind in zip(self._panels, up, thin, strict=True):
            if on:
                (back if behind else whole).append(soup)
                edges += outline
        self._fill("panels", whole)
        self._fill("thin panels", back, _THIN_PANEL)
        self._outline("panel edges", edges)

    def _seat(self, seated: Sequence[bool]) -> None:
        self._fill("heads", [h for h, on in zip(self._heads, seated, strict=True) if on])
        self._fill("places", [p for p, on in zip(self._places, seated, strict=True) if on], 0.35)

    def _thin_walls(self, hiding: Sequence[bool]) -> None:
        self._fill("walls", [w for w, thin in zip(self._walls, hiding, strict=True) if not thin])
        self._fill("thin walls", [w for w, thin in zip(self._walls, hiding, strict=True) if thin], _THIN)

    def _edges(self, name: str, faces: Sequence[Face], seen: NDArray[np.bool_]) -> None:
        zones = name == "zone edges"
        mine = [f for f, on in zip(faces, seen, strict=True) if on and (not zones or f.group == "zone")]
        self._outline(name, outline_of(mine), colour=ZONE if zones else INK)

    def _paths(self) -> None:
        lines = self.desk.lines()
        self._show("paths", False)
        self._show("bounces", False)
        if lines is None or len(lines.arrival) == 0:
            return
        # From a seat its own paths are seen end on: they are drawn up to their last bounce.
        legs = np.full(len(lines.arrival), 2)
        if self.desk.gaze.inside:
            legs -= np.linalg.norm(lines.points[:, -1] - self.desk.gaze.focus, axis=1) < 1e-6
        corners = lines.bounces + legs
        drawn = np.flatnonzero(corners > 1)
        if len(drawn) == 0:
            return
        used = np.arange(lines.points.shape[1]) < corners[drawn, None]
        mesh = lines_mesh(lines.points[drawn][used], corners[drawn], lines.colour[drawn])
        self._put("paths", mesh, tinted=True, width=1.9, opacity=1.0 if len(drawn) <= _MOST_SOLID else 0.55)
        if len(drawn) <= _MOST_DOTTED and lines.bounces.max() > 0:
            at = np.arange(lines.points.shape[1] - 2) < lines.bounces[:, None]
            colour = np.repeat(lines.colour, lines.bounces, axis=0)
            self._put("bounces", points_mesh(lines.points[:, 1:-1][at], colour), tinted=True, dots=7.0)

    def _zones(self, group: str, mine: Sequence[Face]) -> None:
        self._fill(group, [soup_of(mine)], mine[0].opacity if mine else 1.0)

    def _highlight(self) -> None:
        self._outline("highlight", list(highlight_of(self.desk)), 2.8, _HIGHLIGHT)

    # --- actors --------------------------------------------------------------------------------

    def _show(self, name: str, on: bool) -> None:
        actor = self._actors[name]
        actor.SetVisibility(on and actor.GetMapper().GetInput() is not None)

    def _put(
        self,
        name: str,
        mesh: Any,
        *,
        tinted: bool = False,
        colour: str = INK,
        width: float = 1.0,
        dots: float = 0.0,
        opacity: float = 1.0,
    ) -> None:
        """Let an actor show a mesh; to exchange the mesh costs little."""
        actor = self._actors[name]
        look, mapper = actor.GetProperty(), actor.GetMapper()
        if not tinted:
            look.SetColor(*(c / 255.0 for c in rgb(colour)))
        mapper.SetInputData(mesh)
        mapper.SetScalarVisibility(tinted)
        look.SetOpacity(opacity)
        look.SetLineWidth(width * self.desk.unit)
        if dots:
            look.SetRepresentationToPoints()
            look.SetRenderPointsAsSpheres(True)
            look.SetPointSize(dots * self.desk.unit)
        actor.SetVisibility(True)

    def _fill(self, name: str, parts: Sequence[Soup], opacity: float = 1.0) -> None:
        """Areas of several colours as one actor."""
        if not any(len(p.points) for p in parts):
            self._actors[name].SetVisibility(False)
            return
        self._put(name, triangles_mesh(joined(parts)), tinted=True, opacity=opacity)
        # Push areas back by a hair, so that the lines along their edges are drawn whole.
        self._actors[name].GetMapper().SetResolveCoincidentTopologyToPolygonOffset()

    def _outline(self, name: str, chains: Sequence[Array], width: float = 1.0, colour: str = INK) -> None:
        if chains:
            self._put(name, chains_mesh(chains), colour=colour, width=width)
        else:
            self._actors[name].SetVisibility(False)
