"""Scene to findings: where things stand, and what is worth knowing before anything is computed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import NOMINAL_HZ, Array, band_label
from treatment.errors import Finding
from treatment.geometry.enclosure import Enclosure
from treatment.materials.material import Material
from treatment.measures import area_words, volume_words
from treatment.scene.codes import CODES, finding
from treatment.scene.model import Loudspeaker, Scene, Seat, Subwoofer
from treatment.scene.screen import check_screen
from treatment.scene.sources import disagreeing
from treatment.units import UNITS, format_length

__all__ = ["CODES", "TARGET_USES", "check_scene"]

#: Uses of a room for which a range of reverberation is published.
TARGET_USES: Final = ("listening-room", "living-room")
#: Labels of ITU-R BS.2051: layer, sign and azimuth; screen loudspeakers; the LFE channel.
CHANNEL: Final = re.compile(r"[MUBT][+-](?:0\d\d|1[0-7]\d|180|SC)|LFE[12]?")
#: Nearer to a surface than this is a note (m): a tape error moves it into the wall.
NEAR_SURFACE: Final = 0.05
#: Common practice: no head this near to the wall behind it (m), nor this near to half the length.
NEAR_BACK_WALL, NEAR_HALF_LENGTH = 0.3, 0.03
#: Sides of a box within this ratio of each other make it nearly a cube. Common practice.
NEAR_CUBE: Final = 1.35
#: Volumes between which the models and published ranges for small rooms are used (m3).
SMALL_ROOM, LARGE_ROOM = 8.0, 500.0
#: Working space in front of electrical equipment: 36 in in the USA (NEC 110.26); local rules rule.
ELECTRICAL_DEPTH: Final = 0.914
SAME_PLACE, IN_THE_HEAD = 0.05, 0.1
#: Heads side by side are further apart than this (m): the width of shoulders. Common practice.
SHOULDERS: Final = 0.45

Standing = Loudspeaker | Subwoofer | Seat
Numbering = Mapping[str, Sequence[int]]


def check_scene(scene: Scene, numbering: Numbering | None = None) -> list[Finding]:
    """Check a scene.

    Parameters
    ----------
    scene : Scene
        The room and what stands in it.
    numbering : mapping of str to sequence of int, optional
        Index in the file of each loudspeaker, subwoofer, seat and keep-out, where it differs from
        the index in the scene.

    Returns
    -------
    list of Finding
        Everything found, in no order.
    """
    kinds: dict[str, tuple[Standing, ...]] = {
        "loudspeakers": scene.loudspeakers,
        "subwoofers": scene.subwoofers,
        "seats": scene.seats,
    }
    places = {
        kind: [f"{kind}[{i}]" for i in (numbering or {}).get(kind, range(len(things)))]
        for kind, things in kinds.items()
    }
    findings = [*_room(scene), *_materials(scene), *_keep_outs(scene, numbering or {})]
    findings += [*_coupled(scene), *check_screen(scene)]
    everything = [(k, w, t) for k, things in kinds.items() for w, t in zip(places[k], things, strict=True)]
    for (kind, where, thing), inside in zip(everything, _in_air(scene, everything), strict=True):
        findings += _standing(scene, kind.removesuffix("s"), where, thing, inside)
        if isinstance(thing, Seat) and inside[0]:
            findings += _seat(scene, where, thing)
    findings += _channels(scene, places["loudspeakers"])
    findings += _coincidences(scene, places)
    if not scene.seats:
        message, hint = "no seat is given", "add [[seats]] with a name and a position: the ears"
        findings.append(finding("no-seats", "seats", message, hint))
    if not scene.loudspeakers:
        message, hint = "no loudspeaker is given", "add [[loudspeakers]] with a name and a position"
        findings.append(finding("no-loudspeakers", "loudspeakers", message, hint))
    findings += _weights(scene)
    return findings


def _weights(scene: Scene) -> Iterator[Finding]:
    for section, things in (("seats", scene.seats), ("loudspeakers", scene.loudspeakers)):
        if things and all(t.weight == 0.0 for t in things):
            message = f"all {section} have the weight 0: a plan would look at reverberation only"
            hint = "give at least one of them a weight above 0; 1 is usual"
            yield finding("weights-all-zero", section, message, hint)


def _room(scene: Scene) -> Iterator[Finding]:
    volume = scene.enclosure.volume
    told, small, large = (volume_words(v, scene.units) for v in (volume, SMALL_ROOM, LARGE_ROOM))
    if volume < SMALL_ROOM:
        message = f"the room holds {told}, less than {small}"
        yield finding("room-small", "room", message, "take reverberation times as a hint only")
    if volume > LARGE_ROOM:
        message = f"the room holds {told}, more than {large}"
        yield finding("room-large", "room", message, "the published ranges for small rooms end before")
    low, high = scene.hall
    sides = np.sort(high - low)
    if scene.shape == "box" and sides[2] < NEAR_CUBE * sides[0]:
        shown = ", ".join(format_length(float(s), scene.units) for s in sides)
        message = f"the sides {shown} are nearly equal: modes of all three directions fall together"
        yield finding("near-cube", "room", message, "expect uneven bass; plan thick absorbers first")


def _materials(scene: Scene) -> Iterator[Finding]:
    used: dict[str, Material] = {}
    for material in [s.material for s in scene.surfaces] + [o.material for o in scene.openings]:
        used.setdefault(material.id, material)
    assumed = [
        f"{m.id} ({', '.join(band_label(f) for f, a in zip(NOMINAL_HZ, m.assumed, strict=True) if a)})"
        for m in used.values()
        if m.assumed.any()
    ]
    if assumed:
        message = f"no published value, the neighbour band's is used: {'; '.join(assumed)}"
        yield finding("bands-assumed", "surfaces", message, "read results in these bands as a guess")
    yield from disagreeing(used.values())
    above = [f"{m.id} ({m.absorption.max():.2f})" for m in used.values() if m.absorption.max() > 1.0]
    if above:
        message = f"coefficients above 1, as laboratories measure them: {', '.join(above)}"
        hint = "formulas that need less than 1 use 0.99 there; the data stay as published"
        yield finding("coefficient-above-one", "surfaces", message, hint)


def _keep_outs(scene: Scene, numbering: Numbering) -> Iterator[Finding]:
    numbers = numbering.get("keep_outs", range(len(scene.keep_outs)))
    for i, keep_out in zip(numbers, scene.keep_outs, strict=True):
        if keep_out.reason == "electrical" and keep_out.depth < ELECTRICAL_DEPTH - 1e-6:
            usual = format_length(ELECTRICAL_DEPTH, scene.units)
            message = (
                f'"{keep_out.name}" keeps {format_length(keep_out.depth, scene.units)} free; '
                f"{usual} is usual as working space"
            )
            hint = f"set depth to what your local rules ask for (USA, NEC 110.26: {usual})"
            yield finding("electrical-depth-small", f"keep_outs[{i}].depth", message, hint)


def _coupled(scene: Scene) -> Iterator[Finding]:
    """Passages: EN 12354-6 counts them with absorption 1, which holds while little comes back."""
    passages = [(o.name, o.rectangle.area) for o in scene.openings if o.material.category == "opening"]
    passages += [(s.name, s.polygon.area) for s in scene.surfaces if s.material.category == "opening"]
    if not passages:
        return
    area = sum(a for _, a in passages)
    names = ", ".join(f'"{name}"' for name, _ in passages)
    message = (
        f"{names}: {area_words(area, scene.units)}, {area / scene.enclosure.area:.0%} of the boundary, lead "
        "to another space, whose volume is not counted; what goes there is taken as absorbed"
    )
    hint = (
        "if the other space is as live as this room, sound comes back late and the real decay is longer: "
        "read the times as a lower limit, or draw both spaces as one room"
    )
    yield finding("coupled-space", "openings", message, hint)


def _inside(enclosure: Enclosure, points: Array) -> NDArray[np.bool_]:
    """Tell which points are in the air; wild numbers are settled by the bounds alone."""
    low, high = enclosure.bounds
    inside: NDArray[np.bool_] = np.all((points >= low) & (points <= high), axis=1)
    if inside.any():
        inside[inside] = enclosure.contains(points[inside])
    return inside


def _in_air(scene: Scene, things: Sequence[tuple[str, str, Standing]]) -> NDArray[np.bool_]:
    """Tell for each thing whether it, and the corners of its head's area, are in the air, shape (n, 5)."""
    square = np.array([[0, 0, 0], [-1, -1, 0], [-1, 1, 0], [1, -1, 0], [1, 1, 0]])
    points = [t.position + (t.spread if isinstance(t, Seat) else 0.0) * square for _, _, t in things]
    return _inside(scene.enclosure, np.reshape(points, (-1, 3))).reshape(-1, 5)


def _standing(
    scene: Scene, kind: str, where: str, thing: Standing, inside: NDArray[np.bool_]
) -> Iterator[Finding]:
    position, unit = thing.position, scene.units
    shown = _place(position, unit)
    if not inside[0]:
        obstacle = _obstacle_around(scene, position)
        if obstacle:
            message = f'{kind} "{thing.name}" at {shown} is inside the obstacle "{obstacle}"'
            hint = "move one of the two"
            yield finding(f"{kind}-inside-obstacle", f"{where}.position", message, hint)
        else:
            message = f'{kind} "{thing.name}" at {shown} is not in the room; {_limits(scene, position)}'
            hint = _intended(position, lambda p: bool(_inside(scene.enclosure, p[None])[0]), unit)
            yield finding(f"{kind}-outside-room", f"{where}.position", message, hint)
        return
    distances = scene.enclosure.distance_to_surfaces(position)
    nearest = int(np.argmin(distances))
    if distances[nearest] < NEAR_SURFACE:
        message = (
            f'{kind} "{thing.name}" is {format_length(float(distances[nearest]), unit)} from '
            f'"{scene.surfaces[nearest].name}"'
        )
        hint = "right for a loudspeaker in the wall; else give its acoustic centre, not its back"
        if kind == "seat":
            hint = "position is where the ears are, not the chair"
        yield finding("near-surface", f"{where}.position", message, hint)
    if isinstance(thing, Seat) and not inside.all():
        message = (
            f'the head of seat "{thing.name}" may be {format_length(thing.spread, unit)} off its place, '
            f'which reaches out of the room; "{scene.surfaces[nearest].name}" is '
            f"{format_length(float(distances[nearest]), unit)} away"
        )
        hint = "make spread smaller, or move the seat"
        yield finding("seat-spread-outside-room", f"{where}.spread", message, hint)


def _place(position: Array, unit: str) -> str:
    return ", ".join(
        f"{axis} {format_length(float(p), unit)}" for axis, p in zip("xyz", position, strict=True)
    )


def _limits(scene: Scene, position: Array) -> str:
    low, high = scene.enclosure.bounds
    said = [
        f"{axis} runs from {format_length(float(a), scene.units)} to {format_length(float(b), scene.units)}"
        for axis, p, a, b in zip("xyz", position, low, high, strict=True)
        if not a < p < b
    ]
    if said:
        return "; ".join(said)
    z = float(position[2])
    overhead = scene.enclosure.contains(np.array([[*position[:2], float(low[2]) + 0.01]]))[0]
    if overhead and z > 0.01:
        return "the sloping ceiling is lower there"
    return "its floor plan leaves that corner out" if scene.shape == "plan" else "it lies beyond a wall"


def _obstacle_around(scene: Scene, position: Array) -> str:
    """Name of the obstacle that holds a point; a face that a wall hides leaves its side open."""
    low, high = scene.enclosure.bounds
    if np.any(position < low) or np.any(position > high):
        return ""
    for name in dict.fromkeys(s.obstacle for s in scene.surfaces if s.obstacle):
        faces = [s.polygon for s in scene.surfaces if s.obstacle == name]
        if all(float(face.height_above(position)) <= 0.0 for face in faces):
            return name
    return ""


def _intended(position: Array, inside: Callable[[Array], bool], unit: str) -> str:
    """Propose what was most likely meant."""
    x, y, z = (float(p) for p in position)
    trials = [
        ("x and y exchanged", np.array([y, x, z])),
        ("a sign too much", np.abs(position)),
        *((f"typed in {u}", position * (UNITS[u] / UNITS[unit])) for u in ("m", "ft", "cm", "in", "mm")),
        ("y and z exchanged", np.array([x, z, y])),
    ]
    for slip, trial in trials:
        if inside(trial):
            return f"{slip}? then it is at {_place(trial, unit)}"
    return "x counts from the front wall, y from the left wall, z from the floor"


def _seat(scene: Scene, where: str, seat: Seat) -> Iterator[Finding]:
    low, high = scene.hall
    length = float(high[0] - low[0])
    x = float(seat.position[0] - low[0])
    if scene.shape == "box" and abs(x / length - 0.5) < NEAR_HALF_LENGTH:
        message = (
            f'seat "{seat.name}" is {format_length(x, scene.units)} from the front wall, half of '
            f"{format_length(length, scene.units)}: the null of the first mode (common practice)"
        )
        hint = f"{format_length(0.38 * length, scene.units)} from the front or from the back wall is kinder"
        yield finding("seat-at-half-length", f"{where}.position", message, hint)
    facing_front = [s.polygon.normal[0] < -0.7 and not s.obstacle for s in scene.surfaces]
    behind = float(scene.enclosure.distance_to_surfaces(seat.position)[facing_front].min(initial=np.inf))
    if behind < NEAR_BACK_WALL:
        message = (
            f'seat "{seat.name}" is {format_length(behind, scene.units)} from the wall behind it; below '
            f"{format_length(NEAR_BACK_WALL, scene.units)} the bass swells (common practice)"
        )
        yield finding("seat-at-back-wall", f"{where}.position", message, "move it forward if you can")


def _channels(scene: Scene, places: Sequence[str]) -> Iterator[Finding]:
    for where, speaker in zip(places, scene.loudspeakers, strict=True):
        if speaker.channel and not CHANNEL.fullmatch(speaker.channel):
            message = f'"{speaker.channel[:40]}" is no label of ITU-R BS.2051: its angles are not checked'
            hint = "labels are M+030, M-030, M+000, M+110, U+045, ...: layer, then azimuth, + to the left"
            yield finding("channel-unknown", f"{where}.channel", message, hint)


def _coincidences(scene: Scene, places: Mapping[str, Sequence[str]]) -> Iterator[Finding]:
    sources: list[tuple[str, Standing]] = [
        *zip(places["loudspeakers"], scene.loudspeakers, strict=True),
        *zip(places["subwoofers"], scene.subwoofers, strict=True),
    ]
    seats: list[tuple[str, Standing]] = [*zip(places["seats"], scene.seats, strict=True)]
    for group in (sources, seats):
        for (_, a), (where, b) in combinations(group, 2):
            if _distance(a, b) < SAME_PLACE:
                message = f'"{b.name}" is at the place of "{a.name}"'
                yield finding(
                    "positions-coincide", f"{where}.position", message, "was one copied from the other?"
                )
            elif isinstance(b, Seat) and _distance(a, b) < SHOULDERS:
                apart, least = (format_length(x, scene.units) for x in (_distance(a, b), SHOULDERS))
                message = (
                    f'the heads of "{a.name}" and "{b.name}" are {apart} apart; shoulders take {least} '
                    "(common practice)"
                )
                hint = "is a reading wrong? where one head moves sideways, give one seat a larger spread"
                yield finding("seats-too-close", f"{where}.position", message, hint)
    for where, source in sources:
        for _, seat in seats:
            if _distance(source, seat) < IN_THE_HEAD:
                message = f'"{source.name}" stands where the head of seat "{seat.name}" is'
                hint = (
                    f"they are {format_length(_distance(source, seat), scene.units)} apart; move one of them"
                )
                yield finding("loudspeaker-at-seat", f"{where}.position", message, hint)


def _distance(a: Standing, b: Standing) -> float:
    """Distance in m; infinite where numbers are too wild to square."""
    apart = np.abs(a.position - b.position)
    return float(np.linalg.norm(apart)) if apart.max() < 1e6 else float("inf")
