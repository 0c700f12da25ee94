"""The kinds of values a scene file holds: how each is read, and what an editor is told about it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator, ValidationInfo, WithJsonSchema

from treatment.materials.make_build import PLACES
from treatment.materials.read_table import LARGEST_OBJECT_AREA
from treatment.scene import amounts, fields
from treatment.units import UNITS

REASONS: Final = ("electrical", "luminaire", "vent", "detector", "door-swing", "other")
RECESSES: Final = ("niche", "dormer")
#: Published coefficients reach about 1.2 (ISO 354, edge effect); beyond 1.3 it is a slip.
HIGHEST_ABSORPTION: Final = 1.3
#: Directions in a mesh file, and where the room's origin is put.
AXES: Final = ("x", "y", "z", "-x", "-y", "-z")
ORIGINS: Final = ("front-left", "file")


def _length(value: object, info: ValidationInfo) -> float:
    return fields.length(value, (info.context or {}).get("unit", "m"))


def _whole(value: object) -> int:
    """Read a number of things, 1 to 200."""
    read = fields.number(value)
    if read != int(read) or not 1 <= read <= 200:
        message = f"{read:.6g} is no number of things"
        raise fields.FieldError("number-out-of-range", message, "write 1 to 200")
    return int(read)


def _array(items: dict[str, Any], number: int) -> WithJsonSchema:
    return WithJsonSchema({"type": "array", "items": items, "minItems": number, "maxItems": number})


def _choice(words: Iterable[str]) -> WithJsonSchema:
    return WithJsonSchema({"enum": list(words)})


# What an editor is told: validators say more than JSON Schema can, and a length may be a number or a text.
_LENGTH: Final[dict[str, Any]] = {"anyOf": [{"type": "number"}, {"type": "string"}]}
_SIZE: Final[dict[str, Any]] = {"anyOf": [{"type": "number", "exclusiveMinimum": 0}, {"type": "string"}]}
_DEPTH: Final[dict[str, Any]] = {"anyOf": [{"type": "number", "minimum": 0}, {"type": "string"}]}
_SHARE: Final[dict[str, Any]] = {"type": "number", "minimum": 0, "maximum": HIGHEST_ABSORPTION}
_FRACTION: Final[dict[str, Any]] = {"type": "number", "minimum": 0, "maximum": 1}

Length = Annotated[float, BeforeValidator(_length), WithJsonSchema(_LENGTH)]
Size = Annotated[Length, AfterValidator(fields.positive), WithJsonSchema(_SIZE)]
Depth = Annotated[Length, AfterValidator(fields.not_negative), WithJsonSchema(_DEPTH)]
Number = Annotated[float, BeforeValidator(fields.number), WithJsonSchema({"type": "number"})]
Amount = Annotated[
    Number, AfterValidator(fields.not_negative), WithJsonSchema({"type": "number", "minimum": 0})
]
Flag = Annotated[bool, BeforeValidator(fields.flag), WithJsonSchema({"type": "boolean"})]
Weight = Annotated[
    Number,
    AfterValidator(amounts.weight),
    WithJsonSchema({"type": "number", "minimum": 0, "maximum": amounts.HIGHEST_WEIGHT}),
]
Text = Annotated[str, BeforeValidator(fields.text), WithJsonSchema({"type": "string"})]
Name = Annotated[
    str,
    BeforeValidator(fields.name),
    WithJsonSchema({"type": "string", "minLength": 1, "maxLength": fields.LONGEST_NAME}),
]
Absorption = Annotated[
    Number,
    AfterValidator(fields.within("absorption-out-of-range", HIGHEST_ABSORPTION)),
    WithJsonSchema(_SHARE),
]
Scattering = Annotated[
    Number, AfterValidator(fields.within("scattering-out-of-range", 1.0)), WithJsonSchema(_FRACTION)
]
_BANDS = fields.count("wrong-number-of-bands", 8, "[63 Hz, 125, 250, 500, 1000, 2000, 4000, 8000 Hz]")


def _one_or_bands(value: object) -> object:
    """One coefficient stands for all bands."""
    return _BANDS(value if isinstance(value, list) else [value] * 8)


AbsorptionBands = Annotated[list[Absorption], BeforeValidator(_BANDS), _array(_SHARE, 8)]
ScatteringBands = Annotated[list[Scattering], BeforeValidator(_BANDS), _array(_FRACTION, 8)]
Area = Annotated[
    Number,
    AfterValidator(fields.within("number-out-of-range", LARGEST_OBJECT_AREA)),
    WithJsonSchema({"type": "number", "minimum": 0, "maximum": LARGEST_OBJECT_AREA}),
]
AreaBands = Annotated[
    list[Area],
    BeforeValidator(_BANDS),
    _array({"type": "number", "minimum": 0, "maximum": LARGEST_OBJECT_AREA}, 8),
]
Count = Annotated[
    int, BeforeValidator(_whole), WithJsonSchema({"type": "integer", "minimum": 1, "maximum": 200})
]
AbsorptionBeyond = Annotated[
    list[Absorption],
    BeforeValidator(_one_or_bands),
    WithJsonSchema({"anyOf": [_SHARE, {"type": "array", "items": _SHARE, "minItems": 8, "maxItems": 8}]}),
]
_PAIR = fields.count("wrong-number-of-values", 2, "[u, v]")
_POINTS = fields.count("wrong-number-of-values", 3, "[[x, y, z], [x, y, z], [x, y, z]]")
_TRIPLE = fields.count("wrong-number-of-values", 3, "[x, y, z]")
_WIDE = fields.count("wrong-number-of-values", 2, "[width, height]")
_EXTENT = fields.count("wrong-number-of-values", 3, "[along x, y, z]")
Corner = Annotated[
    list[Length], BeforeValidator(fields.count("wrong-number-of-values", 2, "[x, y]")), _array(_LENGTH, 2)
]
Place2 = Annotated[list[Length], BeforeValidator(_PAIR), _array(_LENGTH, 2)]
Place3 = Annotated[list[Length], BeforeValidator(_TRIPLE), _array(_LENGTH, 3)]
Points = Annotated[
    list[Place3],
    BeforeValidator(_POINTS),
    _array({"type": "array", "items": _LENGTH, "minItems": 3, "maxItems": 3}, 3),
]
Size2 = Annotated[list[Size], BeforeValidator(_WIDE), _array(_SIZE, 2)]
Size3 = Annotated[list[Size], BeforeValidator(_EXTENT), _array(_SIZE, 3)]
Reason = Annotated[
    str, BeforeValidator(fields.one_of("keep-out-reason-unknown", "reason", REASONS)), _choice(REASONS)
]
RecessKind = Annotated[
    str, BeforeValidator(fields.one_of("recess-unclear", "kind of recess", RECESSES)), _choice(RECESSES)
]
Along = Annotated[
    str, BeforeValidator(fields.one_of("structure-unclear", "direction", ("u", "v"))), _choice("uv")
]
PanelPlace = Annotated[
    str,
    BeforeValidator(fields.one_of("build-place-unknown", "place for a panel", PLACES)),
    _choice(PLACES),
]
Unit = Annotated[
    str, BeforeValidator(fields.one_of("unit-unknown", "unit of length", tuple(UNITS))), _choice(UNITS)
]
Axis = Annotated[str, BeforeValidator(fields.one_of("mesh-axis-unknown", "axis", AXES)), _choice(AXES)]
Origin = Annotated[
    str, BeforeValidator(fields.one_of("mesh-origin-unknown", "origin", ORIGINS)), _choice(ORIGINS)
]
Pitch = Annotated[
    Number,
    AfterValidator(amounts.pitch),
    WithJsonSchema({"type": "number", "minimum": 0.5, "maximum": 85}),
]
