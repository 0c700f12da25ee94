"""``[[objects]]`` and occupied seats -> objects with absorption areas."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from treatment.bands import COUNT, Array, frozen
from treatment.errors import Finding
from treatment.materials.library import Library
from treatment.materials.material import frozen_flags
from treatment.materials.uncertainty import reproducibility
from treatment.measures import volume_words
from treatment.scene.codes import finding, nearest
from treatment.scene.furniture import PERSON, PERSON_VOLUME, RoomObject
from treatment.scene.model import Surface
from treatment.scene.schema import ObjectEntry, SeatEntry

#: Objects may displace no more of the room than this: with more the air is no room any longer.
LARGEST_SHARE = 0.5
#: Expanded relative uncertainty of the area of a hard object by its volume. Judgement: a rule of thumb.
_RULE_OF_THUMB = 0.5


def furnish(
    entries: Mapping[int, ObjectEntry],
    seats: Mapping[int, SeatEntry],
    library: Library,
    surfaces: tuple[Surface, ...],
    volume: float,
    findings: list[Finding],
    units: str = "m",
) -> tuple[RoomObject, ...]:
    """Make the objects of a room.

    Parameters
    ----------
    entries : mapping of int to ObjectEntry
        By index in the file.
    seats : mapping of int to SeatEntry
        On the occupied ones sits a person.
    library : Library
        Shipped and own materials.
    surfaces : tuple of Surface
        Of the room: furniture covers its floor.
    volume : float
        Of the room, m3.
    findings : list of Finding
        Gets what is wrong.
    units : str
        Of the scene, for messages.

    Returns
    -------
    tuple of RoomObject
        In the order of the file, people in the seats last.
    """
    made = []
    for i, entry in entries.items():
        one = _object(entry, f"objects[{i}]", library, surfaces, findings)
        if one is not None:
            made.append(one)
    people = sum(s.occupied for s in seats.values())
    if people:
        row = library.objects[PERSON]
        made.append(
            RoomObject(
                "people in the seats",
                people,
                row.absorption,
                row.uncertainty,
                PERSON_VOLUME,
                PERSON,
                row.assumed,
            )
        )
    taken = sum(o.count * o.volume for o in made)
    if taken > LARGEST_SHARE * volume:
        told, room = (volume_words(v, units) for v in (taken, volume))
        message = f"the objects displace {told} of the room's {room}"
        hint = "volume_m3 is that of one object, in m3; a large solid is an obstacle"
        findings.append(finding("objects-fill-room", "objects", message, hint))
        return ()
    return tuple(made)


def _object(
    entry: ObjectEntry, where: str, library: Library, surfaces: tuple[Surface, ...], findings: list[Finding]
) -> RoomObject | None:
    given = [entry.material is not None, entry.absorption_area_m2 is not None]
    if all(given) or (not any(given) and not entry.volume_m3) or (entry.size and entry.material is None):
        message = f'it is not clear what "{entry.name}" absorbs'
        hint = (
            "give a material (for a seating area with the size of the floor it takes), or "
            "absorption_area_m2 with eight values for one of them, or for a hard object volume_m3 alone"
        )
        findings.append(finding("object-unclear", where, message, hint))
        return None
    guessed = frozen_flags([False] * COUNT)
    if entry.material is not None:
        return _of_row(entry, f"{where}.material", library, surfaces, findings)
    if entry.absorption_area_m2 is not None:
        area = np.asarray(entry.absorption_area_m2, dtype=np.float64)
        spread, source = reproducibility(area), "scene file"
    else:
        # EN 12354-6:2003, formula (4), from memory: a hard, irregular object absorbs V^(2/3).
        area = np.full(COUNT, entry.volume_m3 ** (2.0 / 3.0))
        spread, source = _RULE_OF_THUMB * area, "hard object, by its volume"
    return RoomObject(entry.name, entry.count, frozen(area), frozen(spread), entry.volume_m3, source, guessed)


def _of_row(
    entry: ObjectEntry, where: str, library: Library, surfaces: tuple[Surface, ...], findings: list[Finding]
) -> RoomObject | None:
    """Area of one piece by a row of the library: as it stands, or coefficients times the floor it takes."""
    name = entry.material or ""
    row = library.objects.get(name)
    if row is not None:
        if entry.size is not None:
            message = f'"{name}" is the absorption area of one object: it has no size'
            findings.append(
                finding("object-unclear", where, message, "leave size out, or name a seating area")
            )
            return None
        return RoomObject(
            entry.name, entry.count, row.absorption, row.uncertainty, entry.volume_m3, name, row.assumed
        )
    coefficients = library.materials.get(name)
    if coefficients is None:
        known = [*library.objects, *(k for k, m in library.materials.items() if m.category == "furnishing")]
        message, hint = f"there is no object or material '{name[:60]}'", nearest(name, known)
        findings.append(finding("unknown-material", where, message, hint))
        return None
    if entry.size is None:
        message = f'"{name}" is absorption by area: how much floor does one "{entry.name}" take?'
        findings.append(finding("object-unclear", where, message, "add size = [width, depth]"))
        return None
    floor = float(entry.size[0] * entry.size[1])
    net = np.maximum(coefficients.absorption - _floor_absorption(surfaces), 0.0)
    return RoomObject(
        entry.name,
        entry.count,
        frozen(floor * net),
        frozen(floor * coefficients.uncertainty),
        entry.volume_m3,
        name,
        coefficients.assumed,
    )


def _floor_absorption(surfaces: tuple[Surface, ...]) -> Array:
    """Mean coefficient of the room's floor, which furniture covers, shape (8,)."""
    floors = [s for s in surfaces if s.ground]
    if not floors:
        return np.zeros(COUNT)
    areas = np.array([s.polygon.area for s in floors])
    return np.asarray(areas @ np.array([s.material.absorption for s in floors]) / areas.sum())
