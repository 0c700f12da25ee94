"""What the page asks for -> a new draft. Nothing but the places named here can be changed from a page."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from treatment.errors import PlanError
from treatment.planning import rewrite
from treatment.present.browser_asked import Room, index_of, place_of, text_of, unit_of
from treatment.present.browser_built import is_built, put_in, shift, take_out
from treatment.present.browser_draft import Draft
from treatment.present.browser_furniture import furnish
from treatment.present.browser_kinds import BUILT
from treatment.present.browser_panels import change_panel, clear, hang, unhang
from treatment.units import UNITS, parse_length

#: Lists of things that stand in the room, and what one of them is called.
STANDING: Final[Mapping[str, str]] = {
    "seats": "seat",
    "loudspeakers": "loudspeaker",
    "subwoofers": "subwoofer",
}
#: Lists that something can be taken out of.
_LISTS: Final[Mapping[str, str]] = {**STANDING, "objects": "furniture"}
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
    (r"seats\.\d+\.occupied", "flag"),
    (r"objects\.\d+\.name", "text"),
    (r"objects\.\d+\.count", "count"),
    (r"loudspeakers\.\d+\.channel", "text"),
    (r"(openings|keep_outs|obstacles)\.\d+\.name", "text"),
    (r"(openings|obstacles)\.\d+\.material", "text"),
    (r"((openings|keep_outs)\.\d+|screen)\.(at|size)\.[01]", "length"),
    (r"obstacles\.\d+\.(at|size)\.[012]", "length"),
    (r"keep_outs\.\d+\.depth", "length"),
    (r"keep_outs\.\d+\.reason", "text"),
    (r"screen\.distance", "length"),
    (r"screen\.sound_passes", "flag"),
    (r"surfaces\..+", "text"),
    (r"budget\.amount", "number"),
    (r"budget\.currency", "text"),
    (r"target\.use", "text"),
)


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
        "furnish": furnish,
        "builds": _builds,
        "hang": hang,
        "panel": change_panel,
        "unhang": unhang,
        "clear": clear,
    }
    doer = doers.get(str(asked.get("op")))
    if doer is None:
        raise PlanError("the page asked for something unknown", hint="reload the page")
    return doer(draft, asked, room)


def _section(asked: Mapping[str, Any], known: Mapping[str, str] = STANDING) -> str:
    section = str(asked.get("section"))
    if section not in known:
        raise PlanError("the page named nothing to change", hint="reload the page")
    return section


def _set(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Type a value."""
    path = asked.get("path")
    if not isinstance(path, Sequence) or isinstance(path, str) or not all(_is_key(k) for k in path):
        raise PlanError("the page named no place", hint="reload the page")
    place = ".".join(str(k) for k in path)
    kind = next((k for pattern, k in _TYPED if re.fullmatch(pattern, place)), None)
    if kind is None:
        raise PlanError(f"'{place[:60]}' cannot be changed here", hint="edit the room file by hand")
    text = rewrite.set_value(draft.text, path, _value(kind, text_of(asked, "value"), draft.text))
    if re.fullmatch(r"openings\.\d+\.material", place):
        # It is made of something, or has an absorption of its own; never both.
        own = (*path[:-1], "absorption")
        text = text if rewrite.read_value(text, own) is None else rewrite.remove_value(text, own)
    return replace(draft, text=text), f"change {place.replace('.', ' ')[:60]}"


def _is_key(key: object) -> bool:
    return isinstance(key, str) or (isinstance(key, int) and not isinstance(key, bool) and key >= 0)


def _value(kind: str, typed: str, text: str) -> Any:
    """What to write for what was typed; a plain number stays one."""
    if kind == "text":
        return typed
    if kind == "flag":
        if typed not in ("yes", "no"):
            raise PlanError("this is either so or not", hint="reload the page")
        return typed == "yes"
    plain = re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)", typed)
    if kind == "length":
        parse_length(typed, unit_of(text))
        return float(typed) if plain else typed
    if kind == "count" and not re.fullmatch(r"\d{1,6}", typed):
        raise PlanError(f"'{typed[:40]}' is no whole number", hint="digits alone, such as 2")
    if not plain:
        raise PlanError(f"'{typed[:40]}' is no number", hint="digits and a decimal point, such as 450")
    return float(typed) if "." in typed else int(typed)


def _surface(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Say what a surface is made of; no material means the default."""
    name, material = text_of(asked, "name"), text_of(asked, "material")
    if material:
        text = rewrite.set_value(draft.text, ("surfaces", name), material)
    else:
        text = rewrite.remove_value(draft.text, ("surfaces", name))
    return replace(draft, text=text), f"material of {name}"


def _move(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Move a thing on the floor plan, from above; its height stays as it was written."""
    if is_built(asked):
        return shift(draft, asked, room)
    section, index = _section(asked), index_of(asked)
    text, unit = draft.text, unit_of(draft.text)
    place = place_of(asked, ("x", "y"), unit)
    text = rewrite.set_values(text, [((section, index, "position", k), v) for k, v in enumerate(place)])
    name = rewrite.read_value(text, (section, index, "name"))
    return replace(draft, text=text), f"move {STANDING[section]} {str(name)[:40]}"


def _add(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Add a seat, a loudspeaker or a subwoofer in the middle of the room; what is built in, where it fits."""
    if is_built(asked):
        return put_in(draft, asked, room)
    section = _section(asked)
    if room.scene is None:
        raise PlanError("the room has errors", hint="mend them first")
    unit, word = unit_of(draft.text), STANDING[section]
    low, high = room.scene.hall
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


def _remove(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Take a seat, a loudspeaker, a subwoofer, furniture or what is built in out."""
    if is_built(asked):
        return take_out(draft, asked, room)
    section, index = _section(asked, _LISTS), index_of(asked)
    name = rewrite.read_value(draft.text, (section, index, "name"))
    return replace(draft, text=rewrite.remove_value(draft.text, (section, index))), (
        f"remove {_LISTS[section]} {str(name)[:40]}"
    )


def _builds(draft: Draft, asked: Mapping[str, Any], room: Room) -> tuple[Draft, str]:
    """Choose the builds that planning may use; those of a room without a list mean none in the file."""
    ids = asked.get("ids")
    known = {b.id for b in room.builds}
    if not isinstance(ids, list) or not all(isinstance(i, str) and i in known for i in ids):
        raise PlanError("the page named an unknown build", hint="reload the page")
    if not ids:
        raise PlanError("at least one build must be allowed", hint="tick another one first")
    if set(ids) == {b.id for b in room.builds if b.can_be_asked_for}:
        if rewrite.read_value(draft.text, ("panels",)) is None:
            return draft, "choose builds"
        return replace(draft, text=rewrite.remove_value(draft.text, ("panels",))), "choose builds"
    return replace(draft, text=rewrite.set_value(draft.text, ("panels",), ids)), "choose builds"


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
    kept = ("title", "units", "room", "surfaces", "panels", "budget", "target", *_LISTS, *BUILT)
    return {key: data[key] for key in kept if key in data}
