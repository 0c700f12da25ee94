"""Reads one table of materials: a row becomes a material, or a problem that says where it stands."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

from treatment.bands import NOMINAL_HZ, frozen
from treatment.materials.make_material import LARGEST_COEFFICIENT, hold
from treatment.materials.material import Material, Provenance, frozen_flags
from treatment.materials.scattering import CATEGORIES, default_scattering
from treatment.materials.table import Problems, Row, header_of, nearest, read_rows, shorten

LARGEST_OBJECT_AREA: Final = 20.0  # m2 of one object, room for a large sofa

#: Third octaves of each octave (ISO 11654:1997, 4.1: the octave is the mean of its three thirds).
THIRDS: Final[dict[int, tuple[int, int, int]]] = {
    63: (50, 63, 80), 125: (100, 125, 160), 250: (200, 250, 315), 500: (400, 500, 630),
    1000: (800, 1000, 1250), 2000: (1600, 2000, 2500), 4000: (3150, 4000, 5000), 8000: (6300, 8000, 10000),
}  # fmt: skip

_ABSORPTION = tuple(f"a{f}" for f in NOMINAL_HZ)
_SCATTERING = tuple(f"s{f}" for f in NOMINAL_HZ)
_THIRD_OCTAVES = tuple(f"a{f}" for thirds in THIRDS.values() for f in thirds)
#: Columns that only a table in third octaves has.
_TELLTALES = frozenset(_THIRD_OCTAVES) - frozenset(_ABSORPTION)
#: What a data sheet holds at least: the ordinary range of ISO 354.
_USUAL_THIRDS = tuple(f"a{f}" for band in NOMINAL_HZ[1:7] for f in THIRDS[band])
_QUANTITIES = ("coefficient", "area-per-object")
REQUIRED_COLUMNS: Final = ("id", "description", "category", *_ABSORPTION, "source")
OPTIONAL_COLUMNS: Final = (
    "quantity", "mounting", "iso354_type", "thickness_mm", "airgap_mm", "density_kg_m3", *_SCATTERING,
    "source", "title", "edition", "locator", "named_by", "how_checked", "how_known", "lineage",
    "clipped_bands", "assumed_bands", "conflicts_with", "note",
)  # fmt: skip
_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
#: Mounting types of ISO 354:2003, annex B (letters from memory); a figure is a distance in mm.
_MOUNTING = re.compile(r"[ABJ]|[CDEFGH]-\d+|I")


def _columns(path: Path) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Columns that a table must and may have: by octaves or thirds, with a source or a title."""
    header = header_of(path)
    thirds = not _TELLTALES.isdisjoint(header)
    bands = _USUAL_THIRDS if thirds else _ABSORPTION
    named = "title" if "title" in header and "source" not in header else "source"
    required = ("id", "description", "category", *bands, named)
    return required, (*OPTIONAL_COLUMNS, *(_THIRD_OCTAVES if thirds else ()))


def _octaves(row: Row, top: float, problems: Problems) -> list[float | None]:
    """Coefficients by octave; a row of third octaves is averaged, three by three."""
    hint = "a coefficient is a fraction from 0 to about 1: 0.45, not 45"
    if _TELLTALES.isdisjoint(row.cells):
        return [row.number(c, 0.0, top, problems, hint) for c in _ABSORPTION]
    found: list[float | None] = []
    for thirds in THIRDS.values():
        values = [row.number(f"a{f}", 0.0, top, problems, hint) for f in thirds]
        known = [v for v in values if v is not None]
        found.append(sum(known) / 3.0 if len(known) == 3 else None)
    return found


def _band_flags(row: Row, column: str, problems: Problems) -> list[bool]:
    """Bands that a cell names, such as ``63 8000``."""
    names = row.text(column).split()
    for name in names:
        if name not in map(str, NOMINAL_HZ):
            problems.add(
                f"line {row.line}, column {column}: '{shorten(name)}' is no octave band",
                f"some of: {' '.join(map(str, NOMINAL_HZ))}",
            )
    return [str(f) in names for f in NOMINAL_HZ]


def _provenance(row: Row, path: Path) -> Provenance:
    parts = [row.text(c) for c in ("title", "edition", "locator")]
    # An edition that nobody knows says so in its own column; a citation leaves it out.
    cited = [p for p in parts if p and not p.startswith("not ")]
    return Provenance(
        source=row.text("source") or ", ".join(cited),
        how_known=row.text("how_checked") or row.text("how_known"),
        table=path.name,
        conflicts_with=tuple(row.text("conflicts_with").split()),
        note=row.text("note"),
        title=parts[0],
        edition=parts[1],
        locator=parts[2],
        named_by=row.text("named_by"),
        lineage=row.text("lineage"),
    )


def _material(row: Row, path: Path, problems: Problems) -> Material | None:
    """Read one row; None when it holds a problem."""
    before = len(problems.found)
    place = f"line {row.line}, column "
    name, category = row.text("id"), row.text("category")
    quantity = row.text("quantity") or "coefficient"
    if not _ID.fullmatch(name):
        problems.add(
            f"{place}id: '{shorten(name)}' is no id", "use small letters, digits and dashes: wool-50-gap-50"
        )
    if category not in CATEGORIES:
        hint = nearest(category, CATEGORIES) or f"one of: {', '.join(CATEGORIES)}"
        problems.add(f"{place}category: unknown category '{shorten(category)}'", hint)
    if quantity not in _QUANTITIES:
        problems.add(
            f"{place}quantity: '{shorten(quantity)}' is not known", f"one of: {', '.join(_QUANTITIES)}"
        )
    if not row.text("source") and not row.text("title"):
        problems.add(
            f"{place}source: blank, and a row without a source does not load",
            "say where the numbers come from",
        )
    top = LARGEST_OBJECT_AREA if quantity == "area-per-object" else LARGEST_COEFFICIENT
    absorption = _octaves(row, top, problems)
    scattering = [
        row.number(c, 0.0, 1.0, problems, "a scattering coefficient is a fraction") for c in _SCATTERING
    ]
    thickness = row.number("thickness_mm", 0.1, 2000.0, problems, "in mm")
    gap = row.number("airgap_mm", 0.0, 5000.0, problems, "in mm")
    density = row.number("density_kg_m3", 0.1, 10000.0, problems, "in kg/m3")
    clipped, guessed = (_band_flags(row, c, problems) for c in ("clipped_bands", "assumed_bands"))
    kind = row.text("iso354_type")
    if kind and not _MOUNTING.fullmatch(kind):
        problems.add(
            f"{place}iso354_type: '{shorten(kind)}' is no mounting type of ISO 354",
            "A, B, E-100, G-150, J; leave it blank where the sheet does not say",
        )
    if all(v is None for v in absorption):
        problems.add(
            f"line {row.line}: no absorption in any band",
            "give at least one band; an octave needs all three of its third octaves",
        )
    if len(problems.found) > before:
        return None
    filled, assumed = hold(absorption)
    published = any(v is not None for v in scattering)
    return Material(
        id=name,
        description=row.text("description") or name,
        category=category,
        absorption=frozen(filled),
        scattering=frozen(hold(scattering)[0]) if published else default_scattering(category),
        assumed=frozen_flags([a or g for a, g in zip(assumed, guessed, strict=True)]),
        provenance=_provenance(row, path),
        mounting=row.text("mounting"),
        quantity=quantity,
        thickness=None if thickness is None else thickness / 1000.0,
        air_gap=None if gap is None else gap / 1000.0,
        density=density,
        scattering_assumed=not published,
        iso354_type=kind,
        clipped=frozen_flags(clipped),
    )


def read_table(path: Path) -> tuple[Material, ...]:
    """Read a table of materials.

    Parameters
    ----------
    path : pathlib.Path
        CSV with the columns `REQUIRED_COLUMNS` and any of `OPTIONAL_COLUMNS`; a blank cell of a
        band means that no value is published. ``title`` (with ``edition`` and ``locator``) may stand
        for ``source``. A table with third-octave columns (``a100``, ``a125``, ``a160`` ... ``a5000``)
        is averaged into octaves, mean of three thirds (ISO 11654:1997, 4.1); an octave that lacks one
        of its thirds has no value.

    Returns
    -------
    tuple of Material
        In the order of the file, ``area-per-object`` rows included.

    Raises
    ------
    MaterialError
        When the file cannot be read or a row is ragged, out of range, not a number, without a
        source, or repeats an id. All problems of the file stand in one message.
    """
    problems = Problems(str(path))
    found: dict[str, int] = {}
    materials = []
    for row in read_rows(path, *_columns(path), problems):
        first = found.setdefault(row.text("id"), row.line)
        if first != row.line and row.text("id"):
            problems.add(
                f"line {row.line}, column id: '{shorten(row.text('id'))}' stands on line {first} already",
                "an id is used once",
            )
        material = _material(row, path, problems)
        if material is not None:
            materials.append(material)
    problems.raise_any()
    return tuple(materials)
