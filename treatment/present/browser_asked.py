"""What a page asks, value by value: nothing that it sends is taken as it comes."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from treatment.errors import PlanError
from treatment.materials.build import PanelBuild
from treatment.planning import rewrite
from treatment.planning.plan import Evaluation, Placement
from treatment.scene.model import Scene
from treatment.units import UNITS

_LONGEST: Final = 200


@dataclass(frozen=True)
class Room:
    """What edits may look at.

    Parameters
    ----------
    scene : Scene or None
        The last room without errors.
    placements : tuple of Placement
        The panels that hang in it.
    builds : tuple of PanelBuild
        Every known build.
    evaluation : Evaluation or None
        What the room does with these panels.
    """

    scene: Scene | None
    placements: tuple[Placement, ...]
    builds: tuple[PanelBuild, ...]
    evaluation: Evaluation | None = None

    def known(self) -> tuple[Scene, Evaluation]:
        """Room and numbers, for edits that cannot do without.

        Raises
        ------
        PlanError
            When the room never was without errors.
        """
        if self.scene is None or self.evaluation is None:
            raise PlanError("the room has errors", hint="mend them first")
        return self.scene, self.evaluation

    def build(self, name: str) -> PanelBuild:
        """Find a build.

        Parameters
        ----------
        name : str
            Its id.

        Raises
        ------
        PlanError
            When there is none of that name.
        """
        found = next((b for b in self.builds if b.id == name), None)
        if found is None:
            raise PlanError(f"there is no build '{name[:40]}'", hint="choose another one")
        return found


def text_of(asked: Mapping[str, Any], key: str) -> str:
    """Read a text.

    Parameters
    ----------
    asked : mapping
        From the page.
    key : str
        Which value.

    Raises
    ------
    PlanError
        When it is none, or too long.
    """
    value = asked.get(key)
    if not isinstance(value, str) or len(value) > _LONGEST:
        raise PlanError(f"'{key}' must be a text of at most {_LONGEST} signs", hint="shorten it")
    return value.strip()


def number_of(asked: Mapping[str, Any], key: str) -> float:
    """Read a number.

    Parameters
    ----------
    asked : mapping
        From the page.
    key : str
        Which value.

    Raises
    ------
    PlanError
        When it is none, or not finite.
    """
    value = asked.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise PlanError(f"'{key}' must be a number", hint="reload the page")
    return float(value)


def place_of(asked: Mapping[str, Any], keys: Sequence[str], unit: str) -> list[float]:
    """Read where something was dragged to.

    Parameters
    ----------
    asked : mapping
        From the page; lengths in metres.
    keys : sequence of str
        Which values.
    unit : str
        That the room file counts in.

    Returns
    -------
    list of float
        In that unit: to a tenth of a millimetre, which half an inch needs.

    Raises
    ------
    PlanError
        When one is no number.
    """
    return [round(round(number_of(asked, k), 4) / UNITS[unit], 4) + 0.0 for k in keys]  # no -0


def index_of(asked: Mapping[str, Any]) -> int:
    """Read which entry of a list is meant.

    Parameters
    ----------
    asked : mapping
        From the page.

    Raises
    ------
    PlanError
        When none is.
    """
    value = asked.get("index")
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        raise PlanError("the page named nothing to change", hint="reload the page")
    return value


def unit_of(text: str) -> str:
    """Unit of a room file's plain numbers.

    Parameters
    ----------
    text : str
        The room file.
    """
    unit = rewrite.read_value(text, ("units",))
    return unit if isinstance(unit, str) and unit in UNITS else "m"
