"""Places for seats and loudspeakers in a room that is still empty."""

from __future__ import annotations

from types import MappingProxyType
from typing import Final

import numpy as np

from treatment.acoustics.layout import SYSTEMS, Allowed, place
from treatment.bands import Array
from treatment.errors import PlanError
from treatment.geometry.enclosure import Enclosure
from treatment.planning.starter_options import LAYOUTS, StarterOptions, rounded
from treatment.units import format_length

#: Names of loudspeakers by channel. Common practice.
NAMES: Final = MappingProxyType(
    {
        "M+030": "L", "M+000": "C", "M-030": "R", "M+110": "Ls", "M-110": "Rs", "M+090": "Lss",
        "M-090": "Rss", "M+135": "Lrs", "M-135": "Rrs", "U+030": "Ltf", "U-030": "Rtf", "U+045": "Ltf",
        "U-045": "Rtf", "U+110": "Ltr", "U-110": "Rtr", "U+135": "Ltr", "U-135": "Rtr",
    }
)  # fmt: skip
#: Ears of someone who sits (m); kept free round loudspeakers and heads (m). Common practice.
EARS, AIR, HEAD = 1.10, 0.20, 0.60
SEAT_PITCH, TIGHT_PITCH, ROW_PITCH = 0.60, 0.50, 1.10
#: Nearer than this no loudspeaker is proposed (m).
NEAREST = 0.70


def propose_seats(o: StarterOptions, room: Enclosure, share: float) -> list[tuple[str, Array]]:
    """Propose seats.

    Parameters
    ----------
    o : StarterOptions
        The answers.
    room : Enclosure
        The room.
    share : float
        Part of the length at which the first row sits, from the front wall.

    Returns
    -------
    list of (str, numpy.ndarray)
        Name, and ears, shape (3,), m; row by row, from the left.

    Raises
    ------
    PlanError
        When they do not fit.
    """
    step = min(SEAT_PITCH, (o.width - 0.8) / max(o.seats - 1, 1))
    first = min(share * o.length, o.length - 0.5 - ROW_PITCH * (o.rows - 1))
    if o.seats > 1 and step < TIGHT_PITCH:
        message = f"{o.seats} seats do not fit beside each other in {format_length(o.width, o.units)}"
        raise PlanError(message, where="seats", hint="fewer seats, or more rows")
    if first < 1.3:
        message = f"{o.rows} rows do not fit into {format_length(o.length, o.units)}"
        raise PlanError(message, where="rows", hint="fewer rows")
    middle = 0.5 * o.width
    made = []
    for row in range(o.rows):
        x = first + ROW_PITCH * row
        # Where the back right corner is missing, what lies beside it is narrower.
        side = (
            o.width - o.missing_width
            if o.shape == "plan" and x > o.length - o.missing_length - 0.3
            else o.width
        )
        centre = min(middle, side - 0.35 - 0.5 * step * (o.seats - 1))
        for k in range(o.seats):
            y = centre + step * (k - 0.5 * (o.seats - 1))
            name = f"row {row + 1} seat {k + 1}" if o.rows > 1 else f"seat {k + 1}"
            made.append((name, rounded(np.array([x, y, EARS]), o.units)))
    reach = np.array([[0, 0, 0], [0.3, 0.3, 0.05], [-0.3, 0.3, 0.05], [0.3, -0.3, 0.05], [-0.3, -0.3, 0.05]])
    for name, seat in made:
        if not room.contains(seat + reach).all():
            message = f"{name} does not fit into the room"
            raise PlanError(message, where="seats", hint="fewer seats or rows, or larger sizes")
    return made


def _main_seat(o: StarterOptions, seats: Array) -> Array:
    """Middle of the first row."""
    return np.asarray(seats[: o.seats].mean(axis=0))


def propose_speakers(o: StarterOptions, room: Enclosure, seats: Array) -> list[tuple[str, str, Array]]:
    """Propose loudspeakers at their published angles, as far away as the room lets them be.

    Parameters
    ----------
    o : StarterOptions
        The answers.
    room : Enclosure
        The room.
    seats : numpy.ndarray
        Ears, shape (s, 3), m; the first row first.

    Returns
    -------
    list of (str, str, numpy.ndarray)
        Name, channel, and place, shape (3,), m.

    Raises
    ------
    PlanError
        When one does not fit.
    """
    main = _main_seat(o, seats)
    table = SYSTEMS[LAYOUTS[o.layout]]
    # Loudspeakers at the front stand on one arc, so that their sound arrives together.
    front = [a for c, a in table.items() if c in {"M+030", "M+000", "M-030"}]
    far = min(_farthest(room, main, seats, a.azimuth, 0.0, o.length + o.width) for a in front)
    made = []
    for channel, allowed in table.items():
        spot = _spot(room, main, seats, allowed, far if channel[1:] in {"+030", "+000", "-030"} else None)
        if spot is None:
            message = f"there is no room for {NAMES[channel]} ({channel}) at its published angles"
            raise PlanError(message, where="layout", hint="a smaller layout, fewer seats, or larger sizes")
        made.append((NAMES[channel], channel, rounded(spot, o.units)))
    return made


def _spot(room: Enclosure, main: Array, seats: Array, allowed: Allowed, far: float | None) -> Array | None:
    """Place nearest to the nominal direction where a loudspeaker fits."""
    low, high = allowed.azimuth_range
    azimuths = sorted(np.linspace(low, high, 11), key=lambda a: abs(a - allowed.azimuth))
    elevations = np.linspace(*allowed.elevation_range, 11) if allowed.elevation > 0.0 else [allowed.elevation]
    for elevation in elevations:
        for azimuth in azimuths:
            limit = room.bounds[1].sum() if far is None else far
            distance = _farthest(room, main, seats, float(azimuth), float(elevation), float(limit))
            if distance >= NEAREST:
                return place(main, float(azimuth), float(elevation), distance)
    return None


def _farthest(
    room: Enclosure, main: Array, seats: Array, azimuth: float, elevation: float, limit: float
) -> float:
    """Greatest distance in a direction that leaves air round the loudspeaker; 0 where there is none."""
    steps = np.arange(NEAREST, min(limit, 6.0) + 1e-9, 0.02)
    points = np.array([place(main, azimuth, elevation, d) for d in steps]).reshape(-1, 3)
    free = room.contains(points)
    free[free] = [bool(room.distance_to_surfaces(p).min() >= AIR) for p in points[free]]
    free &= np.linalg.norm(points[:, None] - seats[None], axis=2).min(axis=1) >= HEAD
    # No wall may stand between: the first blocked place ends the way.
    inside = room.contains(points)
    reach = len(points) if inside.all() else int(np.argmin(inside))
    fits = np.flatnonzero(free[:reach])
    return float(steps[fits[-1]]) if len(fits) else 0.0
