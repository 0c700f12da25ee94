"""Recesses of a scene file: niches, reveals, alcoves and dormers joined to the room's shell."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

import numpy as np

from treatment.errors import Finding, GeometryError
from treatment.geometry.polygon import PLANE_TOLERANCE, Polygon, Rectangle
from treatment.geometry.recesses import Recess, dormer, join_recess, pocket, runs_into
from treatment.measures import small_words
from treatment.scene.codes import finding, nearest
from treatment.scene.fittings import outside_finding
from treatment.scene.model import Mouth
from treatment.scene.obstacles import outside_area
from treatment.scene.outline import SAME_PLACE, Face, Shell
from treatment.scene.schema import RecessEntry
from treatment.units import format_length

#: Narrower, lower or shallower than this is no recess but a matter of the material (m).
LEAST: Final = 0.02
#: Deeper than this is asked about (m), and deeper than that no room has it. Common practice.
LIKELY_DEPTH, MOST_DEPTH = 1.5, 10.0
#: Shallower than this is better left out (m).
HAND: Final = 0.1
#: Wall that is left between a recess and whatever lies behind (m): less is a slip.
WALL: Final = 0.005
#: What a face of a recess may be called after.
SIDES: Final = ("back", "front", "left", "right", "top", "bottom")
_OVERHEAD: Final = -0.05
#: Cosines between which a ceiling slopes, as for the wording of surfaces.
_LEVEL, _UPRIGHT = 0.9994, 0.035


def fit_recesses(shell: Shell, entries: dict[int, RecessEntry], unit: str) -> tuple[Shell, list[Finding]]:
    """Open the shell to its recesses, one after the other: a later one may begin in an earlier one.

    Parameters
    ----------
    shell : Shell
        The room.
    entries : dict of int to RecessEntry
        By index in the file.
    unit : str
        Unit that the person uses, for messages.

    Returns
    -------
    shell : Shell
        With those recesses that fit; names of the others' faces stand in its `missing`.
    findings : list of Finding
        What is wrong or worth knowing.
    """
    findings: list[Finding] = []
    for i, entry in entries.items():
        joined, found = _fit(shell, i, entry, unit)
        findings += found
        if joined is None:
            names = frozenset(f"{entry.name}-{side}" for side in SIDES)
            joined = replace(shell, missing=shell.missing | names)
        shell = joined
    return shell, findings


def _fit(shell: Shell, i: int, entry: RecessEntry, unit: str) -> tuple[Shell | None, list[Finding]]:
    """Shell with one recess more, or None and why not."""
    where = f"recesses[{i}]"
    if entry.surface not in shell.names:
        if entry.surface in shell.missing:
            return None, []
        message = f'"{entry.name}" is in "{entry.surface[:60]}", which the room does not have'
        full = [r.name for r in shell.recesses if r.surface == entry.surface]
        hint = f'all of it is the mouth of "{full[0]}"' if full else nearest(entry.surface, shell.names)
        return None, [finding("unknown-surface", f"{where}.surface", message, hint)]
    if any(r.name.casefold() == entry.name.casefold() for r in shell.recesses):
        return None, []  # told where names are compared
    own = {f"{entry.name}-{side}".casefold() for side in SIDES}
    taken = [n for n in shell.names if n.casefold() in own]
    if taken:
        message = f'a face of "{entry.name}" would be called as the surface "{taken[0]}" is'
        return None, [finding("duplicate-name", f"{where}.name", message, "rename the recess")]
    host = shell.polygons[shell.names.index(entry.surface)]
    wrong = [*_unclear(entry, where, host), *_sizes(entry, where, unit)]
    mouth = _snapped(Rectangle(*entry.at, *entry.size), shell.whole(entry.surface))
    wrong += _misplaced(shell, entry, where, mouth, unit)
    if any(f.severity == "error" for f in wrong):
        return None, wrong
    if entry.kind == "dormer":
        try:
            made = dormer(host, mouth, math.tan(math.radians(entry.roof_pitch)))
        except GeometryError as error:
            return None, [
                *wrong,
                finding("dormer-not-on-slope", where, f'"{entry.name}": {error}', error.hint),
            ]
    else:
        made = pocket(host, mouth, entry.depth or LEAST)
    met = _met(shell, entry, where, host, made, unit)
    if met is not None:
        return None, [*wrong, met]
    return _joined(shell, i, entry, host, made), [*wrong, *_gaps(entry, where, mouth, host, unit)]


def _unclear(entry: RecessEntry, where: str, host: Polygon) -> Iterator[Finding]:
    """Keys that do not go with each other, and a dormer that is none."""
    if entry.kind == "niche":
        if entry.depth is None:
            message, hint = f'"{entry.name}" has no depth', "write how far it reaches out: depth = 0.3"
            yield finding("recess-unclear", where, message, hint)
        if entry.roof_pitch:
            hint = 'write kind = "dormer", or leave roof_pitch out'
            yield finding("recess-unclear", f"{where}.roof_pitch", f'"{entry.name}" is no dormer', hint)
        return
    if entry.depth is not None:
        message = f'the depth of the dormer "{entry.name}" follows from its size and the slope'
        yield finding("recess-unclear", f"{where}.depth", message, "leave depth out")
    climb = float(host.normal[2])
    if not (climb < _OVERHEAD and _UPRIGHT < -climb < _LEVEL):
        shown = "upright" if abs(climb) < _UPRIGHT else "level" if abs(climb) >= _LEVEL else "no ceiling"
        message = f'"{entry.name}" is a dormer in "{entry.surface}", which is {shown}, no slope'
        hint = 'name the slope that it breaks through; a niche has kind = "niche" and a depth'
        yield finding("dormer-not-on-slope", f"{where}.surface", message, hint)
    elif entry.roof_pitch >= (slope := math.degrees(math.acos(-climb))) - 0.5:
        message = (
            f'the roof of "{entry.name}" falls at {entry.roof_pitch:g} degrees, the slope at {slope:.0f}'
        )
        hint = "roof_pitch counts from the level; leave it out for a flat roof"
        yield finding("dormer-not-on-slope", f"{where}.roof_pitch", message, hint)


def _sizes(entry: RecessEntry, where: str, unit: str) -> Iterator[Finding]:
    """Sizes that look like a slip of units."""
    sizes = {"width": entry.size[0], "height": entry.size[1], "depth": entry.depth}
    for key, size in sizes.items():
        place = f"{where}.depth" if key == "depth" else f"{where}.size"
        if size is None:
            continue
        shown = f'the {key} of "{entry.name}" is {format_length(size, unit)}'
        if size < LEAST:
            few = f"{small_words(size, unit, 1)}; less than {small_words(LEAST, unit)} is no recess"
            message = f'the {key} of "{entry.name}" is {few}'
            hint = f"is the unit right? plain numbers are in {unit}; leave out what is so flat"
            yield finding("recess-too-small", place, message, hint)
        elif key == "depth" and size > MOST_DEPTH:
            message = f"{shown}; {format_length(MOST_DEPTH, unit)} is the most"
            hint = f'is the unit right? plain numbers are in {unit}: write "300 mm" or "12 in"'
            yield finding("recess-too-deep", place, message, hint)
        elif key == "depth" and size > LIKELY_DEPTH:
            message = f"{shown}, beyond {format_length(LIKELY_DEPTH, unit)}: unusual for a recess"
            hint = f"is the unit right? plain numbers are in {unit}; if it is right, go on"
            yield finding("recess-deep", place, message, hint)
        elif key == "depth" and size < HAND:
            message = f"{shown}, shallower than a hand: its edges are told to do more than they do"
            hint = "leave it out, and give its window or door as an opening in the wall itself"
            yield finding("recess-shallow", place, message, hint)


def _snapped(mouth: Rectangle, whole: Polygon) -> Rectangle:
    """The mouth with those of its sides on the surface's outer edges that lie a hair beside them."""
    ends = [
        float(b) if abs(a - b) < SAME_PLACE else a for a, b in zip(mouth.bounds, whole.bounds, strict=True)
    ]
    return Rectangle(ends[0], ends[1], ends[2] - ends[0], ends[3] - ends[1])


def _misplaced(
    shell: Shell, entry: RecessEntry, where: str, mouth: Rectangle, unit: str
) -> Iterator[Finding]:
    """A mouth off its surface, or over another one."""
    whole = shell.whole(entry.surface)
    if outside_area(mouth.shape(), whole.region):
        yield outside_finding("recess-outside-surface", where, entry, mouth, whole, unit)
        return
    for other in shell.recesses:
        if other.surface == entry.surface and mouth.overlaps(other.rectangle, slack=PLANE_TOLERANCE):
            message = f'the mouths of "{entry.name}" and "{other.name}" overlap on "{entry.surface}"'
            hint = f"move one, or let this one begin in a face of the other: {_faces_of(shell, other)}"
            yield finding("recesses-overlap", where, message, hint)
            return


def _faces_of(shell: Shell, mouth: Mouth) -> str:
    """Names of a recess's faces, in quotes."""
    named = [n for n, f in shell.faces.items() if shell.recesses[f.recess] is mouth]
    return ", ".join(f'"{n}"' for n in named)


def _met(
    shell: Shell, entry: RecessEntry, where: str, host: Polygon, made: Recess, unit: str
) -> Finding | None:
    """What a recess runs into behind its surface, if anything."""
    body = made.body(host, WALL)
    least = f"{small_words(WALL, unit)} of wall"
    hit = runs_into(body, shell.polygons, shell.enclosure.triangles)
    names = [shell.names[k] for k in hit]
    others = {shell.recesses[shell.faces[n].recess].name for n in names if n in shell.faces}
    if others:
        message = f'"{entry.name}" runs into "{sorted(others)[0]}", or leaves less than {least} between'
        hint = "make one of them narrower or less deep, or let one begin in a face of the other"
        return finding("recesses-meet", where, message, hint)
    if names or bool(shell.enclosure.contains(body.mean(axis=0)[None])[0]):
        through = f'runs into "{names[0]}"' if names else "lies in the room"
        message = f'"{entry.name}" {through} from outside: it leads back into the room'
        hint = "a recess reaches out of the room, away from it; is its surface or its depth right?"
        return finding("recess-into-room", where, message, hint)
    return None


def _gaps(entry: RecessEntry, where: str, mouth: Rectangle, host: Polygon, unit: str) -> Iterator[Finding]:
    """Strips of wall beside a mouth that are too narrow to be meant."""
    for k, (a, b) in enumerate(zip(mouth.bounds, host.bounds, strict=True)):
        if SAME_PLACE < abs(a - b) < LEAST:
            edge = ("low u", "low v", "high u", "high v")[k]
            strip = small_words(abs(a - b), unit)
            message = f'"{entry.name}" leaves {strip} of "{entry.surface}" at its {edge}'
            hint = f"if it reaches the edge, let it end there exactly, at {format_length(float(b), unit)}"
            yield finding("recess-gap", where, message, hint)


def _joined(shell: Shell, i: int, entry: RecessEntry, host: Polygon, made: Recess) -> Shell:
    """The shell with a recess that fits."""
    at = shell.names.index(entry.surface)
    joined = join_recess(shell.polygons, at, made)
    names = [*shell.names, *(f"{entry.name}-{side}" for side in made.sides)]
    groups = (*shell.groups, *("" for _ in made.sides)) if shell.groups else ()
    kept = [k for k, p in enumerate(joined.polygons) if p is not None]
    depth = -float(np.min(host.height_above(made.corners)))
    mouth = Mouth(entry.name, entry.kind, entry.surface, made.mouth, depth)
    faces = dict(shell.faces)
    for name, of in zip(names[len(shell.names) :], joined.continued, strict=True):
        like = entry.surface if of is None else shell.names[of]
        faces[name] = Face(len(shell.recesses), i, like, continues=of is not None)
    return replace(
        shell,
        polygons=tuple(p for p in joined.polygons if p is not None),
        names=tuple(names[k] for k in kept),
        groups=tuple(groups[k] for k in kept) if groups else (),
        recesses=(*shell.recesses, mouth),
        faces=faces,
        closed={**shell.closed, entry.surface: shell.whole(entry.surface)},
    )
