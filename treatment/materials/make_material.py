"""Makes a material of one's own, from a data sheet; fills bands that the sheet leaves out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from treatment.bands import COUNT, NOMINAL_HZ, frozen
from treatment.materials.material import Material, Provenance, frozen_flags
from treatment.materials.scattering import CATEGORIES, default_scattering
from treatment.materials.table import Problems, nearest, shorten

#: ISO 354 samples absorb over their edges, so published coefficients exceed 1; more than 1.3 is a slip.
LARGEST_COEFFICIENT: Final = 1.3


def hold(values: Sequence[float | None]) -> tuple[list[float], list[bool]]:
    """Fill bands without data from the nearest band that has some.

    Parameters
    ----------
    values : sequence of float or None
        One value for each band, at least one of them a number.

    Returns
    -------
    filled : list of float
        Between two bands that are equally near, the smaller value: promise less.
    assumed : list of bool
        True where a value was filled in.
    """
    given = [(i, v) for i, v in enumerate(values) if v is not None]
    filled = [min((abs(i - j), w) for j, w in given)[1] if v is None else v for i, v in enumerate(values)]
    return filled, [v is None for v in values]


def make_material(
    id: str,  # noqa: A002 - the field's name
    absorption: Sequence[float | None],
    *,
    source: str,
    description: str = "",
    category: str = "wall",
    scattering: Sequence[float | None] | None = None,
    where: str = "",
) -> Material:
    """Make a material of one's own, from a data sheet.

    Parameters
    ----------
    id : str
        Name used in the scene file.
    absorption : sequence of float or None
        Eight coefficients, 0 to 1.3; None where the sheet has none.
    source : str
        Who says so.
    description : str
        What it is, in words; default the id.
    category : str
        Decides the default scattering.
    scattering : sequence of float or None, optional
        Eight coefficients, 0 to 1.
    where : str
        Key path for error messages (``materials.my-felt``).

    Returns
    -------
    Material
        With ``assumed`` set where a band was held.

    Raises
    ------
    MaterialError
        When a value is missing, not finite or out of range.
    """
    problems = Problems(where or f"material {id}")
    for key, values, top in (
        ("absorption", absorption, LARGEST_COEFFICIENT),
        ("scattering", [0.0] * COUNT if scattering is None else scattering, 1.0),
    ):
        if len(values) != COUNT:
            problems.add(
                f"{key}: {len(values)} values where {COUNT} are needed",
                f"one value for each octave band: {' '.join(map(str, NOMINAL_HZ))} Hz",
            )
        for i, v in enumerate(values):
            if v is not None and not (math.isfinite(v) and 0.0 <= v <= top):
                place = f"{key}, {NOMINAL_HZ[i]} Hz" if i < COUNT else f"{key}, value {i + 1}"
                problems.add(f"{place}: {v:g} is outside 0 to {top:g}", _fraction_hint(v))
        if all(v is None for v in values):
            problems.add(f"{key}: no value in any band")
    if not source.strip():
        problems.add(
            "source is missing", "say where the numbers come from: data sheet, book, own measurement"
        )
    if category not in CATEGORIES:
        problems.add(f"unknown category '{shorten(category)}'", nearest(category, CATEGORIES))
    problems.raise_any()
    filled, assumed = hold(absorption)
    scatter = default_scattering(category) if scattering is None else frozen(hold(scattering)[0])
    return Material(
        id=id,
        description=description or id,
        category=category,
        absorption=frozen(filled),
        scattering=scatter,
        assumed=frozen_flags(assumed),
        provenance=Provenance(source=source.strip()),
        scattering_assumed=scattering is None,
    )


def _fraction_hint(value: float) -> str:
    if 1.3 < value <= 130.0:
        return f"a coefficient is a fraction: 0.45, not 45 - is {value / 100:g} meant?"
    return "an absorption coefficient is a fraction from 0 (hard) to about 1 (open)"
