"""What a plan says of its choice: how good it is, what counted, what it did to the room."""

from __future__ import annotations

import numpy as np

from treatment.planning.fate import fate_of
from treatment.planning.objective import MOVED_COST, ODD_COST, SIDE_WORTH, UNTIDY_COST, score
from treatment.planning.optimise import Selection
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.problem import Problem
from treatment.planning.targets import outside
from treatment.planning.tidy import HAIR_DB
from treatment.scene.model import Scene
from treatment.units import format_length


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
    whole = selection.score
    if whole is None:
        return ()
    moved = f", {whole.moved} at new places ({MOVED_COST:g} each)" if whole.moved else ""
    return (
        f"The objective is {whole.total:.3f}: {whole.early:.3f} of the early excess is gone, "
        f"{whole.reverberation:.3f} of the misfit of the reverberation (counts {SIDE_WORTH:g}); less what "
        f"{whole.odd} panels without a twin left or right cost ({ODD_COST:g} each) and {whole.untidy} out of "
        f"line ({UNTIDY_COST:g} each){moved}.",
    )


def tidy_words(problem: Problem, selection: Selection) -> tuple[str, ...]:
    """How many panels were lined up after the choice, and what that cost.

    Parameters
    ----------
    problem : Problem
        With the places that panels were moved to.
    selection : Selection
        The choice, lined up.

    Returns
    -------
    tuple of str
        One sentence; nothing where none was moved.
    """
    if not selection.aligned:
        return ()
    s, now = problem.sites.rectangle, [(c.site, c.build) for c in selection.choices]
    far = max(
        float(np.abs(s[a] - s[b]).max()) for (a, _), (b, _) in zip(selection.as_chosen, now, strict=True)
    )
    was, then = score(problem, selection.as_chosen).total, score(problem, now).total
    who = "1 panel was" if selection.aligned == 1 else f"{selection.aligned} panels were"
    return (
        f"Lined up: {who} moved by up to {format_length(far, problem.scene.units)} after the choice, to "
        "share lines with others, to mirror them or to even gaps; the objective of what hangs went from "
        f"{was:.4f} to {then:.4f}, and no early reflection that was covered came more than {HAIR_DB:g} dB "
        "above the criterion.",
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
    which, rest = ", as chosen before panels were lined up" if selection.aligned else "", ""
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
