"""A material whose absorption is predicted from the layers of a build, and from what covers them."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from treatment.air import Air
from treatment.bands import band_slice, frozen
from treatment.materials.build import Layer
from treatment.materials.facing import Facing, facing_of
from treatment.materials.material import Material, Provenance, frozen_flags
from treatment.materials.predict import predict
from treatment.materials.scattering import default_scattering
from treatment.materials.sheet import PerforatedSheet

#: Published row that the prediction of a perforated sheet is compared with.
COMPARED_WITH: Final = "perforated-gypsum-19p6-web-100mm-mat"
#: Up to 500 Hz that row and its prediction lie up to this far apart, either way (docs/method/resonant.md).
SHEET_DOUBT: Final = 0.12
#: Above, the row absorbs so much more: 1, 2 and 4 kHz; 8 kHz, where it is silent, is held.
SHEET_MORE: Final = frozen([0.0, 0.0, 0.0, 0.0, 0.27, 0.31, 0.45, 0.45])


def predicted_material(
    id: str,  # noqa: A002 - the field's name
    layers: tuple[Layer, ...],
    air_gap: float,
    air: Air,
    cloth: Facing | None = None,
    sheet: PerforatedSheet | None = None,
) -> tuple[Material, NDArray[np.bool_]]:
    """Predict what layers before a rigid wall absorb.

    Parameters
    ----------
    id : str
        Of the material.
    layers : tuple of Layer
        From the room side.
    air_gap : float
        Behind them, m.
    air : Air
        Of the room.
    cloth : Facing, optional
        Cloth or foil before the face.
    sheet : PerforatedSheet, optional
        Before the layers, in touch with the first.

    Returns
    -------
    material : Material
        With its uncertainty. That of a perforated sheet holds how far one published row lies from its
        prediction: either way up to 500 Hz, above to the side of more absorption alone.
    outside : numpy.ndarray
        Shape (8,), bool: the formula leaves the range it was fitted to.
    """
    front = facing_of(sheet, cloth) if sheet else cloth
    found = predict(layers, air_gap, air.speed_of_sound, air.density, front)
    words = " + ".join(f"{x.thickness * 1000:g} mm of {x.airflow_resistivity:g} Pa s/m2" for x in layers)
    note = "no edge effect; the uncertainty holds the spread of the airflow resistivity"
    if sheet:
        note += f", and the distance of the row {COMPARED_WITH} from its prediction"
    material = Material(
        id=id,
        description=f"{_cover(sheet, cloth)}{words}, {air_gap * 1000:g} mm gap, rigid wall",
        category="porous-panel",
        absorption=found.absorption,
        scattering=default_scattering("porous-panel"),
        assumed=frozen_flags([False] * 8),
        provenance=Provenance(
            source="predicted: Miki 1990, extended reaction, random incidence (Paris, 0 to 90 degrees)"
            + ("; holes by Maa 1998" if sheet else ""),
            how_known="computed here from thickness and airflow resistivity; not measured",
            note=note,
        ),
        thickness=sum(x.thickness for x in layers),
        air_gap=air_gap,
        scattering_assumed=True,
        uncertainty=found.uncertainty,
    )
    return (_doubted(material) if sheet else material), found.outside


def _doubted(material: Material) -> Material:
    """Widen the uncertainty of the layers by what is known of the error of the sheet's model."""
    model = np.zeros_like(material.uncertainty)
    model[band_slice(63, 500)] = SHEET_DOUBT
    own = np.hypot(material.uncertainty, model)
    return replace(
        material,
        own=frozen(own),
        apart=frozen([np.zeros_like(own), SHEET_MORE]),
        uncertainty=frozen(np.maximum(own, SHEET_MORE)),
    )


def _cover(sheet: PerforatedSheet | None, cloth: Facing | None) -> str:
    words = []
    if sheet:
        words.append(f"{sheet.words} ({100.0 * sheet.open_share:.2g} % open)")
    if cloth is not None and (cloth.resistance or cloth.mass):
        words.append(f"cover of {cloth.resistance:g} Pa s/m and {cloth.mass:g} kg/m2")
    return ", ".join(words) + " before " if words else ""
