"""Parts of a panel by name and size, and the order of making it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.sheet import PerforatedSheet
from treatment.materials.stock import Stock
from treatment.planning.carriers import CORNER_BATTEN, Carrier
from treatment.planning.hardware import FACE_STEP, WIRE_STEP, needs_wire
from treatment.planning.pieces import BACK_FOLD, BARE
from treatment.units import format_imperial

_HOLDING: Final = {
    "cleat": "Screw batten and cleat into studs or masonry, the pocket of the bevel up and towards the wall, "
    "and the blocks to the lower rail. Hook the panel in and lock it with a screw from below.",
    "plates": "Screw the plates to the frame, then into studs or masonry; a stop below where heads may be.",
    "battens": "Screw the battens across the joists, a screw into every joist they cross. Two people: hold "
    "the panel up and screw a strap from frame to batten at each end of each rail. Pull.",
    "brackets": "Screw brackets to two boards of the frame. Two people: hold it up and fix each bracket into "
    "a joist, or into a batten across the joists. Pull.",
    "corner": "Screw a batten upright to each wall, and the frame to both. Two people.",
}


@dataclass(frozen=True)
class Row:
    """One part of the legend.

    Parameters
    ----------
    part : str
        Key of the shapes that it names.
    name : str
        For the reader.
    words : str
        Size, and what it does.
    """

    part: str
    name: str
    words: str


def short_words(metres: float, units: str) -> str:
    """A size in the person's own unit: ``32 mm`` or ``1 1/4 in``.

    Parameters
    ----------
    metres : float
        In m.
    units : str
        What the person measures in.
    """
    return format_imperial(metres) if units in {"ft", "in"} else f"{1000.0 * metres:.0f} mm"


def size_words(metres: float, units: str) -> str:
    """A size in the person's own unit, and in the other: ``32 mm (1 1/4 in)``.

    Parameters
    ----------
    metres : float
        In m.
    units : str
        What the person measures in.
    """
    other = "m" if units in {"ft", "in"} else "ft"
    return f"{short_words(metres, units)} ({short_words(metres, other)})"


def legend(build: PanelBuild, carrier: Carrier, stock: Stock, units: str) -> list[Row]:
    """Parts of a panel and of what holds it, with their sizes.

    Parameters
    ----------
    build : PanelBuild
        With a frame.
    carrier : Carrier
        What holds it.
    stock : Stock
        What is sold.
    units : str
        What the person measures in.

    Returns
    -------
    list of Row
        From the cloth to the house.
    """

    def size(x: float) -> str:
        return size_words(x, units)

    board = stock.board_for(build.frame_thickness, build.frame_depth)
    thick = board.thickness if board else build.frame_thickness
    held = f"{size(carrier.thickness)} thick, {size(carrier.width)} wide"
    cloth = f"room side; folds {size(BACK_FOLD)} round to the back"
    rows = [Row("cloth", f"cloth: {build.facing or 'none'}", cloth)]
    if build.sheet:
        sheet = build.sheet
        name = f"perforated {sheet.board}, {size(sheet.thickness)}"
        rows.append(Row("sheet", name, f"{sheet.grid}; a screw every {size(FACE_STEP)}"))
    if needs_wire(build, carrier):
        why = "the slab does not fall back" if carrier.kind == "corner" else "keeps the slab off the cloth"
        rows.append(Row("wire", "wire, to and fro", f"every {size(WIRE_STEP)}: {why}"))
    core = ", ".join(f"{x.density:.0f} kg/m3" for x in build.layers if x.density)
    inside = f"{size(build.width)} x {size(build.height)}"
    rows += [
        Row("slab", f"slab, {size(build.frame_depth)}", f"{inside}{', ' + core if core else ''}"),
        Row("frame", "frame, boards on edge", f"{size(thick)} thick, {size(build.frame_depth)} deep"),
        Row("fleece", "fleece", "house side: closes the back, sheds no fibre"),
    ]
    rest = {
        "cleat": [
            Row("upper rail", "upper rail, one edge at 45 degrees", held),
            Row("rail", "lower rail", held),
            Row(
                "cleat", "cleat on the wall, other half", "its highest edge on the line of the hanging sheet"
            ),
        ],
        "battens": [
            Row("rail", f"rails, {len(carrier.rails)}", held + "; below the joists"),
            Row("ceiling batten", "ceiling battens, 2", f"{size(carrier.spacer)} deep, across the joists"),
            Row("strap", "straps", "frame to batten, at each end of each rail"),
        ],
        "plates": [Row("plate", "hanging plates", "on the upper board, into studs or masonry")],
        "brackets": [Row("bracket", "brackets", "on two boards of the frame, into joists")],
        "corner": [Row("corner batten", "upright battens", f"{size(CORNER_BATTEN)} deep, one on each wall")],
    }[carrier.kind]
    if carrier.kind == "cleat" and carrier.spacer:
        deep = f"{size(carrier.spacer)} deep"
        rest.append(Row("cleat batten", "batten behind the cleat", f"{deep}, into studs"))
        rest.append(Row("block", "blocks, 2", f"{deep}, on the lower rail"))
    if carrier.kind == "brackets" and carrier.rails:
        rest.insert(0, Row("rail", f"rails, {len(carrier.rails)}", held))
    member = {"cleat": "stud", "plates": "stud", "battens": "joist", "brackets": "joist"}.get(carrier.kind)
    if member:
        words = "behind the board; find it first" if member == "stud" else "above the board; find it first"
        rest.append(Row(member, f"{member}, or masonry" if member == "stud" else "joist", words))
    return rows + rest


def making_steps(build: PanelBuild, carrier: Carrier) -> list[str]:
    """Order in which a panel is put together and hung.

    Parameters
    ----------
    build : PanelBuild
        With a frame.
    carrier : Carrier
        What holds it.

    Returns
    -------
    list of str
        Sentences, common practice.
    """
    steps = ["Screw the boards together on edge, two screws in each corner; both diagonals must be equal."]
    if build.sheet:
        steps += _sheet_steps(build.sheet, build)
    elif needs_wire(build, carrier) and carrier.kind != "corner":
        steps.append("Staple wire to and fro across the face: it keeps the slab off the cloth.")
    cloth = "Stretch the cloth over the face and round the sides, and staple it to the back."
    if build.facing in BARE:
        cloth = (
            "This build names no cloth (`facing`): choose one, for bare fibres must not get into the room. "
            + cloth
        )
    steps += [
        cloth,
        "Turn it face down and lay the slab in: gloves, long sleeves, goggles, dust mask.",
    ]
    if carrier.kind == "corner":
        steps.append("Staple wire to and fro across the back: it keeps the slab from falling back.")
    steps.append("Staple the fleece over the whole back.")
    if carrier.rails:
        steps.append("Screw the rails flat across the back, two screws at each end into the boards.")
    return [
        *steps,
        "Weigh it: fixings are rated by the mass that the lists tell.",
        _HOLDING[carrier.kind],
        "What may hang overhead, and who may fix it, is for local codes; in doubt ask a licensed builder.",
    ]


def _sheet_steps(sheet: PerforatedSheet, build: PanelBuild) -> list[str]:
    """Making and fixing a perforated face."""
    holes = sheet.holes(build.width, build.height)
    if sheet.drilled:
        first = (
            f"Mark and drill about {holes} holes over the slab's part of the board, clamped on scrap, two or "
            "three boards at once: goggles, dust mask, hearing protection. Try the drill on scrap and "
            "measure the hole: a millimetre shifts the tuning."
        )
    else:
        first = (
            f"Saw the board that you bought with its holes, about {holes} a panel: goggles, dust mask. "
            "Measure a hole and the spacing first; other holes are another panel."
        )
    return [
        first,
        "Screw it to the front of the frame all round, pilot holes first; glue alone does not hold it.",
    ]
