"""JSON Schema of the scene file, made from the models: editors complete and check with it.

The file ``scene.schema.json`` beside this module is what it makes; write it anew after a change with
``python -m treatment.scene.json_schema``.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, Final

from treatment.scene.document import LISTS, NAMED, TABLES
from treatment.scene.schema import (
    BoxEntry,
    Entry,
    MeshEntry,
    PlanEntry,
    PlanHeightsEntry,
    PlanSlopesEntry,
)
from treatment.units import UNITS

#: Shipped beside this module.
FILE: Final = Path(__file__).with_name("scene.schema.json")
_ROOMS: Final[tuple[tuple[str, type[Entry]], ...]] = (
    ("box", BoxEntry),
    ("plan", PlanEntry),
    ("plan", PlanHeightsEntry),
    ("plan", PlanSlopesEntry),
    ("mesh", MeshEntry),
)


def scene_schema() -> dict[str, Any]:
    """Make the schema.

    Returns
    -------
    dict
        JSON Schema, draft 2020-12. What it accepts may still be wrong (a seat outside the room), but what
        it refuses is wrong.
    """
    definitions: dict[str, Any] = {}

    def model(entry: type[Entry]) -> dict[str, str]:
        made = entry.model_json_schema(ref_template="#/$defs/{model}")
        definitions.update(made.pop("$defs", {}))
        definitions[entry.__name__] = made
        return {"$ref": f"#/$defs/{entry.__name__}"}

    rooms = [model(entry) for _, entry in _ROOMS]
    for shape, entry in _ROOMS:
        definitions[entry.__name__]["properties"]["shape"] = {"const": shape}
    text = {"type": "string"}
    properties: dict[str, Any] = {
        "title": {**text, "description": "Name of the room in reports."},
        "units": {"enum": list(UNITS), "default": "m", "description": "Unit of plain numbers."},
        "panels": {
            "type": "array",
            "items": text,
            "description": "Builds that may be chosen; all of them where left out.",
        },
        "data_sheets": {
            **text,
            "description": "Folder of one's own material tables (CSV), beside this file.",
        },
        "room": {"anyOf": rooms, "description": "The room: a box, a floor plan or a mesh."},
        "surfaces": {
            "type": "object",
            "additionalProperties": text,
            "description": "Material of each surface; default for those not named.",
        },
        **{key: {"type": "array", "items": model(entry)} for key, entry in LISTS.items()},
        **{key: {"type": "object", "additionalProperties": model(entry)} for key, entry in NAMED.items()},
        **{key: model(entry) for key, entry in TABLES.items()},
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Scene of an acoustic treatment plan",
        "type": "object",
        "properties": properties,
        "required": ["room"],
        "additionalProperties": False,
        "$defs": dict(sorted(definitions.items())),
    }


def schema_text() -> str:
    """Text of the shipped file.

    Returns
    -------
    str
        JSON, indented.
    """
    return json.dumps(scene_schema(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    FILE.write_text(schema_text(), encoding="utf-8")
