"""A scene file to begin with: asks little, proposes positions, explains itself in comments.

Loudspeakers go where ITU-R BS.2051 has them as seen from the middle of the first row, as far away as the
room lets them be; the first row sits at 38 % of the length from the back wall (common practice).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import numpy as np

from treatment.bands import Array
from treatment.errors import GeometryError, PlanError
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.roof import roofed
from treatment.planning.propose import propose_seats, propose_speakers
from treatment.planning.starter_options import (
    DECIMALS,
    LAYOUTS,
    SHAPES,
    StarterOptions,
    ceiling_planes,
    check_options,
    floor_plan,
    rounded,
)
from treatment.units import UNITS, format_imperial

#: Places of the first row as parts of the length, tried in turn: 38 % from the back wall first (common
#: practice), and never the middle, where the first mode has its null.
FIRST_ROW: Final = (0.62, 0.58, 0.55, 0.45, 0.38)
#: How far heads move each way (m), in metric rooms and in those in feet. Common practice.
_SPREAD: Final = (0.15, 6.0 * UNITS["in"])

__all__ = ["LAYOUTS", "SHAPES", "StarterOptions", "starter_scene"]


def starter_scene(options: StarterOptions) -> str:
    """Write a scene file to begin with.

    Parameters
    ----------
    options : StarterOptions
        The answers.

    Returns
    -------
    str
        TOML with comments; it loads without errors.

    Raises
    ------
    PlanError
        When an answer makes no room, or the seats or loudspeakers do not fit into it; ``where`` names
        the option.
    """
    check_options(options)
    corners, planes = floor_plan(options), ceiling_planes(options)
    try:
        walls, floor, ceilings = roofed(corners, planes)
        room = Enclosure(tuple(p for p in (*walls, floor, *ceilings) if p is not None))
    except GeometryError as error:
        raise PlanError(
            f"these sizes make no room: {error}", where="length", hint="look at them again"
        ) from None
    seats, speakers = _proposal(options, room)
    sub = rounded(np.array([0.35, 0.3 * options.width, 0.25]), options.units)
    parts = [_head(options), _room(options), _surfaces(options), _places(options), _audio(speakers, options)]
    if options.layout.split(".")[1] != "0":
        parts.append(_subwoofer(sub, options))
    parts += [_seating(seats, options), _end(options)]
    return "\n".join(parts)


def _proposal(
    options: StarterOptions, room: Enclosure
) -> tuple[list[tuple[str, Array]], list[tuple[str, str, Array]]]:
    """Seats and loudspeakers; the first row moves forward where a loudspeaker would not fit."""
    refusal: PlanError | None = None
    for share in FIRST_ROW:
        try:
            seats = propose_seats(options, room, share)
            return seats, propose_speakers(options, room, np.array([s for _, s in seats]))
        except PlanError as error:
            refusal = refusal or error
    raise refusal or PlanError("there is no room for a seat", where="seats")


def _number(metres: float, unit: str) -> str:
    if unit in {"ft", "in"}:
        return _text(format_imperial(metres))
    decimals = DECIMALS[unit]
    value = round(metres / UNITS[unit], decimals)
    return f"{value:.{max(decimals, 1)}f}" if decimals > 0 else f"{value:.0f}.0"


def _listed(values: Sequence[float] | Array, unit: str) -> str:
    return "[" + ", ".join(_number(float(v), unit) for v in values) + "]"


def _text(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _head(o: StarterOptions) -> str:
    return f"""\
# A room to begin with. Put your own tape-measure readings in it, then let the program look at it:
#
#     treatment check THIS_FILE      says what is wrong
#     treatment predict THIS_FILE    tells the room as it is
#     treatment plan THIS_FILE --out DIR
#
# Every place is three readings, taken as you sit in the middle seat and face the screen:
#   x = from the front wall (the wall with the screen), y = from the left wall, z = from the floor.
# A text may use any unit, wherever a length stands: "2.35 m", "235 cm", "7 ft 8 1/2 in".

title = {_text(o.title)}
units = "{o.units}"                    # unit of the plain numbers below
"""


def _room(o: StarterOptions) -> str:
    length, width, height = (_number(s, o.units) for s in (o.length, o.width, o.height))
    if o.shape == "box":
        return f"""\
[room]
shape = "box"
length = {length}                 # along x: front wall to back wall
width = {width}                  # along y: left wall to right wall
height = {height}                 # measure it at two ends
"""
    corners = ",\n".join(f"    {_listed(c, o.units)}" for c in floor_plan(o))
    if o.shape == "plan":
        return f"""\
[room]
shape = "plan"
# Corners of the floor as [x, y], in the order in which you walk round the room: from the front-left corner
# along the left wall to the back, and on. Measure both diagonals too: if they do not fit, a corner is off.
corners = [
{corners},
]
# The first name is for the wall from the first corner to the second, and so on.
names = ["left", "back", "inner-right", "inner-back", "right", "front"]
height = {height}
"""
    knee = _number(o.knee, o.units)
    return f"""\
[room]
shape = "plan"
# Front left, back left, back right, front right.
corners = [
{corners},
]
names = ["left", "back", "right", "front"]
height = {height}                 # of the level part

# The ceiling is, everywhere, the lowest of its parts: the level one and these slopes.
[[room.ceiling]]
name = "slope-left"
wall = "left"                   # where it begins ...
knee = {knee}                   # ... and how high it is there
pitch = {o.pitch:.1f}                    # degrees from the horizontal; instead a point: through = [x, y, z]

[[room.ceiling]]
name = "slope-right"
wall = "right"
knee = {knee}
pitch = {o.pitch:.1f}
"""


def _surfaces(o: StarterOptions) -> str:
    names = {
        "box": "front, back, left, right, floor, ceiling",
        "plan": "the walls by their names, floor, ceiling",
        "attic": "left, back, right, front, floor, ceiling, slope-left, slope-right",
    }[o.shape]
    return f"""\
# What each surface is made of: {names}.
# `default` is for all that you do not name. What you call it, such as drywall, parquet or brick, is answered
# with the names that fit; `treatment materials` lists them all, `treatment materials brick` those for a word.
[surfaces]
default = "gypsum-board-on-studs"
floor = "carpet-heavy-on-concrete"
"""


_PLACES: Final = """\
# Doors, windows and passages: take the # signs away and put your readings in. `at` is the lower corner on the
# wall: along the wall, then above the floor; `size` is width and height.
#
# [[openings]]
# name = "door"
# surface = "back"
# at = ["0.30 m", "0 m"]
# size = ["0.82 m", "2.03 m"]
# material = "door-solid-wood"         # a way into another space: "open-passage"
#
# Where nothing may hang: switches, lamps, vents, detectors, the sweep of a door, an electrical cupboard.
#
# [[keep_outs]]
# name = "door swing"
# surface = "back"
# at = ["0 m", "0 m"]
# size = ["1.20 m", "2.10 m"]
# depth = "0.90 m"                     # how far into the room
# reason = "door-swing"                # electrical, luminaire, vent, detector, door-swing, other
#
# Posts, soffits, counters, risers: solid boxes in the room.
#
# [[obstacles]]
# name = "post"
# at = ["2.00 m", "0.60 m", "0 m"]     # its corner nearest to the front, the left and the floor
# size = ["0.10 m", "0.10 m", "1.00 m"]
# material = "steel"
#
# The picture: on which wall, its lower corner and size, how far before the wall. Nothing is hung before it.
#
# [screen]
# surface = "front"
# at = ["0.90 m", "1.20 m"]
# size = ["1.80 m", "1.01 m"]
# distance = "0 m"
# sound_passes = false                 # true of a woven or perforated screen
#
# If you like what the side walls add, let their first reflections be:
#
# [wishes]
# keep_side_reflections = true
"""


def _places(o: StarterOptions) -> str:
    """Examples with lengths as the person's own tape shows them."""
    if o.units not in {"ft", "in"}:
        return _PLACES
    return re.sub(r'"([0-9.]+) m"', lambda m: _text(format_imperial(float(m[1]), 4)), _PLACES)


def _audio(speakers: Sequence[tuple[str, str, Array]], o: StarterOptions) -> str:
    system = LAYOUTS[o.layout]
    text = (
        f"# Proposed places for {o.layout} (system {system} of ITU-R BS.2051), seen from the middle of\n"
        "# the first row: put in where yours stand. `channel` is the published label; with it the angles\n"
        "# are checked.\n"
    )
    for name, channel, position in speakers:
        text += f'[[loudspeakers]]\nname = "{name}"\nposition = {_listed(position, o.units)}\n'
        text += f'channel = "{channel}"\n\n'
    return text.rstrip("\n") + "\n"


def _subwoofer(position: Array, o: StarterOptions) -> str:
    return f"""\
[[subwoofers]]
name = "S1"
position = {_listed(position, o.units)}
"""


def _seating(seats: Sequence[tuple[str, Array]], o: StarterOptions) -> str:
    text = "# Where the ears are, and how far the head may be from there.\n"
    spread = _number(_SPREAD[o.units in ("ft", "in")], o.units)
    for name, position in seats:
        text += f'[[seats]]\nname = "{name}"\nposition = {_listed(position, o.units)}\nspread = {spread}\n\n'
    return text.rstrip("\n") + "\n"


def _end(o: StarterOptions) -> str:
    lines = ["# What may be spent on panels."]
    if o.budget is None:
        lines += ["# [budget]", "# amount = 450", '# currency = "EUR"']
    else:
        lines += ["[budget]", f"amount = {o.budget:g}", f"currency = {_text(o.currency)}"]
    lines += ["", "[target]", 'use = "listening-room"            # or living-room']
    return "\n".join(lines) + "\n"
