"""Evaluations of a plan's steps: none of its panels, the first, the first two, ...

In a window they are worked out by a process of its own, nearest to what is looked at first, so that the
window never waits; the toolkit's event loop would keep a thread from running. For a single picture they
are worked out on demand.
"""

from __future__ import annotations

import contextlib
import multiprocessing
from collections.abc import Sequence
from multiprocessing.connection import Connection
from typing import Protocol

from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Evaluation, Placement
from treatment.scene.model import Scene


class Steps(Protocol):
    """Where evaluations come from."""

    def get(self, step: int) -> Evaluation | None:
        """Evaluation with the first panels, None while it is being worked out."""

    def poll(self, wanted: int) -> bool:
        """Look whether something new is there; `wanted` is the step that is looked at."""

    @property
    def missing(self) -> int:
        """How many steps are still to come."""


class OnDemand:
    """Evaluations that are worked out when they are asked for.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels, in the order of their benefit.
    """

    def __init__(self, scene: Scene, placements: Sequence[Placement]) -> None:
        self.scene, self.placements = scene, tuple(placements)
        self._known: dict[int, Evaluation] = {}

    def get(self, step: int) -> Evaluation:
        """Evaluation with the first panels.

        Parameters
        ----------
        step : int
            How many panels hang.

        Returns
        -------
        Evaluation
            The same object every time.
        """
        if step not in self._known:
            self._known[step] = evaluate(self.scene, self.placements[:step])
        return self._known[step]

    def poll(self, wanted: int) -> bool:  # noqa: ARG002
        """Nothing is ever under way."""
        return False

    @property
    def missing(self) -> int:
        """Nothing is ever under way."""
        return 0


class Ahead:
    """Evaluations that a process of its own works out ahead of being asked for.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels, in the order of their benefit.
    first : int
        Step that is looked at first; it and the room as it is are worked out here and now.
    """

    def __init__(self, scene: Scene, placements: Sequence[Placement], first: int = 0) -> None:
        self._here = OnDemand(scene, placements)
        self._known = {step: self._here.get(step) for step in {0, first}}
        self._asked: int | None = None
        self._pipe: Connection | None = None
        self._process: multiprocessing.process.BaseProcess | None = None
        if self.missing:
            # A fresh process: forked, it would share the toolkit's state and the window's connection.
            context = multiprocessing.get_context("spawn")
            self._pipe, theirs = context.Pipe()
            self._process = context.Process(target=_work, args=(theirs,), daemon=True)
            self._process.start()
            theirs.close()
            self._pipe.send((scene, tuple(placements)))

    @property
    def missing(self) -> int:
        """How many steps are still to come."""
        return len(self._here.placements) + 1 - len(self._known)

    def get(self, step: int) -> Evaluation | None:
        """Evaluation with the first panels.

        Parameters
        ----------
        step : int
            How many panels hang.

        Returns
        -------
        Evaluation or None
            None while it is being worked out.
        """
        if step not in self._known and self._pipe is None:
            self._known[step] = self._here.get(step)
        return self._known.get(step)

    def poll(self, wanted: int) -> bool:
        """Take what is finished, and ask for the next step.

        Parameters
        ----------
        wanted : int
            Step that is looked at; those near to it come next.

        Returns
        -------
        bool
            Whether a step has come in.
        """
        if self._pipe is None:
            return False
        came = False
        try:
            if self._asked is not None and self._pipe.poll():
                step, self._asked = self._asked, None
                self._known[step] = self._pipe.recv()
                came = True
            if self._asked is None and self.missing:
                open_ = [k for k in range(len(self._here.placements) + 1) if k not in self._known]
                self._asked = min(open_, key=lambda k: (abs(k - wanted), k))
                self._pipe.send(self._asked)
        except (EOFError, OSError):
            # The process is gone: from now on every step is worked out when it is asked for.
            self.close()
            came = True
        if not self.missing:
            self.close()
        return came

    def close(self) -> None:
        """End the process."""
        if self._pipe is not None:
            self._pipe.close()
        if self._process is not None:
            self._process.terminate()
            self._process.join(2.0)
        self._pipe = self._process = self._asked = None


def _work(pipe: Connection) -> None:
    """Answer until nobody asks; the process's whole life."""
    with contextlib.suppress(EOFError, OSError, KeyboardInterrupt):
        scene, placements = pipe.recv()
        while True:
            pipe.send(evaluate(scene, placements[: pipe.recv()]))
