"""Published ranges of reverberation time for small listening rooms, and the early-reflection criterion.

Sources and how far they were verified
--------------------------------------
EBU Tech 3276 (2nd ed., 1998), 2.3, and ITU-R BS.1116-3, 8.2.3: nominal time
``Tm = 0.25 (V/100 m3)**(1/3)`` s with ``0.2 < Tm < 0.4`` s, and a tolerance mask by frequency. The
formula was read in secondary texts; the corners of the mask are from memory.
IEC 60268-13:1998: 0.3 to 0.6 s from 250 Hz to 4 kHz for an average living room; from memory.
EBU Tech 3276, 2.2, and ITU-R BS.1116-3: reflections that arrive within 15 ms should be at least
10 dB below the direct sound from 1 to 8 kHz; from memory.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.bands import Array, frozen
from treatment.errors import PlanError
from treatment.measures import volume_words
from treatment.planning.plan import TargetRange
from treatment.scene.checks import TARGET_USES

CRITERION_MS: Final = 15.0
CRITERION_DB: Final = -10.0
#: Below the criterion by less than this, or later than it by less than 5 ms: noted, common practice.
NOTE_DB: Final = -15.0
NOTE_MS: Final = 20.0
CRITERION_BANDS: Final = bands.band_slice(1000, 8000)
CRITERION_SOURCE: Final = (
    "EBU Tech 3276 (1998), 2.2, and ITU-R BS.1116-3: within 15 ms at least 10 dB below the direct "
    "sound, 1 to 8 kHz (from memory)"
)
#: Reflections from the side are a matter of taste: what is said against them, and what for them.
LATERAL_AGAINST: Final = (
    "Against them: the criterion asks control and listening rooms for weak early reflections from every "
    "side; a single one from the side is heard from about -20 to -15 dB on, and shifts the image some 10 dB "
    "above that (Olive & Toole, J. Audio Eng. Soc. 37 (1989) 539; levels from memory)."
)
LATERAL_FOR: Final = (
    "For them: from loudspeakers that sound alike off their axis many listeners like what side reflections "
    "add in width and space (Toole, J. Audio Eng. Soc. 54 (2006) 451; from memory)."
)


def nominal_time(volume: float) -> float:
    """Nominal reverberation time of a listening room before its limits are applied.

    Parameters
    ----------
    volume : float
        m3.

    Returns
    -------
    float
        ``0.25 (V/100)**(1/3)`` s (EBU Tech 3276, 2.3; ITU-R BS.1116-3, 8.2.3.1).
    """
    return float(0.25 * (volume / 100.0) ** (1.0 / 3.0))


def _mask_upper() -> Array:
    """Upper tolerance by band: +0.30 s at 63 Hz, falling on a log axis to +0.05 s at 200 Hz."""
    f = np.array(bands.NOMINAL_HZ, dtype=np.float64)
    slope = 0.05 + 0.25 * np.log(200.0 / f) / np.log(200.0 / 63.0)
    upper = np.where(f < 200.0, slope, 0.05)
    upper[f > 4000.0] = 0.10
    return np.asarray(upper)


def target_range(use: str, volume: float, units: str = "m") -> TargetRange:
    """Range of reverberation time for a use.

    Parameters
    ----------
    use : str
        One of `scene.checks.TARGET_USES`.
    volume : float
        m3.
    units : str
        In which the note tells it.

    Returns
    -------
    TargetRange
        Limits by band.

    Raises
    ------
    PlanError
        When the use is not known.
    """
    if use == "listening-room":
        wanted = nominal_time(volume)
        centre = min(max(wanted, 0.2), 0.4)
        upper = centre + _mask_upper()
        lower = np.full(bands.COUNT, centre - 0.05)
        lower[bands.band_index(8000)] = centre - 0.10
        note = ""
        told = volume_words(volume, units)
        if wanted < 0.2:
            note = (
                f"The formula gives {wanted:.2f} s for {told}, below the 0.20 s at which the source "
                "stops; 0.20 s is used. Rooms this small are outside what it covers."
            )
        elif wanted > 0.4:
            note = f"The formula gives {wanted:.2f} s for {told}; the source stops at 0.40 s."
        source = (
            "EBU Tech 3276 (1998), 2.3, and ITU-R BS.1116-3: Tm = 0.25 (V/100 m3)^(1/3) s; formula read in "
            "secondary texts, mask corners from memory"
        )
        return TargetRange(use, centre, frozen(lower), frozen(upper), source, note)
    if use == "living-room":
        lower = np.full(bands.COUNT, np.nan)
        upper = lower.copy()
        middle = bands.band_slice(250, 4000)
        lower[middle], upper[middle] = 0.3, 0.6
        source = "IEC 60268-13:1998, average living room, 0.3 to 0.6 s from 250 Hz to 4 kHz (from memory)"
        return TargetRange(use, 0.45, frozen(lower), frozen(upper), source)
    raise PlanError(
        f"there is no target '{use}'", where="target.use", hint="known: " + ", ".join(TARGET_USES)
    )


def outside(times: Array, target: TargetRange) -> Array:
    """How far times lie outside a range.

    Parameters
    ----------
    times : numpy.ndarray
        Shape (..., 8), s.
    target : TargetRange
        Limits; bands without a limit count as inside.

    Returns
    -------
    numpy.ndarray
        Positive above, negative below, 0 inside; shape (..., 8), s.
    """
    above = np.maximum(times - target.upper, 0.0)
    below = np.minimum(times - target.lower, 0.0)
    return np.asarray(np.nan_to_num(above + below, nan=0.0))


def verdict(order: int, delay_ms: float, level_db: Array) -> str:
    """Verdict on one arrival by the early-reflection criterion.

    Parameters
    ----------
    order : int
        Number of reflections.
    delay_ms : float
        Behind the direct sound.
    level_db : numpy.ndarray
        Re direct, shape (8,). The loudest band from 1 to 8 kHz decides.

    Returns
    -------
    str
        ``direct``, ``treat``, ``note`` (within 5 ms or 5 dB of the criterion) or ``leave``.
    """
    return verdicts(np.array([order]), np.array([delay_ms]), np.asarray(level_db)[None])[0]


def verdicts(order: NDArray[np.intp], delay_ms: Array, level_db: Array) -> tuple[str, ...]:
    """Verdicts on arrivals: see `verdict`.

    Parameters
    ----------
    order : numpy.ndarray
        Number of reflections of each, shape (n,).
    delay_ms : numpy.ndarray
        Behind the direct sound, shape (n,).
    level_db : numpy.ndarray
        Re direct, shape (n, 8).

    Returns
    -------
    tuple of str
        One for each.
    """
    loudest = level_db[:, CRITERION_BANDS].max(axis=1)
    soon, loud = delay_ms <= CRITERION_MS, loudest >= CRITERION_DB
    nearly = (soon & (loudest >= NOTE_DB)) | ((delay_ms <= NOTE_MS) & loud)
    words = np.select([order == 0, soon & loud, nearly], ["direct", "treat", "note"], "leave")
    return tuple(words.tolist())
