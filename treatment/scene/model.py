"""The room as it is: its geometry, what it is made of, and what stands in it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

import numpy as np

from treatment.air import Air
from treatment.bands import Array, frozen
from treatment.geometry.enclosure import Enclosure
from treatment.geometry.polygon import Polygon, Rectangle
from treatment.materials.build import PanelBuild
from treatment.materials.material import Material
from treatment.materials.prices import Prices
from treatment.materials.stock import Stock
from treatment.scene.furniture import RoomObject
from treatment.scene.limits import Limits
from treatment.scene.structure import Framing, TileGrid, Walkways

#: A room in which no way is asked to stay free.
_NO_WALKWAYS = Walkways()


@dataclass(frozen=True, eq=False)
class Surface:
    """A planar surface and what it is made of.

    Parameters
    ----------
    name : str
        ``front``, ``wall-3``, or ``post`` for every face of the obstacle of that name.
    polygon : Polygon
        Its geometry, the same object as in the enclosure.
    material : Material
        What it is made of.
    obstacle : str
        Name of the obstacle it belongs to; empty for the room's own surfaces.
    recess : str
        Name of the recess it belongs to; empty for most.
    continues : bool
        Whether, in a recess, it goes on in one plane with a surface before the recess.
    """

    name: str
    polygon: Polygon
    material: Material
    obstacle: str = ""
    recess: str = ""
    continues: bool = False

    @property
    def kind(self) -> str:
        """``floor``, ``ceiling`` (level or sloping overhead) or ``wall``."""
        climb = float(self.polygon.normal[2])
        if climb > 0.7:
            return "floor"
        return "ceiling" if climb < -0.05 else "wall"

    @property
    def ground(self) -> bool:
        """Whether it is floor to stand on: no top of an obstacle, no sill of a recess."""
        return self.kind == "floor" and not self.obstacle and (not self.recess or self.continues)


@dataclass(frozen=True)
class Mouth:
    """The mouth of a recess: a hole in a surface, and the air behind it.

    Parameters
    ----------
    name : str
        Of the recess; its faces are called ``name-back``, ``name-left``, ...
    kind : str
        ``niche`` or ``dormer``.
    surface : str
        Name of the surface that it is in; where the mouth is all of it, the scene has no such surface.
    rectangle : Rectangle
        Where, in wall coordinates of that surface.
    depth : float
        How far it reaches beyond the surface, perpendicular to it, m.
    """

    name: str
    kind: str
    surface: str
    rectangle: Rectangle
    depth: float


@dataclass(frozen=True, eq=False)
class Opening:
    """A door, window or passage: part of a surface with its own material.

    Parameters
    ----------
    name : str
        What a reflection off it is called.
    surface : int
        Index of the surface.
    rectangle : Rectangle
        Where, in wall coordinates.
    material : Material
        What it is made of.
    """

    name: str
    surface: int
    rectangle: Rectangle
    material: Material


@dataclass(frozen=True)
class KeepOut:
    """A place where nothing may hang, and the space in front of it.

    Parameters
    ----------
    name : str
        What it is.
    surface : int
        Index of the surface.
    rectangle : Rectangle
        Where, in wall coordinates.
    depth : float
        How far the kept-free space reaches into the room, m.
    reason : str
        ``electrical``, ``luminaire``, ``vent``, ``detector``, ``door-swing`` or ``other``.
    """

    name: str
    surface: int
    rectangle: Rectangle
    depth: float
    reason: str

    @property
    def title(self) -> str:
        """Its name, and its reason where the name does not tell."""
        told = self.reason == "other" or self.reason.replace("-", " ") in self.name.lower()
        return self.name if told else f"{self.name} ({self.reason})"


@dataclass(frozen=True, eq=False)
class Directivity:
    """How a loudspeaker radiates off its axis; one of three simple models (see docs/method/directivity.md).

    Parameters
    ----------
    kind : str
        ``piston``, ``horn`` or ``table``.
    diameter, box_width : float
        Of a piston and its box, m.
    coverage : tuple of float
        Nominal angles of a horn, across and up, degrees.
    lowest_hz : float
        Frequency above which they hold.
    angles : numpy.ndarray
        Of a table, ascending, shape (a,), degrees.
    levels : numpy.ndarray
        Relative to the axis, shape (a, 8), dB.
    """

    kind: str
    diameter: float = 0.0
    box_width: float = 0.0
    coverage: tuple[float, float] = (0.0, 0.0)
    lowest_hz: float = 0.0
    angles: Array = field(default_factory=lambda: frozen([]))
    levels: Array = field(default_factory=lambda: frozen([]))


@dataclass(frozen=True, eq=False)
class Loudspeaker:
    """A loudspeaker.

    Parameters
    ----------
    name : str
        Its name.
    position : numpy.ndarray
        Acoustic centre, shape (3,), m.
    channel : str
        ITU-R BS.2051 label (``M+030``), or empty.
    directivity : Directivity or None
        How it radiates; None sends evenly in all directions.
    aim : numpy.ndarray or None
        Point that its axis goes through, shape (3,), m; None aims at the middle of the seats.
    weight : float
        How much its reflections count in the choice of panels; 0 leaves it out.
    """

    name: str
    position: Array
    channel: str = ""
    directivity: Directivity | None = None
    aim: Array | None = None
    weight: float = 1.0


@dataclass(frozen=True, eq=False)
class Subwoofer:
    """A subwoofer.

    Parameters
    ----------
    name : str
        Its name.
    position : numpy.ndarray
        Centre of the driver, shape (3,), m.
    """

    name: str
    position: Array


@dataclass(frozen=True, eq=False)
class Seat:
    """A seat, which is an area rather than a point.

    Parameters
    ----------
    name : str
        Its name.
    position : numpy.ndarray
        The ears, shape (3,), m.
    spread : float
        Half-width of the level square in which the head may be, m.
    weight : float
        How much it counts in the choice of panels; 0 leaves it out.
    occupied : bool
        Whether someone sits there, for drawings; what that absorbs is among the objects.
    """

    name: str
    position: Array
    spread: float
    weight: float = 1.0
    occupied: bool = False


@dataclass(frozen=True)
class Budget:
    """What may be spent.

    Parameters
    ----------
    amount : float
        In the currency below.
    currency : str
        Any label (``EUR``).
    """

    amount: float
    currency: str


@dataclass(frozen=True)
class Screen:
    """The picture.

    Parameters
    ----------
    surface : int
        Index of the surface that it hangs on or stands before.
    rectangle : Rectangle
        Where, in wall coordinates.
    distance : float
        From the surface to the picture, m.
    sound_passes : bool
        Whether it is woven or perforated so that loudspeakers and panels may be behind it.
    """

    surface: int
    rectangle: Rectangle
    distance: float = 0.0
    sound_passes: bool = False


@dataclass(frozen=True, eq=False)
class Scene:
    """Everything about one room.

    Parameters
    ----------
    title : str
        Of the room.
    shape : str
        ``box`` or ``plan``.
    units : str
        Unit of plain numbers in the file: ``m``, ``cm``, ``mm``, ``ft``, ``in``.
    air : Air
        State of the air.
    enclosure : Enclosure
        Geometry; its polygons run parallel to `surfaces`.
    surfaces : tuple of Surface
        The room's own surfaces, then those of obstacles.
    openings : tuple of Opening
        Doors, windows, passages.
    keep_outs : tuple of KeepOut
        Where nothing may hang.
    loudspeakers : tuple of Loudspeaker
        In the order of the file.
    subwoofers : tuple of Subwoofer
        In the order of the file.
    seats : tuple of Seat
        In the order of the file.
    builds : tuple of PanelBuild
        Panels that may be built.
    unasked_builds : tuple of PanelBuild
        Shipped builds that a plan chooses only where the file names them in `panels`, and then they stand in
        `builds`: those that nobody can ask a shop for, measured as named products of unknown density, and
        those with a perforated face, of which too little is known above 500 Hz.
    budget : Budget or None
        What may be spent; None when the file sets no limit.
    target_use : str
        Which published range of reverberation applies.
    path : Path or None
        File it came from.
    objects : tuple of RoomObject
        Furniture and people that absorb.
    framing : tuple of Framing
        Studs and joists that fixings have to meet, at most one set a surface.
    tile_grids : tuple of TileGrid
        Suspended ceilings.
    walkways : Walkways
        What stays free to walk through.
    screen : Screen or None
        The picture; None when the file has none.
    keep_side_reflections : bool
        Whether first reflections from the side are liked and shall stay.
    limits : Limits
        What a plan may use beside its money.
    stock : Stock or None
        What the shops sell; None for what is usual in the unit's trade.
    prices : Prices or None
        Prices of one's own.
    recesses : tuple of Mouth
        Niches, alcoves, reveals and dormers.
    """

    title: str
    shape: str
    units: str
    air: Air
    enclosure: Enclosure
    surfaces: tuple[Surface, ...]
    openings: tuple[Opening, ...]
    keep_outs: tuple[KeepOut, ...]
    loudspeakers: tuple[Loudspeaker, ...]
    subwoofers: tuple[Subwoofer, ...]
    seats: tuple[Seat, ...]
    builds: tuple[PanelBuild, ...]
    budget: Budget | None
    target_use: str
    path: Path | None = None
    objects: tuple[RoomObject, ...] = ()
    framing: tuple[Framing, ...] = ()
    tile_grids: tuple[TileGrid, ...] = ()
    walkways: Walkways = _NO_WALKWAYS
    screen: Screen | None = None
    keep_side_reflections: bool = False
    limits: Limits = field(default_factory=Limits)
    stock: Stock | None = None
    prices: Prices | None = None
    unasked_builds: tuple[PanelBuild, ...] = ()
    recesses: tuple[Mouth, ...] = ()

    @cached_property
    def hall(self) -> Array:
        """Lowest and highest corner of the room without its recesses, shape (2, 3), m.

        Its floor is what one stands on, and its middle is that between the side walls.
        """
        if not self.recesses:
            return self.enclosure.bounds
        own = [s.polygon for s in self.surfaces if not s.recess]
        corners = np.concatenate([p.to_room(p.edges[:, 0]) for p in own])
        return frozen([corners.min(axis=0), corners.max(axis=0)])

    def mouths_in(self, surface: int) -> tuple[Mouth, ...]:
        """Recesses in a surface.

        Parameters
        ----------
        surface : int
            Its index.

        Returns
        -------
        tuple of Mouth
            In the order of the file.
        """
        own = self.surfaces[surface]
        return () if own.obstacle else tuple(r for r in self.recesses if r.surface == own.name)

    def surface_index(self, name: str) -> int:
        """Index of the room's own surface of a name.

        Parameters
        ----------
        name : str
            Surface name.

        Returns
        -------
        int
            Its index.

        Raises
        ------
        KeyError
            When there is no such surface.
        """
        for i, s in enumerate(self.surfaces):
            if s.name == name:
                return i
        raise KeyError(name)
