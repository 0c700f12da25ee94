"""What belongs to the room itself, in a page: openings, keep-outs, obstacles and the picture.

They are put in by kind, at a usual size and where they fit, moved, and taken out; each is an entry of the
room file like a seat, and typed values of it go the same way.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

import numpy as np

from treatment.bands import Array
from treatment.errors import PlanError
from treatment.geometry.polygon import Rectangle
from treatment.planning import rewrite
from treatment.planning.kept import reach_of
from treatment.planning.vacant import Wanted, vacant_block, vacant_place
from treatment.present.browser_asked import Room, index_of, place_of, text_of, unit_of
from treatment.present.browser_draft import Draft
from treatment.present.browser_kinds import BLOCKS, BUILT, FLAT, PICTURE, Flat
from treatment.scene.model import Scene
from treatment.units import IMPERIAL, UNITS

_INCH: Final = 0.0254


def is_built(asked: Mapping[str, Any]) -> bool:
    """Whether a request is about something that belongs to the room itself.

    Parameters
    ----------
    asked : mapping
        From the page.
    """
    return asked.get("section") in BUILT


def place_in(asked: Mapping[str, Any]) -> tuple[str | int, ...]:
    """Where in the room file the entry stands that a request names.

    Parameters
    ----------
    asked : mapping
        ``section``, and ``index`` where that is a list.

    Raises
    ------
    PlanError
        When it names none.
    """
    section = str(asked.get("section"))
    return (section,) if section == "screen" else (section, index_of(asked))


def put_in(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Put something in, at a usual size and where it fits.

    Parameters
    ----------
    draft : Draft
        Before.
    asked : mapping
        ``section``; ``kind``; ``surface``, empty for where it fits.
    room : Room
        What is known of the room.

    Returns
    -------
    draft : Draft
        With it as the last entry of its section.
    label : str
        What was done.

    Raises
    ------
    PlanError
        When the kind is unknown, or there is no place for it.
    """
    section = str(asked["section"])
    if room.scene is None:
        raise PlanError("the room has errors", hint="mend them first")
    if section == "screen":
        return _put_picture(draft, asked, room, room.scene)
    kind = text_of(asked, "kind")
    if section == "keep_outs" and not kind:
        raise PlanError("say what it is", hint="what panels must keep from it depends on that")
    if section == "obstacles":
        entry = _block(draft, kind, room, room.scene)
    else:
        entry = _flat(draft, section, kind, asked, room)
    return replace(draft, text=rewrite.add_entry(draft.text, section, entry)), f"add {entry['name']}"


def shift(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Move it: along its surface, to another surface, or over the floor.

    Parameters
    ----------
    draft : Draft
        Before.
    asked : mapping
        ``section``, ``index``; ``u`` and ``v``, or ``x`` and ``y`` of an obstacle, in m; or ``surface``.
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
        When there is no such entry.
    """
    path, unit = place_in(asked), unit_of(draft.text)
    entry = rewrite.read_value(draft.text, path)
    if not isinstance(entry, Mapping):
        raise PlanError("there is no such thing any more", hint="undo brings it back")
    label = f"move {_called(path, entry)}"
    if "surface" in asked:
        changes = _onto(draft, path, entry, text_of(asked, "surface"), room)
    else:
        keys = ("x", "y") if path[0] == "obstacles" else ("u", "v")
        changes = [((*path, "at", k), v) for k, v in enumerate(place_of(asked, keys, unit))]
    return replace(draft, text=rewrite.set_values(draft.text, changes)), label


def take_out(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Take it out of the room file.

    Parameters
    ----------
    draft : Draft
        Before.
    asked : mapping
        ``section``, ``index``.

    Returns
    -------
    draft : Draft
        Without it.
    label : str
        What was done.

    Raises
    ------
    PlanError
        When there is no such entry.
    """
    path = place_in(asked)
    label = f"remove {_called(path, rewrite.read_value(draft.text, path))}"
    return replace(draft, text=rewrite.remove_value(draft.text, path)), label


def _called(path: Sequence[str | int], entry: Any) -> str:
    name = entry.get("name") if isinstance(entry, Mapping) else None
    return "the screen" if path[0] == "screen" else str(name)[:40]


# --- putting in -----------------------------------------------------------------------------------


def _flat(draft: Draft, section: str, kind: str, asked: Mapping[str, Any], room: Room) -> dict[str, Any]:
    """Entry of an opening or a keep-out."""
    known = FLAT.get(kind)
    if known is None or known.section != section:
        raise PlanError("the page asked for something unknown", hint="reload the page")
    assert room.scene is not None
    scene, name = room.scene, text_of(asked, "surface") if "surface" in asked else ""
    found = None
    if known.before_door and not name:
        found = _before_door(scene)
        if found is None:
            hint = "add the door first, or choose a surface"
            raise PlanError("every door has its swing already", hint=hint)
    else:
        surface = _surface(scene, name) if name else None
        found = vacant_place(scene, known.wanted, surface, _panels(room))
    if found is None:
        where = f"on {name}" if name else "in this room"
        raise PlanError(f"there is no free place for a {kind} {where}", hint="choose another surface")
    return {
        "name": _free_name(draft, section, kind, scene),
        "surface": scene.surfaces[found[0]].name,
        **_written(draft, found[1]),
        **_more(draft, known),
    }


def _more(draft: Draft, kind: Flat) -> dict[str, Any]:
    if kind.section == "openings":
        return {"material": kind.material}
    return {"depth": _usual(draft, kind.depth), "reason": kind.reason}


def _block(draft: Draft, kind: str, room: Room, scene: Scene) -> dict[str, Any]:
    """Entry of an obstacle."""
    known = BLOCKS.get(kind)
    if known is None:
        raise PlanError("the page asked for something unknown", hint="reload the page")
    low, high = scene.hall
    sizes = known.sizes(high - low)
    found = vacant_block(scene, sizes, known.target, hung=known.hung, also=_bodies(room, scene))
    if found is None:
        hint = "draw the one you have in the room file, or take something else away first"
        raise PlanError(f"there is no free place for a {kind}", hint=hint)
    at, size = found
    return {
        "name": _free_name(draft, "obstacles", kind, scene),
        "at": [_length(draft, float(v)) for v in at],
        "size": [_length(draft, float(v)) for v in size],
        "material": known.material,
    }


def _put_picture(draft: Draft, asked: Mapping[str, Any], room: Room, scene: Scene) -> tuple[Draft, str]:
    if rewrite.read_value(draft.text, ("screen",)) is not None:
        raise PlanError("the room has a screen already", hint="a room file holds one")
    name = text_of(asked, "surface") if "surface" in asked else ""
    surface = _surface(scene, name) if name else None
    # Seats face the front: a smaller picture there before a large one at the side.
    walls = (vacant_place(scene, replace(PICTURE, sides=(s,)), surface, _panels(room)) for s in PICTURE.sides)
    found = next((place for place in walls if place is not None), None)
    if found is None:
        raise PlanError("there is no free place for a screen", hint="choose another wall")
    values = {"surface": scene.surfaces[found[0]].name, **_written(draft, found[1])}
    changes = [(("screen", key), value) for key, value in values.items()]
    return replace(draft, text=rewrite.set_values(draft.text, changes)), "add the screen"


def _panels(room: Room) -> list[tuple[int, Rectangle]]:
    return [(p.surface, p.rectangle) for p in room.placements if not p.standing]


def _bodies(room: Room, scene: Scene) -> list[tuple[Array, Array]]:
    """Lowest and highest corner of each panel."""
    found = []
    for p in room.placements:
        polygon = scene.surfaces[p.surface].polygon
        ring = np.asarray(p.rectangle.shape().exterior.coords)
        corners = np.concatenate([polygon.to_room(ring), polygon.to_room(ring, reach_of(scene, p))])
        found.append((corners.min(axis=0), corners.max(axis=0)))
    return found


def _before_door(scene: Scene) -> tuple[int, Rectangle] | None:
    """The sweep of the first door that has none yet; a hand's width more than the door."""
    for o in scene.openings:
        p = scene.surfaces[o.surface].polygon
        at_floor = abs(o.rectangle.v - p.bounds[1]) < 0.05 and o.material.category != "opening"
        kept = any(k.surface == o.surface and k.rectangle.overlaps(o.rectangle) for k in scene.keep_outs)
        if at_floor and scene.surfaces[o.surface].kind == "wall" and not kept:
            low, high = p.bounds[0], p.bounds[2]
            start = max(low, o.rectangle.u - 0.1)
            end = min(high, o.rectangle.u + o.rectangle.width + 0.1)
            swing = Rectangle(start, o.rectangle.v, end - start, o.rectangle.height)
            # A recess right beside the door leaves it no hand's width there.
            beside = any(m.rectangle.overlaps(swing) for m in scene.mouths_in(o.surface))
            return o.surface, o.rectangle if beside else swing
    return None


def _surface(scene: Scene, name: str) -> int:
    found = [i for i, s in enumerate(scene.surfaces) if s.name == name and not s.obstacle]
    if not found:
        raise PlanError(f"the room has no surface '{name[:40]}'", hint="reload the page")
    return found[0]


def _free_name(draft: Draft, section: str, kind: str, scene: Scene) -> str:
    """Name that nothing bears which results tell by name beside it."""
    group = ("keep_outs",) if section == "keep_outs" else ("openings", "obstacles", "recesses")
    entries = [e for key in group for e in rewrite.read_value(draft.text, (key,)) or []]
    taken = {str(e.get("name", "")).casefold() for e in entries if isinstance(e, Mapping)}
    if section != "keep_outs":
        taken |= {s.name.casefold() for s in scene.surfaces}
    names = [kind, *(f"{kind} {i}" for i in range(2, len(taken) + 3))]
    return next(n for n in names if n.casefold() not in taken)


# --- lengths --------------------------------------------------------------------------------------


def _length(draft: Draft, metres: float) -> float:
    return round(metres / UNITS[unit_of(draft.text)], 4) + 0.0  # no -0


def _written(draft: Draft, r: Rectangle) -> dict[str, list[float]]:
    """Place and size of a rectangle in the file's unit."""
    return {
        "at": [_length(draft, r.u), _length(draft, r.v)],
        "size": [_usual(draft, r.width), _usual(draft, r.height)],
    }


def _usual(draft: Draft, metres: float) -> float:
    """A usual size in the file's unit; where that is feet or inches whole inches, never more."""
    inches = max(int(metres / _INCH + 1e-6), 1)
    return _length(draft, inches * _INCH if unit_of(draft.text) in IMPERIAL else metres)


def _onto(
    draft: Draft, path: tuple[str | int, ...], entry: Mapping[str, Any], name: str, room: Room
) -> list[tuple[tuple[str | int, ...], Any]]:
    """To another surface: as it was, when it fits there, else where it does."""
    if room.scene is None:
        raise PlanError("the room has errors", hint="mend them first")
    index, unit = _surface(room.scene, name), UNITS[unit_of(draft.text)]
    changes: list[tuple[tuple[str | int, ...], Any]] = [((*path, "surface"), name)]
    numbers = [*(entry.get("at") or []), *(entry.get("size") or [])]
    if len(numbers) == 4 and all(isinstance(n, int | float) for n in numbers):
        r = Rectangle(*(n * unit for n in numbers))
        region = room.scene.surfaces[index].polygon.region
        if not region.buffer(1e-6, join_style="mitre").covers(r.shape()):
            found = vacant_place(
                room.scene, Wanted((), (r.width, r.height), 0.0 if r.v == 0.0 else None), index
            )
            if found is not None:
                changes += [((*path, key), value) for key, value in _written(draft, found[1]).items()]
    return changes
