"""Furniture and people in a page: added by kind, told by what they absorb.

A room file gives furniture no place: it damps the whole room alike. So it is listed, not drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Any, Final

from treatment import bands
from treatment.errors import PlanError
from treatment.planning import rewrite
from treatment.present.browser_asked import Room, text_of, unit_of
from treatment.present.browser_draft import Draft
from treatment.scene.furniture import PERSON, PERSON_VOLUME
from treatment.scene.model import Scene
from treatment.units import UNITS

#: What may be added: row of the library, floor that one takes in m, air that it displaces in m3. The sizes
#: are common practice; a person measures and types their own in the room file.
FURNITURE: Final[Mapping[str, tuple[str | None, tuple[float, float] | None, float]]] = MappingProxyType(
    {
        "sofa": ("seats-well-upholstered-empty", (2.1, 0.9), 0.5),
        "armchair": ("seats-well-upholstered-empty", (0.9, 0.85), 0.25),
        "leather armchair": ("seats-leather-empty", (0.9, 0.85), 0.25),
        "wooden chair": ("seats-wooden-empty", (0.45, 0.5), 0.02),
        "hard cupboard or shelves": (None, None, 0.4),
        "person on another chair": (PERSON, None, PERSON_VOLUME),
    }
)


def furnish(draft: Draft, asked: Mapping[str, Any], _: Room) -> tuple[Draft, str]:
    """Add a piece of furniture, or one more of it.

    Parameters
    ----------
    draft : Draft
        Before.
    asked : mapping
        ``kind``, of `FURNITURE`.

    Returns
    -------
    draft : Draft
        After.
    label : str
        What was done.

    Raises
    ------
    PlanError
        When the kind is unknown.
    """
    kind = text_of(asked, "kind")
    if kind not in FURNITURE:
        raise PlanError("the page asked for unknown furniture", hint="reload the page")
    material, size, volume = FURNITURE[kind]
    entries = rewrite.read_value(draft.text, ("objects",)) or []
    for i, entry in enumerate(entries):
        if isinstance(entry, Mapping) and entry.get("name") == kind:
            count = entry.get("count", 1)
            more = count + 1 if isinstance(count, int) else 2
            text = rewrite.set_value(draft.text, ("objects", i, "count"), more)
            return replace(draft, text=text), f"one more {kind}"
    unit = UNITS[unit_of(draft.text)]
    made: dict[str, Any] = {"name": kind, "count": 1}
    if material is not None:
        made["material"] = material
    if size is not None:
        made["size"] = [round(s / unit, 2) for s in size]
    made["volume_m3"] = volume
    return replace(draft, text=rewrite.add_entry(draft.text, "objects", made)), f"add {kind}"


def object_entries(scene: Scene) -> list[dict[str, Any]]:
    """Furniture and people, and what all of one kind absorb.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    list of dict
        In the order of the file, people in the seats last; ``area`` in m2 at 125 Hz and 1 kHz, with its
        expanded uncertainty ``doubt``.
    """
    at = [bands.band_index(125), bands.band_index(1000)]
    return [
        {
            "name": o.name,
            "count": o.count,
            "kind": o.kind,
            "source": o.material,
            "area": [round(float(o.count * o.area[k]), 2) for k in at],
            "doubt": [round(float(o.count * o.uncertainty[k]), 2) for k in at],
            "volume": round(o.count * o.volume, 2),
        }
        for o in scene.objects
    ]
