"""What becomes of strong reflections: which stay, which are new, and by how much they get weaker together.

The same reflections are looked for again with the panels. A reflection that only became strong by them is
counted apart: part of it meets a panel's edge, and what is left of the rest may add up to more than before.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from treatment.bands import Array, decibels
from treatment.planning.pairing import same_paths
from treatment.planning.plan import Evaluation
from treatment.planning.targets import CRITERION_BANDS

#: A reflection is called louder from this much on (dB, loudest octave from 1 to 8 kHz).
LOUDER_DB: Final = 0.5


@dataclass(frozen=True)
class Fate:
    """What becomes of the reflections that the criterion would treat.

    Parameters
    ----------
    before : int
        How many there are without the panels.
    stay : int
        How many of these stay so with them.
    gone : int
        How many of these do not arrive any more: a panel that stands in the room stops them.
    new : int
        Reflections that the criterion would treat only with the panels.
    weaker_db : float
        By how much the energy of those of `before` falls, summed over them and over the octaves from 1 to
        8 kHz, dB; infinite when none of them arrives any more, 0 without any.
    louder : tuple of (int, int)
        Index before and after of reflections that are strong with the panels, and louder than without by
        `LOUDER_DB` or more, the largest rise first.
    """

    before: int
    stay: int
    gone: int
    new: int
    weaker_db: float
    louder: tuple[tuple[int, int], ...] = ()


def energy_fall(before: Array, after: Array) -> float:
    """By how much the energy of some reflections falls, summed over them and the octaves from 1 to 8 kHz.

    Parameters
    ----------
    before, after : numpy.ndarray
        Levels, shapes (n, 8) and (m, 8), dB re one reference; after, what does not arrive any more is left
        out.

    Returns
    -------
    float
        dB; 0 without any before, infinite with none after. No mean of decibels, in which a notch of one
        octave would count like a fall of all that is heard.
    """
    start, left = (float((10.0 ** (x[:, CRITERION_BANDS] / 10.0)).sum()) for x in (before, after))
    if start <= 0.0:
        return 0.0
    return float(decibels(np.array(start)) - decibels(np.array(left))) if left > 0.0 else float(np.inf)


def fate_of(before: Evaluation, after: Evaluation, order: int | None = None) -> Fate:
    """Follow the strong reflections of a room.

    Parameters
    ----------
    before, after : Evaluation
        Of the room without and with panels.
    order : int, optional
        Only those of so many bounces; by default all.

    Returns
    -------
    Fate
        At the seats' centres.
    """
    a, b = before.arrivals, after.arrivals
    was, now = (
        np.array([v == "treat" for v in x.verdict], dtype=bool) & ((x.order == order) if order else True)
        for x in (a, b)
    )
    again = same_paths(a, b)
    strong, found = np.flatnonzero(was), np.flatnonzero(again >= 0)
    here = again[strong][again[strong] >= 0]
    stay = int(now[here].sum())
    weaker = energy_fall(a.level_db[strong], b.level_db[here])
    peak_a, peak_b = (x.level_db[:, CRITERION_BANDS].max(axis=1) for x in (a, b))
    rise = peak_b[again[found]] - peak_a[found]
    grown = now[again[found]] & (rise >= LOUDER_DB)
    louder = [(int(i), int(again[i])) for i in found[grown][np.argsort(-rise[grown], kind="stable")]]
    return Fate(len(strong), stay, len(strong) - len(here), int(now.sum()) - stay, weaker, tuple(louder))
