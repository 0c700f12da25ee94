"""A folder that ``plan`` wrote -> Plan: the room is read again, and evaluated again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from treatment.errors import Finding, GeometryError, PlanError
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.planning.corners import settled
from treatment.planning.make import assemble
from treatment.planning.plan import Placement, Plan
from treatment.present.folder import SCENE_COPY, written_by_us
from treatment.present.known_builds import builds_of
from treatment.scene.load import load_scene
from treatment.scene.model import Scene


def reopen_plan(folder: Path) -> Plan:
    """Open a plan again.

    Parameters
    ----------
    folder : Path
        Written by ``plan``.

    Returns
    -------
    Plan
        With the placements of its plan.json; numbers are computed anew.

    Raises
    ------
    PlanError
        When the folder holds no plan, or the plan does not fit its room any more.
    """
    return assemble(*read_room(folder))


def read_room(folder: Path) -> tuple[Scene, tuple[Placement, ...]]:
    """Read the room and the placements of a plan; nothing is computed.

    Parameters
    ----------
    folder : Path
        Written by ``plan``.

    Returns
    -------
    scene : Scene
        The room as it was planned.
    placements : tuple of Placement
        In the order of their benefit.

    Raises
    ------
    PlanError
        When the folder holds no plan, or the plan does not fit its room any more.
    """
    scene, _ = read_copy(folder)
    return scene, read_placements(scene, folder)


def read_copy(folder: Path) -> tuple[Scene, tuple[Finding, ...]]:
    """Read the room of a plan.

    Parameters
    ----------
    folder : Path
        Written by ``plan``.

    Returns
    -------
    scene : Scene
        The room as it was planned.
    findings : tuple of Finding
        Warnings and notes, with lines of the copy.

    Raises
    ------
    PlanError
        When the folder holds no plan.
    SceneError
        When the copy has been edited and has errors now.
    """
    if not written_by_us(folder) or not (folder / SCENE_COPY).is_file():
        raise PlanError(
            "this folder holds no plan",
            where=str(folder),
            hint="give a room file, or a folder that `plan` wrote",
        )
    return load_scene(folder / SCENE_COPY)


def read_placements(scene: Scene, folder: Path) -> tuple[Placement, ...]:
    """Read the placements of a plan into a room, which may have been edited since.

    Parameters
    ----------
    scene : Scene
        The room.
    folder : Path
        Written by ``plan``.

    Returns
    -------
    tuple of Placement
        As they stand in plan.json.

    Raises
    ------
    PlanError
        When the folder holds no plan, or the room lacks a surface or a build that it names.
    """
    if not written_by_us(folder):
        raise PlanError(
            "this folder holds no plan", where=str(folder), hint="give a folder that `plan` wrote"
        )
    document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    return tuple(_placement(scene, p, folder) for p in document["placements"])


def _placement(scene: Scene, data: dict[str, Any], folder: Path) -> Placement:
    # A page may put up builds that planning was not allowed to choose.
    builds = {b.id: b for b in builds_of(scene)}
    try:
        if "corner" in data:
            return _across(scene, data, builds[data["panel"]])
        surface = scene.surface_index(data["surface"])
        return Placement(
            str(data["id"]),
            builds[data["panel"]],
            surface,
            Rectangle(*(float(x) for x in (*data["corner_m"], *data["size_m"]))),
            tuple(str(r) for r in data["reasons"]),
            standing=scene.surfaces[surface].kind == "floor",
        )
    except (KeyError, TypeError, ValueError, GeometryError) as error:
        raise PlanError(
            f"a placement does not fit the room: {error}",
            where=str(folder / "plan.json"),
            hint="is it a plan of this room? if so, plan again with `treatment plan`",
        ) from error


def _across(scene: Scene, data: dict[str, Any], build: PanelBuild) -> Placement:
    """Read a panel across a corner: its two walls and the height of its lower edge decide where it is."""
    first, second = (scene.surface_index(str(name)) for name in data["corner"])
    place = Rectangle(0.0, float(data["corner_m"][1]), build.outer_width, build.outer_height)
    reasons = tuple(str(r) for r in data["reasons"])
    return settled(scene, Placement(str(data["id"]), build, first, place, reasons, corner=second))
