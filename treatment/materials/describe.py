"""What a build is, in words, with its lengths as the person who reads it measures and buys."""

from __future__ import annotations

from collections.abc import Sequence

from treatment.materials.build import Layer, PanelBuild
from treatment.materials.stock import sold_words
from treatment.measures import small_words


def described(
    wording: str,
    layers: Sequence[Layer],
    thickness: float,
    air_gap: float,
    back_thickness: float = 0.0,
    units: str = "m",
) -> str:
    """Put the lengths of a build into its description.

    Parameters
    ----------
    wording : str
        With ``{thickness}``, ``{gap}``, ``{back}`` or, for its layers from the room side, ``{layer_1}``,
        ``{layer_2}`` where a length shall stand: ``Stone wool slab {thickness} in a timber frame, {gap} off
        the wall``.
    layers : sequence of Layer
        From the room side.
    thickness, air_gap, back_thickness : float
        In m.
    units : str
        What the person measures in.

    Returns
    -------
    str
        ``Stone wool slab 50 mm in a timber frame``, or ``Stone wool slab 2 in (50 mm) in a timber frame``.

    Raises
    ------
    ValueError
        When a name in braces is none of these.
    """
    lengths = {
        "thickness": sold_words(thickness, units),
        "gap": small_words(air_gap, units),
        "back": sold_words(back_thickness, units),
    }
    lengths |= {f"layer_{n + 1}": sold_words(x.thickness, units) for n, x in enumerate(layers)}
    try:
        return wording.format_map(lengths)
    except (KeyError, IndexError, AttributeError, ValueError) as error:
        known = ", ".join(f"{{{name}}}" for name in lengths)
        raise ValueError(f"a length in braces is one of {known}") from error


def description_of(build: PanelBuild, units: str) -> str:
    """Describe a build to a person who measures in a unit.

    Parameters
    ----------
    build : PanelBuild
        Any build.
    units : str
        What the person measures in.

    Returns
    -------
    str
        As it stands where a person wrote it.
    """
    if not build.wording:
        return build.description
    return described(build.wording, build.layers, build.thickness, build.air_gap, build.back_thickness, units)
