"""Traced times on their way from the process or the plan that holds them to page, window and report."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from treatment.bands import Array, frozen
from treatment.errors import Finding
from treatment.planning.evaluate import evaluate
from treatment.planning.plan import Evaluation, Placement
from treatment.planning.trace import trace_scene, with_rays
from treatment.present.documents import finding_documents, numbers
from treatment.scene.model import Scene

#: Eyring's times of a plan and of its room read again agree this well, or its rays are of another room.
_SAME: Final = 1e-3


@dataclass(frozen=True, eq=False)
class RayTimes:
    """What rays found in one state of the room.

    Parameters
    ----------
    t30, error : numpy.ndarray
        Mean over all loudspeakers and seats, and its standard error, shape (8,), s; NaN where the decay
        does not reach.
    rays : int
        How many were sent.
    findings : tuple of Finding
        What is to be told about them.
    """

    t30: Array
    error: Array
    rays: int
    findings: tuple[Finding, ...]

    def beside(self, evaluation: Evaluation) -> Evaluation:
        """Put the times beside the formulas' ones.

        Parameters
        ----------
        evaluation : Evaluation
            Of the same room and panels.

        Returns
        -------
        Evaluation
            With ``reverberation["traced"]``, ``traced_error`` and the findings of the rays.
        """
        times = {**evaluation.reverberation, "traced": self.t30}
        findings = (*evaluation.findings, *self.findings)
        return replace(evaluation, reverberation=times, findings=findings, traced_error=self.error)

    def document(self) -> dict[str, Any]:
        """Write it for JSON; unknown times are None.

        Returns
        -------
        dict
            ``t30`` and ``error`` by band, s; ``rays``; ``findings``.
        """
        return {
            "t30": numbers(self.t30),
            "error": numbers(self.error),
            "rays": self.rays,
            "findings": finding_documents(self.findings),
        }


def read_ray_times(data: Any) -> RayTimes:
    """Read what `RayTimes.document` wrote.

    Parameters
    ----------
    data : object
        From JSON.

    Returns
    -------
    RayTimes
        None in the document is NaN.
    """
    findings = tuple(
        Finding(f["code"], f["severity"], f["where"], f["message"], f["hint"]) for f in data["findings"]
    )
    return RayTimes(_times(data["t30"]), _times(data["error"]), int(data["rays"]), findings)


def _times(values: Sequence[float | None]) -> Array:
    return frozen([np.nan if x is None else float(x) for x in values])


def planned_rays(folder: Path, scene: Scene, placements: Sequence[Placement]) -> tuple[RayTimes, ...]:
    """Read what rays said when a plan was made.

    Parameters
    ----------
    folder : Path
        Written by ``plan``.
    scene : Scene
        Its room, read again.
    placements : sequence of Placement
        Its panels.

    Returns
    -------
    tuple of RayTimes
        Before and after, without findings; one where no panel hangs. Empty where no rays were sent, and
        where the formulas give other times now: the room or the program has been changed since.
    """
    document = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
    states: dict[str, tuple[Placement, ...]] = {"before": (), "after": tuple(placements)}
    found = []
    for name, hanging in states.items():
        told = document[name]
        times = told["reverberation_s"]
        if times.get("traced") is None:
            return ()
        if not np.allclose(evaluate(scene, hanging, order=1).eyring, times["eyring"], rtol=_SAME, atol=0.0):
            return ()
        decays = told.get("decays") or {}
        error = decays.get("room", {}).get("t30_s_error") or [None] * len(times["traced"])
        found.append(RayTimes(_times(times["traced"]), _times(error), int(decays.get("rays", 0)), ()))
    return tuple(found if placements else found[:1])


def trace_both(
    scene: Scene, placements: Sequence[Placement], rays: int, progress: Callable[[float], None]
) -> list[RayTimes]:
    """Trace the room as it is and, where panels hang, with them.

    Parameters
    ----------
    scene : Scene
        The room.
    placements : sequence of Placement
        The panels.
    rays : int
        At most so many for each.
    progress : callable
        Called with the share done, 0 to 1.

    Returns
    -------
    list of RayTimes
        Before, and after where there are panels.
    """
    states: list[tuple[Placement, ...]] = [(), tuple(placements)] if placements else [()]
    found = []
    for k, hanging in enumerate(states):

        def part(share: float, done: int = k) -> None:
            progress((done + share) / len(states))

        traced = trace_scene(scene, hanging, rays, progress=part)
        plain = evaluate(scene, hanging, order=1)
        told = with_rays(plain, traced).findings[len(plain.findings) :]
        found.append(RayTimes(traced.t30, traced.t30_error, traced.result.rays, told))
    return found
