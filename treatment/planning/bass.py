"""What the bass does at the seats: modes, responses of the subwoofers, and how much the seats differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.modal_response import (
    level_db,
    mean_spatial_variance,
    unevenness,
)
from treatment.acoustics.modes import Modes, box_modes, room_modes
from treatment.acoustics.near_field import room_pressure
from treatment.bands import Array, frozen
from treatment.errors import Finding, PlanError
from treatment.measures import area_words
from treatment.planning.doubt import doubt_of
from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Evaluation, Placement
from treatment.scene.model import Scene

#: Range in which seats and places are compared, Hz: what subwoofers play alone (common practice).
COMPARED_HZ = (20.0, 80.0)
#: The modes of a box are summed up to here, whatever the range that is asked for, Hz; in a hall to less, so
#: that there are not more than about so many.
_REACH_HZ = 500.0
_MOST_MODES = 8000
#: Share of that reach up to which a longer sum would change little (docs/method/modes.md).
_TRUSTED = 0.6
#: An opening that lets this much out is no hard wall (mean of 63 and 125 Hz), from this size on, m2.
_OPEN, _OPEN_AREA = 0.5, 0.5
#: Dimensions whose ratio is this close to a whole number put modes on top of each other (relative).
_NEAR_WHOLE = 0.05


@dataclass(frozen=True, eq=False)
class BassResponse:
    """Bass at the seats for one set of decay times.

    Parameters
    ----------
    frequency_hz : numpy.ndarray
        Shape (f,), Hz.
    decay_s : numpy.ndarray
        Decay time by octave band that was used, shape (8,), s.
    pressure : numpy.ndarray
        Of each source at each seat, shape (s, r, f), over that at 1 m in the open.
    """

    frequency_hz: Array
    decay_s: Array
    pressure: NDArray[np.complex128]

    @property
    def single(self) -> Array:
        """Level of each source alone, shape (s, r, f), dB."""
        return level_db(self.pressure)

    @property
    def combined(self) -> Array:
        """Level of all sources together, in phase and at equal gain, shape (r, f), dB."""
        return level_db(self.pressure.sum(axis=0))

    @property
    def compared(self) -> NDArray[np.bool_]:
        """Frequencies at which seats are compared, shape (f,)."""
        low, high = COMPARED_HZ
        inside = (self.frequency_hz >= low) & (self.frequency_hz <= high)
        return inside if inside.any() else np.ones_like(inside)

    @property
    def spatial_variance(self) -> float | None:
        """Mean spatial variance in dB^2; None with a single seat."""
        level = self.combined[:, self.compared]
        return float(mean_spatial_variance(level)) if len(level) > 1 else None

    @property
    def unevenness(self) -> float:
        """Standard deviation over seats and frequencies, dB."""
        return float(unevenness(self.combined[:, self.compared]))


@dataclass(frozen=True, eq=False)
class Bass:
    """What the bass does in a room.

    Parameters
    ----------
    scene : Scene
        The room.
    evaluation : Evaluation
        Of the room with its panels: where the decay times come from.
    modes : Modes
        With the constant one first.
    sources : tuple of str
        Names, one a row of the responses.
    source_positions : numpy.ndarray
        Shape (s, 3), m.
    response : BassResponse
        With the likeliest decay times.
    shorter, longer : BassResponse
        With the shortest and the longest decay times that the doubt allows; the same as `response` where
        one decay time was set.
    highest_listed_hz : float
        Modes up to here are listed.
    findings : tuple of Finding
        Where the numbers do not hold.
    """

    scene: Scene
    evaluation: Evaluation
    modes: Modes
    sources: tuple[str, ...]
    source_positions: Array
    response: BassResponse
    shorter: BassResponse
    longer: BassResponse
    highest_listed_hz: float
    findings: tuple[Finding, ...]

    @property
    def seats(self) -> Array:
        """Ears, shape (r, 3), m."""
        return frozen([s.position for s in self.scene.seats])

    def pressure(
        self, sources: Array, receivers: Array, frequency_hz: Array, decay_s: Array | None = None
    ) -> NDArray[np.complex128]:
        """Pressure of other sources at other places in the same room.

        Parameters
        ----------
        sources, receivers : numpy.ndarray
            Shapes (s, 3) and (r, 3), m.
        frequency_hz : numpy.ndarray
            Shape (f,), Hz.
        decay_s : numpy.ndarray, optional
            Another decay time by octave band, shape (8,), s.

        Returns
        -------
        numpy.ndarray
            Shape (s, r, f), as `treatment.acoustics.near_field.room_pressure` gives it.
        """
        decay = self.response.decay_s if decay_s is None else decay_s
        room, speed = self.scene.enclosure, self.evaluation.speed_of_sound
        return room_pressure(room, self.modes, sources, receivers, frequency_hz, decay, speed)


def predict_bass(
    scene: Scene,
    placements: Sequence[Placement] = (),
    *,
    frequency_hz: Array | None = None,
    decay_s: float | None = None,
) -> Bass:
    """Predict the bass at the seats.

    Parameters
    ----------
    scene : Scene
        The room, with at least one seat and one subwoofer or loudspeaker.
    placements : sequence of Placement
        Panels; they change the decay, not the modes' frequencies.
    frequency_hz : numpy.ndarray, optional
        Ascending, shape (f,), Hz. Default: 20 to 160 Hz in steps of 1 Hz.
    decay_s : float, optional
        One decay time for all modes, s. Default: Eyring's by octave band, with the interval of
        `treatment.planning.doubt.doubt_of`.

    Returns
    -------
    Bass
        Modes and responses.

    Raises
    ------
    PlanError
        When there is no seat, or nothing that plays bass.
    """
    if not scene.seats:
        raise PlanError("the bass is predicted at seats, and the scene has none", hint="add [[seats]]")
    players = scene.subwoofers or scene.loudspeakers
    if not players:
        raise PlanError(
            "nothing plays bass: the scene has no subwoofer and no loudspeaker", hint="add [[subwoofers]]"
        )
    frequency = frozen(np.arange(20.0, 160.5) if frequency_hz is None else frequency_hz)
    evaluation = evaluate(scene, placements, order=1)
    modes = _modes(scene, evaluation.speed_of_sound)
    positions = frozen([p.position for p in players])
    seats = np.array([s.position for s in scene.seats])

    def response(decay: Array) -> BassResponse:
        room, speed = scene.enclosure, evaluation.speed_of_sound
        pressure = room_pressure(room, modes, positions, seats, frequency, decay, speed)
        return BassResponse(frequency, frozen(decay), pressure)

    if decay_s is not None:
        likely = shorter = longer = response(np.full(bands.COUNT, decay_s))
    else:
        doubt = doubt_of(evaluation)
        likely, shorter, longer = (
            response(t) for t in (np.asarray(evaluation.eyring), doubt.lower, doubt.upper)
        )
    return Bass(
        scene,
        evaluation,
        modes,
        tuple(p.name for p in players),
        positions,
        likely,
        shorter,
        longer,
        float(frequency[-1]),
        tuple(_findings(scene, evaluation, seats, float(frequency[-1]), modes.reach_hz)),
    )


def _modes(scene: Scene, speed_of_sound: float) -> Modes:
    """Cosines for an empty box, Rayleigh-Ritz for everything else."""
    if scene.shape == "box" and not scene.recesses and not any(s.obstacle for s in scene.surfaces):
        low, high = scene.hall
        weyl = speed_of_sound * np.cbrt(3.0 * _MOST_MODES / (4.0 * np.pi * np.prod(high - low)))
        return box_modes(low, high - low, speed_of_sound, float(min(_REACH_HZ, weyl)))
    return room_modes(scene.enclosure, speed_of_sound)


def _findings(
    scene: Scene, evaluation: Evaluation, seats: Array, highest_hz: float, reach_hz: float
) -> list[Finding]:
    found = []
    if highest_hz > _TRUSTED * reach_hz:
        found.append(
            Finding(
                "bass-high-range",
                "note",
                "room",
                f"above {_TRUSTED * reach_hz:.0f} Hz the modes of this room are not found well: levels there "
                "are up to some dB off",
                "ask for less with --to; the comparison of seats and places ends at 80 Hz",
            )
        )
    if not scene.subwoofers:
        found.append(
            Finding(
                "bass-no-subwoofer",
                "note",
                "subwoofers",
                "the scene has no subwoofer: the loudspeakers are taken to play the bass, all together",
                "add [[subwoofers]] if there is one",
            )
        )
    low_bands = bands.band_slice(63, 125)
    for row in evaluation.rows:
        if row.kind == "opening" and row.area > _OPEN_AREA and row.absorption[low_bands].mean() >= _OPEN:
            found.append(
                Finding(
                    "bass-open-room",
                    "warning",
                    row.name,
                    f"'{row.name}' is open ({area_words(row.area, scene.units)}): modes reach "
                    "through it into what lies beyond",
                    "take frequencies and levels as a rough guide; a measurement at the seats decides",
                )
            )
    if scene.shape == "box":
        low, high = scene.hall
        size = np.sort(high - low)[::-1]
        for (a, name_a), (b, name_b) in (
            ((size[0], "longest"), (size[1], "middle")),
            ((size[0], "longest"), (size[2], "shortest")),
            ((size[1], "middle"), (size[2], "shortest")),
        ):
            ratio = float(a / b)
            whole = round(ratio)
            if abs(ratio - whole) < _NEAR_WHOLE * whole:
                found.append(
                    Finding(
                        "bass-modes-coincide",
                        "note",
                        "room",
                        f"the {name_a} side is {ratio:.2f} times the {name_b} one, within 5 % of "
                        f"{whole}: modes along them fall on the same frequencies and boom together",
                        "the room is as it is; thick absorbers on those walls and well-chosen places help",
                    )
                )
        middle = (low + high) / 2.0
        for seat, position in zip(scene.seats, seats, strict=True):
            if abs(position[0] - middle[0]) < 0.05 * (high - low)[0]:
                found.append(
                    Finding(
                        "bass-seat-at-middle",
                        "note",
                        seat.name,
                        "it is at half of the room's length, in the null of the first mode along the room",
                        "try it further forward or back (see the advice)",
                    )
                )
    return found
