"""The library of materials: every table row with who says so, or a refusal."""

from __future__ import annotations

import functools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import MappingProxyType

from treatment.errors import MaterialError
from treatment.materials.lay_words import lay_hint
from treatment.materials.make_material import LARGEST_COEFFICIENT, hold, make_material
from treatment.materials.material import Material
from treatment.materials.read_table import OPTIONAL_COLUMNS, REQUIRED_COLUMNS, read_table
from treatment.materials.shipped import materials_folder
from treatment.materials.table import nearest, shorten
from treatment.materials.uncertainty import distances, row_uncertainty

__all__ = [
    "LARGEST_COEFFICIENT",
    "OPTIONAL_COLUMNS",
    "REQUIRED_COLUMNS",
    "Library",
    "hold",
    "load_library",
    "make_material",
    "read_table",
]


@dataclass(frozen=True, eq=False)
class Library:
    """Materials by id.

    Parameters
    ----------
    materials : mapping of str to Material
        What a surface can be made of.
    objects : mapping of str to Material
        Rows that hold the equivalent absorption area of one object in m2.
    """

    materials: Mapping[str, Material]
    objects: Mapping[str, Material]

    def get(self, id: str, where: str = "") -> Material:  # noqa: A002 - the field's name
        """Material of a surface.

        Parameters
        ----------
        id : str
            Its name.
        where : str
            Key path for the error message (``surfaces.floor``).

        Returns
        -------
        Material
            The row.

        Raises
        ------
        MaterialError
            When there is none of that name, or it is an object's area and no coefficient.
        """
        if id in self.materials:
            return self.materials[id]
        if id in self.objects:
            raise MaterialError(
                f"'{id}' gives the absorption area of one object in m2 and cannot cover a surface",
                where=where,
                hint="name a row with coefficients, such as seats-well-upholstered-empty for a seating area",
            )
        hint = lay_hint(id, self.materials) or nearest(id, self.materials)
        hint = hint or "list them with: treatment materials"
        raise MaterialError(f"there is no material '{shorten(id)}'", where=where, hint=hint)

    def extended(self, materials: Iterable[Material], where: str = "") -> Library:
        """Make a library that holds more materials.

        Parameters
        ----------
        materials : iterable of Material
            To add.
        where : str
            Place for the error message; default the row's own table.

        Returns
        -------
        Library
            A new one.

        Raises
        ------
        MaterialError
            When an id is taken.
        """
        surfaces, objects = dict(self.materials), dict(self.objects)
        for m in materials:
            taken = surfaces.get(m.id) or objects.get(m.id)
            if taken is not None:
                raise MaterialError(
                    f"the id '{m.id}' is taken by {taken.provenance.table or 'another material'}",
                    where=where or m.provenance.table,
                    hint="choose another id",
                )
            (objects if m.quantity == "area-per-object" else surfaces)[m.id] = m
        return Library(MappingProxyType(surfaces), MappingProxyType(objects))

    def widened(self) -> Library:
        """Make a library in which rows that disagree carry their spread as uncertainty.

        Returns
        -------
        Library
            A new one. Nothing is averaged: each row keeps its numbers, and its uncertainty reaches the
            farthest row that is named in ``conflicts_with`` and known here.
        """
        known = {**self.materials, **self.objects}

        def wide(m: Material) -> Material:
            others = [known[i] for i in m.provenance.conflicts_with if i in known]
            if not others:
                return m
            rows = [(o.absorption, o.assumed) for o in others]
            return replace(
                m,
                uncertainty=row_uncertainty(m.absorption, m.assumed, m.clipped, rows),
                apart=distances(m.absorption, m.assumed, rows),
            )

        return Library(
            MappingProxyType({i: wide(m) for i, m in self.materials.items()}),
            MappingProxyType({i: wide(m) for i, m in self.objects.items()}),
        )


@functools.cache
def _shipped() -> Library:
    library = Library({}, {})
    for path in sorted(materials_folder().glob("*.csv")):
        library = library.extended(read_table(path))
    return library.widened()


def load_library(extra: Sequence[Path] = ()) -> Library:
    """Load the shipped tables and any others.

    Parameters
    ----------
    extra : sequence of pathlib.Path
        Tables of one's own.

    Returns
    -------
    Library
        The shipped part is read once and shared; nothing in it can be changed.

    Raises
    ------
    MaterialError
        When a table does not load or repeats an id.
    """
    library = _shipped()
    for path in extra:
        library = library.extended(read_table(path), where=str(path))
    return library.widened() if extra else library
