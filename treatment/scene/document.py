"""A scene file as read: every entry in metres, nothing yet related to anything else."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from treatment.errors import Finding
from treatment.scene.codes import finding, nearest
from treatment.scene.fields import kind_of
from treatment.scene.plan_entries import LimitsEntry, StockEntry
from treatment.scene.schema import (
    AirEntry,
    BoxEntry,
    BudgetEntry,
    BuildEntry,
    Entry,
    EntryT,
    FramingEntry,
    KeepOutEntry,
    LoudspeakerEntry,
    MaterialEntry,
    MeshEntry,
    ObjectEntry,
    ObstacleEntry,
    OpeningEntry,
    PlanEntry,
    PlanHeightsEntry,
    PlanSlopesEntry,
    RecessEntry,
    RoomEntry,
    ScreenEntry,
    SeatEntry,
    SubwooferEntry,
    TargetEntry,
    TileGridEntry,
    WalkwaysEntry,
    WishesEntry,
    unknown_key,
    validate,
)
from treatment.units import UNITS

_SHAPES: Final = ("box", "plan", "mesh")
LISTS: Final[Mapping[str, type[Entry]]] = {
    "recesses": RecessEntry,
    "openings": OpeningEntry,
    "keep_outs": KeepOutEntry,
    "obstacles": ObstacleEntry,
    "loudspeakers": LoudspeakerEntry,
    "subwoofers": SubwooferEntry,
    "seats": SeatEntry,
    "objects": ObjectEntry,
    "framing": FramingEntry,
    "tile_grids": TileGridEntry,
}
NAMED: Final[Mapping[str, type[Entry]]] = {"materials": MaterialEntry, "builds": BuildEntry}
TABLES: Final[Mapping[str, type[Entry]]] = {
    "air": AirEntry,
    "budget": BudgetEntry,
    "limits": LimitsEntry,
    "stock": StockEntry,
    "target": TargetEntry,
    "walkways": WalkwaysEntry,
    "wishes": WishesEntry,
    "screen": ScreenEntry,
}
KEYS: Final = ("title", "units", "room", "surfaces", "panels", "data_sheets", *LISTS, *NAMED, *TABLES)


@dataclass(frozen=True)
class Document:
    """What a scene file says, part by part; entries that cannot be read are left out.

    Lists are held by their index in the file, so that key paths stay right.

    Parameters
    ----------
    title, units : str
        As in the file; units are None when unknown, and then no size can be trusted.
    room : BoxEntry, PlanEntry, ... or None
        None when it cannot be read.
    surfaces : dict of str to str
        Material id by surface name.
    panels : dict of int to str, or None
        Ids of builds that limit the choice.
    lists, named, tables : dict
        Entries by section.
    own_materials, own_builds : frozenset of str
        Ids the file defines, those included that cannot be read.
    data_sheets : str or None
        Folder of one's own material tables, beside the file.
    """

    title: str
    units: str | None
    room: RoomEntry | None
    surfaces: dict[str, str]
    panels: dict[int, str] | None
    lists: dict[str, dict[int, Entry]] = field(default_factory=dict)
    named: dict[str, dict[str, Entry]] = field(default_factory=dict)
    tables: dict[str, Entry] = field(default_factory=dict)
    own_materials: frozenset[str] = frozenset()
    own_builds: frozenset[str] = frozenset()
    data_sheets: str | None = None

    def entries(self, section: str, model: type[EntryT]) -> Iterator[tuple[int, EntryT]]:
        """Entries of a list with their indices.

        Parameters
        ----------
        section : str
            ``seats``, ``openings``, ...
        model : type of Entry
            Its type.

        Yields
        ------
        tuple of int and Entry
            Index in the file and entry.
        """
        for index, entry in self.lists.get(section, {}).items():
            if isinstance(entry, model):
                yield index, entry

    def by_id(self, section: str, model: type[EntryT]) -> dict[str, EntryT]:
        """Entries of ``materials`` or ``builds``.

        Parameters
        ----------
        section : str
            Name of the section.
        model : type of Entry
            Its type.

        Returns
        -------
        dict of str to Entry
            By id.
        """
        return {k: e for k, e in self.named.get(section, {}).items() if isinstance(e, model)}

    def table(self, section: str, model: type[EntryT]) -> EntryT | None:
        """Entry of ``air``, ``budget``, ``limits``, ``stock``, ``target``, ``wishes`` or ``screen``.

        Parameters
        ----------
        section : str
            Name of the section.
        model : type of Entry
            Its type.

        Returns
        -------
        Entry or None
            None when the file does not have it.
        """
        entry = self.tables.get(section)
        return entry if isinstance(entry, model) else None


def read_document(data: Mapping[str, Any]) -> tuple[Document, list[Finding]]:
    """Read what the TOML reader gave.

    Parameters
    ----------
    data : mapping
        The whole file.

    Returns
    -------
    document : Document
        What could be read.
    findings : list of Finding
        Everything wrong with the rest.
    """
    findings = [unknown_key("", key, KEYS) for key in data if key not in KEYS]
    units = _units(data.get("units", "m"), findings)
    unit = units or "m"
    lists = {k: _read_list(k, model, data.get(k), unit, findings) for k, model in LISTS.items()}
    named = {k: _read_named(k, model, data.get(k), unit, findings) for k, model in NAMED.items()}
    tables: dict[str, Entry] = {}
    for key, model in TABLES.items():
        if key in data and (entry := _keep(validate(model, data[key], key, unit), findings)) is not None:
            tables[key] = entry
    document = Document(
        title=_text(data.get("title", ""), "title", findings) or "",
        units=units,
        room=_room(data.get("room"), unit, findings),
        surfaces=_surfaces(data.get("surfaces"), findings),
        panels=_panels(data.get("panels"), findings),
        lists=lists,
        named=named,
        tables=tables,
        own_materials=_ids(data.get("materials")),
        own_builds=_ids(data.get("builds")),
        data_sheets=_text(data["data_sheets"], "data_sheets", findings) if "data_sheets" in data else None,
    )
    return document, findings


def _ids(table: object) -> frozenset[str]:
    return frozenset(table) if isinstance(table, dict) else frozenset()


def _keep(result: tuple[EntryT | None, list[Finding]], findings: list[Finding]) -> EntryT | None:
    entry, found = result
    findings.extend(found)
    return entry


def _text(value: object, path: str, findings: list[Finding]) -> str | None:
    if isinstance(value, str):
        return value
    findings.append(finding("wrong-type", path, f"must be text in quotes, this is {kind_of(value)}"))
    return None


def _units(value: object, findings: list[Finding]) -> str | None:
    text = _text(value, "units", findings)
    if text is None or text in UNITS:
        return text
    hint = nearest(text, UNITS)
    findings.append(finding("unit-unknown", "units", f'"{text[:40]}" is no unit of length', hint))
    return None


def _room(value: object, unit: str, findings: list[Finding]) -> RoomEntry | None:
    if value is None:
        hint = 'write [room] with shape = "box", length, width and height'
        findings.append(finding("missing-key", "room", "the file has no [room]", hint))
        return None
    if not isinstance(value, dict):
        findings.append(finding("wrong-type", "room", f"must be one table [room], this is {kind_of(value)}"))
        return None
    if "shape" not in value:
        hint = f"write shape = one of {', '.join(_SHAPES)}"
        findings.append(finding("missing-key", "room.shape", '"shape" is missing', hint))
        return None
    shape = value["shape"]
    if not isinstance(shape, str) or shape not in _SHAPES:
        message = f"{kind_of(shape)} is no room shape"
        hint = nearest(shape, _SHAPES) if isinstance(shape, str) else "write box, plan or mesh in quotes"
        findings.append(finding("room-shape-unknown", "room.shape", message, hint))
        return None
    if shape == "box":
        return _keep(validate(BoxEntry, value, "room", unit), findings)
    if shape == "mesh":
        return _keep(validate(MeshEntry, value, "room", unit), findings)
    ceiling = value.get("ceiling")
    if ceiling is None:
        return _keep(validate(PlanEntry, value, "room", unit), findings)
    if isinstance(ceiling, list) and any(isinstance(part, dict) for part in ceiling):
        return _keep(validate(PlanSlopesEntry, value, "room", unit), findings)
    return _keep(validate(PlanHeightsEntry, value, "room", unit), findings)


def _surfaces(value: object, findings: list[Finding]) -> dict[str, str]:
    if value is None:
        return {}
    if not isinstance(value, dict):
        message = f"must be one table [surfaces], this is {kind_of(value)}"
        findings.append(finding("wrong-type", "surfaces", message))
        return {}
    read = {name: _text(material, f"surfaces.{name}", findings) for name, material in value.items()}
    return {name: material for name, material in read.items() if material is not None}


def _panels(value: object, findings: list[Finding]) -> dict[int, str] | None:
    if value is None:
        return None
    if not isinstance(value, list):
        message = f"must be a list of ids of builds, this is {kind_of(value)}"
        findings.append(finding("wrong-type", "panels", message))
        return None
    read = {i: _text(entry, f"panels[{i}]", findings) for i, entry in enumerate(value)}
    return {i: text for i, text in read.items() if text is not None}


def _read_list(
    key: str, model: type[Entry], value: object, unit: str, findings: list[Finding]
) -> dict[int, Entry]:
    if value is None:
        return {}
    if not isinstance(value, list):
        hint = f"write [[{key}]], with two brackets, before each one"
        findings.append(finding("wrong-type", key, f"must be a list, this is {kind_of(value)}", hint))
        return {}
    read = {i: _keep(validate(model, e, f"{key}[{i}]", unit), findings) for i, e in enumerate(value)}
    return {i: e for i, e in read.items() if e is not None}


def _read_named(
    key: str, model: type[Entry], value: object, unit: str, findings: list[Finding]
) -> dict[str, Entry]:
    if value is None:
        return {}
    if not isinstance(value, dict):
        hint = f"write [{key}.name-of-your-own]"
        findings.append(finding("wrong-type", key, f"must be a table, this is {kind_of(value)}", hint))
        return {}
    read = {k: _keep(validate(model, e, f"{key}.{k}", unit), findings) for k, e in value.items()}
    return {k: e for k, e in read.items() if e is not None}
