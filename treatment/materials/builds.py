"""Reads the tables of panel builds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from treatment.air import Air
from treatment.errors import MaterialError
from treatment.materials.build import Layer, PanelBuild
from treatment.materials.describe import described
from treatment.materials.facing import Facing
from treatment.materials.library import Library
from treatment.materials.make_build import make_build
from treatment.materials.resistivity import KINDS, resistivity
from treatment.materials.sheet import parse_sheet
from treatment.materials.shipped import materials_folder
from treatment.materials.table import Problems, Row, nearest, read_rows, shorten

__all__ = ["choose_builds", "load_builds", "make_build", "parse_layers", "read_builds"]

_LAYER: Final = re.compile(
    rf"(?:({'|'.join(KINDS)})\b\s*)?([0-9.]+)?\s*x\s*([0-9.]+)\s*mm(?:\s*@\s*([0-9.]+))?"
)
_REQUIRED = (
    "id",
    "description",
    "width_mm",
    "height_mm",
    "thickness_mm",
    "air_gap_mm",
    "on",
    "price",
    "price_note",
)
_COVER = {
    "cover_pa_s_m": (0.0, 10_000.0),
    "cover_kg_m2": (0.0, 50.0),
}
_OPTIONAL = ("material", "layers", "frame_mm", "facing", "mass_kg", "back", "back_mm", "perforated", *_COVER)


def parse_layers(text: str) -> tuple[Layer, ...]:
    """Read layers as the table of builds writes them.

    Parameters
    ----------
    text : str
        ``12500 x 100 mm @ 48``: airflow resistivity in Pa s/m2, thickness, density in kg/m3 (which
        may be left out); ``+`` between layers, from the room side. A kind before it, ``stone wool 12500 x
        100 mm @ 48``, gives the published spread; ``stone wool x 100 mm @ 48`` has the resistivity follow
        from the density.

    Returns
    -------
    tuple of Layer
        Empty for an empty text.

    Raises
    ------
    ValueError
        When a part cannot be read.
    """
    layers = []
    for part in text.split("+") if text else ():
        match = _LAYER.fullmatch(part.strip())
        if match is None:
            raise ValueError(part.strip())
        kind, stated, millimetres, given = match.groups(default="")
        density = float(given or 0.0)
        if stated:
            sigma = float(stated)
        elif kind and 1.0 <= density <= 1000.0:
            sigma = resistivity(kind, density).middle
        else:
            raise ValueError(part.strip())
        layers.append(Layer(sigma, float(millimetres) / 1000.0, density, kind))
    return tuple(layers)


def _front(row: Row, problems: Problems) -> Facing | None:
    values = {c: row.number(c, low, high, problems) or 0.0 for c, (low, high) in _COVER.items()}
    if not any(values.values()):
        return None
    return Facing(values["cover_pa_s_m"], values["cover_kg_m2"])


def _row_build(row: Row, library: Library, air: Air, problems: Problems) -> PanelBuild | None:
    before = len(problems.found)
    numbers = {
        column: row.number(column, low, high, problems)
        for column, low, high in (
            ("width_mm", 50.0, 6000.0),
            ("height_mm", 50.0, 6000.0),
            ("thickness_mm", 1.0, 1500.0),
            ("air_gap_mm", 0.0, 3000.0),
            ("price", 0.0, 1e6),
            ("frame_mm", 0.0, 200.0),
            ("mass_kg", 0.0, 1000.0),
            ("back_mm", 0.0, 100.0),
        )
    }
    front = _front(row, problems)
    for column in _REQUIRED:
        if not row.text(column):
            problems.add(f"line {row.line}, column {column}: blank")
    try:
        layers = parse_layers(row.text("layers"))
    except ValueError as error:
        problems.add(
            f"line {row.line}, column layers: cannot read '{shorten(str(error))}'", "like 12500 x 100 mm @ 48"
        )
        return None
    try:
        sheet = parse_sheet(row.text("perforated"))
    except ValueError as error:
        problems.add(
            f"line {row.line}, column perforated: cannot read '{shorten(str(error))}'",
            "like hardboard 3 mm @ 900, holes 5 mm at 25 mm",
        )
        return None
    if len(problems.found) > before:
        return None

    def metres(column: str) -> float:
        return (numbers[column] or 0.0) / 1000.0

    sizes = {key: metres(f"{key}_mm") for key in ("width", "height", "thickness", "air_gap")}
    wording, behind = row.text("description"), metres("back_mm")
    try:
        description = described(wording, layers, sizes["thickness"], sizes["air_gap"], behind)
    except ValueError as error:
        problems.add(f"line {row.line}, column description: {error}")
        return None
    try:
        return make_build(
            row.text("id"),
            library=library,
            width=sizes["width"],
            height=sizes["height"],
            thickness=sizes["thickness"],
            air_gap=sizes["air_gap"],
            layers=layers,
            material=row.text("material"),
            price=numbers["price"] or 0.0,
            on=[place.strip() for place in row.text("on").split(";")],
            description=description,
            frame_thickness=metres("frame_mm"),
            facing=row.text("facing"),
            mass=numbers["mass_kg"],
            price_note=row.text("price_note"),
            air=air,
            front=front,
            back=row.text("back"),
            back_thickness=behind,
            wording=wording,
            sheet=sheet,
        )
    except MaterialError as error:
        problems.add(f"line {row.line}: {error.message}", error.hint)
        return None


def read_builds(path: Path, library: Library, air: Air | None = None) -> tuple[PanelBuild, ...]:
    """Read a table of panel builds.

    Parameters
    ----------
    path : pathlib.Path
        CSV; lengths in mm, ``on`` with semicolons, ``layers`` as in `parse_layers`, ``perforated`` as in
        `treatment.materials.sheet.parse_sheet`.
    library : Library
        Where measured rows are looked up.
    air : Air, optional
        For predictions.

    Returns
    -------
    tuple of PanelBuild
        In the order of the file.

    Raises
    ------
    MaterialError
        When the file or a row has an error; all problems stand in one message.
    """
    problems = Problems(str(path))
    builds: dict[str, PanelBuild] = {}
    for row in read_rows(path, _REQUIRED, _OPTIONAL, problems):
        build = _row_build(row, library, air or Air(), problems)
        if row.text("id") in builds:
            problems.add(
                f"line {row.line}, column id: '{row.text('id')}' stands there twice", "an id is used once"
            )
        elif build is not None:
            builds[build.id] = build
    problems.raise_any()
    return tuple(builds.values())


def load_builds(library: Library, air: Air | None = None) -> tuple[PanelBuild, ...]:
    """Load the panel builds that come with the program.

    Parameters
    ----------
    library : Library
        Where measured rows are looked up.
    air : Air, optional
        For predictions.

    Returns
    -------
    tuple of PanelBuild
        Every shipped build. Prices are invented examples.

    Raises
    ------
    MaterialError
        When a table does not load.
    """
    folder = materials_folder() / "builds"
    return tuple(build for path in sorted(folder.glob("*.csv")) for build in read_builds(path, library, air))


def choose_builds(
    builds: Sequence[PanelBuild], ids: Sequence[str], where: str = "panels"
) -> tuple[PanelBuild, ...]:
    """Pick builds by name, in the order of the names.

    Parameters
    ----------
    builds : sequence of PanelBuild
        What there is.
    ids : sequence of str
        What is wanted.
    where : str
        Key path for the error message.

    Returns
    -------
    tuple of PanelBuild
        The chosen ones.

    Raises
    ------
    MaterialError
        When there is no build of a name.
    """
    known = {build.id: build for build in builds}
    for i, name in enumerate(ids):
        if name not in known:
            hint = nearest(name, known) or f"one of: {', '.join(known)}"
            raise MaterialError(f"there is no build '{shorten(name)}'", where=f"{where}[{i}]", hint=hint)
    return tuple(known[name] for name in dict.fromkeys(ids))
