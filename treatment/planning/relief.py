"""What works where no panel may hang: draw a curtain."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from treatment.materials.build import PanelBuild
from treatment.materials.prices import EXAMPLE
from treatment.planning.evaluate import evaluate
from treatment.planning.fate import energy_fall
from treatment.planning.plan import Evaluation
from treatment.planning.targets import CRITERION_BANDS
from treatment.scene.model import Scene


def with_curtain(scene: Scene, after: Evaluation, opening: int) -> str:
    """What a heavy curtain across an opening would do to the reflections off it.

    Parameters
    ----------
    scene : Scene
        The room.
    after : Evaluation
        With all panels.
    opening : int
        Index of the opening.

    Returns
    -------
    str
        A sentence part with the level change; nothing when no curtain may be built, or across a door.
    """
    curtains = [b for b in scene.builds if b.material.category == "curtain"]
    # What one leaves by stays free: no cloth across a door.
    if not curtains or scene.openings[opening].material.category != "window":
        return ""
    curtain = max(curtains, key=lambda b: float(b.material.absorption[CRITERION_BANDS].mean()))
    name = scene.openings[opening].name
    changed = tuple(
        replace(o, material=curtain.material) if i == opening else o for i, o in enumerate(scene.openings)
    )
    drawn = evaluate(replace(scene, openings=changed), after.placements)
    on = np.array([len(n) == 1 and n[0] == name for n in after.arrivals.names], dtype=bool)
    if not on.any():
        return ""
    change = energy_fall(after.arrivals.level_db[on], drawn.arrivals.level_db[on])
    return (
        f"a curtain like '{curtain.id}' drawn across it takes {change:.0f} dB off these reflections "
        f"together, in energy from 1 to 8 kHz{_price_words(scene, curtain, opening)}"
    )


def _price_words(scene: Scene, curtain: PanelBuild, opening: int) -> str:
    """What a curtain across an opening costs; nothing where its price is not known."""
    if curtain.price <= 0.0:
        return ""
    price = curtain.price / curtain.face_area * scene.openings[opening].rectangle.area
    currency = f" {scene.budget.currency}" if scene.budget and scene.budget.currency else ""
    whose = " by example prices" if EXAMPLE in curtain.price_note else ""
    return f", for about {price:.0f}{currency}{whose}"
