"""What the loudspeakers' directivities do to the levels of paths."""

from __future__ import annotations

import numpy as np

from treatment import bands
from treatment.acoustics.directions import departures
from treatment.acoustics.directivity import horn_db, off_axis, piston_db, table_db
from treatment.acoustics.image_sources import Paths
from treatment.bands import Array
from treatment.scene.model import Directivity, Scene


def radiation_db(scene: Scene, paths: Paths, receivers: Array) -> Array:
    """What the loudspeakers' directivities add to the levels of paths re the direct sound.

    Parameters
    ----------
    scene : Scene
        The room.
    paths : Paths
        n paths from its loudspeakers.
    receivers : numpy.ndarray
        Where they end, shape (r, 3), m.

    Returns
    -------
    numpy.ndarray
        ``D(departure) - D(direct)``, shape (n, 8), dB; 0 for loudspeakers that send evenly.
    """
    found = np.zeros((len(paths), bands.COUNT))
    if all(s.directivity is None for s in scene.loudspeakers):
        return found
    sources = np.array([s.position for s in scene.loudspeakers])
    seats = np.array([s.position for s in scene.seats])
    straight = receivers[paths.receiver] - sources[paths.source]
    straight = straight / np.linalg.norm(straight, axis=1, keepdims=True)
    leaving = departures(paths, sources, receivers)
    for n, speaker in enumerate(scene.loudspeakers):
        own = np.flatnonzero(paths.source == n)
        if speaker.directivity is None or len(own) == 0:
            continue
        axis = (seats.mean(axis=0) if speaker.aim is None else speaker.aim) - speaker.position
        axis = axis / max(float(np.linalg.norm(axis)), 1e-9)
        c = scene.air.speed_of_sound
        found[own] = _off_axis_db(speaker.directivity, leaving[own], axis, c)
        found[own] -= _off_axis_db(speaker.directivity, straight[own], axis, c)
    return found


def _off_axis_db(d: Directivity, direction: Array, axis: Array, speed_of_sound: float) -> Array:
    total, across, up = off_axis(direction, axis)
    if d.kind == "piston":
        return piston_db(total, d.diameter / 2.0, d.box_width / 2.0, speed_of_sound)
    if d.kind == "horn":
        wide, tall = (float(np.radians(a)) for a in d.coverage)
        return horn_db(across, up, wide, tall, d.lowest_hz)
    return table_db(total, np.radians(d.angles), d.levels)
