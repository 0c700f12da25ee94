"""A panel that may be built: its size, its layers, what it costs and weighs."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from treatment.bands import COUNT, Array, frozen
from treatment.materials.material import Material, frozen_flags
from treatment.materials.sheet import PerforatedSheet


@dataclass(frozen=True)
class Layer:
    """One porous layer of a build, from the room side.

    Parameters
    ----------
    airflow_resistivity : float
        In Pa s/m2.
    thickness : float
        In m.
    density : float
        In kg/m3; 0 when not stated.
    kind : str
        ``stone wool``, ``glass wool``, ``polyester``: gives the spread of the airflow resistivity; empty
        when not stated.
    """

    airflow_resistivity: float
    thickness: float
    density: float = 0.0
    kind: str = ""


@dataclass(frozen=True, eq=False)
class PanelBuild:
    """A panel that may be built.

    Parameters
    ----------
    id : str
        Name used in scene files and lists.
    description : str
        What it is, in words.
    width, height : float
        Absorbing face in m: the slab, uncut. The frame boards go round it, so the panel as hung
        is `outer_width` by `outer_height`.
    thickness : float
        Depth of the body in m, without the gap: the slabs, and the perforated sheet before them.
    air_gap : float
        Distance between the body and the wall in m.
    material : Material
        Absorption of its face.
    basis : str
        ``measured`` or ``predicted``: where the absorption comes from.
    price : float
        Each, in the budget's currency.
    on : tuple of str
        Where it may go: ``wall``, ``ceiling``, ``corner``, ``free-standing``.
    layers : tuple of Layer
        Its porous layers, from the room side; empty when not known.
    mass : float
        Of one panel, frame included, in kg; 0 when not known.
    frame_thickness : float
        Thickness of the frame boards in m; 0 for a panel without a frame.
    facing : str
        What covers the face (``open-weave fabric``).
    price_note : str
        Where the price comes from (``invented example``).
    back : Material or None
        What the back and the edges of a free-standing panel are made of; None when all its sides are like
        its face.
    back_thickness : float
        Of the board at its back, which lies inside the frame behind the core, m; 0 without one.
    wording : str
        The description with names in place of its lengths, see `treatment.materials.describe`; empty where
        a person wrote it.
    outside_model : numpy.ndarray
        Shape (8,), bool: True where a prediction leaves the range its formula was fitted to.
        All False for measured absorption.
    gain : numpy.ndarray
        How much more than its coefficients it may absorb, shape (8,): see `treatment.materials.gain`. A
        doubt to one side; no number holds it.
    sheet : PerforatedSheet or None
        Perforated board before the slab, as large as the frame and screwed to its front.
    """

    id: str
    description: str
    width: float
    height: float
    thickness: float
    air_gap: float
    material: Material
    basis: str
    price: float
    on: tuple[str, ...]
    layers: tuple[Layer, ...] = ()
    mass: float = 0.0
    frame_thickness: float = 0.0
    facing: str = ""
    price_note: str = ""
    back: Material | None = None
    back_thickness: float = 0.0
    wording: str = ""
    outside_model: NDArray[np.bool_] = field(default_factory=lambda: frozen_flags([False] * COUNT))
    gain: Array = field(default_factory=lambda: frozen([0.0] * COUNT))
    sheet: PerforatedSheet | None = None

    @property
    def outer_width(self) -> float:
        """Width in m over the frame boards."""
        return self.width + 2.0 * self.frame_thickness

    @property
    def outer_height(self) -> float:
        """Height in m over the frame boards."""
        return self.height + 2.0 * self.frame_thickness

    @property
    def frame_depth(self) -> float:
        """Depth of the frame boards in m: core and board behind it; a perforated sheet lies before."""
        sheet = self.sheet.thickness if self.sheet else 0.0
        return round(self.thickness - sheet + self.back_thickness, 6)

    @property
    def depth(self) -> float:
        """Depth taken from the room in m: body and gap."""
        return self.thickness + self.air_gap

    @property
    def can_be_asked_for(self) -> bool:
        """Whether a shop can be told what is in it: a density or flow resistivity of every slab.

        A row that a laboratory measured on a product of unknown density says how such a thing absorbs,
        not what to buy. What has no core in a frame (a curtain) is bought by its description.
        """
        return bool(self.layers) or not self.frame_thickness or bool(self.material.density)

    @property
    def face_area(self) -> float:
        """Area of the face in m2."""
        return self.width * self.height
