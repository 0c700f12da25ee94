"""What a plan says of its choice: how good it is, what counted, what it did to the room."""

from __future__ import annotations

import numpy as np

from treatment.planning.fate import fate_of
from treatment.planning.objective import MOVED_COST, ODD_COST, SIDE_WORTH, UNTIDY_COST
from treatment.planning.optimise import Selection
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.targets import outside
from treatment.scene.model import Scene


def weight_words(scene: Scene) -> tuple[str, ...]:
    """Whose reflections counted more, less or not at all.

    Parameters
    ----------
    scene : Scene
        Its seats and loudspeakers.

    Returns
    -------
    tuple of str
        One sentence; nothing when all have the weight 1.
    """
    said = [
        f"{kind} {x.name} {'is left out' if x.weight == 0.0 else f'counts {x.weight:g} times'}"
        for kind, things in (("seat", scene.seats), ("loudspeaker", scene.loudspeakers))
        for x in things
        if x.weight != 1.0
    ]
    return (f"Weights in the choice: {'; '.join(said)}.",) if said else ()


def score_words(selection: Selection) -> tuple[str, ...]:
    """What the choice is worth by the one objective, part by part.

    Parameters
    ----------
    selection : Selection
        The choice.

    Returns
    -------
    tuple of str
        One sentence; nothing when there was no choice.
    """
    score = selection.score
    if score is None:
        return ()
    moved = f", {score.moved} at new places ({MOVED_COST:g} each)" if score.moved else ""
    return (
        f"The objective is {score.total:.3f}: {score.early:.3f} of the early excess is gone, "
        f"{score.reverberation:.3f} of the misfit of the reverberation (counts {SIDE_WORTH:g}); less what "
        f"{score.odd} panels without a twin left or right cost ({ODD_COST:g} each) and {score.untidy} out of "
        f"line ({UNTIDY_COST:g} each){moved}.",
    )


def bound_words(selection: Selection) -> tuple[str, ...]:
    """How good the choice is, and what that proves.

    Parameters
    ----------
    selection : Selection
        The choice.

    Returns
    -------
    tuple of str
        A sentence on the distance, and one on what it proves; nothing without a bound.
    """
    bound = selection.bound
    if bound is None:
        return ()
    which, rest = "", ""
    if selection.standing:
        which = ", of the panels that hang, as chosen before any that stands"
        if selection.gave_way:
            which = f", of the panels that hang, as chosen before {selection.gave_way} of them gave way"
        rest = (
            " Of standing panels it says nothing: what they do adds up with nothing else, and each was found "
            "by trials, the best by rank first."
        )
    return (
        f"Choice against early arrivals{which}: within {100.0 * bound.gap:.1f} % of a proven bound. What it "
        "proves: for the same money and limits no other choice of the two builds with most gain per cost, on "
        "sites that alone gain a twentieth of the best or more, gains more than the bound on the linearised "
        "objective: each panel counts by what it does alone, and no arrival gives more than its "
        f"excess.{rest}",
    )


def outcome_words(
    placements: tuple[Placement, ...], before: Evaluation, after: Evaluation
) -> tuple[str, ...]:
    """What the choice did, in words.

    Parameters
    ----------
    placements : tuple of Placement
        All panels.
    before, after : Evaluation
        Of the room without and with them.

    Returns
    -------
    tuple of str
        Sentences on early arrivals and on reverberation.
    """
    fate = fate_of(before, after)
    stopped = f" {fate.gone} of them are stopped by panels that stand in the room." if fate.gone else ""
    new = f" {fate.new} more are above it only with the panels." if fate.new else ""
    weaker = "none of their energy arrives any more,"
    if np.isfinite(fate.weaker_db):
        weaker = f"together they carry {fate.weaker_db:.1f} dB less energy"
    words = [
        f"{len(placements)} panels; of {fate.before} early arrivals of first and second order above the "
        f"criterion at the seats' centres {fate.stay} stay above it in at least one octave; "
        f"{weaker} from 1 to 8 kHz.{stopped}{new}"
    ]
    middle = slice(2, 7)
    for name, times in (("Eyring", after.eyring), ("Sabine", after.sabine)):
        off = outside(times, after.target)[middle]
        if np.all(off == 0.0):
            words.append(f"By {name}'s formula the reverberation is inside the range from 250 Hz to 4 kHz.")
        elif off.min() < 0.0 and off.max() <= 0.0:
            words.append(f"By {name}'s formula the room is too dead in {int((off < 0).sum())} of five bands.")
        else:
            words.append(
                f"By {name}'s formula {int((off > 0).sum())} of the five bands from 250 Hz to 4 kHz stay "
                "above "
                f"the range, by up to {off.max():.2f} s: more panels would absorb more."
            )
    return tuple(words)
