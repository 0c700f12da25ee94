"""Planning in a process of its own: it can be stopped at any moment, and the page stays quick meanwhile."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from treatment.errors import PlanError, SceneError, TreatmentError
from treatment.present.browser_draft import HungPanel, hung, panel_document, placements, read_panel

_CHILD: Final = "from treatment.present.browser_task import child; child()"
_LONGEST_ANSWER: Final = 4_000_000


async def plan_apart(
    room: Path, locked: Sequence[HungPanel], say: Callable[[str], Awaitable[None]]
) -> tuple[HungPanel, ...]:
    """Choose panels, beside those that are locked.

    Parameters
    ----------
    room : Path
        A room file.
    locked : sequence of HungPanel
        Stay where they are; the budget is less by their price.
    say : async callable
        Told what is being done.

    Returns
    -------
    tuple of HungPanel
        The locked ones, then the chosen ones in the order of their benefit.

    Raises
    ------
    PlanError
        When no plan can be made.
    asyncio.CancelledError
        When the task was cancelled; the process is ended then.
    """
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-c",
        _CHILD,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
        limit=_LONGEST_ANSWER,
    )
    assert process.stdin is not None
    assert process.stdout is not None
    try:
        process.stdin.write(json.dumps([str(room), [panel_document(p) for p in locked]]).encode())
        process.stdin.close()
        while line := await process.stdout.readline():
            told: Any = json.loads(line)
            if "say" in told:
                await say(told["say"])
            elif "error" in told:
                raise PlanError(told["error"], hint=told["hint"])
            else:
                return tuple(read_panel(p) for p in told["panels"])
    finally:
        if process.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            await process.wait()
    raise PlanError("planning ended without an answer", hint="try again; is there enough memory?")


def child() -> None:
    """Plan the room that stands on standard input; the child's whole life."""
    try:
        path, listed = json.loads(sys.stdin.read())
        _tell({"panels": [panel_document(p) for p in _chosen(Path(path), [read_panel(p) for p in listed])]})
    except SceneError as error:
        _tell({"error": "the room has errors", "hint": error.hint})
    except TreatmentError as error:
        _tell({"error": error.message, "hint": error.hint})


def _tell(line: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


def _chosen(path: Path, locked: list[HungPanel]) -> list[HungPanel]:
    from treatment.planning.optimise import choose
    from treatment.planning.problem import state_problem
    from treatment.planning.reasons import placements_of
    from treatment.present.browser_work import builds_of
    from treatment.scene.load import load_scene

    _tell({"say": "Reading the room"})
    scene, _ = load_scene(path)
    hanging, lost = placements(locked, scene, builds_of(scene))
    if lost:
        raise PlanError(lost[0].message, hint=lost[0].hint)
    spent = sum(p.build.price for p in hanging)
    if scene.budget is not None:
        left = scene.budget.amount - spent
        if left <= 0.0:
            raise PlanError("the locked panels use up the budget", hint="unlock one, or raise the budget")
        scene = replace(scene, budget=replace(scene.budget, amount=left))
    _tell({"say": "Tracing reflections, and listing the places where a panel may hang"})
    problem = state_problem(scene, hanging)
    _tell({"say": f"Choosing among {len(problem.sites)} places and {len(problem.builds)} builds"})
    found = list(locked)
    taken = {p.id for p in locked}
    free = (name for i in range(1, 10_000) if (name := f"P{i}") not in taken)
    for placement in placements_of(problem, choose(problem)):
        found.append(hung(replace(placement, id=next(free)), scene))
    return found
