"""The scene file, key by key: what may stand where. With `value_types` the only home of pydantic.

Every entry is validated on its own, so that one bad seat does not hide what is wrong with the
others, and an unknown key is reported and then left out, so that the rest is still checked.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Annotated, Any, TypeVar, get_args

from pydantic import (
    AfterValidator,
    BaseModel,
    ConfigDict,
    ValidationError,
)

from treatment.errors import Finding
from treatment.scene import amounts, fields
from treatment.scene.codes import finding, nearest
from treatment.scene.value_types import (
    AbsorptionBands,
    AbsorptionBeyond,
    Along,
    Amount,
    AreaBands,
    Axis,
    Corner,
    Count,
    Depth,
    Flag,
    Name,
    Number,
    Origin,
    PanelPlace,
    Pitch,
    Place2,
    Place3,
    Points,
    Reason,
    RecessKind,
    ScatteringBands,
    Size,
    Size2,
    Size3,
    Text,
    Unit,
    Weight,
)


class Entry(BaseModel):
    """Base of all entries: no unknown key, nothing converted silently."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class AirEntry(Entry):
    """``[air]``; ranges are checked where the air is made."""

    temperature_c: Number = 20.0
    relative_humidity: Number = 50.0
    pressure_kpa: Number = 101.325


class BoxEntry(Entry):
    """``[room]`` of shape ``box``: extent along x, y and z in m."""

    shape: Text
    length: Size
    width: Size
    height: Size


class MeshEntry(Entry):
    """``[room]`` of shape ``mesh``: a file, and how its axes and its unit are to be read."""

    shape: Text
    file: Text
    unit: Unit | None = None
    up: Axis | None = None
    forward: Axis | None = None
    origin: Origin = "front-left"


class PlanEntry(Entry):
    """``[room]`` of shape ``plan``: corners in m, either winding; names of the walls; a level ceiling."""

    shape: Text
    corners: list[Corner]
    height: Size
    names: list[Name] | None = None


class PlanHeightsEntry(Entry):
    """``[room]`` of shape ``plan`` with the ceiling's height at each corner, in m."""

    shape: Text
    corners: list[Corner]
    ceiling: list[Depth]
    height: Size | None = None
    names: list[Name] | None = None


class SlopeEntry(Entry):
    """``[[room.ceiling]]``: one plane, from a wall or through three points, in m."""

    name: Name | None = None
    wall: Text | None = None
    knee: Depth | None = None
    pitch: Pitch | None = None
    through: Place3 | None = None
    points: Points | None = None


class PlanSlopesEntry(Entry):
    """``[room]`` of shape ``plan`` under planes; `height` is a level ceiling that cuts them, in m."""

    shape: Text
    corners: list[Corner]
    ceiling: list[SlopeEntry]
    height: Size | None = None
    names: list[Name] | None = None


RoomEntry = BoxEntry | PlanEntry | PlanHeightsEntry | PlanSlopesEntry | MeshEntry


class MaterialEntry(Entry):
    """``[materials.<id>]``: coefficients of the eight octave bands."""

    absorption: AbsorptionBands
    scattering: ScatteringBands | None = None
    source: Text = "scene file, no source given"
    description: Text = ""


class OpeningEntry(Entry):
    """``[[openings]]``: wall coordinates in m; a material, or the absorption of what lies beyond."""

    name: Name
    surface: Text
    at: Place2
    size: Size2
    material: Text | None = None
    absorption: AbsorptionBeyond | None = None


class RecessEntry(Entry):
    """``[[recesses]]``: a niche or a dormer, by its mouth in wall coordinates in m; the roof in degrees."""

    name: Name
    surface: Text
    at: Place2
    size: Size2
    depth: Size | None = None
    kind: RecessKind = "niche"
    roof_pitch: Amount = 0.0
    material: Text | None = None


class KeepOutEntry(Entry):
    """``[[keep_outs]]``: wall coordinates and depth in m."""

    name: Name
    surface: Text
    at: Place2
    size: Size2
    depth: Depth = 0.0
    reason: Reason = "other"


class FramingEntry(Entry):
    """``[[framing]]``: studs or joists behind a surface, by their middles, in m."""

    surface: Text
    spacing: Size
    first: Depth = 0.0
    along: Along = "u"
    width: Size = 0.045


class TileGridEntry(Entry):
    """``[[tile_grids]]``: a suspended ceiling, wall coordinates in m; what a field carries, in kg."""

    surface: Text
    tile: Size2
    first: Place2 = [0.0, 0.0]
    mass_per_tile: Amount


class WalkwaysEntry(Entry):
    """``[walkways]``: least clear width, and the height up to which it counts, in m."""

    width: Size
    height: Size = 2.0


class ObstacleEntry(Entry):
    """``[[obstacles]]``: lowest corner and extent in m."""

    name: Name
    at: Place3
    size: Size3
    material: Text


class LoudspeakerEntry(Entry):
    """``[[loudspeakers]]``: acoustic centre in m."""

    name: Name
    position: Place3
    channel: Text = ""
    aim: Place3 | None = None
    piston: Size | None = None
    box_width: Size | None = None
    coverage: list[Number] | None = None
    coverage_from: Number = 1000.0
    off_axis: list[list[Number]] | None = None
    weight: Weight = 1.0


class SubwooferEntry(Entry):
    """``[[subwoofers]]``: centre of the driver in m."""

    name: Name
    position: Place3


class SeatEntry(Entry):
    """``[[seats]]``: the ears, and the half-width of the area the head may be in, in m."""

    name: Name
    position: Place3
    spread: Depth = 0.15
    occupied: Flag = False
    weight: Weight = 1.0


class ObjectEntry(Entry):
    """``[[objects]]``: furniture and people; `size` is the floor that one takes, in m."""

    name: Name
    count: Count = 1
    material: Text | None = None
    size: Size2 | None = None
    absorption_area_m2: AreaBands | None = None
    volume_m3: Amount = 0.0


class LayerEntry(Entry):
    """One porous layer of a build."""

    airflow_resistivity: Amount
    thickness: Size
    density: Amount = 0.0


class PerforatedEntry(Entry):
    """The perforated board before the layers of a build; round holes on a square grid."""

    thickness: Size
    hole: Size
    spacing: Size
    staggered: Flag = False
    density: Amount = 0.0
    board: Name = "hardboard"
    drilled: Flag = False


class BuildEntry(Entry):
    """``[builds.<id>]``: a panel that may be built."""

    width: Size
    height: Size
    thickness: Size
    air_gap: Depth = 0.0
    layers: list[LayerEntry] | None = None
    perforated: PerforatedEntry | None = None
    material: Text | None = None
    price: Amount = 0.0
    on: list[PanelPlace] = ["wall", "ceiling"]
    description: Text = ""
    frame_thickness: Depth = 0.0
    facing: Text = ""
    back: Text = ""
    back_thickness: Depth = 0.0


class BudgetEntry(Entry):
    """``[budget]``: what may be spent."""

    amount: Annotated[Number, AfterValidator(amounts.budget_amount)]
    currency: Name = "EUR"


class TargetEntry(Entry):
    """``[target]``: which published range applies."""

    use: Text = "listening-room"


class WishesEntry(Entry):
    """``[wishes]``: what is a matter of taste."""

    keep_side_reflections: Flag = False


class ScreenEntry(Entry):
    """``[screen]``: the picture, in wall coordinates in m."""

    surface: Text = "front"
    at: Place2
    size: Size2
    distance: Depth = 0.0
    sound_passes: Flag = False


EntryT = TypeVar("EntryT", bound=Entry)


def validate(model: type[EntryT], value: object, path: str, unit: str) -> tuple[EntryT | None, list[Finding]]:
    """Read one entry of the file.

    Parameters
    ----------
    model : type of Entry
        What it should be.
    value : object
        From the TOML reader.
    path : str
        Its key path (``seats[0]``).
    unit : str
        Unit of plain numbers.

    Returns
    -------
    entry : Entry or None
        None when it cannot be used; unknown keys alone do not spoil it.
    findings : list of Finding
        Everything wrong with it.
    """
    if not isinstance(value, dict):
        return None, [finding("wrong-type", path, f"must be a table, this is {fields.kind_of(value)}")]
    findings: list[Finding] = []
    known = {k: v for k, v in value.items() if k in model.model_fields}
    findings.extend(unknown_key(path, key, model.model_fields) for key in value if key not in known)
    try:
        return model.model_validate(known, context={"unit": unit}), findings
    except ValidationError as error:
        details = error.errors(include_url=False)
    misspelt = [k for k in value if k not in known]
    for detail in details:
        key = str(detail["loc"][-1])
        # "widht" is one mistake, not an unknown key and a missing one.
        if not (detail["type"] == "missing" and difflib.get_close_matches(key, misspelt)):
            findings.append(_as_finding(path, detail, model))
    return None, findings


def unknown_key(path: str, key: str, known: Iterable[str]) -> Finding:
    """Report a key that does not exist.

    Parameters
    ----------
    path : str
        Key path of the table; empty at the top.
    key : str
        As typed.
    known : iterable of str
        Keys of that table.

    Returns
    -------
    Finding
        Names the nearest known key.
    """
    place = f"{path}.{key}" if path else key
    what = path or "a scene"
    return finding("unknown-key", place, f'"{key[:60]}" is no key of {what}', nearest(key, known))


def _as_finding(path: str, detail: Any, model: type[Entry]) -> Finding:
    where = path
    for part in detail["loc"]:
        where += f"[{part}]" if isinstance(part, int) else f".{part}"
    code, context = detail["type"], detail.get("ctx", {})
    problem = context.get("error")
    if isinstance(problem, fields.FieldError):
        return finding(problem.code, where, problem.message, problem.hint)
    if code == "missing":
        key = detail["loc"][-1]
        required = [k for k, f in model.model_fields.items() if f.is_required()]
        return finding("missing-key", where, f'"{key}" is missing', f"needed are {', '.join(required)}")
    if code == "extra_forbidden":  # of a nested table
        *_, key = detail["loc"]
        return unknown_key(where.removesuffix(f".{key}"), str(key), _nested(model, detail["loc"]))
    wanted = {"list_type": "a list in square brackets", "bool_type": "true or false"}.get(code, "a table")
    return finding("wrong-type", where, f"must be {wanted}, this is {fields.kind_of(detail['input'])}")


def _nested(model: type[Entry], place: Iterable[int | str]) -> list[str]:
    """Keys of the table in which an unknown one stands, by the type of the field that holds it."""
    for part in place:
        if part in model.model_fields:
            inner = model.model_fields[str(part)].annotation
            while get_args(inner):
                inner = next((x for x in get_args(inner) if x is not type(None)), None)
            if isinstance(inner, type) and issubclass(inner, Entry):
                return list(inner.model_fields)
    return []
