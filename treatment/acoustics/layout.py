"""Where loudspeakers belong, seen from a seat: published angles, distances and delays.

Axes as everywhere: x from the front wall, y from the left wall, z up. Azimuth is 0 degrees toward the
screen and positive to the left, elevation positive up (ITU-R BS.2051).

References
----------
ITU-R BS.775-3, Fig. 1 (two and five loudspeakers); ITU-R BS.2051-3, Table 1, for the others, read in a layout
file that a broadcasters' open renderer keys to it: the printed table was not compared.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array, frozen

#: An angle that misses its range by no more than this (degrees) is told as right: a tape and a chair give
#: no more. Loudspeakers at ear height have a wider elevation, for they stand on whatever there is; the upper
#: ones, whose range is wide, have a narrow one. All are this project's choice; the sources state none.
AZIMUTH_SLACK: Final = 1.0
ELEVATION_SLACK: Final = 6.0
UPPER_SLACK: Final = 0.5


@dataclass(frozen=True)
class Allowed:
    """Where a loudspeaker may stand as seen from the main seat; degrees.

    Parameters
    ----------
    azimuth, elevation : float
        Nominal direction.
    azimuth_range, elevation_range : tuple of float
        Lowest and highest.
    """

    azimuth: float
    elevation: float
    azimuth_range: tuple[float, float]
    elevation_range: tuple[float, float]


def _pair(
    label: str, azimuth: tuple[float, float, float], elevation: tuple[float, float, float] = (0.0, 0.0, 0.0)
) -> dict[str, Allowed]:
    """Left and right loudspeaker: nominal, lowest and highest angle of the left one."""
    az, low, high = azimuth
    el, down, up = elevation
    number = label[1:]
    return {
        f"{label[0]}+{number}": Allowed(az, el, (low, high), (down, up)),
        f"{label[0]}-{number}": Allowed(-az, el, (-high, -low), (down, up)),
    }


_FRONT = _pair("M030", (30.0, 30.0, 30.0))
_WIDE_FRONT = _pair("M030", (30.0, 30.0, 45.0))
_CENTRE = {"M+000": Allowed(0.0, 0.0, (0.0, 0.0), (0.0, 0.0))}
_SEVEN = {
    **_WIDE_FRONT,
    **_CENTRE,
    **_pair("M090", (90.0, 85.0, 110.0)),
    **_pair("M135", (135.0, 120.0, 150.0)),
}
#: Loudspeakers of each system of ITU-R BS.2051 (upper + middle + lower layer); LFE has no prescribed place.
SYSTEMS: Final[Mapping[str, Mapping[str, Allowed]]] = MappingProxyType(
    {
        "0+2+0": _FRONT,
        "0+5+0": {**_FRONT, **_CENTRE, **_pair("M110", (110.0, 100.0, 120.0), (0.0, 0.0, 15.0))},
        "4+5+0": {
            **_FRONT,
            **_CENTRE,
            **_pair("M110", (110.0, 100.0, 120.0)),
            **_pair("U030", (30.0, 30.0, 45.0), (30.0, 30.0, 55.0)),
            **_pair("U110", (110.0, 100.0, 135.0), (30.0, 30.0, 55.0)),
        },
        "0+7+0": _SEVEN,
        "4+7+0": {
            **_SEVEN,
            **_pair("U045", (45.0, 30.0, 45.0), (30.0, 30.0, 55.0)),
            **_pair("U135", (135.0, 100.0, 150.0), (30.0, 30.0, 55.0)),
        },
    }
)


@dataclass(frozen=True, eq=False)
class Layout:
    """Directions of n loudspeakers from s seats.

    Parameters
    ----------
    azimuth, elevation : numpy.ndarray
        Shape (s, n), degrees.
    distance : numpy.ndarray
        Shape (s, n), m.
    delay : numpy.ndarray
        That each loudspeaker needs so that all arrive together at the seat, shape (s, n), s.
    azimuth_miss, elevation_miss : numpy.ndarray
        How far outside its range each loudspeaker is, shape (s, n), degrees: 0 within, negative below the
        range, NaN where nothing is published for it.
    move : numpy.ndarray
        From where each loudspeaker stands to the nearest direction of its range at the same distance, as
        seen from each seat, shape (s, n, 3), m; zero within, NaN where nothing is published.
    elevation_slack : numpy.ndarray
        By how much each loudspeaker may miss its elevation, shape (n,), degrees.
    """

    azimuth: Array
    elevation: Array
    distance: Array
    delay: Array
    azimuth_miss: Array
    elevation_miss: Array
    move: Array
    elevation_slack: Array

    @property
    def right(self) -> NDArray[np.bool_]:
        """Whether each loudspeaker is in its range, but for the slack, shape (s, n)."""
        return np.asarray(
            (np.abs(self.azimuth_miss) <= AZIMUTH_SLACK)
            & (np.abs(self.elevation_miss) <= self.elevation_slack)
        )


def system_of(channels: Sequence[str]) -> str:
    """Find the smallest published system that has all of some loudspeakers.

    Parameters
    ----------
    channels : sequence of str
        Labels such as ``M+030``; empty ones and LFE do not count.

    Returns
    -------
    str
        ``0+5+0``, ...; empty when none has them all.
    """
    wanted = {c for c in channels if c and not c.startswith("LFE")}
    fitting = [name for name, table in SYSTEMS.items() if wanted and wanted <= set(table)]
    return min(fitting, key=lambda name: len(SYSTEMS[name]), default="")


def directions(seats: Array, speakers: Array) -> tuple[Array, Array, Array]:
    """Directions of loudspeakers from seats.

    Parameters
    ----------
    seats : numpy.ndarray
        Ears, shape (s, 3), m.
    speakers : numpy.ndarray
        Shape (n, 3), m.

    Returns
    -------
    azimuth, elevation : numpy.ndarray
        Shape (s, n), degrees.
    distance : numpy.ndarray
        Shape (s, n), m.
    """
    x, y, z = np.moveaxis(speakers[None] - seats[:, None], -1, 0)
    azimuth = np.degrees(np.arctan2(-y, -x))
    elevation = np.degrees(np.arctan2(z, np.hypot(x, y)))
    return azimuth, elevation, np.sqrt(x * x + y * y + z * z)


def place(seat: Array, azimuth: float, elevation: float, distance: float) -> Array:
    """Place in a direction from a seat.

    Parameters
    ----------
    seat : numpy.ndarray
        Shape (3,), m.
    azimuth, elevation : float
        Degrees.
    distance : float
        In m.

    Returns
    -------
    numpy.ndarray
        Shape (3,), m.
    """
    a, e = math.radians(azimuth), math.radians(elevation)
    unit = np.array([-math.cos(a) * math.cos(e), -math.sin(a) * math.cos(e), math.sin(e)])
    return np.asarray(seat + distance * unit)


def alignment_delays(distance: Array, speed_of_sound: float) -> Array:
    """Delays that let loudspeakers at unlike distances arrive together: ``(d_max - d) / c``.

    Parameters
    ----------
    distance : numpy.ndarray
        Shape (..., n), m.
    speed_of_sound : float
        In m/s.

    Returns
    -------
    numpy.ndarray
        Shape (..., n), s. Common practice.
    """
    return np.asarray((distance.max(axis=-1, keepdims=True) - distance) / speed_of_sound)


def subtended(eyes: Array, start: Array, end: Array) -> Array:
    """Horizontal angle between two upright edges, from any place: a seat need not be before the middle.

    Parameters
    ----------
    eyes : numpy.ndarray
        Shape (s, 3), m.
    start, end : numpy.ndarray
        Points of the two edges, shape (3,), m.

    Returns
    -------
    numpy.ndarray
        Shape (s,), degrees, 0 to 180.
    """
    a, b = (start - eyes)[:, :2], (end - eyes)[:, :2]
    cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return np.asarray(np.degrees(np.abs(np.arctan2(cross, (a * b).sum(axis=1)))))


def inspect(
    seats: Array, speakers: Array, channels: Sequence[str], speed_of_sound: float, system: str = ""
) -> Layout:
    """Compare loudspeakers with their published places.

    Parameters
    ----------
    seats : numpy.ndarray
        Ears, shape (s, 3), m; the published angles hold for the main seat.
    speakers : numpy.ndarray
        Shape (n, 3), m.
    channels : sequence of str
        n labels; empty where there is none.
    speed_of_sound : float
        In m/s.
    system : str
        One of `SYSTEMS`; default the smallest that has all the labels.

    Returns
    -------
    Layout
        For all seats and loudspeakers.
    """
    azimuth, elevation, distance = directions(seats, speakers)
    table = SYSTEMS.get(system or system_of(channels), {})
    shape = azimuth.shape
    miss_a, miss_e = np.full(shape, np.nan), np.full(shape, np.nan)
    move = np.full((*shape, 3), np.nan)
    for n, channel in enumerate(channels):
        allowed = table.get(channel)
        if allowed is None:
            continue
        # Counted from the nominal direction, so that an angle beyond the back is no jump of a turn.
        turned = (azimuth[:, n] - allowed.azimuth + 180.0) % 360.0 - 180.0
        low, high = (a - allowed.azimuth for a in allowed.azimuth_range)
        miss_a[:, n] = turned - np.clip(turned, low, high)
        miss_e[:, n] = elevation[:, n] - np.clip(elevation[:, n], *allowed.elevation_range)
        for s in range(shape[0]):
            wanted = place(
                seats[s],
                float(azimuth[s, n] - miss_a[s, n]),
                float(elevation[s, n] - miss_e[s, n]),
                float(distance[s, n]),
            )
            move[s, n] = wanted - speakers[n]
    delay = alignment_delays(distance, speed_of_sound) if distance.size else distance
    slack = np.array([UPPER_SLACK if c.startswith("U") else ELEVATION_SLACK for c in channels])
    return Layout(*(frozen(x) for x in (azimuth, elevation, distance, delay, miss_a, miss_e, move, slack)))
