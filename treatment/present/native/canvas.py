"""The room of a desk as actors of the toolkit; only what has changed is made anew."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from treatment.bands import Array
from treatment.present.camera import ONE_SIDED, faces_camera, hides_room
from treatment.present.forms import Face
from treatment.present.native.cutaway import hiding_walls, worth_seeing
from treatment.present.native.desk import Desk
from treatment.present.native.picking import targets_of
from treatment.present.palette import INK, PAPER, ZONE, rgb
from treatment.present.triangles import brightness, triangles_of

#: Up to this many surfaces each has an actor of its own, and can be thinned alone.
_MOST_WALLS: Final = 80
#: Opacity of a wall of an inner corner that hides a part of the room, and of a panel seen from its back.
_THIN: Final = 0.22
_THIN_PANEL: Final = 0.4
#: With more paths than this their bounces get no dots.
_MOST_DOTTED: Final = 160
#: With more paths than this they are translucent.
_MOST_SOLID: Final = 80
_HIGHLIGHT: Final = "#111a20"


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
        self.plotter, self.desk = plotter, desk
        self._shown: dict[str, Any] = {}
        self._named: dict[str, Any] = {}
        plotter.set_background(PAPER)
        faces = desk.shapes.faces
        self._walls = [f for f in faces if f.group == "room"]
        self._wall_targets = targets_of(self._walls)
        single = len(self._walls) <= _MOST_WALLS
        self._wall_actors = [self._fill([f], 1.0, culled=True) for f in self._walls] if single else []
        if not single:
            self._fill(self._walls, 1.0, culled=True)
        self._cut = [f for f in faces if f.group in ONE_SIDED]
        for group in ("opening", "obstacle"):
            self._fill([f for f in faces if f.group == group], 1.0, culled=True)
        solid = [f for f in faces if f.group in ("equipment", "screen")]
        self._fill(solid, 1.0)
        self._outline("solid", solid, 1.0)
        self._seats = {
            d.name: (
                self._ball(d.position, d.radius, d.colour),
                self._fill([f for f in faces if f.group == "seat" and f.name == d.name], 0.35),
            )
            for d in desk.shapes.dots
        }
        self._panels: dict[str, tuple[list[Face], Any, Any]] = {}
        for name in desk.choices.panels:
            mine = [f for f in faces if f.group == "panel" and f.name == name]
            self._panels[name] = (mine, self._fill(mine, 1.0), self._outline(f"edges {name}", mine, 1.0))
        free = [f for f in faces if f.group == "keep-out"]
        self._keep_outs = (self._fill(free, 0.15), self._outline("keep-outs", free, 0.8))
        self.update()

    def update(self) -> None:
        """Show what the desk shows now; does not render."""
        desk = self.desk
        camera = desk.camera
        for mine, fill, edges in self._panels.values():
            up = desk.shown(mine[0])
            fill.SetVisibility(up)
            edges.SetVisibility(up)
            if up:
                thin = not desk.gaze.inside and hides_room(mine[0], camera.position)
                fill.GetProperty().SetOpacity(_THIN_PANEL if thin else 1.0)
        for dot in desk.shapes.dots:
            for actor in self._seats[dot.name]:
                if actor is not None:
                    actor.SetVisibility(desk.shown(dot))
        for actor in self._keep_outs:
            if actor is not None:
                actor.SetVisibility(desk.state.keep_free)
        self._thin_walls()
        seen = [faces_camera(f, camera.position) for f in self._cut]
        self._change("room edges", tuple(seen), self._room_edges)
        lines = desk.lines()
        if lines is not None:  # while a step is being worked out the paths of the last one stay
            self._change("paths", (lines, desk.state.view, desk.gaze.inside), self._paths)
        areas = desk.zone_areas()
        self._change("zones", areas, self._zones)
        turned_to = tuple(faces_camera(f, camera.position) for f in areas)
        self._change("zone edges", (areas, turned_to), self._zone_edges)
        self._change("highlight", (desk.state, desk.now), self._highlight)
        view = self.plotter.camera
        view.position, view.focal_point = tuple(camera.position), tuple(camera.focus)
        view.up = (0.0, 0.0, 1.0)
        view.view_angle, view.clipping_range = camera.view_angle, camera.clipping

    def _change(self, name: str, key: Any, make: Any) -> None:
        if self._shown.get(name, self) != key:
            self._shown[name] = key
            make()

    def _thin_walls(self) -> None:
        desk = self.desk
        if not self._wall_actors:
            return
        places = [s.position for s in desk.scene.seats]
        places += [s.position for s in desk.scene.loudspeakers]
        places += [f[0].rings[0].mean(axis=0) for f, *_ in self._panels.values() if desk.shown(f[0])]
        hiding = hiding_walls(self._wall_targets, desk.camera, worth_seeing(places))
        if desk.gaze.inside:
            hiding[:] = False
        for actor, thin in zip(self._wall_actors, hiding, strict=True):
            actor.GetProperty().SetOpacity(_THIN if thin else 1.0)

    # --- parts that change ---------------------------------------------------------------------

    def _room_edges(self) -> None:
        eye = self.desk.camera.position
        self._outline("room edges", [f for f in self._cut if faces_camera(f, eye)], 1.0)

    def _paths(self) -> None:
        import pyvista

        lines = self.desk.lines()
        self._hide("paths", "bounces")
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
        mesh = _chains([lines.points[i, : corners[i]] for i in drawn])
        actor = self._add(mesh, "paths", tint=lines.colour[drawn], width=1.9)
        actor.GetProperty().SetOpacity(1.0 if len(drawn) <= _MOST_SOLID else 0.55)
        if len(drawn) <= _MOST_DOTTED and lines.bounces.max() > 0:
            at = np.arange(lines.points.shape[1] - 2) < lines.bounces[:, None]
            colour = np.repeat(lines.colour, lines.bounces, axis=0)
            self._add(pyvista.PolyData(lines.points[:, 1:-1][at]), "bounces", tint=colour, dots=7.0)

    def _zones(self) -> None:
        for group in ("reach", "zone"):
            mine = [f for f in self.desk.zone_areas() if f.group == group]
            self._hide(group)
            if mine:
                self._fill(mine, mine[0].opacity, culled=True, name=group)

    def _zone_edges(self) -> None:
        eye = self.desk.camera.position
        mine = [f for f in self.desk.zone_areas() if f.group == "zone" and faces_camera(f, eye)]
        self._outline("zone edges", mine, 1.0, colour=ZONE)

    def _highlight(self) -> None:
        self._hide("highlight")
        chains = list(self.desk.highlight())
        if chains:
            self._add(_chains(chains), "highlight", colour=_HIGHLIGHT, width=2.8)

    # --- making actors -------------------------------------------------------------------------

    def _add(
        self,
        mesh: Any,
        name: str | None = None,
        *,
        tint: Any = None,
        colour: str = INK,
        width: float = 1.0,
        dots: float = 0.0,
    ) -> Any:
        """An actor for a mesh; under the same name the mesh is exchanged, which costs little."""
        from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

        actor = self._named.get(name) if name else None
        if actor is None:
            actor = vtkActor()
            actor.SetMapper(vtkPolyDataMapper())
            actor.GetProperty().LightingOff()
            self.plotter.renderer.AddActor(actor)
            if name:
                self._named[name] = actor
        look: Any = actor.GetProperty()
        mapper: Any = actor.GetMapper()
        if tint is None:
            look.SetColor(*(c / 255.0 for c in rgb(colour)))
        elif len(tint) == mesh.n_cells:
            mesh.cell_data["tint"] = tint
            mesh.set_active_scalars("tint", preference="cell")
        else:
            mesh.point_data["tint"] = tint
            mesh.set_active_scalars("tint", preference="point")
        mapper.SetInputData(mesh)
        mapper.SetScalarVisibility(tint is not None)
        look.SetLineWidth(width * self.desk.unit)
        if dots:
            look.SetRepresentationToPoints()
            look.SetRenderPointsAsSpheres(True)
            look.SetPointSize(dots * self.desk.unit)
        actor.SetVisibility(True)
        return actor

    def _hide(self, *names: str) -> None:
        for name in names:
            if name in self._named:
                self._named[name].SetVisibility(False)

    def _fill(
        self, faces: Sequence[Face], opacity: float, *, culled: bool = False, name: str | None = None
    ) -> Any:
        """Areas of several colours as one actor; None without areas."""
        import pyvista

        if not faces:
            return None
        triangles = [(t, f) for f in faces for t in triangles_of(f)]
        points = np.concatenate([t for t, _ in triangles])
        tint = np.array([brightness(f) * np.array(rgb(f.colour)) for _, f in triangles])
        cells = np.insert(np.arange(len(points)).reshape(-1, 3), 0, 3, axis=1).ravel()
        actor = self._add(pyvista.PolyData(points, cells), name, tint=tint.clip(0, 255).astype(np.uint8))
        actor.GetProperty().SetOpacity(opacity)
        actor.GetProperty().SetBackfaceCulling(culled)
        # Push areas back by a hair, so that the lines along their edges are drawn whole.
        actor.GetMapper().SetResolveCoincidentTopologyToPolygonOffset()
        return actor

    def _outline(self, name: str, faces: Sequence[Face], width: float, colour: str = INK) -> Any:
        chains = [np.vstack([ring, ring[:1]]) for f in faces for ring in f.rings]
        if not chains:
            self._hide(name)
            return None
        return self._add(_chains(chains), name, colour=colour, width=width)

    def _ball(self, position: Array, radius: float, colour: str) -> Any:
        import pyvista

        ball = pyvista.Sphere(radius=radius, center=tuple(position), theta_resolution=20, phi_resolution=20)
        up = np.asarray(ball.point_normals)[:, 2]
        tint = np.outer(0.85 + 0.25 * up, rgb(colour)).clip(0, 255).astype(np.uint8)
        return self._add(ball, tint=tint)


def _chains(chains: Sequence[Array]) -> Any:
    """Polylines as one mesh, a cell for each."""
    import pyvista

    lengths = np.array([len(c) for c in chains])
    starts = np.cumsum(lengths) - lengths
    cells = np.concatenate(
        [[n, *range(s, s + n)] for n, s in zip(lengths.tolist(), starts.tolist(), strict=True)]
    )
    return pyvista.PolyData(np.concatenate(chains), lines=cells)
