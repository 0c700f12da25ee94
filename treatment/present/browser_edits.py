"""What the page asks for -> a new draft. Nothing but the places named here can be changed from a page."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from treatment.errors import PlanError
from treatment.materials.build import PanelBuild
from treatment.planning import rewrite
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.suggest import suggest_place
from treatment.present.browser_draft import Draft, HungPanel
from treatment.scene.model import Scene
from treatment.units import UNITS, parse_length

#: Lists of things that stand in the room, and what one of them is called.
STANDING: Final[Mapping[str, str]] = {
    "seats": "seat",
    "loudspeakers": "loudspeaker",
    "subwoofers": "subwoofer",
}
_PLACES: Final = "|".join(STANDING)
#: Places that a person may type into, and what stands there.
_TYPED: Final[tuple[tuple[str, str], ...]] = (
    (r"title", "text"),
    (r"room\.(length|width|height)", "length"),
    (r"room\.corners\.\d+\.[01]", "length"),
    (r"room\.ceiling\.\d+(\.knee)?", "length"),
    (r"room\.ceiling\.\d+\.pitch", "number"),
    (rf"({_PLACES})\.\d+\.position\.[012]", "length"),
    (rf"({_PLACES})\.\d+\.name", "text"),
    (r"seats\.\d+\.spread", "length"),
    (r"loudspeakers\.\d+\.channel", "text"),
    (r"openings\.\d+\.material", "text"),
    (r"obstacles\.\d+\.material", "text"),
    (r"surfaces\..+", "text"),
    (r"budget\.amount", "number"),
    (r"budget\.currency", "text"),
    (r"target\.use", "text"),
)
_LONGEST: Final = 200


@dataclass(frozen=True)
class Room:
    """What edits may look at.

    Parameters
    ----------
    scene : Scene or None
        The last room without errors.
    placements : tuple of Placement
        The panels that hang in it.
    builds : tuple of PanelBuild
        Every known build.
    evaluation : Evaluation or None
        What the room does with these panels.
    """

    scene: Scene | None
    placements: tuple[Placement, ...]
    builds: tuple[PanelBuild, ...]
    evaluation: Evaluation | None = None


def apply(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Do one edit.

    Parameters
    ----------
    draft : Draft
        Before.
    asked : mapping
        From the page: ``op`` and what it needs.
    room : Room
        What is known of the room.

    Returns
    -------
    draft : Draft
        After. It may hold errors: they are found like those of any room file.
    label : str
        What was done, in words.

    Raises
    ------
    PlanError
        When it cannot be done; nothing is changed then.
    UnitError
        When a length cannot be read.
    """
    doers = {
        "set": _set,
        "surface": _surface,
        "move": _move,
        "add": _add,
        "remove": _remove,
        "builds": _builds,
        "hang": _hang,
        "panel": _panel,
        "unhang": _unhang,
        "clear": _clear,
    }
    doer = doers.get(str(asked.get("op")))
    if doer is None:
        raise PlanError("the page asked for something unknown", hint="reload the page")
    return doer(draft, asked, room)


def _text(asked: Mapping[str, Any], key: str) -> str:
    value = asked.get(key)
    if not isinstance(value, str) or len(value) > _LONGEST:
        raise PlanError(f"'{key}' must be a text of at most {_LONGEST} signs", hint="shorten it")
    return value.strip()


def _number(asked: Mapping[str, Any], key: str) -> float:
    value = asked.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise PlanError(f"'{key}' must be a number", hint="reload the page")
    return float(value)


def _index(asked: Mapping[str, Any]) -> int:
    value = asked.get("index")
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise PlanError("the page named nothing to change", hint="reload the page")
    return value


def _section(asked: Mapping[str, Any]) -> str:
    section = str(asked.get("section"))
    if section not in STANDING:
        raise PlanError("the page named nothing to change", hint="reload the page")
    return section


def _unit(text: str) -> str:
    unit = rewrite.read_value(text, ("units",))
    return unit if isinstance(unit, str) and unit in UNITS else "m"


def _set(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Type a value."""
    path = asked.get("path")
    if not isinstance(path, Sequence) or isinstance(path, str) or not all(_is_key(k) for k in path):
        raise PlanError("the page named no place", hint="reload the page")
    place = ".".join(str(k) for k in path)
    kind = next((k for pattern, k in _TYPED if re.fullmatch(pattern, place)), None)
    if kind is None:
        raise PlanError(f"'{place[:60]}' cannot be changed here", hint="edit the room file by hand")
    typed = _text(asked, "value")
    return replace(draft, text=rewrite.set_value(draft.text, path, _value(kind, typed, draft.text))), (
        f"change {place.replace('.', ' ')[:60]}"
    )


def _is_key(key: object) -> bool:
    return isinstance(key, str) or (isinstance(key, int) and not isinstance(key, bool) and key >= 0)


def _value(kind: str, typed: str, text: str) -> Any:
    """What to write for what was typed; a plain number stays one."""
    if kind == "text":
        return typed
    plain = re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)", typed)
    if kind == "length":
        parse_length(typed, _unit(text))
        return float(typed) if plain else typed
    if not plain:
        raise PlanError(f"'{typed[:40]}' is no number", hint="digits and a decimal point, such as 450")
    return float(typed) if "." in typed else int(typed)


def _surface(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Say what a surface is made of; no material means the default."""
    name, material = _text(asked, "name"), _text(asked, "material")
    if material:
        text = rewrite.set_value(draft.text, ("surfaces", name), material)
    else:
        text = rewrite.remove_value(draft.text, ("surfaces", name))
    return replace(draft, text=text), f"material of {name}"


def _move(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Move a thing on the floor plan, to the millimetre; its height stays as it was written."""
    section, index = _section(asked), _index(asked)
    text, unit = draft.text, _unit(draft.text)
    metres = (_number(asked, "x"), _number(asked, "y"))
    place = [round(round(value, 3) / UNITS[unit], 4) for value in metres]
    text = rewrite.set_values(text, [((section, index, "position", k), v) for k, v in enumerate(place)])
    name = rewrite.read_value(text, (section, index, "name"))
    return replace(draft, text=text), f"move {STANDING[section]} {str(name)[:40]}"


def _add(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Add a seat, a loudspeaker or a subwoofer in the middle of the room."""
    section = _section(asked)
    if room.scene is None:
        raise PlanError("the room has errors", hint="mend them first")
    unit, word = _unit(draft.text), STANDING[section]
    low, high = room.scene.enclosure.bounds
    x, y = float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0
    height = {"seats": 1.1, "loudspeakers": 1.1, "subwoofers": 0.25}[section]
    taken = {
        str(entry.get("name", "")).casefold()
        for key in STANDING
        for entry in rewrite.read_value(draft.text, (key,)) or []
        if isinstance(entry, Mapping)
    }
    name = next(n for i in range(1, len(taken) + 2) if (n := f"{word} {i}") not in taken)
    # Not twice in one place: things there would be one thing.
    others = [s.position for s in room.scene.seats]
    others += [s.position for s in room.scene.loudspeakers]
    others += [s.position for s in room.scene.subwoofers]
    while any(math.hypot(float(p[0]) - x, float(p[1]) - y) < 0.4 for p in others) and y < high[1] - 0.6:
        y += 0.2
    place = [round(round(v, 2) / UNITS[unit], 3) for v in (x, y, height)]
    text = rewrite.add_entry(draft.text, section, {"name": name, "position": place})
    return replace(draft, text=text), f"add {name}"


def _remove(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Take a seat, a loudspeaker or a subwoofer out."""
    section, index = _section(asked), _index(asked)
    name = rewrite.read_value(draft.text, (section, index, "name"))
    return replace(draft, text=rewrite.remove_value(draft.text, (section, index))), (
        f"remove {STANDING[section]} {str(name)[:40]}"
    )


def _builds(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Choose the builds that planning may use; all of them means no list in the file."""
    ids = asked.get("ids")
    known = {b.id for b in room.builds}
    if not isinstance(ids, list) or not all(isinstance(i, str) and i in known for i in ids):
        raise PlanError("the page named an unknown build", hint="reload the page")
    if not ids:
        raise PlanError("at least one build must be allowed", hint="tick another one first")
    if set(ids) == known:
        if rewrite.read_value(draft.text, ("panels",)) is None:
            return draft, "choose builds"
        return replace(draft, text=rewrite.remove_value(draft.text, ("panels",))), "choose builds"
    return replace(draft, text=rewrite.set_value(draft.text, ("panels",), ids)), "choose builds"


def _build(name: str, room: Room) -> PanelBuild:
    found = next((b for b in room.builds if b.id == name), None)
    if found is None:
        raise PlanError(f"there is no build '{name[:40]}'", hint="choose another one")
    return found


def _hang(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Put up one more panel where it meets the strongest early reflection."""
    if room.scene is None or room.evaluation is None:
        raise PlanError("the room has errors", hint="mend them first")
    build = _build(_text(asked, "build"), room)
    wanted = _text(asked, "surface")
    try:
        surface = room.scene.surface_index(wanted) if wanted else None
    except KeyError:
        raise PlanError(f"the room has no surface '{wanted[:40]}'", hint="reload the page") from None
    found = suggest_place(room.evaluation, build, room.placements, surface)
    if found is None:
        where = f"on {wanted}" if wanted else "in this room"
        hint = "choose another build or surface; doors, kept-free spaces and other panels take room"
        raise PlanError(f"there is no free place for {build.id} {where}", hint=hint)
    index, place = found
    turned = abs(place.width - build.outer_width) > 1e-6
    name = draft.free_id()
    panel = HungPanel(name, build.id, room.scene.surfaces[index].name, place.u, place.v, turned)
    return replace(draft, panels=(*draft.panels, panel)), f"add panel {name}"


def _panel(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Move, turn, lock or exchange a panel."""
    panel = draft.panel(_text(asked, "id"))
    change = asked.get("change")
    if panel is None or not isinstance(change, Mapping):
        raise PlanError("there is no such panel any more", hint="undo brings it back")
    if panel.locked and set(change) != {"locked"}:
        raise PlanError(f"{panel.id} is locked", hint="unlock it first")
    was = panel
    if "u" in change:
        panel = replace(panel, u=_along(change, "u", draft.text))
    if "v" in change:
        panel = replace(panel, v=_along(change, "v", draft.text))
    if "build" in change:
        panel = replace(panel, build=_build(_text(change, "build"), room).id)
    if "surface" in change:
        panel = replace(panel, surface=_text(change, "surface"))
    if "turned" in change:
        panel = replace(panel, turned=bool(change["turned"]))
    if "locked" in change:
        panel = replace(panel, locked=bool(change["locked"]))
    if (panel.u, panel.v, panel.build, panel.surface, panel.turned) != (
        was.u, was.v, was.build, was.surface, was.turned
    ):  # fmt: skip
        # Reasons are about the place where the planner put it.
        panel = replace(panel, reasons=())
    words = "lock" if change.get("locked") else "unlock" if "locked" in change else "change"
    return draft.with_panel(panel), f"{words} panel {panel.id}"


def _along(change: Mapping[str, Any], key: str, text: str) -> float:
    """Wall coordinate: metres from a drag, any length from the keyboard."""
    typed = isinstance(change[key], str)
    metres = parse_length(_text(change, key), _unit(text)) if typed else _number(change, key)
    return round(metres, 4)


def _unhang(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Take a panel down."""
    name = _text(asked, "id")
    if draft.panel(name) is None:
        raise PlanError("there is no such panel any more", hint="undo brings it back")
    return replace(draft, panels=tuple(p for p in draft.panels if p.id != name)), f"remove panel {name}"


def _clear(draft: Draft, _: Mapping[str, Any], __: Room) -> tuple[Draft, str]:
    """Take down every panel that is not locked."""
    return replace(draft, panels=tuple(p for p in draft.panels if p.locked)), "take down all panels"


def fields_of(text: str) -> dict[str, Any]:
    """What a room file says, for the page's fields.

    Parameters
    ----------
    text : str
        TOML.

    Returns
    -------
    dict
        The parts a page may change, as they are written.
    """
    data = tomllib.loads(text)
    kept = (
        "title", "units", "room", "surfaces", "panels", "openings", "obstacles", "budget", "target", *STANDING
    )  # fmt: skip
    return {key: data[key] for key in kept if key in data}
