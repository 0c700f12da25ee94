"""Long work in a process of its own: it can be stopped at any moment, and the page stays quick meanwhile."""

from __future__ import annotations

import asyncio
import contextlib
import json
import sys
import time
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from treatment.errors import PlanError, SceneError, TreatmentError
from treatment.present.browser_draft import HungPanel, hung, panel_document, placements, read_panel
from treatment.present.ray_times import RayTimes, read_ray_times, trace_both

_CHILD: Final = "from treatment.present.browser_task import child; child()"
_LONGEST_ANSWER: Final = 4_000_000
#: Least time between two words about progress, s.
_BREATH: Final = 0.15

#: Told what is being done, and which share of it is done, where that is known.
Say = Callable[[str, float | None], Awaitable[None]]


async def plan_apart(room: Path, panels: Sequence[HungPanel], say: Say) -> tuple[HungPanel, ...]:
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
    told = await _apart("plan", room, panels, 0, say)
    return tuple(read_panel(p) for p in told)


async def rays_apart(room: Path, panels: Sequence[HungPanel], rays: int, say: Say) -> list[RayTimes]:
    """Trace rays.

    Parameters
    ----------
    room : Path
        A room file.
    panels : sequence of HungPanel
        Those that count.
    rays : int
        At most so many for each state of the room.
    say : async callable
        Told what is being done.

    Returns
    -------
    list of RayTimes
        Of the room as it is and, where panels hang, with them.

    Raises
    ------
    PlanError
        When rays cannot be traced.
    asyncio.CancelledError
        When the task was cancelled; the process is ended then.
    """
    return [read_ray_times(t) for t in await _apart("rays", room, panels, rays, say)]


async def _apart(job: str, room: Path, panels: Sequence[HungPanel], rays: int, say: Say) -> Any:
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
        order = [job, str(room), [panel_document(p) for p in panels], rays]
        process.stdin.write(json.dumps(order).encode())
        process.stdin.close()
        while line := await process.stdout.readline():
            told: Any = json.loads(line)
            if "say" in told:
                await say(told["say"], told["share"])
            elif "error" in told:
                raise PlanError(told["error"], hint=told["hint"])
            else:
                return told["done"]
    finally:
        if process.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            await process.wait()
    raise PlanError("the task ended without an answer", hint="try again; is there enough memory?")


def child() -> None:
    """Do the job that stands on standard input; the child's whole life."""
    try:
        job, path, listed, rays = json.loads(sys.stdin.read())
        panels = [read_panel(p) for p in listed]
        _say("Reading the room")
        if job == "plan":
            _tell({"done": [panel_document(p) for p in _chosen(Path(path), panels)]})
        else:
            _tell({"done": [t.document() for t in _traced(Path(path), panels, int(rays))]})
    except SceneError as error:
        _tell({"error": "the room has errors", "hint": error.hint})
    except TreatmentError as error:
        _tell({"error": error.message, "hint": error.hint})


def _tell(line: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(line) + "\n")
    sys.stdout.flush()


def _say(words: str, share: float | None = None) -> None:
    _tell({"say": words[:1].upper() + words[1:], "share": share})


def _chosen(path: Path, panels: list[HungPanel]) -> list[HungPanel]:
    from treatment.planning.make import make_plan
    from treatment.present.known_builds import builds_of
    from treatment.scene.load import load_scene

    scene, _ = load_scene(path)
    builds = builds_of(scene)
    locked = [p for p in panels if p.locked]
    keep, lost = placements(locked, scene, builds)
    if lost:
        raise PlanError(lost[0].message, hint=lost[0].hint)
    earlier, _ = placements([p for p in panels if not p.locked], scene, builds)
    plan = make_plan(scene, _say, keep=keep, earlier=earlier)
    taken = {p.id for p in locked}
    free = (name for i in range(1, 10_000) if (name := f"P{i}") not in taken)
    new = [hung(replace(p, id=next(free)), scene) for p in plan.placements[len(keep) :]]
    return [*locked, *new]


def _traced(path: Path, panels: list[HungPanel], rays: int) -> list[RayTimes]:
    from treatment.present.known_builds import builds_of
    from treatment.scene.load import load_scene

    scene, _ = load_scene(path)
    placed, _ = placements(panels, scene, builds_of(scene))
    last = 0.0

    def progress(share: float) -> None:
        nonlocal last
        now = time.monotonic()
        if now - last > _BREATH:
            last = now
            _say(f"Tracing rays, {100.0 * share:.0f} %", round(share, 3))

    return trace_both(scene, placed, rays, progress)
