"""Panels that a page puts up, moves, turns, exchanges, locks and takes down.

A panel hangs on a surface, stands on the floor, or goes across a corner; it stays what it is, and only builds
that may be put up in that way can take its place.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from treatment.errors import GeometryError, PlanError
from treatment.materials.build import PanelBuild
from treatment.planning.corners import corner_placement, settled
from treatment.planning.plan import Placement
from treatment.planning.suggest import suggest_place
from treatment.planning.suggest_solid import open_corners, suggest_corner, suggest_standing
from treatment.present.browser_asked import Room, number_of, text_of, unit_of
from treatment.present.browser_draft import Draft, HungPanel, hung, placements
from treatment.scene.model import Scene
from treatment.units import parse_length

#: Ways to put a panel up, and what a build of that way says it may be on.
WAYS: Final[Mapping[str, frozenset[str]]] = {
    "hang": frozenset({"wall", "ceiling"}),
    "corner": frozenset({"corner"}),
    "stand": frozenset({"free-standing"}),
}
_WORDS: Final = {
    "hang": "hangs on a surface",
    "corner": "goes across a corner",
    "stand": "stands on the floor",
}


def ways_of(build: PanelBuild) -> tuple[str, ...]:
    """How a build may be put up.

    Parameters
    ----------
    build : PanelBuild
        Any.

    Returns
    -------
    tuple of str
        Of ``hang``, ``corner``, ``stand``.
    """
    return tuple(way for way, on in WAYS.items() if on & set(build.on))


def way_of(panel: HungPanel) -> str:
    """How a panel was put up.

    Parameters
    ----------
    panel : HungPanel
        Any.
    """
    return "stand" if panel.standing else "corner" if panel.corner else "hang"


def hang(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Put up one more panel where it does most.

    Parameters
    ----------
    draft : Draft
        Before.
    asked : mapping
        ``build``; ``surface``, empty for any; ``corner``, a second wall, where one is meant.
    room : Room
        What is known of the room.

    Returns
    -------
    draft : Draft
        With the panel as its last one.
    label : str
        What was done.

    Raises
    ------
    PlanError
        When there is no place for it.
    """
    scene, evaluation = room.known()
    build = room.build(text_of(asked, "build"))
    wanted = text_of(asked, "surface")
    second = text_of(asked, "corner") if "corner" in asked else ""
    surface, other = (_surface(scene, n) if n else None for n in (wanted, second))
    ways = ways_of(build)
    floor = surface is not None and scene.surfaces[surface].kind == "floor"
    way = "corner" if second else "stand" if floor else "hang" if wanted else ways[0]
    if way not in ways:
        raise _not_so(build, way)
    if way == "stand":
        found = suggest_standing(evaluation, build, room.placements)
    elif way == "corner":
        walls = None if surface is None or other is None else (surface, other)
        found = suggest_corner(scene, build, room.placements, walls)
    else:
        place = suggest_place(evaluation, build, room.placements, surface)
        found = None if place is None else Placement("", build, *place)
    if found is None:
        where = f"on {wanted}" if wanted and not second else "there" if second else "in this room"
        hint = "choose another build or surface; doors, kept-free spaces and other panels take room"
        raise PlanError(f"there is no free place for {build.id} {where}", hint=hint)
    name = draft.free_id()
    panel = hung(replace(found, id=name), scene)
    return replace(draft, panels=(*draft.panels, panel)), f"add panel {name}"


def change_panel(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Move, turn, lock or exchange a panel.

    Parameters
    ----------
    draft : Draft
        Before.
    asked : mapping
        ``id``, and ``change``: of ``u``, ``v``, ``build``, ``surface``, ``corner``, ``turned``, ``locked``.
    room : Room
        What is known of the room.

    Returns
    -------
    draft : Draft
        After.
    label : str
        What was done.

    Raises
    ------
    PlanError
        When it is locked, gone, or cannot be put up so.
    UnitError
        When a length cannot be read.
    """
    panel = draft.panel(text_of(asked, "id"))
    change = asked.get("change")
    if panel is None or not isinstance(change, Mapping):
        raise PlanError("there is no such panel any more", hint="undo brings it back")
    if panel.locked and set(change) != {"locked"}:
        raise PlanError(f"{panel.id} is locked", hint="unlock it first")
    was, way = panel, way_of(panel)
    if "u" in change and way != "corner":
        panel = replace(panel, u=_along(change, "u", draft.text))
    if "v" in change:
        panel = replace(panel, v=_along(change, "v", draft.text))
    if "build" in change:
        panel = _exchanged(panel, room.build(text_of(change, "build")), room)
    if "surface" in change:
        panel = _elsewhere(panel, change, room)
    if "turned" in change:
        panel = _turned(panel, bool(change["turned"]), room)
    if "locked" in change:
        panel = replace(panel, locked=bool(change["locked"]))
    if replace(panel, locked=was.locked) != was:
        # Reasons are about the place where the planner put it.
        panel = replace(panel, reasons=())
    words = "lock" if change.get("locked") else "unlock" if "locked" in change else "change"
    return draft.with_panel(panel), f"{words} panel {panel.id}"


def unhang(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Take a panel down.

    Parameters
    ----------
    draft : Draft
        Before.
    asked : mapping
        ``id``.

    Returns
    -------
    draft : Draft
        Without it.
    label : str
        What was done.

    Raises
    ------
    PlanError
        When it is gone already.
    """
    name = text_of(asked, "id")
    if draft.panel(name) is None:
        raise PlanError("there is no such panel any more", hint="undo brings it back")
    return replace(draft, panels=tuple(p for p in draft.panels if p.id != name)), f"remove panel {name}"


def clear(draft: Draft, _: Mapping[str, Any], __: Room) -> tuple[Draft, str]:
    """Take down every panel that is not locked.

    Parameters
    ----------
    draft : Draft
        Before.

    Returns
    -------
    draft : Draft
        With the locked ones.
    label : str
        What was done.
    """
    return replace(draft, panels=tuple(p for p in draft.panels if p.locked)), "take down all panels"


def _surface(scene: Scene, name: str) -> int:
    try:
        return scene.surface_index(name)
    except KeyError:
        raise PlanError(f"the room has no surface '{name[:40]}'", hint="reload the page") from None


def _not_so(build: PanelBuild, way: str) -> PlanError:
    can = " or ".join(_WORDS[w] for w in ways_of(build))
    return PlanError(f"{build.id} is no panel that {_WORDS[way]}", hint=f"it {can}")


def _along(change: Mapping[str, Any], key: str, text: str) -> float:
    """Wall coordinate: metres from a drag, any length from the keyboard."""
    typed = isinstance(change[key], str)
    metres = parse_length(text_of(change, key), unit_of(text)) if typed else number_of(change, key)
    return round(metres, 4)


def _exchanged(panel: HungPanel, build: PanelBuild, room: Room) -> HungPanel:
    """Another build in its place: a standing one keeps its middle, others their lower corner."""
    if way_of(panel) not in ways_of(build):
        raise _not_so(build, way_of(panel))
    return _centred(panel, replace(panel, build=build.id), room)


def _turned(panel: HungPanel, turned: bool, room: Room) -> HungPanel:
    if panel.corner:
        raise PlanError("a panel across a corner stands upright", hint="it can be moved up and down")
    return _centred(panel, replace(panel, turned=turned), room)


def _centred(was: HungPanel, now: HungPanel, room: Room) -> HungPanel:
    """Keep the middle of a standing panel where it is while its footprint changes."""
    known = {b.id: b for b in room.builds}
    if was.build not in known or not was.standing:
        return _in_corner(now, room) if now.corner else now
    old, new = was.size(known[was.build]), now.size(known[now.build])
    u, v = (round(a + (b - c) / 2.0, 4) for a, b, c in zip((was.u, was.v), old, new, strict=True))
    return replace(now, u=u, v=v)


def _in_corner(panel: HungPanel, room: Room) -> HungPanel:
    """Where a panel across a corner lies on its first wall follows from its build and its height."""
    scene, _ = room.known()
    made, lost = placements([panel], scene, room.builds)
    return panel if lost else replace(hung(settled(scene, made[0]), scene), locked=panel.locked)


def _elsewhere(panel: HungPanel, change: Mapping[str, Any], room: Room) -> HungPanel:
    """On another surface, or across another corner at the same height."""
    name, way = text_of(change, "surface"), way_of(panel)
    if way == "hang":
        return replace(panel, surface=name)
    scene, _ = room.known()
    index = _surface(scene, name)
    if way == "stand":
        if scene.surfaces[index].kind != "floor":
            raise PlanError(f"{panel.id} stands on the floor", hint="it can be moved there")
        return replace(panel, surface=name)
    walls = {index, _surface(scene, text_of(change, "corner"))}
    corner = next((c for c in open_corners(scene) if set(c.walls) == walls), None)
    if corner is None:
        raise PlanError("these two walls make no corner for a panel", hint="choose another corner")
    build, bottom = room.build(panel.build), 0.0
    try:
        height = scene.surfaces[_surface(scene, panel.surface)].polygon.to_room([panel.u, panel.v])[2]
        bottom = round(float(height - corner.foot[2]), 4)
        found = corner_placement(scene, corner, build, bottom, panel.id, panel.reasons)
    except GeometryError as error:
        raise PlanError(error.message, hint="choose another corner") from error
    return replace(hung(found, scene), locked=panel.locked)
