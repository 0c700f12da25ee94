"""Where an evaluation's numbers do not hold."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from treatment import bands
from treatment.errors import Finding
from treatment.materials.predicted import SHEET_DOUBT, SHEET_MORE
from treatment.measures import small_words
from treatment.planning.furnishing import displaced_volume
from treatment.planning.plan import AbsorptionRow, Arrivals, Placement
from treatment.scene.model import Scene

#: A path that passes an outline or inner corner this closely may or may not exist in the real room (m).
MARGINAL = 0.05
#: What is known of the model of a perforated face above 500 Hz.
MORE_ABOVE_500 = (
    "above 500 Hz it absorbs more than this says, how much is not known: the one published row that the "
    "model was compared with absorbs "
    + ", ".join(
        f"{more:.2f} more at {bands.band_label(f)}"
        for f, more in zip(bands.NOMINAL_HZ, SHEET_MORE, strict=True)
        if more and f < bands.NOMINAL_HZ[-1]
    )
    + f", and lies within {SHEET_DOUBT:.2f} up to 500 Hz"
)
#: Share of the room that objects may take by EN 12354-6:2003.
MOST_DISPLACED = 0.2


def face_caveats(placements: Sequence[Placement]) -> list[Finding]:
    """Tell of which panels too little is known above 500 Hz.

    Parameters
    ----------
    placements : sequence of Placement
        The panels.

    Returns
    -------
    list of Finding
        One note for all perforated faces together; none without any.
    """
    names = [p.id for p in placements if p.build.sheet]
    if not names:
        return []
    told = MORE_ABOVE_500.replace("it absorbs", "a perforated face absorbs", 1)
    hint = "the times are told too long there, within their interval; measure before you add panels for them"
    return [Finding("more-above-500", "note", ", ".join(names), told, hint)]


def caveats(
    scene: Scene, rows: Sequence[AbsorptionRow], schroeder: float, target_note: str, arrivals: Arrivals
) -> list[Finding]:
    """List where an evaluation's numbers do not hold.

    Parameters
    ----------
    scene : Scene
        The room.
    rows : sequence of AbsorptionRow
        Its boundary.
    schroeder : float
        Schroeder frequency, Hz.
    target_note : str
        What the target's source does not cover.
    arrivals : Arrivals
        At the seats.

    Returns
    -------
    list of Finding
        Notes.
    """
    found = []
    below = [f for f in bands.NOMINAL_HZ if f < schroeder]
    if below:
        found.append(
            Finding(
                "below-schroeder",
                "note",
                "reverberation",
                f"below the Schroeder frequency, {schroeder:.0f} Hz, single room modes decide: "
                "the times up to "
                f"the {bands.band_label(below[-1])} band are indicative",
                "measure before you spend money on the bass",
            )
        )
    used = [(r.material, r.assumed) for r in rows if r.area > 0.0]
    used += [(o.material, o.assumed) for o in scene.objects]
    assumed = sorted({material for material, marks in used if marks.any()})
    if assumed:
        which = np.any([marks for _, marks in used], axis=0)
        bands_text = ", ".join(bands.band_label(f) for f, a in zip(bands.NOMINAL_HZ, which, strict=True) if a)
        found.append(
            Finding(
                "bands-assumed",
                "note",
                "materials",
                f"no published data at {bands_text} for {', '.join(assumed)}: the neighbour "
                "band's value is held",
                "treat these bands as a guess",
            )
        )
    share = displaced_volume(scene) / scene.enclosure.volume
    if share > MOST_DISPLACED:
        found.append(
            Finding(
                "objects-crowd",
                "note",
                "objects",
                f"objects take {100.0 * share:.0f} % of the room; their source (EN 12354-6) ends at a fifth",
                "draw what is large and solid as an obstacle",
            )
        )
    if target_note:
        found.append(Finding("target-outside-source", "note", "target", target_note))
    close = [
        i for i in range(len(arrivals.order)) if arrivals.order[i] == 1 and arrivals.clearance[i] < MARGINAL
    ]
    for i in close:
        source, seat = scene.loudspeakers[arrivals.source[i]].name, scene.seats[arrivals.seat[i]].name
        found.append(
            Finding(
                "marginal-path",
                "note",
                f"{source} to {seat} by {arrivals.names[i][0]}",
                f"the reflection passes an edge at {small_words(float(arrivals.clearance[i]), scene.units)}: "
                "a small error of the tape decides whether it exists, and edges in open air weaken it",
                "cover it as if it did exist in full",
            )
        )
    return found
