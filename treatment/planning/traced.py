"""What rays say about a room."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.decay import DecayFigures
from treatment.acoustics.ray_tracing import TracedDecay
from treatment.bands import Array
from treatment.errors import Finding


@dataclass(frozen=True, eq=False)
class Traced:
    """What rays say about a room. Errors are one standard error, from independent parts of the rays.

    Parameters
    ----------
    result : TracedDecay
        Decays from every loudspeaker to every seat.
    precision : float
        Relative standard error of T30 at which tracing was to stop.
    places, place_errors : DecayFigures
        EDT, T20, T30, C50, C80, D50, Ts and curvature of each loudspeaker and seat, (sources, seats, 8).
    seats, seat_errors : DecayFigures
        Means over the loudspeakers, (seats, 8).
    room, room_errors : DecayFigures
        Means over all places, (8,).
    double : numpy.ndarray
        Bands in which the decay bends at half of the places or more, shape (8,), bool.
    """

    result: TracedDecay
    precision: float
    places: DecayFigures
    place_errors: DecayFigures
    seats: DecayFigures
    seat_errors: DecayFigures
    room: DecayFigures
    room_errors: DecayFigures
    double: NDArray[np.bool_]

    @property
    def t30(self) -> Array:
        """Mean over all places, shape (8,), s; NaN where the decay does not reach."""
        return self.room.t30

    @property
    def t30_error(self) -> Array:
        """Its standard error, shape (8,), s."""
        return self.room_errors.t30

    def findings(self) -> tuple[Finding, ...]:
        """Where one number cannot tell the decay, and whether the asked precision was reached.

        Returns
        -------
        tuple of Finding
            Notes.
        """
        found = []
        if self.double.any():
            bent = np.flatnonzero(self.double)
            names = ", ".join(
                f"{bands.band_label(bands.NOMINAL_HZ[k])} (as if in {self.room.edt[k]:.2f} s at first, in "
                f"{self.room.t30[k]:.2f} s later)"
                for k in bent
            )
            found.append(
                Finding(
                    "double-slope",
                    "note",
                    "reverberation",
                    f"the traced decay has two slopes at {names}: part of the sound dies away slowly between "
                    "bare surfaces",
                    "no single time tells it; spread the absorption over all three pairs of surfaces",
                )
            )
        if not self.result.reached:
            found.append(
                Finding(
                    "too-few-rays",
                    "note",
                    "reverberation",
                    f"{self.result.rays} rays did not reach a standard error of "
                    f"{100.0 * self.precision:.3g} %",
                    "ask for more with --rays",
                )
            )
        return tuple(found)
