"""Whether it worked: a measured impulse response beside what was predicted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from treatment import bands
from treatment.acoustics.decay import SAGGING, UNRELIABLE_PERCENT, DecayFigures, decay_figures
from treatment.acoustics.early_sound import early_arrivals, early_sound
from treatment.acoustics.impulse_response import LEAST_BT, MeasuredDecay, measured_decay
from treatment.bands import Array, frozen
from treatment.errors import Finding, PlanError
from treatment.planning.doubt import doubt_of
from treatment.planning.evaluate import evaluate
from treatment.planning.match import (
    MatchedArrival,
    PairFit,
    best_fits,
    heard_alone,
    match_arrivals,
    pair_fits,
)
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.recording import Recording
from treatment.planning.targets import outside
from treatment.scene.model import Scene

#: Scatter of T30 less EDT in one place with a single slope, over sqrt(EDT / B): 1.3 to 2.1 in noise that dies
#: away exponentially (own trial of 25 draws each of 0.2, 0.4 and 0.8 s); and how many a bend must exceed.
_EARLY_SCATTER, _CLEARLY = 2.0, 3.0
#: Below, too few modes make a decay for its first 10 dB to tell anything, Hz.
_FROM_HZ = 250


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
        What spoils the comparison first, then what the recording cannot tell.
    fits : tuple of PairFit
        How well the recording fits every pair that was looked at; empty without a scene.
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
    fits: tuple[PairFit, ...] = ()

    @property
    def fit(self) -> PairFit | None:
        """How well the recording fits the pair that it was compared with."""
        return next((f for f in self.fits if (f.source, f.seat) == (self.source, self.seat)), None)

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


def judge_recording(
    recording: Recording,
    evaluation: Evaluation | None = None,
    everything: Evaluation | None = None,
    assumed: Sequence[str] = (),
) -> Measurement:
    """Read a recording and compare it with a prediction.

    Parameters
    ----------
    recording : Recording
        An impulse response.
    evaluation : Evaluation, optional
        From `evaluate_pair`, of the room as it was when recorded.
    everything : Evaluation, optional
        Of the same room with all loudspeakers and seats: the recording is tried on every pair.
    assumed : sequence of str
        What nobody named, ``loudspeaker`` or ``seat`` or both, so that the first was taken.

    Returns
    -------
    Measurement
        Quantities, arrivals with the surfaces that sent them, verdicts.
    """
    measured = measured_decay(recording.samples, recording.rate)
    figures, findings = _supported(decay_figures(measured.decay), measured, recording)
    sound = early_sound(recording.samples, recording.rate)
    arrivals = early_arrivals(sound)
    place_doubt = _between_places(figures)
    # A strong direct sound steepens the beginning: that is no second slope of the room.
    findings += _bends(decay_figures(measured.later), place_doubt)
    first = _spoils(recording)
    if evaluation is None:
        bare = tuple(heard_alone(arrivals))
        return Measurement(
            measured, figures, place_doubt, bare, None, "", "", None, None, (*first, *findings)
        )
    doubt = doubt_of(evaluation)
    time = np.where(np.isfinite(figures.t30), figures.t30, figures.t20)
    scene = evaluation.scene
    source, seat = scene.loudspeakers[0].name, scene.seats[0].name
    fits = pair_fits(everything or evaluation, sound)
    first += _place(source, seat, fits, assumed, clipped=recording.clipped)
    return Measurement(
        measured, figures, place_doubt, tuple(match_arrivals(evaluation, arrivals)), evaluation,
        source, seat, (doubt.lower, doubt.upper),
        frozen(outside(time, evaluation.target)), (*first, *findings), fits,
    )  # fmt: skip


def _spoils(recording: Recording) -> list[Finding]:
    """Whatever makes all else worthless: it is said first."""
    if not recording.clipped:
        return []
    message = "samples stick at full scale: the input was overdriven, and no level and no early time is right"
    return [Finding("overdriven", "warning", "recording", message, "record again with less gain")]


def _place(
    source: str, seat: str, fits: tuple[PairFit, ...], assumed: Sequence[str], *, clipped: bool
) -> list[Finding]:
    """Whether the recording is of this loudspeaker and this seat, and of which it is more likely."""
    own = next(f for f in fits if (f.source, f.seat) == (source, seat))
    best = best_fits(fits)
    better = ", ".join(f"{f.source} to {f.seat} ({f.found} of {f.strong})" for f in best if f is not own)
    found: list[Finding] = []
    if own.doubtful(fits) and not clipped:
        message = (
            f"is this {source} to {seat}? Of {own.strong} strong single bounces predicted there "
            f"{own.found} {'was' if own.found == 1 else 'were'} found; the early sound is "
            f"{max(own.alike, 0.0):.2f} like the predicted one (1 is the same)"
        )
        hint = "no pair of the scene fits: is it this room, and are its measures right?"
        if better:
            hint = f"it fits better: {better}, {best[0].alike:.2f}"
        found.append(Finding("place-doubtful", "warning", "recording", message, hint))
    if assumed:
        message = f"no {' and no '.join(assumed)} named: taken as {source} to {seat}, the scene's first"
        whole = f"{own.found} of {own.strong} strong single bounces found"
        if clipped:
            hint = "which pair fits cannot be told from an overdriven recording"
        elif own in best:
            hint = f"it fits as well as any: {whole}" + (f"; so does {better}" if better else "")
        else:
            hint = f"best fits {better}" if better else f"no pair fits well; here {whole}"
        found.append(Finding("pair-assumed", "note", "recording", message, hint))
    return found


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
    return kept, findings


def _bends(figures: DecayFigures, doubt: Array) -> list[Finding]:
    """Bands whose decay is no straight line: in the range of T30, or above it, where only EDT is shorter."""
    time = np.where(np.isfinite(figures.t30), figures.t30, figures.t20)
    with np.errstate(invalid="ignore"):
        bent = (figures.curvature > UNRELIABLE_PERCENT) & (figures.t30 - figures.t20 > _CLEARLY * doubt)
        scatter = _EARLY_SCATTER * np.sqrt(figures.edt / (0.71 * np.asarray(bands.EXACT_HZ)))
        sags = (time > SAGGING * figures.edt) & (time - figures.edt > _CLEARLY * scatter)
    sags[: bands.band_index(_FROM_HZ)] = False
    bent = bent | sags
    if not bent.any():
        return []
    names = ", ".join(bands.band_label(f) for f, w in zip(bands.NOMINAL_HZ, bent, strict=True) if w)
    return [
        Finding(
            "double-slope", "note", names, "the decay bends: part of the room dies away slowly",
            "one number cannot tell it; look for two bare walls that face each other",
        )
    ]  # fmt: skip
