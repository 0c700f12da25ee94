"""Ranges of reverberation time as they are told: what a measurement may be, and the formulas alone."""

from __future__ import annotations

from treatment.planning.doubt import doubt_of
from treatment.planning.plan import Evaluation


def seconds_range(evaluation: Evaluation, band: int) -> tuple[float, float]:
    """Lowest and highest reverberation time that the formulas give in a band: a detail, for charts.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.
    band : int
        Position on the band axis.

    Returns
    -------
    tuple of float
        Seconds.
    """
    low, high = evaluation.spread
    return float(low[band]), float(high[band])


def seconds_interval(evaluation: Evaluation, band: int) -> tuple[float, float]:
    """Interval of the reverberation time in a band: what a measurement is to be compared with.

    Parameters
    ----------
    evaluation : Evaluation
        Of the room.
    band : int
        Position on the band axis.

    Returns
    -------
    tuple of float
        Seconds: of `treatment.planning.doubt.doubt_of`.
    """
    doubt = doubt_of(evaluation)
    return float(doubt.lower[band]), float(doubt.upper[band])
