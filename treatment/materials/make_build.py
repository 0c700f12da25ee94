"""Makes one panel build, with measured or predicted absorption."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from treatment.air import Air
from treatment.errors import MaterialError
from treatment.materials.build import Layer, PanelBuild
from treatment.materials.carcass import BOARD_DENSITY, frame_mass, rails_mass
from treatment.materials.facing import Facing
from treatment.materials.gain import possible_gain
from treatment.materials.library import Library
from treatment.materials.material import Material, frozen_flags
from treatment.materials.predicted import predicted_material
from treatment.materials.resistivity import KINDS
from treatment.materials.sheet import PerforatedSheet, check_sheet
from treatment.materials.table import Problems, shorten
from treatment.materials.twins import twins

PLACES: Final = ("wall", "ceiling", "corner", "free-standing")
_SAME: Final = 0.0005  # m, half a millimetre: nobody means a gap of that size

#: Limits of one build, lowest and highest, SI.
_LIMITS: Final = {
    "width": (0.05, 6.0),
    "height": (0.05, 6.0),
    "thickness": (0.001, 1.5),
    "air_gap": (0.0, 3.0),
    "frame_thickness": (0.0, 0.2),
    "back_thickness": (0.0, 0.1),
    "price": (0.0, 1e6),
    "mass": (0.0, 1000.0),
}
_RESISTIVITY: Final = (500.0, 500_000.0)


def _check_sizes(
    values: dict[str, float], layers: Sequence[Layer], sheet: PerforatedSheet | None, problems: Problems
) -> None:
    for key, value in values.items():
        low, high = _LIMITS[key]
        if not (math.isfinite(value) and low <= value <= high):
            unit = {"price": "", "mass": " kg"}.get(key, " m")
            problems.add(f"{key}: {value:g}{unit} is outside {low:g} to {high:g}{unit}", "check the unit")
    low, high = _RESISTIVITY
    for i, layer in enumerate(layers):
        if not low <= layer.airflow_resistivity <= high:
            problems.add(
                f"layers[{i}].airflow_resistivity: {layer.airflow_resistivity:g}"
                f" is outside {low:g} to {high:g} Pa s/m2",
                "the unit is Pa s/m2: 12.5 kPa s/m2 is 12500",
            )
        if not (math.isfinite(layer.thickness) and layer.thickness > 0.0):
            problems.add(f"layers[{i}].thickness: {layer.thickness:g} m is not more than 0")
        if not (math.isfinite(layer.density) and 0.0 <= layer.density <= 1000.0):
            problems.add(f"layers[{i}].density: {layer.density:g} is outside 0 to 1000 kg/m3")
        if layer.kind and layer.kind not in KINDS:
            problems.add(
                f"layers[{i}].kind: '{shorten(layer.kind)}' is not known", f"one of: {', '.join(KINDS)}"
            )
    total = sum(layer.thickness for layer in layers) + (sheet.thickness if sheet else 0.0)
    if layers and not abs(total - values["thickness"]) <= _SAME:
        what = "the layers and the perforated sheet" if sheet else "the layers"
        problems.add(
            f"thickness: {values['thickness'] * 1000:g} mm, but {what} add up to {total * 1000:g} mm",
            "give an empty space behind the layers as air_gap",
        )


def _lacking(
    layers: Sequence[Layer], frame: float, on: Sequence[str], back: str
) -> Iterator[tuple[str, str]]:
    """Tell what a perforated sheet lacks to be predicted and held."""
    if not layers:
        yield (
            "perforated: what it absorbs is known with porous layers behind it only; a measured material and "
            "a curtain hold their own cover",
            "give layers, or leave the perforated sheet out",
        )
    if not frame:
        yield (
            "perforated: there is no frame to screw the sheet to",
            'give frame_thickness, for example "18 mm"',
        )
    if "free-standing" in on and not back:
        yield (
            "perforated: the back of a free-standing panel is not like its face then",
            'say what the back is, for example back = "plywood-10mm-panelling"',
        )


def _check_sample(sample: Material, thickness: float, air_gap: float, problems: Problems) -> None:
    """Refuse a measured row for another thickness or gap than it was measured with, where it says so."""
    for key, mine, theirs in (
        ("thickness", thickness, sample.thickness),
        ("air_gap", air_gap, sample.air_gap),
    ):
        if theirs is not None and abs(mine - theirs) > max(0.1 * theirs, 0.005):
            problems.add(
                f"{key}: {mine * 1000:g} mm, but '{sample.id}' was measured with {theirs * 1000:g} mm",
                "use a row that fits, or give layers to have the absorption predicted",
            )


def make_build(
    id: str,  # noqa: A002 - the field's name
    *,
    library: Library,
    width: float,
    height: float,
    thickness: float,
    air_gap: float = 0.0,
    layers: Sequence[Layer] = (),
    material: str = "",
    price: float = 0.0,
    on: Sequence[str] = ("wall", "ceiling"),
    description: str = "",
    frame_thickness: float = 0.0,
    facing: str = "",
    mass: float | None = None,
    price_note: str = "",
    air: Air | None = None,
    where: str = "",
    front: Facing | None = None,
    back: str = "",
    back_thickness: float = 0.0,
    wording: str = "",
    sheet: PerforatedSheet | None = None,
) -> PanelBuild:
    """Make a panel build with measured or predicted absorption.

    Parameters
    ----------
    id : str
        Name used in scene files and lists.
    library : Library
        Where `material` is looked up.
    width, height, thickness, air_gap, frame_thickness : float
        As in `PanelBuild`, m.
    layers : sequence of Layer
        Porous layers from the room side: then the absorption is predicted.
    material : str
        Id of a measured row: then the absorption is the row's. One of the two must be given.
    price : float
        Each.
    on : sequence of str
        Some of `PLACES`.
    description, facing, price_note : str
        Words.
    mass : float, optional
        Of one panel in kg. Default: core, frame, rails, perforated sheet and the board at its back, where
        the densities are known, without the cloth.
    air : Air, optional
        For the prediction. Default: 20 degrees C.
    where : str
        Key path for error messages (``builds.deep-wool``).
    front : Facing, optional
        Cloth or foil that the prediction shall hold. Measured rows hold their own cover.
    back : str
        Id of the material of a free-standing panel's back and edges; empty when they are like its face.
    back_thickness : float
        Of the board at its back, m; 0 where it is not to be bought and weighed, and on what hangs.
    wording : str
        As in `PanelBuild`.
    sheet : PerforatedSheet, optional
        Before the layers and the frame; its thickness is part of `thickness`.

    Returns
    -------
    PanelBuild
        With ``basis`` ``measured`` or ``predicted``.

    Raises
    ------
    MaterialError
        When a size is out of range, the material is not known, does not fit the build, or neither
        or both of `layers` and `material` are given. All problems stand in one message.
    """
    problems = Problems(where or f"build {id}")
    sizes = {
        "width": width,
        "height": height,
        "thickness": thickness,
        "air_gap": air_gap,
        "frame_thickness": frame_thickness,
        "back_thickness": back_thickness,
        "price": price,
        "mass": 0.0 if mass is None else mass,
    }
    layers = tuple(layers)
    if sheet:
        check_sheet(sheet, problems)
        for message, hint in _lacking(layers, frame_thickness, on, back):
            problems.add(message, hint)
    _check_sizes(sizes, layers, sheet, problems)
    if not on:
        problems.add("on: no place is named", f"some of: {', '.join(PLACES)}")
    for place in on:
        if place not in PLACES:
            problems.add(f"on: unknown place '{shorten(place)}'", f"some of: {', '.join(PLACES)}")
    if bool(layers) == bool(material):
        problems.add(
            "give either layers or material" + (", not both" if layers else ""),
            "layers: absorption is predicted; material: the id of a measured row",
        )
    sample = None
    if material:
        try:
            sample = library.get(material)
        except MaterialError as error:
            problems.add(f"material: {error.message}", error.hint)
        else:
            _check_sample(sample, thickness, air_gap, problems)
    behind = None
    if back:
        try:
            behind = library.get(back)
        except MaterialError as error:
            problems.add(f"back: {error.message}", error.hint)
    if back_thickness and not back:
        problems.add("back_thickness: no back is named", "back is the id of a material of the library")
    if back_thickness and set(on) - {"free-standing"}:
        # Neither its depth off the wall nor its drawing knows of a board behind the core.
        problems.add(
            "back_thickness: only a panel that stands free has a board at its back",
            "make one build that hangs and one that stands",
        )
    if front is not None and front.perforated:
        problems.add("front: give the perforated sheet as such", "its thickness is part of the panel's")
    if front is not None and material:
        problems.add("front: a measured row holds its own cover", "give layers, or leave the cover out")
    problems.raise_any()
    if mass is None:
        densities = [x.density * x.thickness for x in layers]
        if sample is not None:
            densities = [(sample.density or 0.0) * thickness]
        core = width * height * sum(densities)
        deep = thickness + back_thickness - (sheet.thickness if sheet else 0.0)
        timber = frame_mass(width, height, deep, frame_thickness)
        timber += width * height * back_thickness * BOARD_DENSITY
        if {"wall", "ceiling"} & set(on):
            timber += rails_mass(width, height, air_gap, frame_thickness)
        outer = width + 2.0 * frame_thickness, height + 2.0 * frame_thickness
        board = sheet.mass(*outer) if sheet else 0.0
        known = all(densities) and (not sheet or sheet.density > 0.0)
        mass = core + timber + board if known else 0.0
    if sample is not None:
        made, outside = sample, frozen_flags([False] * 8)
    else:
        made, outside = predicted_material(id, layers, air_gap, air or Air(), front, sheet)
    # A published row of bare wool tells nothing of wool behind a board.
    rows = () if sample or sheet else twins(layers, air_gap, library)
    return PanelBuild(
        id=id,
        description=description or id,
        width=width,
        height=height,
        thickness=thickness,
        air_gap=air_gap,
        material=made,
        basis="measured" if sample else "predicted",
        price=price,
        on=tuple(on),
        layers=layers,
        mass=mass,
        frame_thickness=frame_thickness,
        facing=facing,
        price_note=price_note,
        outside_model=outside,
        back=behind,
        back_thickness=back_thickness,
        wording=wording,
        gain=possible_gain(made.absorption, width, height, rows),
        sheet=sheet,
    )
