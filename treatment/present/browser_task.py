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
    room: Path, panels: Sequence[HungPanel], say: Callable[[str], Awaitable[None]]
) -> tuple[HungPanel, ...]:
    """Choose panels.

    Parameters
    ----------
    room : Path
        A room file.
    panels : sequence of HungPanel
        Those that are locked stay where they are; the places of the others are preferred, so that little
        changes.
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
        process.stdin.write(json.dumps([str(room), [panel_document(p) for p in panels]]).encode())
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


def _chosen(path: Path, panels: list[HungPanel]) -> list[HungPanel]:
    from treatment.planning.make import make_plan
    from treatment.present.browser_work import builds_of
    from treatment.scene.load import load_scene

    _tell({"say": "reading the room"})
    scene, _ = load_scene(path)
    builds = builds_of(scene)
    locked = [p for p in panels if p.locked]
    keep, lost = placements(locked, scene, builds)
    if lost:
        raise PlanError(lost[0].message, hint=lost[0].hint)
    earlier, _ = placements([p for p in panels if not p.locked], scene, builds)
    plan = make_plan(scene, lambda words: _tell({"say": words}), keep=keep, earlier=earlier)
    taken = {p.id for p in locked}
    free = (name for i in range(1, 10_000) if (name := f"P{i}") not in taken)
    new = [hung(replace(p, id=next(free)), scene) for p in plan.placements[len(keep) :]]
    return [*locked, *new]
