"""Fixings by rating, straps and plates, screws, wire and staples."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from treatment.materials.build import PanelBuild
from treatment.materials.stock import Stock
from treatment.measures import small_words
from treatment.planning.carriers import Carrier, carrier_for
from treatment.planning.fixings import Fixing, fixing_for
from treatment.planning.members import grid_of
from treatment.planning.parts import Part
from treatment.planning.plan import Placement
from treatment.scene.model import Scene

#: Distance of staples along the cloth's edge (m). Common practice.
_STAPLE: Final = 0.05
#: The wire before a slab overhead, and behind one in a corner, crosses this often (m). Common practice.
WIRE_STEP: Final = 0.15
#: A perforated sheet is screwed to the frame this often (m). Common practice.
FACE_STEP: Final = 0.15
FACE_SCREWS: Final = "wood screws for perforated faces, pan head"
#: A screw of a batten passes the board of the ceiling and goes this far into the joist (m). Common practice.
IN_JOIST: Final = 0.05
CEILING_BOARD: Final = 0.0125


def hardware(placements: Sequence[Placement], scene: Scene | None, stock: Stock) -> list[Part]:
    """Fixings by rating, what joins frame and timber, screws, wire, staples.

    Parameters
    ----------
    placements : sequence of Placement
        The panels.
    scene : Scene or None
        Tells what hangs overhead; without it everything does.
    stock : Stock
        What is sold.

    Returns
    -------
    list of Part
        To buy.
    """
    found: dict[tuple[str, str], float] = {}

    def need(name: str, number: float, note: str) -> None:
        if number:
            found[name, note] = found.get((name, note), 0) + number

    wire = 0.0
    for p in placements:
        carrier = carrier_for(p, scene, stock)
        kind = scene.surfaces[p.surface].kind if scene else "ceiling"
        fixing = None if p.standing else fixing_for(p.build, kind)  # what stands stands on its feet
        if fixing and (scene is None or grid_of(scene, p.surface) is None):  # else it lies in the grid
            name, note = _fixing(fixing, carrier)
            need(name, fixing.count, note)
        if carrier is None:
            continue
        if fixing and carrier.kind == "battens":
            need(_batten_screw(carrier, fixing, stock), 4, "one at each joist, two a batten; pilot holes")
        elif carrier.kind == "plates" and fixing:
            need("hanging plate for the frame", fixing.count, "screwed to the frame's upper board")
        screws = 4 * len(carrier.rails) + (8 if carrier.kind == "cleat" and carrier.spacer else 0)
        need("wood screws for rails and cleats", screws, "two at each end")
        need("wood screws for corner battens", 8 if carrier.kind == "corner" else 0, "frame to batten")
        if needs_wire(p.build, carrier):
            wire += wire_length(p.build)
        need(FACE_SCREWS, _face_screws(p.build), "through the sheet into the edges of the frame, pilot holes")
    lines = [
        Part(name, {"piece": n}, f"included in the panels; {note}")
        for (name, note), n in sorted(found.items())
    ]
    frames = [p.build for p in placements if p.build.frame_thickness > 0.0]
    if frames:
        corners = Part(
            "wood screws for the corners of frames",
            {"piece": 8 * len(frames)},
            "included in the panels; two in each corner",
        )
        feet = 2 * sum(p.standing and p.build.frame_thickness > 0.0 for p in placements)
        edge = sum(2.0 * (b.outer_width + b.outer_height) for b in frames)
        number = 10 * math.ceil(2.0 * edge / _STAPLE / 10.0)
        lines.append(corners)
        if feet:
            bolts = "bolts with nuts and washers for feet"
            lines.append(Part(bolts, {"piece": 2 * feet}, "included in the panels; two for each foot"))
        lines += [Part("staples", {"piece": number}, "included in the panels; cloth and fleece")]
    if wire:
        metres = float(math.ceil(wire - 1e-6))
        # AWG 16 is 1.29 mm, 17 is 1.15 mm.
        gauge = "16 or 17 gauge (about 1.2 mm)" if stock.trade == "inch" else "about 1.2 mm"
        note = "included in the panels; keeps slabs off the cloth overhead, and in frames across corners"
        lines.append(Part(f"galvanised wire, {gauge}", {"m": metres}, note))
    return lines


def needs_wire(build: PanelBuild, carrier: Carrier) -> bool:
    """Tell whether wire keeps the slab in its place.

    Parameters
    ----------
    build : PanelBuild
        A panel with a frame.
    carrier : Carrier
        What holds it.

    Returns
    -------
    bool
        Overhead it keeps the slab off the cloth, unless a perforated sheet does; across a corner the slab
        would fall back.
    """
    return carrier.kind == "corner" or (carrier.kind in {"battens", "brackets"} and not build.sheet)


def _face_screws(build: PanelBuild) -> int:
    if not build.sheet:
        return 0
    return sum(2 * max(1, math.ceil(x / FACE_STEP - 1e-9)) for x in (build.outer_width, build.outer_height))


def wire_length(build: PanelBuild) -> float:
    """Wire that goes to and fro across a frame, every `WIRE_STEP`.

    Parameters
    ----------
    build : PanelBuild
        A panel with a frame.

    Returns
    -------
    float
        In m.
    """
    short, long = sorted((build.outer_width, build.outer_height))
    crossings = max(2, math.ceil(long / WIRE_STEP - 1e-9) - 1)
    return crossings * short + long


def _fixing(fixing: Fixing, carrier: Carrier | None) -> tuple[str, str]:
    rated = f"rated {fixing.rating:.0f} kg or more" if fixing.rating else "rating: weigh a panel first"
    if not fixing.overhead:
        through = "through the cleat, " if carrier and carrier.kind == "cleat" else ""
        return f"wall fixing, {rated}", f"{through}into studs or masonry"
    if carrier and carrier.kind == "battens":
        return (
            f"overhead strap with its screws, {rated}",
            "from frame to ceiling batten at each end of each rail",
        )
    return f"overhead fixing, {rated}", "bracket on the frame, into joists"


def _batten_screw(carrier: Carrier, fixing: Fixing, stock: Stock) -> str:
    """Screw that goes through a batten and the ceiling's board into a joist."""
    length = 0.01 * math.ceil((carrier.spacer + CEILING_BOARD + IN_JOIST) / 0.01 - 1e-6)
    words = small_words(length, stock.units)
    rated = f"rated {fixing.rating:.0f} kg or more" if fixing.rating else "rating: weigh a panel first"
    return f"structural screw for ceiling battens, {words} or longer, {rated}"
