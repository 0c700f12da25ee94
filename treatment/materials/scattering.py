"""Scattering where a source publishes none: one stated default for each category."""

from __future__ import annotations

from typing import Final

from treatment.bands import Array, frozen

#: Flat, closed surfaces: a small value that stands for edges, joints and what hangs on a wall.
#: Common practice, no source.
_FLAT: Final = frozen([0.10] * 8)

#: Rows of seats and people. Auralization (2008), annex, 'theatre audience': 0.3 0.5 0.6 0.6 0.7 0.7
#: 0.7 for 125 Hz to 8 kHz, as carried by pyroomacoustics 0.10.1; the 63 Hz value is held.
_SEATS: Final = frozen([0.30, 0.30, 0.50, 0.60, 0.60, 0.70, 0.70, 0.70])

#: An opening returns nothing, so nothing is scattered.
_OPEN: Final = frozen([0.0] * 8)

DEFAULTS: Final[dict[str, Array]] = {
    "wall": _FLAT,
    "floor": _FLAT,
    "ceiling": _FLAT,
    "ceiling-tile": _FLAT,
    "window": _FLAT,
    "door": _FLAT,
    "curtain": _FLAT,
    "porous-panel": _FLAT,
    "furnishing": _SEATS,
    "audience": _SEATS,
    "opening": _OPEN,
}

CATEGORIES: Final = tuple(DEFAULTS)


def default_scattering(category: str) -> Array:
    """Scattering coefficients to use where none are published.

    Parameters
    ----------
    category : str
        One of `CATEGORIES`.

    Returns
    -------
    numpy.ndarray
        Shape (8,), read-only. An assumption, never data: a material that uses it has
        ``scattering_assumed`` set.
    """
    return DEFAULTS[category]
