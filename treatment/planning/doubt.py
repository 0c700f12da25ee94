"""How sure the reverberation times are: formulas and rays that differ, and materials not known exactly."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field, fields, replace
from typing import Final

import numpy as np

from treatment import bands
from treatment.acoustics.reverberation import LONGEST_S
from treatment.bands import Array, frozen
from treatment.materials.make_material import LARGEST_COEFFICIENT
from treatment.materials.uncertainty import COVERAGE, WORST_SHARE
from treatment.planning.evaluate import formula_times
from treatment.planning.memory import key_of
from treatment.planning.plan import AbsorptionRow, Evaluation
from treatment.scene.furniture import RoomObject
from treatment.scene.model import Scene

#: The formula whose answer to other coefficients is nearest to that of rays where walls scatter little.
_LIKE_RAYS: Final = "arau-puchades"
#: What the interval holds, in words, and what it does not.
HOLDS: Final = "formulas and materials"
HOLDS_RAYS: Final = "formulas, rays and materials"


@dataclass(frozen=True, eq=False)
class Doubt:
    """An interval for the reverberation time by band, and where it comes from.

    Parameters
    ----------
    lower, upper : numpy.ndarray
        Shape (8,), s.
    formulas : tuple of numpy.ndarray
        Shortest and longest time over the formulas with the materials as listed, shape (8,), s each.
    rays : tuple of numpy.ndarray or None
        Traced T30 less and plus its expanded statistical error (k = 2), shape (8,), s; NaN where the decay
        does not reach; None where no rays were sent.
    less, more : numpy.ndarray
        Share of the absorption that may be missing, and that may be there besides (expanded, k = 2), because
        the materials' coefficients are not known better, shape (8,): by Eyring's formula, as an example.
    """

    lower: Array
    upper: Array
    formulas: tuple[Array, Array]
    rays: tuple[Array, Array] | None
    less: Array
    more: Array

    @property
    def holds(self) -> str:
        """What the interval holds, in words."""
        return HOLDS if self.rays is None else HOLDS_RAYS


@functools.lru_cache(maxsize=8)
def doubt_of(evaluation: Evaluation) -> Doubt:
    """Work out how far the reverberation times may be off.

    Parameters
    ----------
    evaluation : Evaluation
        With or without panels.

    Returns
    -------
    Doubt
        Each material is taken to absorb less, then more, by its expanded uncertainty (k = 2), everywhere in
        the room at once, and each formula is run again: ``d = ln(T'/T)``. Builds of one wool, or of one
        measured row, are one material, however thick. Materials are independent, so their parts sum by
        squares, for less and for more absorption apart; a formula's own interval is
        ``T exp(+-sqrt(sum d**2))``. Where a panel absorbs what the wall behind it does, it goes with the
        wall. What panels' edges may add counts to the side of more absorption alone, together for all
        panels, since one cause makes it. The interval is from the lowest to the highest of all formulas.
        Fitzroy's time, which exaggerates what a bare pair does, and the rays' where they were sent, are
        widened by the factor of Arau-Puchades' formula, whose answer to other coefficients is like that of
        rays (see docs/method/doubt.md).
    """
    # Remembered by identity: a report asks for the same two evaluations many times.
    formulas = evaluation.spread
    likely, down, up = _formulas(_Asked.of(evaluation))
    lower = np.min([t * np.exp(-down[k]) for k, t in likely.items()], axis=0)
    upper = np.max([t * np.exp(up[k]) for k, t in likely.items()], axis=0)
    rays = None
    if evaluation.traced is not None:
        t30, error = evaluation.traced.t30, np.nan_to_num(evaluation.traced.t30_error)
        rays = frozen(np.maximum(t30 - COVERAGE * error, 0.0)), frozen(t30 + COVERAGE * error)
        # Not a number where a decay does not reach far enough: then the formulas stand alone.
        lower = np.fmin(lower, rays[0] * np.exp(-down[_LIKE_RAYS]))
        upper = np.fmax(upper, rays[1] * np.exp(up[_LIKE_RAYS]))
    return Doubt(
        frozen(lower),
        frozen(np.minimum(upper, LONGEST_S)),
        (frozen(formulas[0]), frozen(formulas[1])),
        rays,
        frozen(-np.expm1(-up["eyring"])),
        frozen(np.expm1(down["eyring"])),
    )


@dataclass(frozen=True)
class _Asked:
    """An evaluation, alike for all in which nothing that reverberates has changed: a seat may have moved."""

    key: bytes
    evaluation: Evaluation = field(compare=False)

    @classmethod
    def of(cls, evaluation: Evaluation) -> _Asked:
        scene = evaluation.scene
        walls = [s.material.id for s in scene.surfaces]
        things = [*map(_bits, evaluation.rows), *map(_bits, scene.objects)]
        key = key_of(scene.enclosure, scene.air, walls, things, sorted(_same_stuff(evaluation).items()))
        return cls(key, evaluation)


def _bits(thing: AbsorptionRow | RoomObject) -> list[object]:
    """All that a row or an object says, arrays by their bits."""
    values = [getattr(thing, f.name) for f in fields(thing)]
    return [v.tobytes() if isinstance(v, np.ndarray) else v for v in values]


@functools.lru_cache(maxsize=8)
def _formulas(asked: _Asked) -> tuple[dict[str, Array], dict[str, Array], dict[str, Array]]:
    """Time of every formula, and how far it may be shorter and longer, as logarithms."""
    evaluation = asked.evaluation
    scene, rows = evaluation.scene, [r for r in evaluation.rows if r.area > 0.0]
    areas, surface = np.array([r.area for r in rows]), np.array([r.surface for r in rows], dtype=np.intp)
    alpha, taken = np.array([r.absorption for r in rows]), np.array([r.borrowed for r in rows])
    same = _same_stuff(evaluation)
    own = np.array([same.get(r.material, r.material) for r in rows])
    # Where a panel has the wall's coefficient, it is the wall's material that may be wrong.
    behind = [scene.surfaces[i].material.id for i in surface]
    walls = np.array([same.get(name, name) for name in behind])
    likely = formula_times(scene, areas, alpha, surface)
    squared = [{k: np.zeros(bands.COUNT) for k in likely} for _ in range(2)]

    def add(side: int, room: Scene, change: Array) -> None:
        shifted = np.clip(alpha + change, 0.0, LARGEST_COEFFICIENT)
        for k, t in formula_times(room, areas, shifted, surface).items():
            squared[side][k] += np.square(np.log(t / likely[k]))

    still = np.zeros_like(alpha)
    for name in np.unique([*own, *walls]):
        mine = np.where(taken, (walls == name)[:, None], (own == name)[:, None])
        if mine.any():
            add(1, scene, mine * -np.array([r.less for r in rows]))
            add(0, scene, mine * np.array([r.more for r in rows]))
    gain = np.array([r.gain for r in rows])
    if gain.any():
        add(0, scene, gain)
    for name in sorted({o.material for o in scene.objects}):
        for side, sign in ((1, -1.0), (0, 1.0)):
            add(side, _with_objects(scene, name, sign), still)
    for part in squared:
        part["fitzroy"] = part[_LIKE_RAYS]
    down, up = ({k: np.sqrt(v) for k, v in part.items()} for part in squared)
    return likely, down, up


def _same_stuff(evaluation: Evaluation) -> dict[str, str]:
    """One name for all builds that are made of the same wool, or known by the same measured row.

    Where the wool is denser than said, it is so in thick panels and in thin ones: these are wrong together.
    Keys are what rows of the boundary call a build, and its material.
    """
    first: dict[tuple[object, ...], str] = {}
    names: dict[str, str] = {}
    for build in sorted({p.build.id: p.build for p in evaluation.placements}.values(), key=lambda b: b.id):
        stuff = {(x.kind, x.airflow_resistivity, x.density) for x in build.layers}
        predicted = build.basis == "predicted" and bool(stuff)
        # A measured row may be that of a wall, too: it keeps its name.
        key = tuple(sorted(stuff)) if predicted else (build.material.id,)
        names[build.id] = names[build.material.id] = first.setdefault(
            key, build.id if predicted else build.material.id
        )
    return names


def _with_objects(scene: Scene, material: str, sign: float) -> Scene:
    """The scene with the objects of one row as wrong as they may be, by half at most."""
    return replace(
        scene,
        objects=tuple(
            replace(o, area=frozen(o.area + sign * np.minimum(o.uncertainty, WORST_SHARE * o.area)))
            if o.material == material
            else o
            for o in scene.objects
        ),
    )


def doubt_words(doubt: Doubt, schroeder_hz: float) -> tuple[str, ...]:
    """Say in words how sure the times are.

    Parameters
    ----------
    doubt : Doubt
        From `doubt_of`.
    schroeder_hz : float
        Below it the times are indicative only.

    Returns
    -------
    tuple of str
        One sentence for the bass, one for the middle, one for the treble.
    """
    said = []
    for low, high in ((63, 125), (250, 500), (1000, 4000)):
        part = bands.band_slice(low, high)
        least, most = float(doubt.lower[part].min()), float(doubt.upper[part].max())
        indicative = " (indicative: single modes decide there)" if low < schroeder_hz else ""
        advice = "; measure before you buy bass absorbers for it" if most > 1.8 * least and low < 200 else ""
        said.append(
            f"From {bands.band_label(low)} to {bands.band_label(high)} anything from {least:.2f} to "
            f"{most:.2f} s{indicative}{advice}."
        )
    return tuple(said)
