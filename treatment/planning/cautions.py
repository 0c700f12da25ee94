"""What can hurt someone, from the plan's own facts. Every caution defers to local rules."""

from __future__ import annotations

from collections.abc import Sequence

from treatment.planning.plan import Placement
from treatment.scene.model import Scene

_FIBROUS = ("wool", "glass", "fibre", "mineral")


def cautions_for(scene: Scene, placements: Sequence[Placement]) -> tuple[str, ...]:
    """Collect the cautions that this plan calls for.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.

    Returns
    -------
    tuple of str
        One sentence or two each, the gravest first.
    """
    said = []
    if any(k.reason == "electrical" for k in scene.keep_outs):
        names = ", ".join(k.name for k in scene.keep_outs if k.reason == "electrical")
        said.append(
            f"Electricity ({names}): keep the whole working space free, also of things that "
            "stand on the floor, "
            "and never cover the board. As an example, the USA's NEC 110.26 asks for 0.91 m "
            "of depth, 0.76 m of "
            "width and 1.98 m of height; your local code rules. Work on the board is for a "
            "licensed electrician."
        )
    overhead = [p for p in placements if scene.surfaces[p.surface].kind == "ceiling"]
    if overhead:
        heaviest = max(p.build.mass for p in overhead)
        mass = f" The heaviest weighs about {heaviest:.1f} kg." if heaviest else ""
        said.append(
            f"Load overhead ({', '.join(p.id for p in overhead)}): fix into joists or "
            "battens, not into board "
            f"alone, with two independent fixings each, rated for at least five times the load (common "
            f"practice).{mass} Have a second person hold it. Local building rules apply."
        )
    if any(scene.surfaces[p.surface].kind == "wall" for p in placements):
        said.append(
            "Fixing to walls: find studs, and pipes and cables, before drilling; do not hang a panel from "
            "plasterboard alone; two fixings each, and a stop at the bottom where a head may be below it."
        )
    words = " ".join(f"{p.build.description} {p.build.material.description}" for p in placements).lower()
    if any(w in words for w in _FIBROUS):
        said.append(
            "Fibres: cut mineral or glass wool with gloves, long sleeves, goggles and a dust "
            "mask (FFP2 or N95), "
            "air the room, and wrap every face so that nothing is shed later."
        )
    if placements:
        said.append(
            "Fire: ask for the reaction-to-fire class of cloth and core (EN 13501-1, ASTM "
            "E84, or what applies "
            "where you live); bare foam and untreated cloth do not belong in a room with one "
            "exit. Keep panels "
            "75 mm or more from recessed lamps, clear of heaters, detectors, sprinklers and "
            "vents, and out of "
            "escape routes. Local fire rules apply."
        )
        said.append("Damp: on cold outer walls leave a ventilated gap behind the panel (common practice).")
    said.append(
        "Hearing: test signals can be loud. At 94 dB(A) an hour fills a working day's dose (NIOSH, 85 dB(A), "
        "8 h, 3 dB exchange); turn down first, then up."
    )
    return tuple(said)
