"""Whether it worked: a measured impulse response beside what was predicted."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.decay import UNRELIABLE_PERCENT, DecayFigures, decay_figures
from treatment.acoustics.impulse_response import (
    LEAST_BT,
    EarlyArrivals,
    MeasuredDecay,
    early_arrivals,
    measured_decay,
)
from treatment.bands import Array, frozen
from treatment.errors import Finding, PlanError
from treatment.planning.doubt import doubt_of
from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.recording import Recording
from treatment.planning.targets import CRITERION_BANDS, CRITERION_DB, CRITERION_MS, outside
from treatment.scene.model import Scene

#: A measured arrival is that of a path whose delay is this near: 25 mm of tape on both ends, and the width of
#: what is told apart, ms. Judgement.
MATCH_MS: Final = 0.35
#: Of several paths at one delay, those with less than this share of the strongest one's energy go unnamed.
_ALSO: Final = 0.25
#: Paths that together bring this much less than was measured do not explain it, dB.
_SHORT_DB: Final = 8.0


@dataclass(frozen=True, eq=False)
class MatchedArrival:
    """One arrival of the recording, and the path that fits.

    Parameters
    ----------
    delay_ms, level_db : float
        Behind the direct sound, and its energy re the direct sound's.
    surface : str or None
        What sent it: ``left``, or ``left then back``; None where no path fits.
    also : tuple of str
        Other paths that fit nearly as well.
    predicted_ms, predicted_db : float
        Delay of the strongest path that fits, and the energy of all that do, mean from 1 to 8 kHz; NaN
        without one. Paths that arrive together may add up to 3 dB more, or take from each other.
    strong : bool
        Whether it fails the early-reflection criterion.
    """

    delay_ms: float
    level_db: float
    surface: str | None
    also: tuple[str, ...]
    predicted_ms: float
    predicted_db: float
    strong: bool


@dataclass(frozen=True, eq=False)
class Measurement:
    """What a recording says, and how it compares.

    Parameters
    ----------
    measured : MeasuredDecay
        Decay by band.
    figures : DecayFigures
        Quantities, shape (8,) each; NaN where the recording does not support one.
    t30_doubt : numpy.ndarray
        Standard deviation of T30 (T20 where only that is known) from one place to another, shape (8,), s.
    arrivals : tuple of MatchedArrival
        In the order of their delays.
    evaluation : Evaluation or None
        The prediction it was compared with.
    source, seat : str
        Between which loudspeaker and seat; empty without a scene.
    expected : tuple of numpy.ndarray or None
        Predicted interval of the reverberation time, shape (8,) each, s.
    outside_target : numpy.ndarray or None
        How far T lies outside the target, shape (8,), s; positive is too long.
    findings : tuple of Finding
        What the recording cannot tell.
    """

    measured: MeasuredDecay
    figures: DecayFigures
    t30_doubt: Array
    arrivals: tuple[MatchedArrival, ...]
    evaluation: Evaluation | None
    source: str
    seat: str
    expected: tuple[Array, Array] | None
    outside_target: Array | None
    findings: tuple[Finding, ...]

    @property
    def time(self) -> Array:
        """T30, or T20 where the decay does not reach that far, shape (8,), s; NaN where neither does."""
        return np.where(np.isfinite(self.figures.t30), self.figures.t30, self.figures.t20)


def evaluate_pair(
    scene: Scene, placements: Sequence[Placement] = (), *, source: str = "", seat: str = ""
) -> Evaluation:
    """Predict what one loudspeaker sends to one seat, up to three bounces.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        Panels that hang in it.
    source, seat : str
        Names of the loudspeaker and the seat. Default: the first of each.

    Returns
    -------
    Evaluation
        Of the room with this loudspeaker and this seat alone.

    Raises
    ------
    PlanError
        When the scene has no such loudspeaker or seat.
    """
    speakers = {s.name: s for s in scene.loudspeakers}
    seats = {s.name: s for s in scene.seats}
    chosen = _name(list(speakers), source, "loudspeaker"), _name(list(seats), seat, "seat")
    alone = replace(scene, loudspeakers=(speakers[chosen[0]],), seats=(seats[chosen[1]],))
    return evaluate(alone, placements, order=3)


def judge_recording(recording: Recording, evaluation: Evaluation | None = None) -> Measurement:
    """Read a recording and compare it with a prediction.

    Parameters
    ----------
    recording : Recording
        An impulse response.
    evaluation : Evaluation, optional
        From `evaluate_pair`, of the room as it was when recorded.

    Returns
    -------
    Measurement
        Quantities, arrivals with the surfaces that sent them, verdicts.
    """
    measured = measured_decay(recording.samples, recording.rate)
    figures, findings = _supported(decay_figures(measured.decay), measured, recording)
    arrivals = early_arrivals(recording.samples, recording.rate)
    place_doubt = _between_places(figures)
    findings += _bends(figures, place_doubt)
    if evaluation is None:
        bare = tuple(_bare(d, lv) for d, lv in zip(arrivals.delay_s, arrivals.level_db, strict=True))
        return Measurement(measured, figures, place_doubt, bare, None, "", "", None, None, tuple(findings))
    doubt = doubt_of(evaluation)
    time = np.where(np.isfinite(figures.t30), figures.t30, figures.t20)
    scene = evaluation.scene
    return Measurement(
        measured, figures, place_doubt, tuple(_match(evaluation, arrivals)), evaluation,
        scene.loudspeakers[0].name, scene.seats[0].name, (doubt.lower, doubt.upper),
        frozen(outside(time, evaluation.target)), tuple(findings),
    )  # fmt: skip


def _name(names: list[str], wanted: str, kind: str) -> str:
    if not names:
        raise PlanError(
            f"the scene has no {kind}: arrivals cannot be told apart", hint="add one, or leave out --scene"
        )
    if wanted and wanted not in names:
        raise PlanError(
            f"the scene has no {kind} '{wanted}'", where=f"--{kind}", hint="known: " + ", ".join(names)
        )
    return wanted or names[0]


def _between_places(figures: DecayFigures) -> Array:
    """Standard deviation from one source and receiver to another, with a single decay (ISO 3382-2, 7.2).

    ``0.55 T30 sqrt((1 + 1.52/10)/(B T))`` and ``0.88 T20 sqrt((1 + 1.90/10)/(B T))`` with B = 0.71 of the
    band's centre: an integrated impulse response counts as ten interrupted decays (from memory).
    """
    width = 0.71 * np.asarray(bands.EXACT_HZ)
    with np.errstate(invalid="ignore"):
        t30 = 0.55 * figures.t30 * np.sqrt((1.0 + 0.152) / (width * figures.t30))
        t20 = 0.88 * figures.t20 * np.sqrt((1.0 + 0.190) / (width * figures.t20))
    return frozen(np.where(np.isfinite(t30), t30, t20))


def _supported(
    figures: DecayFigures, measured: MeasuredDecay, recording: Recording
) -> tuple[DecayFigures, list[Finding]]:
    """Drop what the recording cannot support, and say so."""
    ratio = measured.peak_to_noise_db
    dead = ~np.isfinite(ratio) | (ratio < 15.0)
    width = np.asarray(bands.UPPER_EDGE_HZ) - np.asarray(bands.LOWER_EDGE_HZ)
    with np.errstate(invalid="ignore"):
        filtered = figures.t20 * width < LEAST_BT
    values = {}
    for name in ("edt", "t20", "t30", "c50", "c80", "d50", "ts", "curvature"):
        timed = name in ("edt", "t20", "t30", "curvature")
        values[name] = frozen(np.where(dead | (filtered & timed), np.nan, getattr(figures, name)))
    kept = DecayFigures(**values)
    findings: list[Finding] = []

    def note(code: str, which: NDArray[np.bool_], words: str, hint: str) -> None:
        if which.any():
            names = ", ".join(bands.band_label(f) for f, w in zip(bands.NOMINAL_HZ, which, strict=True) if w)
            findings.append(Finding(code, "note", names, words, hint))

    high = np.asarray(bands.UPPER_EDGE_HZ) >= 0.48 * recording.rate
    note(
        "band-not-sampled",
        high,
        f"{recording.rate} samples per second do not hold this band",
        "record with 48000",
    )
    note(
        "too-noisy", dead & ~high, "the impulse hardly rises above the noise: nothing is read here",
        "play louder or longer, switch off what hums; mind your hearing",
    )  # fmt: skip
    note(
        "no-t20", ~dead & ~np.isfinite(kept.t20) & ~filtered,
        "less than 35 dB between peak and noise: no T20 and no T30", "play louder or longer",
    )  # fmt: skip
    note(
        "no-t30", ~dead & np.isfinite(kept.t20) & ~np.isfinite(kept.t30),
        "less than 45 dB between peak and noise: T20 stands for T30", "play louder or longer",
    )  # fmt: skip
    note(
        "filter-limited", ~dead & filtered,
        "the decay is as short as the filter's own: no time is given", "it is short; that is all one can say",
    )  # fmt: skip
    if recording.clipped:
        findings.append(
            Finding(
                "overdriven", "warning", "recording", "samples stick at full scale: the input was overdriven",
                "record again with less gain",
            )
        )  # fmt: skip
    return kept, findings


def _bends(figures: DecayFigures, doubt: Array) -> list[Finding]:
    """Bands whose decay is no straight line. One place alone says nothing about its first 10 dB."""
    with np.errstate(invalid="ignore"):
        bent = (figures.curvature > UNRELIABLE_PERCENT) & (figures.t30 - figures.t20 > 2.0 * doubt)
    if not bent.any():
        return []
    names = ", ".join(bands.band_label(f) for f, w in zip(bands.NOMINAL_HZ, bent, strict=True) if w)
    return [
        Finding(
            "double-slope", "note", names, "the decay bends: part of the room dies away slowly",
            "one number cannot tell it; look for two bare walls that face each other",
        )
    ]  # fmt: skip


def _bare(delay_s: float, level_db: float) -> MatchedArrival:
    delay = 1000.0 * float(delay_s)
    return MatchedArrival(
        delay, float(level_db), None, (), math.nan, math.nan, _strong(delay, float(level_db))
    )


def _strong(delay_ms: float, level_db: float) -> bool:
    return delay_ms <= CRITERION_MS and level_db >= CRITERION_DB


def _match(evaluation: Evaluation, arrivals: EarlyArrivals) -> list[MatchedArrival]:
    """Give each arrival the predicted paths at its delay, the strongest first."""
    a = evaluation.arrivals
    mine = np.flatnonzero(a.order > 0)
    energy = np.mean(10.0 ** (a.level_db[mine][:, CRITERION_BANDS] / 10.0), axis=1)
    found = []
    for delay_s, measured_db in zip(arrivals.delay_s, arrivals.level_db, strict=True):
        delay, level = 1000.0 * float(delay_s), float(measured_db)
        near = np.flatnonzero(np.abs(a.delay_ms[mine] - delay) <= MATCH_MS)
        if not len(near):
            found.append(_bare(float(delay_s), level))
            continue
        order = near[np.argsort(-energy[near], kind="stable")]
        best = int(order[0])
        together = 10.0 * math.log10(max(float(energy[near].sum()), 1e-12))
        if together < level - _SHORT_DB:
            found.append(_bare(float(delay_s), level))
            continue
        words = [" then ".join(a.names[mine[k]]) for k in order if energy[k] >= _ALSO * energy[best]]
        found.append(
            MatchedArrival(
                delay, level, words[0], tuple(words[1:]), float(a.delay_ms[mine[best]]), together,
                _strong(delay, level),
            )
        )  # fmt: skip
    return found
