"""A plan and what it is made of: placements, what the room does before and after, lists."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from treatment.bands import COUNT, Array, frozen
from treatment.errors import Finding
from treatment.geometry.polygon import Rectangle
from treatment.materials.build import PanelBuild
from treatment.materials.material import frozen_flags
from treatment.planning.lists import (
    Blocked,
    BudgetStep,
    Cut,
    SeatShift,
    ShoppingItem,
    Step,
    StockUse,
    SurfaceExtent,
)
from treatment.scene.model import Scene

if TYPE_CHECKING:
    # Costs start-up time, and only who sends rays needs it.
    # It is made of placements itself.
    from treatment.planning.changes import Change
    from treatment.planning.traced import Traced

Indices = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Placement:
    """One panel at one place.

    Parameters
    ----------
    id : str
        ``P1``, ``P2``, ... in the order of their benefit, standing ones last; that of an earlier plan where
        it is changed.
    build : PanelBuild
        What hangs there.
    surface : int
        Index of the surface.
    rectangle : Rectangle
        Where, in wall coordinates, frame included, as hung (turned panels have width and height
        exchanged).
    reasons : tuple of str
        Why it hangs there, in words.
    standing : bool
        Whether it stands on the floor, upright, instead of hanging; then `surface` is the floor and
        `rectangle` the ground that its body covers.
    corner : int or None
        The second wall of the corner that it stands across; then `surface` is the first one and `rectangle`
        what its back takes of that. None for all others.
    """

    id: str
    build: PanelBuild
    surface: int
    rectangle: Rectangle
    reasons: tuple[str, ...] = ()
    standing: bool = False
    corner: int | None = None

    @property
    def solid(self) -> bool:
        """Whether it is a solid of the room, with surfaces of its own, and no patch of a surface."""
        return self.standing or self.corner is not None

    @property
    def face(self) -> Rectangle:
        """The absorbing part: the rectangle inside the frame."""
        return self.rectangle.grown(-self.build.frame_thickness)


@dataclass(frozen=True, eq=False)
class AbsorptionRow:
    """One piece of the room's boundary and what it absorbs.

    Parameters
    ----------
    name : str
        Surface, opening, or panel id.
    kind : str
        ``surface``, ``opening`` or ``panel``.
    area : float
        Exposed area in m2: a surface without its openings and panels.
    material : str
        Material or build id.
    absorption : numpy.ndarray
        Coefficients, shape (8,), as published (not capped).
    assumed : numpy.ndarray
        Shape (8,), bool: bands without published data.
    uncertainty : numpy.ndarray
        Expanded uncertainty of the coefficients (k = 2), shape (8,).
    less, more : numpy.ndarray
        How much less and how much more it may absorb, expanded, shape (8,).
    surface : int
        Which one it is or lies on.
    gain : numpy.ndarray
        What a panel's edges may add on top, shape (8,): a doubt to one side.
    borrowed : numpy.ndarray
        Shape (8,), bool: bands in which the coefficient is that of the surface behind.
    """

    name: str
    kind: str
    area: float
    material: str
    absorption: Array
    assumed: NDArray[np.bool_]
    uncertainty: Array
    less: Array
    more: Array
    surface: int
    gain: Array = field(default_factory=lambda: frozen(np.zeros(COUNT)))
    borrowed: NDArray[np.bool_] = field(default_factory=lambda: frozen_flags([False] * COUNT))


@dataclass(frozen=True, eq=False)
class Arrivals:
    """Sound that reaches the seats, direct and reflected; n arrivals, k the highest order.

    Parameters
    ----------
    source, seat : numpy.ndarray
        Index of the loudspeaker and of the seat, shape (n,).
    order : numpy.ndarray
        Number of reflections, shape (n,); 0 is the direct sound.
    surfaces : numpy.ndarray
        Surface indices from source to seat, shape (n, k), -1 beyond the order.
    names : tuple of tuple of str
        What each bounce is called: the surface, or the opening, obstacle or panel that the point
        lies on.
    points : numpy.ndarray
        Reflection points, shape (n, k, 3), m; NaN beyond the order.
    length : numpy.ndarray
        Path length in m, shape (n,).
    delay_ms : numpy.ndarray
        Behind the direct path's length, shape (n,).
    level_db : numpy.ndarray
        Re the free-field direct sound, shape (n, 8).
    clearance : numpy.ndarray
        Distance of the nearest outline or inner corner from the path, shape (n,), m. A path that
        passes one within a few centimetres is marginal.
    verdict : tuple of str
        ``direct``, ``treat``, ``note`` or ``leave`` by the early-reflection criterion; ``keep`` for a
        reflection from the side that the scene wishes to keep.
    direction_deg : numpy.ndarray
        Azimuth (0 toward the screen, positive to the left) and elevation at the seat, shape (n, 2).
    lateral : numpy.ndarray
        Shape (n,), bool: reflections that reach the seat from the side. Listeners differ about them.
    """

    source: Indices
    seat: Indices
    order: Indices
    surfaces: Indices
    names: tuple[tuple[str, ...], ...]
    points: Array
    length: Array
    delay_ms: Array
    level_db: Array
    clearance: Array
    verdict: tuple[str, ...]
    direction_deg: Array
    lateral: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class TargetRange:
    """Range of reverberation time that a published source recommends.

    Parameters
    ----------
    use : str
        ``listening-room`` or ``living-room``.
    centre : float
        Nominal time Tm in s.
    lower, upper : numpy.ndarray
        Limits by band, shape (8,), s. NaN where the source says nothing.
    source : str
        Title and clause, and how far it was verified.
    note : str
        Where it does not hold (a room that is smaller than the source covers).
    """

    use: str
    centre: float
    lower: Array
    upper: Array
    source: str
    note: str = ""


@dataclass(frozen=True, eq=False)
class Evaluation:
    """What the room does, with or without panels; `evaluate` is its only maker.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : tuple of Placement
        The panels that hang in it.
    volume, surface_area, mean_free_path : float
        m3, m2, m.
    speed_of_sound : float
        m/s.
    schroeder_hz : float
        2000 sqrt(T/V) with the mean of Sabine and Eyring over 500 Hz and 1 kHz.
    rows : tuple of AbsorptionRow
        The boundary by piece; areas sum to the surface area.
    reverberation : mapping of str to numpy.ndarray or None
        Times in s by formula, shape (8,): ``sabine``, ``eyring``, ``millington``, ``fitzroy``,
        ``arau-puchades``, ``kuttruff``, ``traced``; None where a formula does not apply.
    extended : mapping of str to numpy.ndarray
        Times in s of formulas that were extended beyond their published form, shape (8,): ``fitzroy`` and
        ``arau-puchades`` by direction in a room without three axes; empty elsewhere.
    target : TargetRange
        What to aim for.
    arrivals : Arrivals
        At the seats' centres, orders 0 to 2.
    findings : tuple of Finding
        Where the numbers do not hold.
    traced : Traced or None
        What rays say, where they were sent.
    """

    scene: Scene
    placements: tuple[Placement, ...]
    volume: float
    surface_area: float
    mean_free_path: float
    speed_of_sound: float
    schroeder_hz: float
    rows: tuple[AbsorptionRow, ...]
    reverberation: Mapping[str, Array | None]
    extended: Mapping[str, Array]
    target: TargetRange
    arrivals: Arrivals
    findings: tuple[Finding, ...]
    traced: Traced | None = None
    traced_error: Array | None = None

    @property
    def sabine(self) -> Array:
        """Sabine's time by band, shape (8,), s."""
        return np.asarray(self.reverberation["sabine"])

    @property
    def eyring(self) -> Array:
        """Eyring's time by band, shape (8,), s."""
        return np.asarray(self.reverberation["eyring"])

    @property
    def spread(self) -> tuple[Array, Array]:
        """Shortest and longest time by band over the formulas that may hold, shape (8,), s.

        Millington's is left out: a single good absorber rules it (see docs/method/reverberation.md). Formulas
        that were extended to rooms without three axes are in.
        """
        times = [
            t for k, t in self.reverberation.items() if k not in ("millington", "traced") and t is not None
        ]
        times += self.extended.values()
        return np.min(times, axis=0), np.max(times, axis=0)


@dataclass(frozen=True, eq=False)
class Plan:
    """Where panels go, and what changes.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : tuple of Placement
        In the order of their benefit.
    before, after : Evaluation
        Made by the same function.
    shopping : tuple of ShoppingItem
        What to buy.
    cuts : tuple of Cut
        What to saw.
    cautions : tuple of str
        What can hurt someone.
    blocked : tuple of Blocked
        What stays untreated.
    steps : tuple of str
        What the choice did, in words, for the report.
    stock : tuple of StockUse
        Which piece is cut from which board, slab or roll.
    bill_notes : tuple of str
        How good the cutting is, and which prices are missing, in words.
    progress : tuple of Step
        What each further panel brings, in the order of choice, the empty room first; empty for a plan
        that was not chosen here.
    extents : tuple of SurfaceExtent
        How large treatments would have to be, surface by surface.
    shifts : tuple of SeatShift
        What the panels do for the main seat when it is moved a little.
    budgets : tuple of BudgetStep
        What other budgets would buy, the smallest first; empty unless they were asked for.
    turn : float
        Money after which the plan of the largest of them gains little per money; 0 without several.
    advice : tuple of str
        Of a weak plan, or one that treats one side alone, what is left and what to do first, in words.
    changes : tuple of Change
        What became of the panels of an earlier plan; empty where none was changed.
    """

    scene: Scene
    placements: tuple[Placement, ...]
    before: Evaluation
    after: Evaluation
    shopping: tuple[ShoppingItem, ...]
    cuts: tuple[Cut, ...]
    cautions: tuple[str, ...]
    blocked: tuple[Blocked, ...]
    steps: tuple[str, ...]
    stock: tuple[StockUse, ...] = ()
    bill_notes: tuple[str, ...] = ()
    progress: tuple[Step, ...] = ()
    extents: tuple[SurfaceExtent, ...] = ()
    shifts: tuple[SeatShift, ...] = ()
    budgets: tuple[BudgetStep, ...] = ()
    turn: float = 0.0
    advice: tuple[str, ...] = ()
    changes: tuple[Change, ...] = ()

    @property
    def cost(self) -> float:
        """Sum of the panels' prices in the budget's currency."""
        return sum(p.build.price for p in self.placements)

    @property
    def currency(self) -> str:
        """Currency of the prices; empty when the scene names none."""
        return self.scene.budget.currency if self.scene.budget else ""
