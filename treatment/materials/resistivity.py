"""Airflow resistivity from the kind of material and its density, with its spread.

References
----------
Stone wool: C. Hopkins, Sound Insulation, 2007, eq. (1.165), ``r = k1 d**-2 rho**(1 + k2)`` with d in um:
780 and 1.59 through the slab (38 to 162 kg/m3), 353 and 1.63 in its plane (31 to 155 kg/m3), mean fibre
4.75 um. Coefficients and ranges read in open reference data; the form of the exponent from memory.
Glass wool: Bies & Hansen, ``r = 3.18e-9 rho**1.53/d**2`` (from memory), fibres of 6 to 9 um (common
practice).
Polyester: ``r = 25.909e-9 rho**1.404/d**2``, fibres of 18 to 48 um, after Acoustic Absorbers and
Diffusers, Table 5.1, as a secondary text reproduces it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from treatment.errors import MaterialError
from treatment.materials.table import nearest, shorten

#: Factor by which a stated resistivity may be off either way when no kind of material is given: makers'
#: values and production vary (common practice; published fits of one material differ by 2 to 3 in all).
STATED_FACTOR: Final = 1.5


@dataclass(frozen=True)
class Resistivity:
    """Airflow resistivity that a material of this density may have.

    Parameters
    ----------
    low, middle, high : float
        In Pa s/m2; the middle is the geometric mean of the ends.
    within : bool
        Whether the density lies in the range of the fit, where one is published.
    source : str
        Who says so.
    """

    low: float
    middle: float
    high: float
    within: bool
    source: str


#: kind -> (factor, exponent) at both ends, range of densities, source. Factors hold the fibre diameter.
_FITS: Final[dict[str, tuple[tuple[float, float], tuple[float, float], tuple[float, float], str]]] = {
    "stone wool": (
        (353.0 / 4.75**2, 1.63),
        (780.0 / 4.75**2, 1.59),
        (38.0, 155.0),
        "Hopkins 2007, eq. (1.165), in plane to through the slab",
    ),
    "glass wool": (
        (3.18e-9 / 9e-6**2, 1.53),
        (3.18e-9 / 6e-6**2, 1.53),
        (10.0, 100.0),
        "Bies & Hansen (from memory), fibres of 6 to 9 um; its range of densities is an assumption",
    ),
    "polyester": (
        (25.909e-9 / 48e-6**2, 1.404),
        (25.909e-9 / 18e-6**2, 1.404),
        (12.0, 60.0),
        "Acoustic Absorbers and Diffusers, Table 5.1 (second hand), fibres of 18 to 48 um; its range of "
        "densities is an assumption",
    ),
}
KINDS: Final = tuple(_FITS)


def resistivity(kind: str, density: float) -> Resistivity:
    """Airflow resistivity of a kind of material.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    density : float
        In kg/m3.

    Returns
    -------
    Resistivity
        The spread is that of the published fits: it is real, two slabs of the same label differ as much.

    Raises
    ------
    MaterialError
        When the kind is not known or the density is no density.
    """
    if kind not in _FITS:
        raise MaterialError(
            f"there is no airflow resistivity for '{shorten(kind)}'",
            hint=nearest(kind, KINDS) or f"one of: {', '.join(KINDS)}; or give the resistivity itself",
        )
    if not (np.isfinite(density) and 1.0 <= density <= 1000.0):
        raise MaterialError(
            f"a density of {density:g} kg/m3 is outside 1 to 1000",
            hint=f"airflow resistivity of {kind} follows from the density printed on the pack",
        )
    (a, m), (b, n), (least, most), source = _FITS[kind]
    low, high = sorted((a * density**m, b * density**n))
    return Resistivity(low, float(np.sqrt(low * high)), high, least <= density <= most, source)


def spread_of(kind: str, density: float, stated: float) -> tuple[float, float]:
    """Ends between which a layer's airflow resistivity may lie.

    Parameters
    ----------
    kind : str
        One of `KINDS`, or empty when not known.
    density : float
        In kg/m3; 0 when not known.
    stated : float
        What the layer states, Pa s/m2.

    Returns
    -------
    low, high : float
        The published spread, widened to the stated value; `STATED_FACTOR` either way without a kind.
    """
    if not kind or density <= 0.0:
        return stated / STATED_FACTOR, stated * STATED_FACTOR
    found = resistivity(kind, density)
    return min(found.low, stated), max(found.high, stated)
