"""A material: how much sound it takes and scatters by octave band, and who says so."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from treatment.bands import COUNT, Array, frozen
from treatment.materials.uncertainty import row_uncertainty, sides

#: Logarithms and reflection factors need coefficients below one; measured data may exceed it
#: (ISO 354 samples absorb over their edges). A capped copy is used there, never the stored data.
CAP = 0.99


def frozen_flags(values: Any) -> NDArray[np.bool_]:
    """Copy flags into a read-only boolean array.

    Parameters
    ----------
    values : array_like
        Any flags.

    Returns
    -------
    numpy.ndarray
        Read-only boolean array of the same shape.
    """
    array = np.array(values, dtype=np.bool_)
    array.setflags(write=False)
    return array


@dataclass(frozen=True)
class Provenance:
    """Where a row's numbers come from.

    Parameters
    ----------
    source : str
        Title, edition and locator in one line.
    how_known : str
        How the numbers were checked: read in the source, cited by another text, from memory.
    table : str
        File that holds the row.
    conflicts_with : tuple of str
        Ids of rows for much the same thing whose numbers differ.
    note : str
        What else to know before the numbers are used.
    title, edition, locator : str
        The parts of `source`: book or standard, which print, which table or page.
    named_by : str
        Who says that the numbers come from there: the page itself, another text, memory.
    lineage : str
        Rows of one lineage go back to the same measurement or table: their agreement proves nothing.
    """

    source: str
    how_known: str = ""
    table: str = ""
    conflicts_with: tuple[str, ...] = ()
    note: str = ""
    title: str = ""
    edition: str = ""
    locator: str = ""
    named_by: str = ""
    lineage: str = ""


@dataclass(frozen=True, eq=False)
class Material:
    """Absorption and scattering by octave band.

    Parameters
    ----------
    id : str
        Name used in scene files.
    description : str
        What it is, in words.
    category : str
        ``wall``, ``floor``, ``ceiling``, ``ceiling-tile``, ``window``, ``door``, ``curtain``,
        ``porous-panel``, ``furnishing``, ``audience``, ``opening``.
    absorption : numpy.ndarray
        Random-incidence absorption coefficients, shape (8,), 0 to 1.3; as published, not capped.
    scattering : numpy.ndarray
        Scattering coefficients, shape (8,), 0 to 1.
    assumed : numpy.ndarray
        Shape (8,), bool: True where no value is published and the neighbour band's is held.
    provenance : Provenance
        Who says so.
    mounting : str
        How the sample was mounted, as the source words it.
    quantity : str
        ``coefficient``, or ``area-per-object``: then the absorption holds equivalent areas in m2
        of one object, and it is no material of a surface.
    thickness, air_gap : float or None
        Of the sample in m, where the source states them.
    density : float or None
        Of the sample in kg/m3, where the source states it.
    scattering_assumed : bool
        True where the scattering is the default of the category, not data.
    iso354_type : str
        Mounting type of ISO 354, annex B, where it can be told: ``A`` (direct), ``E-500`` (500 mm of air
        behind), ``G-100`` (curtain, 100 mm off the wall).
    clipped : numpy.ndarray
        Shape (8,), bool: cells that stand at 1.00 and look cut there.
    uncertainty : numpy.ndarray
        Expanded uncertainty of the absorption, k = 2, shape (8,); half of it is the standard uncertainty.
        Default: `treatment.materials.uncertainty.row_uncertainty` without disagreeing rows; a library
        widens it to the rows that disagree.
    apart : numpy.ndarray
        How far rows that disagree lie below and above, shape (2, 8); a library fills it.
    own : numpy.ndarray
        Expanded uncertainty without the rows that disagree, shape (8,), where it is not that of a published
        row: of a prediction that a measured row lies apart from. Else empty.
    """

    id: str
    description: str
    category: str
    absorption: Array
    scattering: Array
    assumed: NDArray[np.bool_]
    provenance: Provenance
    mounting: str = ""
    quantity: str = "coefficient"
    thickness: float | None = None
    air_gap: float | None = None
    density: float | None = None
    scattering_assumed: bool = False
    iso354_type: str = ""
    clipped: NDArray[np.bool_] = field(default_factory=lambda: frozen_flags([False] * COUNT))
    uncertainty: Array = field(default_factory=lambda: frozen([]))
    apart: Array = field(default_factory=lambda: frozen(np.zeros((2, COUNT))))
    own: Array = field(default_factory=lambda: frozen([]))

    def __post_init__(self) -> None:
        if self.uncertainty.shape != (COUNT,):
            # A dataclass that is frozen offers no other way to derive a field from the others.
            object.__setattr__(
                self, "uncertainty", row_uncertainty(self.absorption, self.assumed, self.clipped)
            )

    @property
    def capped(self) -> Array:
        """Copy of the absorption that is at most `CAP`, shape (8,)."""
        return np.minimum(self.absorption, CAP)

    @property
    def sides(self) -> tuple[Array, Array]:
        """How much less and how much more it may absorb, expanded, shape (8,) each: see `sides`."""
        return sides(self.absorption, self.alone, self.apart)

    @property
    def alone(self) -> Array:
        """Expanded uncertainty as if no row disagreed, shape (8,)."""
        if self.own.shape == (COUNT,):
            return self.own
        # A row that others contradict has an uncertainty that reaches them; its own part is made anew.
        if self.apart.any():
            return row_uncertainty(self.absorption, self.assumed, self.clipped)
        return self.uncertainty

    @property
    def open(self) -> bool:
        """Whether it is an opening that returns nothing at all: absorption 1 in every band."""
        return bool(np.all(self.absorption >= 1.0)) and self.category == "opening"
