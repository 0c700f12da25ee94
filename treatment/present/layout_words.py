"""Loudspeakers and seats in words: how each loudspeaker radiates, where it belongs, how far to move it.

Nothing here computes physics; it words an arrangement.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from treatment.measures import cell, length_words, place_words, small_words
from treatment.planning.arrangement import Arrangement
from treatment.planning.viewing import Viewing
from treatment.present.wording import counted, listed
from treatment.scene.model import Loudspeaker, Scene, Screen
from treatment.units import format_length

EVENLY = "evenly in all directions"
_AXES = (("back", "forward"), ("right", "left"), ("up", "down"))


def radiation_words(speaker: Loudspeaker, units: str = "m") -> str:
    """Say which model of radiation was used for a loudspeaker.

    Parameters
    ----------
    speaker : Loudspeaker
        Any loudspeaker.
    units : str
        As the scene says.

    Returns
    -------
    str
        A phrase.
    """
    d = speaker.directivity
    if d is None:
        return EVENLY
    if d.kind == "piston":
        return f"piston of {small_words(d.diameter, units)} in a box {small_words(d.box_width, units)} wide"
    if d.kind == "horn":
        across, up = d.coverage
        return f"horn, {across:g} by {up:g} degrees from {d.lowest_hz:g} Hz up"
    return f"own table, 0 to {d.angles[-1]:g} degrees off axis"


def aim_words(speaker: Loudspeaker, units: str = "m") -> str:
    """Say where a loudspeaker is aimed.

    Parameters
    ----------
    speaker : Loudspeaker
        Any loudspeaker.
    units : str
        As the scene says.

    Returns
    -------
    str
        A phrase; a loudspeaker that sends evenly has no aim that matters.
    """
    if speaker.directivity is None:
        return "no matter"
    if speaker.aim is None:
        return "the middle of the seats"
    return place_words(speaker.aim, units)


def directivity_words(scene: Scene) -> str:
    """Say in a sentence how the loudspeakers were taken to radiate.

    Parameters
    ----------
    scene : Scene
        The room.

    Returns
    -------
    str
        Empty without a loudspeaker.
    """
    groups: dict[tuple[str, str], list[str]] = {}
    for s in scene.loudspeakers:
        aim = "" if s.directivity is None else f", aimed at {aim_words(s, scene.units)}"
        groups.setdefault((radiation_words(s, scene.units), aim), []).append(s.name)
    if not groups:
        return ""
    if list(groups) == [(EVENLY, "")]:
        return (
            f"Every loudspeaker is taken to send {EVENLY}: the scene states no directivity. Real ones send "
            "less to the side and to the back, so what comes by that way is rather weaker than told."
        )
    return "Loudspeakers: " + "; ".join(f"{listed(n)} {w}{a}" for (w, a), n in groups.items()) + "."


def move_words(move: Any, units: str = "m") -> str:
    """Say how far to move a loudspeaker: ``0.12 m forward, 0.05 m left``.

    Parameters
    ----------
    move : numpy.ndarray
        Along x, y and z, shape (3,), m.
    units : str
        As the scene says.

    Returns
    -------
    str
        Parts of a centimetre and more; ``no move`` without any.
    """
    parts = [
        f"{length_words(abs(float(m)), units)} {words[0] if m > 0.0 else words[1]}"
        for m, words in zip(move, _AXES, strict=True)
        if abs(m) >= 0.005
    ]
    return ", ".join(parts) or "no move"


def layout_rows(scene: Scene, arrangement: Arrangement) -> list[dict[str, str]]:
    """Rows of the table of loudspeakers as seen from the main seat.

    Parameters
    ----------
    scene : Scene
        The room.
    arrangement : Arrangement
        Of this room.

    Returns
    -------
    list of dict
        One for each loudspeaker.
    """
    a, seat = arrangement.layout, arrangement.seat
    rows = []
    for n, s in enumerate(scene.loudspeakers):
        known = not np.isnan(a.azimuth_miss[seat, n])
        fits = bool(a.right[seat, n])
        wanted = arrangement.allowed_of(s.channel)
        rows.append(
            {
                "name": s.name,
                "channel": s.channel or "none given",
                "azimuth": _degrees(a.azimuth[seat, n]),
                "elevation": _degrees(a.elevation[seat, n]),
                "wanted": "" if wanted is None else _ranges(wanted.azimuth_range, wanted.elevation_range),
                "distance": cell(float(a.distance[seat, n]), scene.units),
                "delay": f"{1e3 * a.delay[seat, n]:.2f}",
                "verdict": "not published" if not known else "in range" if fits else "out of range",
                "move": "" if fits or not known else move_words(a.move[seat, n], scene.units),
                "radiates": radiation_words(s, scene.units),
                "aim": aim_words(s, scene.units),
            }
        )
    return rows


def _degrees(value: float) -> str:
    return f"{round(float(value)) + 0:d}"


def _ranges(azimuth: tuple[float, float], elevation: tuple[float, float]) -> str:
    return "; ".join(f"{a:g}" if a == b else f"{a:g} to {b:g}" for a, b in (azimuth, elevation))


def seat_rows(scene: Scene, arrangement: Arrangement) -> list[dict[str, Any]]:
    """Rows of the table of all seats: azimuth, elevation and distance of each loudspeaker.

    Parameters
    ----------
    scene : Scene
        The room.
    arrangement : Arrangement
        Of this room.

    Returns
    -------
    list of dict
        One for each loudspeaker: ``name`` and ``cells`` by seat.
    """
    a = arrangement.layout
    return [
        {
            "name": s.name,
            "cells": [
                f"{_degrees(a.azimuth[k, n])}°, {_degrees(a.elevation[k, n])}°, "
                f"{length_words(float(a.distance[k, n]), scene.units)}, "
                f"{1e3 * a.delay[k, n]:.2f} ms"
                for k in range(len(scene.seats))
            ],
        }
        for n, s in enumerate(scene.loudspeakers)
    ]


def layout_words(scene: Scene, arrangement: Arrangement) -> str:
    """Say in a sentence how the layout fares.

    Parameters
    ----------
    scene : Scene
        The room.
    arrangement : Arrangement
        Of this room.

    Returns
    -------
    str
        How many loudspeakers are in range, as seen from the main seat.
    """
    seat = scene.seats[arrangement.seat].name
    known = ~np.isnan(arrangement.layout.azimuth_miss[arrangement.seat])
    if not known.any():
        return "No loudspeaker has a channel label with a published place: angles are told, not judged."
    good = int((arrangement.layout.right[arrangement.seat] & known).sum())
    return (
        f"Seen from '{seat}', {good} of {counted(int(known.sum()), 'loudspeaker')} with a published place "
        f"stand in range (system {arrangement.system} of ITU-R BS.2051)."
    )


def screen_words(screen: Screen, units: str = "m") -> str:
    """Name the screen on a drawing.

    Parameters
    ----------
    screen : Screen
        Any screen.
    units : str
        As the scene says.

    Returns
    -------
    str
        ``screen: sound passes, 0.50 m before the wall``.
    """
    parts = ["sound passes"] if screen.sound_passes else []
    parts += [f"{format_length(screen.distance, units)} before the wall"] if screen.distance > 0.0 else []
    return f"screen: {', '.join(parts)}" if parts else "screen"


def viewing_words(scene: Scene, viewing: Viewing | None) -> str:
    """Say in a sentence how large the picture is from each seat.

    Parameters
    ----------
    scene : Scene
        The room.
    viewing : Viewing or None
        Of this room.

    Returns
    -------
    str
        Empty without a screen.
    """
    if viewing is None:
        return ""
    each = [f"{a:.0f} from '{s.name}'" for s, a in zip(scene.seats, viewing.angle, strict=True)]
    return f"The screen fills, in degrees across: {listed(each)}."
