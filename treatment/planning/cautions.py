"""What can hurt someone, from the plan's own facts; local codes and licensed practice come first.

Sources
-------
Working space: USA NEC 110.26 (the same in IRC E3405), for up to 150 V to ground. Recessed lamps: NEC
410.116. Classes of reaction to fire: EN 13501-1 (from memory), ASTM E84. Hearing: NIOSH criteria for a
recommended standard, occupational noise exposure (1998), 85 dB(A) for 8 h with 3 dB exchange; WHO/ITU-T
H.870, 80 dB(A) for 40 h a week (from memory). Clear space below sprinklers, handling of fibres:
from memory. Clear space round detectors, factor of five, two fixings, ventilated gap: common practice.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from treatment.geometry.boxes import box_on, gaps
from treatment.measures import length_words, small_words
from treatment.planning.fixings import FACTOR, fixing_for
from treatment.planning.kept import DETECTOR_SPACE, HEAD_SPACE, LAMP_SPACE, body_boxes
from treatment.planning.members import grid_of
from treatment.planning.plan import Placement
from treatment.scene.model import KeepOut, Scene
from treatment.units import format_length

#: Depth, width and height of the working space before a board, m: 36 in, 30 in, 6.5 ft. NEC 110.26.
WORKING_SPACE: Final = (0.9144, 0.762, 1.9812)
#: Clear space below a sprinkler, m: 18 in. From memory.
SPRINKLER_SPACE: Final = 0.4572

_FIBROUS: Final = ("wool", "fibre", "mineral")
_FOAM: Final = ("foam", "polyurethane", "melamine")
_LOCAL: Final = "Local codes decide"


def daily_hours(level_dba: float) -> float:
    """Hours a day after which a steady level fills a working day's dose of noise.

    Parameters
    ----------
    level_dba : float
        A-weighted level in dB.

    Returns
    -------
    float
        ``8 / 2**((L - 85) / 3)`` (NIOSH 1998; occupational, not a limit for leisure).
    """
    return float(8.0 / 2.0 ** ((level_dba - 85.0) / 3.0))


def weekly_hours(level_dba: float) -> float:
    """Hours a week after which a steady level fills an adult listener's dose.

    Parameters
    ----------
    level_dba : float
        A-weighted level in dB.

    Returns
    -------
    float
        ``40 / 2**((L - 80) / 3)`` (WHO/ITU-T H.870).
    """
    return float(40.0 / 2.0 ** ((level_dba - 80.0) / 3.0))


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
        A topic, a colon and a few sentences each, the gravest first.
    """
    said = (
        _electrical(scene, placements),
        _overhead(scene, placements),
        _suspended(scene, placements),
        _tipping(scene, placements),
        _across_corners(placements),
        _lamps(scene, placements),
        _fire(placements),
        _escape(scene, placements),
        _walls(scene, placements),
        _fibres(placements),
        _boards(scene, placements),
        _damp(scene, placements),
        _hearing(),
    )
    return tuple(words for words in said if words)


def _names(things: Sequence[str]) -> str:
    return ", ".join(dict.fromkeys(things))


def _kept(scene: Scene, reason: str) -> list[KeepOut]:
    return [k for k in scene.keep_outs if k.reason == reason]


def _nearest(scene: Scene, placements: Sequence[Placement], keep: KeepOut) -> tuple[float, str] | None:
    """Clear distance from a kept-free space to the nearest panel's body, and that panel."""
    if not placements:
        return None
    space = box_on(scene.surfaces[keep.surface].polygon, keep.rectangle, max(keep.depth, 0.01))
    apart = np.maximum(gaps(space, body_boxes(scene, placements))[0], 0.0)
    return min(zip(apart.tolist(), (p.id for p in placements), strict=True))


def _near_words(scene: Scene, placements: Sequence[Placement], keeps: Sequence[KeepOut], least: float) -> str:
    """Tell how near the nearest panel comes to each kept-free space."""
    words = []
    for k in keeps:
        nearest = _nearest(scene, placements, k)
        if nearest:
            close = ", which is too near" if nearest[0] < least - 1e-6 else ""
            apart = format_length(nearest[0], scene.units)
            words.append(f"{nearest[1]} stays at least {apart} clear of {k.name}{close}")
    return f" Here {'; '.join(words)}." if words else ""


def _electrical(scene: Scene, placements: Sequence[Placement]) -> str:
    boards = _kept(scene, "electrical")
    if not boards:
        return ""
    short = [
        f"{k.name} {format_length(k.depth, scene.units)}" for k in boards if k.depth < WORKING_SPACE[0] - 5e-3
    ]
    depth, width, height = (format_length(x, scene.units) for x in WORKING_SPACE)
    less = f" The scene keeps less depth free: {_names(short)}." if short else ""
    return (
        f"Electricity ({_names([k.name for k in boards])}): keep the whole working space free, also of "
        "things that stand on the floor, let the door open fully, and never cover a board, a junction box "
        f"or a shut-off. As an example, the USA's NEC 110.26 asks for {depth} of depth, "
        f"{width} of width and {height} of height.{less}"
        f"{_near_words(scene, placements, boards, 0.0)} {_LOCAL}; work on the board is for a licensed "
        "electrician."
    )


def _overhead(scene: Scene, placements: Sequence[Placement]) -> str:
    above = [p for p in placements if scene.surfaces[p.surface].kind == "ceiling"]
    above = [p for p in above if grid_of(scene, p.surface) is None]
    if not above:
        return ""
    kinds: dict[str, tuple[list[str], str]] = {}
    for p in above:
        fixing = fixing_for(p.build, "ceiling")
        if fixing is not None and fixing.rating is not None:
            words = (
                f"weighs about {p.build.mass:.1f} kg without cloth and hangs on {fixing.count} fixings, "
                f"each rated for {fixing.rating:.0f} kg or more"
            )
        else:
            words = "has no known mass: weigh it before you choose fixings"
        kinds.setdefault(p.build.id, ([], words))[0].append(p.id)
    each = "; ".join(f"{_names(ids)}: each {words}" for ids, words in kinds.values())
    return (
        f"Load overhead ({_names([p.id for p in above])}): fix into joists or battens, never into board "
        "alone, with at least two independent fixings, so that any one may fail; a factor of "
        f"{FACTOR:g} on the load is common practice. {each}.{_over_seats(scene, above)} Have a second person "
        f"hold it while you fix it. {_LOCAL}, for earthquakes and children too; where a joist is in doubt "
        "ask a licensed builder."
    )


def _suspended(scene: Scene, placements: Sequence[Placement]) -> str:
    """Tell what tiles in a suspended ceiling ask for."""
    tiles = [p for p in placements if grid_of(scene, p.surface) is not None and not p.standing]
    if not tiles:
        return ""
    grids = [g for g in scene.tile_grids if g.surface in {p.surface for p in tiles}]
    most = min(g.mass_per_tile for g in grids)
    return (
        f"Suspended ceiling ({_names([p.id for p in tiles])}): the scene says that a field carries "
        f"{most:.1f} kg; the maker of the grid has the last word, for every tile together too. Nothing is "
        "hung from the tiles or the rails; over heads, hold each panel to the structure with two wires "
        f"(common practice).{_over_seats(scene, tiles)} {_LOCAL}, for fire, lamps, vents and earthquakes "
        "above such a ceiling."
    )


def _tipping(scene: Scene, placements: Sequence[Placement]) -> str:
    """Tell what panels that stand on the floor ask for."""
    standing = [p for p in placements if p.standing]
    if not standing:
        return ""
    highest = max(p.build.outer_height for p in standing)
    return (
        f"Standing panels ({_names([p.id for p in standing])}): they can tip over, on children above all. "
        f"Feet as deep as a third of the height, here {format_length(highest / 3.0, scene.units)}, or a "
        "strap to the wall (common practice); push at the top edge before you let go. "
        f"When you move them, keep ways out and the space before boards free. {_LOCAL}."
    )


def _across_corners(placements: Sequence[Placement]) -> str:
    """Tell what panels across corners ask for."""
    across = [p for p in placements if p.corner is not None]
    if not across:
        return ""
    return (
        f"Panels across corners ({_names([p.id for p in across])}): pipes, cables and chimneys run in "
        "corners; look before you drill, and leave free what must be reached, such as a valve. Screw an "
        "upright batten to each wall and the frame to both, also where a panel stands on the floor: one that "
        "only leans can fall. Behind it air hardly moves: at outer walls leave a way for air at the bottom "
        f"and the top, and look for damp and mould after the first winter (common practice). {_LOCAL}."
    )


def _over_seats(scene: Scene, above: Sequence[Placement]) -> str:
    """Tell which panels hang over the area of a head."""
    found = []
    for p in above:
        low, high = body_boxes(scene, [p]).bounds[0]
        for seat in scene.seats:
            reach = seat.spread + HEAD_SPACE
            if np.all(seat.position[:2] + reach > low[:2]) and np.all(seat.position[:2] - reach < high[:2]):
                found.append(f"{p.id} over {seat.name}")
    return f" Over heads: {_names(found)}." if found else ""


def _lamps(scene: Scene, placements: Sequence[Placement]) -> str:
    lamps = _kept(scene, "luminaire")
    above = [p for p in placements if scene.surfaces[p.surface].kind == "ceiling"]
    if not lamps and not above:
        return ""
    known = f" ({_names([k.name for k in lamps])})" if lamps else ""
    missing = "" if lamps else " The scene names no lamp: add each as a keep-out with reason luminaire."
    return (
        f"Lamps{known}: wool counts as insulation. Keep it {small_words(LAMP_SPACE, scene.units)} or "
        "more from recessed lamps and never above one, unless it is made for contact with insulation "
        "(NEC 410.116, as an example)."
        f"{missing}{_near_words(scene, placements, lamps, LAMP_SPACE)} {_LOCAL}; moving a lamp is for a "
        "licensed electrician."
    )


def _fire(placements: Sequence[Placement]) -> str:
    if not placements:
        return ""
    facings = _names([p.build.facing for p in placements if p.build.facing not in ("", "none")])
    cover = f" of the cover ({facings})" if facings else " of any cover"
    foam = _names([p.build.id for p in placements if any(w in _words(p) for w in _FOAM)])
    bare = (
        f" {foam}: foam burns fast and its smoke kills; use it only with a class for walls and ceilings."
        if foam
        else ""
    )
    board = ", perforated board" if any(p.build.sheet for p in placements) else ""
    return (
        f"Fire: ask for the reaction-to-fire class{cover}, the core and the frame as built (EN 13501-1, ASTM "
        f"E84, or what applies where you live); cloth{board} and frame decide, not the wool alone."
        f"{bare} Bare foam and untreated cloth do not belong in a room, least of all in one with a single "
        f"exit. Keep panels clear of heaters, chimneys and gas appliances. {_LOCAL}; where others than you "
        "use the room ask the fire authority or a licensed fire engineer."
    )


def _escape(scene: Scene, placements: Sequence[Placement]) -> str:
    if not placements:
        return ""
    detectors, vents = _kept(scene, "detector"), _kept(scene, "vent")
    ways = _names([o.name for o in scene.openings])
    out = f" ({ways})" if ways else ""
    near = _near_words(scene, placements, detectors, DETECTOR_SPACE)
    none = "" if detectors else " The scene names no detector: if there is one, add it as a keep-out."
    air = f" Leave {_names([k.name for k in vents])} free to blow and draw." if vents else ""
    return (
        f"Ways out and alarms: keep doors and windows{out} free to open and to leave by. Keep panels "
        f"{format_length(DETECTOR_SPACE, scene.units)} or more from smoke and gas detectors, and "
        f"{length_words(SPRINKLER_SPACE, scene.units)} below sprinklers."
        f"{none}{near}{air} {_LOCAL}; moving a detector or a sprinkler is for licensed trades."
    )


def _walls(scene: Scene, placements: Sequence[Placement]) -> str:
    hung = [p for p in placements if scene.surfaces[p.surface].kind == "wall"]
    if not hung:
        return ""
    heaviest = max(hung, key=lambda p: p.build.mass)
    fixing = fixing_for(heaviest.build, "wall")
    mass = ""
    if fixing is not None and fixing.rating is not None:
        mass = (
            f" The heaviest, {heaviest.id}, weighs about {heaviest.build.mass:.1f} kg: {fixing.count} "
            f"fixings, each rated for {fixing.rating:.0f} kg or more."
        )
    unknown = _names([p.build.id for p in hung if not p.build.mass > 0.0])
    weigh = f" Not known is the mass of {unknown}: weigh one." if unknown else ""
    return (
        "Fixing to walls: find studs, and pipes and cables, before drilling; do not hang a frame from "
        "plasterboard alone; two fixings each, and a stop at the bottom where a head may be below."
        f"{mass}{weigh} {_LOCAL}; a cable or pipe that you hit is for licensed trades."
    )


def _words(p: Placement) -> str:
    layers = " ".join(x.kind for x in p.build.layers)
    return f"{p.build.id} {p.build.description} {p.build.material.description} {layers}".lower()


def _fibres(placements: Sequence[Placement]) -> str:
    kinds = _names([p.build.id for p in placements if any(w in _words(p) for w in _FIBROUS)])
    if not kinds:
        return ""
    return (
        f"Fibres ({kinds}): cut mineral or glass wool with gloves, long sleeves, goggles and a dust mask "
        "(FFP2 or N95), air the room, and wrap every face, the back too, so that nothing is shed later. "
        "Old wool, and any old board or coating that may hold asbestos, is for a licensed firm; local codes "
        "decide how offcuts are thrown away."
    )


def _boards(scene: Scene, placements: Sequence[Placement]) -> str:
    """Tell what sawing, drilling and hanging perforated faces ask for."""
    faced = [(p, p.build.sheet) for p in placements if p.build.sheet]
    if not faced:
        return ""
    drilled = _names([p.build.id for p, sheet in faced if sheet.drilled])
    holes = sum(sheet.holes(p.build.width, p.build.height) for p, sheet in faced if sheet.drilled)
    drills = (
        f" Drill ({drilled}, {holes} holes in all) with the board clamped on scrap, no gloves at the drill, "
        "and take breaks."
        if drilled
        else ""
    )
    heaviest = max(s.mass(p.build.outer_width, p.build.outer_height) for p, s in faced)
    above = [p.id for p, _ in faced if scene.surfaces[p.surface].kind == "ceiling"]
    weight = f" A board alone weighs up to {heaviest:.1f} kg" if heaviest else " A board adds weight"
    overhead = (
        f"{weight} and has hard edges: overhead ({_names(above)}) screws all round hold it, glue alone does "
        "not, and two people lift the panel."
        if above
        else ""
    )
    return (
        f"Perforated faces ({_names([p.id for p, _ in faced])}): saw and drill board with goggles, hearing "
        "protection and a dust mask (FFP2 or N95), with dust drawn off: dust of wood and its glues harms the "
        f"lungs.{drills}{overhead} Ask for a board of low formaldehyde emission and for its reaction-to-fire "
        f"class. {_LOCAL}; in doubt about a load ask a licensed builder."
    )


def _damp(scene: Scene, placements: Sequence[Placement]) -> str:
    hung = [p for p in placements if not p.solid and scene.surfaces[p.surface].kind != "floor"]
    flat = [p for p in hung if not p.build.air_gap]
    if not flat:
        return ""
    return (
        "Damp: on cold outer walls, roofs and basement walls leave a ventilated gap behind the panel "
        f"(common practice). Flat on their surface are {_names([p.id for p in flat])}: look behind them "
        f"after the first winter. {_LOCAL}; a wet wall is for a licensed building professional first."
    )


def _hearing() -> str:
    return (
        "Hearing: test signals can be loud; turn down first, then up. At 94 dB(A) "
        f"{daily_hours(94.0):.0f} h fills a working day's dose, at 100 dB(A) "
        f"{60.0 * daily_hours(100.0):.0f} min (NIOSH: 85 dB(A), 8 h, 3 dB exchange); for leisure WHO and "
        f"ITU-T H.870 allow adults {weekly_hours(80.0):.0f} h a week at 80 dB(A), {weekly_hours(83.0):.0f} h "
        "at 83 dB(A). Wear protection near a loudspeaker; local codes and licensed hearing professionals "
        "come first."
    )
