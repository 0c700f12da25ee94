"""What is being worked on: the room file's text and the panels put up so far."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from treatment.errors import Finding, GeometryError
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.corners import settled
from treatment.planning.plan import Placement
from treatment.scene.model import Scene


@dataclass(frozen=True)
class HungPanel:
    """A panel by names, so that it outlives any change of the room.

    Parameters
    ----------
    id : str
        ``P1``.
    build, surface : str
        Names of the build and the surface.
    u, v : float
        Lower corner in wall coordinates, m.
    turned : bool
        Whether width and height are exchanged.
    locked : bool
        Whether planning leaves it where it is.
    reasons : tuple of str
        Why the planner put it there; none when a person did.
    standing : bool
        Whether it stands on the floor: then `turned` exchanges the sides of its footprint.
    corner : str
        Second wall of the corner that it stands across; empty for all others. Only its height can be changed.
    """

    id: str
    build: str
    surface: str
    u: float
    v: float
    turned: bool = False
    locked: bool = False
    reasons: tuple[str, ...] = ()
    standing: bool = False
    corner: str = ""

    def size(self, build: PanelBuild) -> tuple[float, float]:
        """Width and height as hung, m.

        Parameters
        ----------
        build : PanelBuild
            Its build.
        """
        sides = (build.outer_width, build.thickness if self.standing else build.outer_height)
        return (sides[1], sides[0]) if self.turned else sides


@dataclass(frozen=True)
class Draft:
    """One state of the work.

    Parameters
    ----------
    text : str
        The room file.
    panels : tuple of HungPanel
        In the order of their ids or of their benefit.
    """

    text: str
    panels: tuple[HungPanel, ...] = ()

    def panel(self, name: str) -> HungPanel | None:
        """Find a panel.

        Parameters
        ----------
        name : str
            Its id.

        Returns
        -------
        HungPanel or None
            None when there is none of that id.
        """
        return next((p for p in self.panels if p.id == name), None)

    def with_panel(self, changed: HungPanel) -> Draft:
        """Return the draft with one panel exchanged.

        Parameters
        ----------
        changed : HungPanel
            Takes the place of the one of its id.
        """
        return replace(self, panels=tuple(changed if p.id == changed.id else p for p in self.panels))

    def free_id(self) -> str:
        """Lowest ``P`` number that no panel has."""
        taken = {p.id for p in self.panels}
        return next(name for i in range(1, len(taken) + 2) if (name := f"P{i}") not in taken)


def hung(placement: Placement, scene: Scene, *, locked: bool = False) -> HungPanel:
    """Name a placement.

    Parameters
    ----------
    placement : Placement
        In the scene.
    scene : Scene
        The room.
    locked : bool
        Whether planning leaves it.

    Returns
    -------
    HungPanel
        The same panel.
    """
    r, build = placement.rectangle, placement.build
    upright = abs(r.width - build.outer_width) + abs(r.height - build.outer_height)
    lying = abs(r.width - build.outer_height) + abs(r.height - build.outer_width)
    surface = scene.surfaces[placement.surface].name
    where = (round(r.u, 4), round(r.v, 4))
    turned = r.height > r.width if placement.standing else lying < upright - 1e-9
    corner = "" if placement.corner is None else scene.surfaces[placement.corner].name
    return HungPanel(
        placement.id,
        build.id,
        surface,
        *where,
        turned and not corner,
        locked,
        placement.reasons,
        placement.standing,
        corner,
    )


def placements(
    panels: Sequence[HungPanel], scene: Scene, builds: Sequence[PanelBuild]
) -> tuple[tuple[Placement, ...], list[Finding]]:
    """Put panels into a room.

    Parameters
    ----------
    panels : sequence of HungPanel
        By names.
    scene : Scene
        The room.
    builds : sequence of PanelBuild
        Every build that is known, chosen for planning or not.

    Returns
    -------
    placements : tuple of Placement
        Those whose build and surface exist.
    findings : list of Finding
        One for each of the others.
    """
    known = {b.id: b for b in builds}
    index = {s.name: i for i, s in reversed(list(enumerate(scene.surfaces))) if not s.obstacle}
    made, findings = [], []
    for p in panels:
        build, surface = known.get(p.build), index.get(p.surface)
        if build is None or surface is None:
            what = f"build '{p.build}'" if build is None else f"surface '{p.surface}'"
            message = f"{p.id} is not counted: the room has no {what} any more"
            findings.append(Finding("panel-homeless", "error", p.id, message, "change it, or take it down"))
            continue
        place = Rectangle(p.u, p.v, *p.size(build))
        panel = Placement(p.id, build, surface, place, p.reasons, p.standing, index.get(p.corner))
        try:
            made.append(settled(scene, panel) if p.corner else panel)
        except GeometryError as error:
            message = f"{p.id} is not counted: {error.message}"
            findings.append(Finding("panel-homeless", "error", p.id, message, "take it down"))
    return tuple(made), findings


def panel_document(panel: HungPanel) -> dict[str, Any]:
    """Panel as JSON holds it."""
    # Nothing in it is nested; `asdict` looks for that, and a page sends many panels with every edit.
    return {f.name: getattr(panel, f.name) for f in fields(panel)}


def read_panel(data: Any) -> HungPanel:
    """Panel from JSON.

    Parameters
    ----------
    data : object
        From `panel_document`.

    Returns
    -------
    HungPanel
        The same panel.

    Raises
    ------
    ValueError
        When it is none.
    """
    try:
        return HungPanel(
            str(data["id"]),
            str(data["build"]),
            str(data["surface"]),
            float(data["u"]),
            float(data["v"]),
            bool(data["turned"]),
            bool(data["locked"]),
            tuple(str(r) for r in data["reasons"]),
            bool(data["standing"]) if "standing" in data else False,
            str(data["corner"]) if "corner" in data else "",
        )
    except (KeyError, TypeError) as error:
        raise ValueError(f"no panel: {error}") from error
