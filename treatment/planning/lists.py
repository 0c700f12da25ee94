"""Lists that a plan carries: what to buy, to saw and to know."""

from __future__ import annotations

from dataclasses import dataclass

from treatment.bands import Array
from treatment.geometry.polygon import Rectangle


@dataclass(frozen=True)
class ShoppingItem:
    """One line of the shopping list.

    Parameters
    ----------
    item : str
        What to buy.
    quantity : float
        How many.
    unit : str
        ``panel``, ``piece``, ``pack``, ``sheet``, ``m``.
    unit_price : float
        In the budget's currency; 0 when it is part of a panel's price.
    total : float
        In the budget's currency.
    note : str
        What it is for.
    bought : float or None
        What the line costs in the shop by prices of one's own, whole packs and lengths; None without
        a price. It is no part of `total`, so that the totals still add up to the cost of the plan.
    """

    item: str
    quantity: float
    unit: str
    unit_price: float
    total: float
    note: str = ""
    bought: float | None = None


@dataclass(frozen=True)
class Cut:
    """One kind of piece to saw.

    Parameters
    ----------
    part : str
        ``frame side``, ``frame end``, ``slab, uncut``, ``slab piece``, ``cloth``, ``back fleece``,
        ``perforated face``.
    material : str
        From what.
    length, width : float
        Cut size in m; width is the board's depth or the cloth's second side.
    count : int
        How many.
    panels : tuple of str
        For which panels.
    """

    part: str
    material: str
    length: float
    width: float
    count: int
    panels: tuple[str, ...]


@dataclass(frozen=True)
class StockUse:
    """Boards, slabs, sheets or cloth that are all cut in the same way.

    Parameters
    ----------
    kind : str
        ``board``, ``slab``, ``sheet`` or ``roll``.
    material : str
        What it is, as in the shopping list.
    number : int
        How many are cut like this.
    length, width : float
        Of one, m.
    pieces : tuple of (str, float, float)
        Part, length and width of each piece in m, in the order of cutting.
    waste : float
        Share of it that is left over, 0 to 1.
    """

    kind: str
    material: str
    number: int
    length: float
    width: float
    pieces: tuple[tuple[str, float, float], ...]
    waste: float


@dataclass(frozen=True)
class Blocked:
    """A reflection that no panel can meet, and why.

    Parameters
    ----------
    source, seat, surface : str
        Which one.
    by : str
        What is in the way (``fuse board (electrical)``).
    advice : str
        What works instead.
    """

    source: str
    seat: str
    surface: str
    by: str
    advice: str


@dataclass(frozen=True)
class ArrivalExtent:
    """How large a field of good absorbers cures one first reflection.

    Parameters
    ----------
    source, seat, surface : int
        Indices.
    zone : Rectangle
        Specular points of the seating area.
    field : Rectangle or None
        Smallest centred field that brings the arrival to the criterion in every band from the lowest asked
        for; None when even a large one does not (the direct sound is weak, or the wall ends).
    """

    source: int
    seat: int
    surface: int
    zone: Rectangle
    field: Rectangle | None


@dataclass(frozen=True)
class SurfaceExtent:
    """What a surface would need in all.

    Parameters
    ----------
    surface : int
        Index of the surface.
    zones : Rectangle
        Smallest rectangle that holds the zones of all loudspeakers and seats.
    arrivals : tuple of ArrivalExtent
        One for each first reflection above the criterion.
    fields : Rectangle or None
        Smallest rectangle that holds the fields of all arrivals that a field cures, cut where the surface
        ends; None when no field cures any.
    lowest_hz : int
        Octave band down to which the fields cure.
    """

    surface: int
    zones: Rectangle
    arrivals: tuple[ArrivalExtent, ...]
    fields: Rectangle | None = None
    lowest_hz: int = 1000

    @property
    def uncured(self) -> int:
        """Number of arrivals that no field on this surface cures."""
        return sum(a.field is None for a in self.arrivals)


@dataclass(frozen=True)
class BudgetStep:
    """What one of several budgets buys.

    Parameters
    ----------
    budget, cost : float
        What may be spent, and what the plan for it costs.
    panels : int
        How many.
    early_before, early_after : int
        Single bounces above the criterion at the seats' centres, and how many of them stay so with the
        panels.
    gone : float
        Share of the early excess, weighted, that is gone, 0 to 1.
    seconds_before, seconds : float
        Eyring's time, mean of 500 Hz and 1 kHz, without and with the panels, s.
    state : str
        ``inside`` the range from 250 Hz to 4 kHz, ``too live`` or ``too dead``, by Eyring's formula.
    worth : float
        The objective.
    early_new : int
        Single bounces above the criterion only with the panels.
    missing : float
        By how much Eyring's time is above the range in its worst band from 250 Hz to 4 kHz, s; below 0 by
        how much under it when it is nowhere above.
    stop : bool
        Whether this is the budget to stop at.
    near : bool
        Whether a hair decides that it is not.
    """

    budget: float
    cost: float
    panels: int
    early_before: int
    early_after: int
    gone: float
    seconds_before: float
    seconds: float
    state: str
    worth: float
    early_new: int = 0
    missing: float = 0.0
    stop: bool = False
    near: bool = False


@dataclass(frozen=True, eq=False)
class Step:
    """What the first panels of a plan bring.

    Parameters
    ----------
    panels : int
        How many of them.
    cost : float
        Their price together.
    excess_db : float
        Early excess over the criterion that is left, summed over all arrivals, dB.
    eyring : numpy.ndarray
        Eyring's reverberation time with them, shape (8,), s.
    """

    panels: int
    cost: float
    excess_db: float
    eyring: Array


@dataclass(frozen=True, eq=False)
class SeatShift:
    """What the panels do for the main seat at one place.

    Parameters
    ----------
    words : str
        Where the seat is.
    position : numpy.ndarray
        Of the ears, shape (3,), m.
    before, after : int
        First reflections above the criterion, without and with the panels.
    weaker_db : float
        By how much their energy falls, summed over them and over the octaves from 1 to 8 kHz, dB; infinite
        when none of them arrives any more.
    strongest_db : float
        Loudest band from 1 to 8 kHz of the strongest one with the panels, dB re direct; NaN without any.
    strongest : tuple of int
        Loudspeaker and surface of that one; empty without any.
    """

    words: str
    position: Array
    before: int
    after: int
    weaker_db: float
    strongest_db: float
    strongest: tuple[int, ...]
