"""Kinds of things that belong to a room itself, with the sizes that a page begins with.

Sizes are common practice in homes, not rules: a person measures their own and types it. The working space
of electrical equipment is that of `treatment.planning.cautions`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from treatment.measures import in_feet
from treatment.planning.cautions import WORKING_SPACE
from treatment.planning.kept import DETECTOR_SPACE, LAMP_SPACE
from treatment.planning.vacant import Wanted
from treatment.units import format_imperial, format_metric

#: Sections of a room file that hold them.
BUILT: Final = ("openings", "keep_outs", "obstacles", "screen")

#: Up to this a side of an obstacle keeps its size (m).
_SLENDER: Final = 0.3

#: What may be said of a keep-out, and how a person would say it.
REASON_WORDS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "electrical": "electricity",
        "luminaire": "lamp",
        "vent": "vent",
        "detector": "detector",
        "door-swing": "door swing",
        "other": "other",
    }
)


@dataclass(frozen=True)
class Flat:
    """An opening or a keep-out of a usual size.

    Parameters
    ----------
    section : str
        Of the room file.
    wanted : Wanted
        Size and place.
    material : str
        Of an opening.
    reason : str
        Of a keep-out.
    depth : float
        How far a keep-out reaches into the room, m.
    before_door : bool
        Whether it belongs before a door.
    """

    section: str
    wanted: Wanted
    material: str = ""
    reason: str = ""
    depth: float = 0.0
    before_door: bool = False


@dataclass(frozen=True)
class Block:
    """An obstacle of a usual size.

    Parameters
    ----------
    size : tuple of float
        Extent along x, y and z, m; 0 as far as the room reaches.
    target : tuple of float
        Where it should be from above, as shares of the room's length and width.
    material : str
        What it is made of.
    hung : bool
        Whether it hangs below the ceiling.
    """

    size: tuple[float, float, float]
    target: tuple[float, float]
    material: str
    hung: bool = False

    def sizes(self, room: Any) -> list[tuple[float, float, float]]:
        """Sizes to try in a room, the best first.

        Parameters
        ----------
        room : numpy.ndarray
            Its extent, shape (3,), m.
        """
        whole = [s or float(room[k]) for k, s in enumerate(self.size)]
        # What is slender or low stays so; only what is long is made shorter.
        shares = [tuple(q if s > _SLENDER else 1.0 for s in whole[:2]) for q in (1.0, 0.75, 0.5, 0.3)]
        return [(p * whole[0], q * whole[1], whole[2]) for p, q in shares]


_DEPTH, _WIDTH, _HEIGHT = WORKING_SPACE
#: The same in whole centimetres, not less.
_BOARD, _BOARD_DEPTH = (0.77, 2.0), 0.92

#: Openings and keep-outs by what a person calls them.
FLAT: Final[Mapping[str, Flat]] = MappingProxyType(
    {
        "door": Flat(
            "openings", Wanted(("back", "right", "left", "front"), (0.82, 2.03), 0.0), "door-solid-wood"
        ),
        "window": Flat(
            "openings",
            Wanted(("right", "left", "back", "front"), (0.90, 1.10), 0.9),
            "window-double-30mm-gap",
        ),
        "passage": Flat(
            "openings", Wanted(("right", "left", "back", "front"), (0.90, 2.03), 0.0), "open-passage"
        ),
        "fuse board": Flat(
            "keep_outs",
            Wanted(("left", "right", "back", "front"), _BOARD, 0.0, smaller=False),
            reason="electrical",
            depth=_BOARD_DEPTH,
        ),
        "lamp": Flat("keep_outs", Wanted(("ceiling",), (0.4, 0.4)), reason="luminaire", depth=0.3),
        "vent": Flat(
            "keep_outs", Wanted(("back", "right", "left", "front"), (0.3, 0.2), 2.0), reason="vent", depth=0.3
        ),
        "smoke detector": Flat("keep_outs", Wanted(("ceiling",), (0.12, 0.12)), reason="detector", depth=0.3),
        "door swing": Flat(
            "keep_outs",
            Wanted(("back", "right", "left", "front"), (1.02, 2.03), 0.0),
            reason="door-swing",
            depth=0.9,
            before_door=True,
        ),
        "switch": Flat(
            "keep_outs",
            Wanted(("back", "right", "left", "front"), (0.12, 0.2), 1.0),
            reason="other",
            depth=0.3,
        ),
        "heater": Flat(
            "keep_outs",
            Wanted(("right", "left", "back", "front"), (1.2, 0.8), 0.0),
            reason="other",
            depth=0.5,
        ),
        "something else": Flat(
            "keep_outs", Wanted(("left", "right", "back", "front"), (0.4, 0.4)), reason="other", depth=0.3
        ),
    }
)

#: Obstacles by what a person calls them.
BLOCKS: Final[Mapping[str, Block]] = MappingProxyType(
    {
        "post": Block((0.1, 0.1, 0.0), (0.45, 0.85), "steel"),
        "soffit": Block((0.0, 0.6, 0.3), (0.5, 0.0), "gypsum-board-on-studs", hung=True),
        "counter": Block((0.6, 1.8, 0.9), (1.0, 0.5), "wood-16mm-on-studs"),
        "riser": Block((1.8, 2.5, 0.2), (1.0, 0.5), "floor-wood-on-joists"),
        "cupboard": Block((0.6, 1.0, 2.0), (1.0, 1.0), "wood-16mm-on-studs"),
    }
)

#: The picture, 16:9, above the tops of usual loudspeakers.
PICTURE: Final = Wanted(("front", "left", "right", "back"), (1.92, 1.08), 1.2)


def warnings(units: str) -> dict[str, str]:
    """What is said beside a keep-out that can hurt someone.

    Parameters
    ----------
    units : str
        As the scene says: in a room in feet lengths are feet first.

    Returns
    -------
    dict
        Sentences by reason.
    """

    def both(metres: float) -> str:
        words = (format_metric(metres), format_imperial(metres))
        return "{} ({})".format(*(reversed(words) if in_feet(units) else words))

    return {
        "electrical": (
            "Keep the whole working space before it free, also of things that stand on the floor, let its "
            f"door open fully, and never cover it. {both(_DEPTH)} deep, {both(_WIDTH)} wide and "
            f"{both(_HEIGHT)} high is an example (USA, NEC 110.26): local codes decide, and work on it is "
            "for a licensed electrician."
        ),
        "luminaire": (
            f"Wool counts as insulation: panels keep {both(LAMP_SPACE)} or more from a lamp. Moving one is "
            "for a licensed electrician; local codes decide."
        ),
        "detector": (
            f"Panels keep {both(DETECTOR_SPACE)} or more from it (common practice); local codes may ask for "
            "more. Moving one is for licensed trades."
        ),
        "vent": "Leave it free to blow and draw.",
    }


def kinds_document(units: str) -> dict[str, Any]:
    """What may be put in, for the page.

    Parameters
    ----------
    units : str
        As the scene says.

    Returns
    -------
    dict
        ``kinds`` by section, ``reasons`` and their ``warnings``.
    """
    kinds: dict[str, list[dict[str, str]]] = {"openings": [], "keep_outs": [], "obstacles": []}
    for name, flat in FLAT.items():
        kinds[flat.section].append({"id": name, "reason": flat.reason})
    kinds["obstacles"] = [{"id": name, "reason": ""} for name in BLOCKS]
    return {"kinds": kinds, "reasons": dict(REASON_WORDS), "warnings": warnings(units)}
