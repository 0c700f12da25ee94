"""From which frequency on a surface that hangs or stands free reflects like an endless one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from treatment.acoustics.fresnel import limiting_frequency
from treatment.acoustics.image_sources import mirror
from treatment.bands import Array
from treatment.errors import Finding
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.planning.plan import Arrivals, Placement
from treatment.scene.model import Scene

#: A panel that hangs at least so far below a ceiling is a cloud (m). Common practice.
CLOUD_GAP = 0.1
_SOURCE = "limiting frequency after Rindel, Acustica 60 (1986); from memory"


def panel_limit(
    plane: Polygon, rectangle: Rectangle, source: Array, seat: Array, speed_of_sound: float
) -> float | None:
    """Limiting frequency of a rectangle in free space, such as a cloud or a screen.

    Parameters
    ----------
    plane : Polygon
        The plane in whose wall coordinates the rectangle is given; its normal is the reflecting side.
    rectangle : Rectangle
        The panel.
    source, seat : numpy.ndarray
        Shape (3,), m.
    speed_of_sound : float
        m/s.

    Returns
    -------
    float or None
        Hz; None where the panel sends nothing from this source to this seat: one of them lies behind
        it, or the specular point beside it.
    """
    d0, d1 = ((p - plane.origin) @ plane.normal for p in (source, seat))
    if d0 <= 0.0 or d1 <= 0.0:
        return None
    image = mirror(source, plane.origin, plane.normal)
    point = seat + d1 / (d0 + d1) * (image - seat)
    u, v = plane.to_wall(point[None])[0]
    low_u, low_v, high_u, high_v = rectangle.bounds
    if not (low_u <= u <= high_u and low_v <= v <= high_v):
        return None
    before, after = float(np.linalg.norm(point - source)), float(np.linalg.norm(seat - point))
    return limiting_frequency(before, after, rectangle.area, float(d0) / before, speed_of_sound)


def limit_words(lowest_hz: float, highest_hz: float) -> str:
    """Say what a limiting frequency means.

    Parameters
    ----------
    lowest_hz, highest_hz : float
        Over the reflections that are spoken of, Hz.

    Returns
    -------
    str
        Part of a sentence, after the name of what reflects.
    """
    low, high = _rounded(lowest_hz), _rounded(highest_hz)
    span = f"{low}" if low == high else f"{low} to {high}"
    return f"reflects like an endless wall only above about {span} Hz; below, by about 6 dB an octave less"


def _rounded(hz: float) -> int:
    step = 10.0 ** max(np.floor(np.log10(max(hz, 1.0))) - 1.0, 0.0)
    return int(round(hz / step) * step)


def cloud_words(scene: Scene, placements: Sequence[Placement]) -> tuple[str, ...]:
    """Say from which frequency on clouds reflect: panels that hang clear of the ceiling.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels. Those under a ceiling with a gap of `CLOUD_GAP` or more are clouds.

    Returns
    -------
    tuple of str
        One sentence where a cloud sends a first reflection to a seat, none otherwise.
    """
    limits: dict[str, list[float]] = {}
    for p in placements:
        surface = scene.surfaces[p.surface]
        if p.solid or surface.kind != "ceiling" or p.build.air_gap < CLOUD_GAP - 1e-9:
            continue
        face = replace(
            surface.polygon, origin=surface.polygon.origin + p.build.depth * surface.polygon.normal
        )
        for speaker in scene.loudspeakers:
            for seat in scene.seats:
                hz = panel_limit(face, p.rectangle, speaker.position, seat.position, scene.air.speed_of_sound)
                if hz is not None:
                    limits.setdefault(p.id, []).append(hz)
    if not limits:
        return ()
    found = [hz for each in limits.values() for hz in each]
    names = ", ".join(limits)
    return (
        f"Clouds ({names}): what hangs clear of the ceiling {limit_words(min(found), max(found))}; what is "
        f"below passes round it to the ceiling and back ({_SOURCE}).",
    )


def obstacle_limits(scene: Scene, arrivals: Arrivals) -> list[Finding]:
    """Say from which frequency on obstacles reflect, for the first reflections that they send.

    Parameters
    ----------
    scene : Scene
        The room.
    arrivals : Arrivals
        At the seats.

    Returns
    -------
    list of Finding
        One note for each obstacle that sends a first reflection to a seat.
    """
    limits: dict[str, list[float]] = {}
    for i in np.flatnonzero(arrivals.order == 1):
        surface = scene.surfaces[int(arrivals.surfaces[i, 0])]
        if not surface.obstacle:
            continue
        source = scene.loudspeakers[int(arrivals.source[i])].position
        point, seat = arrivals.points[i, 0], scene.seats[int(arrivals.seat[i])].position
        before, after = float(np.linalg.norm(point - source)), float(np.linalg.norm(seat - point))
        cosine = max(float(abs((source - point) @ surface.polygon.normal)) / before, 1e-3)
        hz = limiting_frequency(before, after, surface.polygon.area, cosine, scene.air.speed_of_sound)
        limits.setdefault(surface.obstacle, []).append(hz)
    return [
        Finding(
            "finite-reflector",
            "note",
            name,
            f"{limit_words(min(found), max(found))} ({len(found)} first reflection"
            f"{'s' if len(found) > 1 else ''}; {_SOURCE})",
            "their levels have it in them; a panel there matters mostly above that frequency",
        )
        for name, found in limits.items()
    ]
