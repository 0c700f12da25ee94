"""One set of hanging and standing panels and what it is worth, and what a standing panel adds to a room."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from treatment.bands import Array
from treatment.materials.build import PanelBuild
from treatment.planning.early import EarlyField, excess
from treatment.planning.evaluate import evaluate
from treatment.planning.objective import Score
from treatment.planning.plan import Placement
from treatment.planning.problem import Problem
from treatment.planning.standing_places import Place
from treatment.planning.swaps import Pairs
from treatment.scene.model import Scene

#: One place, or two that are each other's twin.
Unit = tuple[Place, ...]


@dataclass(frozen=True, eq=False)
class Trial:
    """One set of panels, worked out.

    Parameters
    ----------
    pairs : list of (site, build)
        What hangs.
    units : tuple of Unit
        Where panels stand, in the order of choice.
    score : Score
        What all of it is worth.
    early : EarlyField
        Arrivals above the criterion that are left.
    area : numpy.ndarray
        Absorption area, shape (8,), m2.
    """

    pairs: Pairs
    units: tuple[Unit, ...]
    score: Score
    early: EarlyField
    area: Array

    @property
    def places(self) -> tuple[Place, ...]:
        """Where panels stand, in the order of choice."""
        return tuple(p for unit in self.units for p in unit)

    @cached_property
    def energy(self) -> Array:
        """Energy of all members of the arrivals, shape (n, 4)."""
        return self.early.member_energy(self.early.bare)

    @cached_property
    def excess(self) -> Array:
        """Of every arrival, shape (a,), dB."""
        return excess(self.early.arrival_energy(self.energy))

    def excess_without(self, stopped: NDArray[np.bool_]) -> Array:
        """Excess of every arrival when some of its members are stopped.

        Parameters
        ----------
        stopped : numpy.ndarray
            Shape (n,), bool.

        Returns
        -------
        numpy.ndarray
            Shape (a,), dB.
        """
        e, there = self.early, np.flatnonzero(stopped)
        whole = e.arrival_energy(self.energy)
        np.subtract.at(whole, e.arrival[there], self.energy[there])
        return excess(np.maximum(whole, 1e-9))


def absorption_of(build: PanelBuild, floor: Array) -> Array:
    """Absorption area that a standing panel adds to a room, shape (8,), m2.

    Parameters
    ----------
    build : PanelBuild
        The panel.
    floor : numpy.ndarray
        Absorption of what it covers, shape (8,).
    """
    back = build.material if build.back is None else build.back
    face = build.outer_width * build.outer_height
    ground = build.outer_width * build.thickness
    rest = face + ground + 2.0 * build.thickness * build.outer_height
    return np.asarray(face * build.material.absorption + rest * back.absorption - ground * floor)


def times_with(problem: Problem, area: Array, standing: Sequence[PanelBuild]) -> Array:
    """Eyring's times when boxes stand in the room: their sides are boundary, their bodies no air.

    Parameters
    ----------
    problem : Problem
        The choice.
    area : numpy.ndarray
        Absorption area of everything, shape (8,), m2.
    standing : sequence of PanelBuild
        What stands.

    Returns
    -------
    numpy.ndarray
        Shape (8,), s.
    """
    sides = sum(2.0 * b.outer_height * (b.outer_width + b.thickness) for b in standing)
    bodies = sum(b.outer_width * b.outer_height * b.thickness for b in standing)
    larger = replace(problem, surface_area=problem.surface_area + sides, volume=problem.volume - bodies)
    return larger.times(area)


def ground_of(p: Placement) -> tuple[object, ...]:
    """Build and ground of a standing panel to a centimetre, to know it again in another plan.

    Parameters
    ----------
    p : Placement
        The panel.
    """
    return (p.build.id, *(round(1e2 * x) for x in p.rectangle.bounds))


def kept_sides(room: Scene, hanging: Sequence[Placement]) -> list[Array]:
    """Legs of the reflections from the side that shall stay, each of shape (2, 3), m.

    Parameters
    ----------
    room : Scene
        The room.
    hanging : sequence of Placement
        Panels that are there already.
    """
    if not room.keep_side_reflections:
        return []
    a = evaluate(room, hanging).arrivals
    legs: list[Array] = []
    for i in np.flatnonzero(np.array(a.verdict) == "keep"):
        ends = [room.loudspeakers[a.source[i]].position, *a.points[i, : a.order[i]]]
        ends.append(room.seats[a.seat[i]].position)
        legs += [np.array(leg) for leg in pairwise(ends)]
    return legs
