"""A room with only the loudspeakers and seats in question: its evaluation takes a part of the time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from treatment.planning.evaluate import evaluate
from treatment.planning.fate import energy_fall
from treatment.planning.pairing import same_paths
from treatment.planning.plan import Evaluation, Indices, Placement
from treatment.scene.model import Scene


@dataclass(frozen=True, eq=False)
class Part:
    """A part of an evaluation, and what more panels would change of it.

    Parameters
    ----------
    scene : Scene
        The room with only some loudspeakers and seats.
    before : Evaluation
        Of it, with all panels.
    paths : numpy.ndarray
        The paths in question, as indices of its arrivals, shape (k,).
    """

    scene: Scene
    before: Evaluation
    paths: Indices

    @classmethod
    def of(cls, scene: Scene, after: Evaluation, paths: Indices) -> Part:
        """Take the part that some paths belong to.

        Parameters
        ----------
        scene : Scene
            The room, without standing panels of its own.
        after : Evaluation
            With all panels.
        paths : numpy.ndarray
            Indices of arrivals, shape (k,).
        """
        a = after.arrivals
        sources, seats = np.unique(a.source[paths]), np.unique(a.seat[paths])
        small = replace(
            scene,
            loudspeakers=tuple(scene.loudspeakers[i] for i in sources),
            seats=tuple(scene.seats[i] for i in seats),
        )
        before = evaluate(small, after.placements)
        b = before.arrivals
        there = {
            (int(sources[b.source[i]]), int(seats[b.seat[i]]), *b.surfaces[i].tolist()): i
            for i in range(len(b.order))
        }
        keys = [(int(a.source[i]), int(a.seat[i]), *a.surfaces[i].tolist()) for i in paths]
        return cls(small, before, np.array([there[k] for k in keys], dtype=np.intp))

    def with_more(self, panels: Sequence[Placement]) -> Evaluation:
        """Evaluate it with more panels.

        Parameters
        ----------
        panels : sequence of Placement
            Beside those that are there.
        """
        return evaluate(self.scene, (*self.before.placements, *panels))

    def weaker(self, then: Evaluation) -> float:
        """How much weaker the paths in question become, where they still arrive.

        Parameters
        ----------
        then : Evaluation
            As from `with_more`.

        Returns
        -------
        float
            By how much their energy falls, summed over them and over 1 to 8 kHz, dB; 0 where none arrives.
        """
        again = same_paths(self.before.arrivals, then.arrivals)[self.paths]
        both = again >= 0
        was = self.before.arrivals.level_db[self.paths[both]]
        return energy_fall(was, then.arrivals.level_db[again[both]])
