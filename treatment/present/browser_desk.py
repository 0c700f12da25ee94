"""Hears what pages ask, changes the session, and tells every page what came of it."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Callable, Coroutine, Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any, Final

from aiohttp import web

from treatment.errors import PlanError, SceneError, TreatmentError
from treatment.planning.plan import Plan
from treatment.present.browser_asked import Room, unit_of
from treatment.present.browser_draft import Draft, panel_document
from treatment.present.browser_edits import apply, fields_of
from treatment.present.browser_mistakes import mistake, stopped
from treatment.present.browser_page import catalogue, outcome_document, solid_document
from treatment.present.browser_session import Session
from treatment.present.browser_store import WORKING_ROOM
from treatment.present.browser_task import plan_apart, rays_apart
from treatment.present.browser_work import Outcome, Worker, whole_plan
from treatment.present.documents import finding_documents
from treatment.present.known_builds import builds_of
from treatment.present.ray_times import RayTimes

#: Copy of the room while a plan is written.
_SAVING: Final = ".saving-room.toml"
#: How many rays a page may ask for, at most, for each state of the room.
RAYS: Final = (5_000, 20_000, 100_000)
#: Parts of a result that follow the numbers.
_LATER: Final = ("solid", "blocked")
#: What needs the room to be worked out.
_ASKS_FOR_NUMBERS: Final = frozenset({"plan", "rays", "hang", "panel", "add", "builds"})
#: States of the room whose traced times are kept.
_MOST_TRACED: Final = 12


class Desk:
    """One session, and the pages that look at it.

    Parameters
    ----------
    session : Session
        The work.
    """

    def __init__(self, session: Session) -> None:
        self.session = session
        self._worker = Worker(session.store)
        self._thread = ThreadPoolExecutor(max_workers=1)
        self._pages: set[web.WebSocketResponse] = set()
        self._outcome: Outcome | None = None
        self._result: dict[str, Any] | None = None
        self._working: asyncio.Task[None] | None = None
        self._errand: asyncio.Task[None] | None = None
        self._task: dict[str, Any] = {"type": "task", "kind": "plan", "running": False, "words": ""}
        #: Traced times by the state of the room that they are for, the latest last.
        self._rays: dict[str, list[RayTimes]] = {}

    async def close(self) -> None:
        """Stop everything that runs, and say good-bye to the pages."""
        for task in (self._errand, self._working):
            if task is not None:
                task.cancel()
                with contextlib.suppress(asyncio.CancelledError, TreatmentError):
                    await task
        for page in tuple(self._pages):
            await page.close(code=1001, message=b"stopped")
        self._thread.shutdown(wait=False, cancel_futures=True)

    @contextlib.asynccontextmanager
    async def joined(self, page: web.WebSocketResponse) -> AsyncIterator[None]:
        """Count a page in while it is there.

        Parameters
        ----------
        page : aiohttp.web.WebSocketResponse
            Its connection.
        """
        self._pages.add(page)
        try:
            await self._tell(page, {"type": "catalogue", **catalogue(unit_of(self.session.draft.text))})
            await self._tell(page, self._state())
            await self._tell(page, self._task)
            if self._result is not None:
                await self._tell(page, self._result)
            if self._result is None or self._result["revision"] != self.session.revision:
                self._work()
            yield
        finally:
            self._pages.discard(page)

    async def hear(self, page: web.WebSocketResponse, text: str) -> None:
        """Do what a page asks.

        Parameters
        ----------
        page : aiohttp.web.WebSocketResponse
            Who asks.
        text : str
            A JSON object: ``op``, ``re`` (a number that the answer repeats), and what it needs.
        """
        number: Any = None
        try:
            asked = json.loads(text)
            if not isinstance(asked, dict):
                raise PlanError("the page asked for nothing")
            number = asked.get("re")
            words = await self._do(asked)
        except TreatmentError as error:
            await self._refuse(page, number, error)
        except (ValueError, RecursionError):
            await self._refuse(page, number, PlanError("that cannot be read", hint="reload the page"))
        except Exception as error:
            await self._refuse(page, number, mistake(error))
        else:
            await self._tell(page, {"type": "done", "re": number, "words": words})

    async def _do(self, asked: Mapping[str, Any]) -> str:
        """Do one thing; returns words for the person, often none."""
        op = asked.get("op")
        if self._outcome is None and self._working is not None and op in _ASKS_FOR_NUMBERS:
            # The very first numbers are on their way: that is no error of the room.
            await asyncio.shield(self._working)
        if op == "plan":
            self._start(self._plan)
            return ""
        if op == "rays":
            most = asked.get("rays")
            if most not in RAYS:
                raise PlanError("the page asked for an unknown number of rays", hint="reload the page")
            self._start(lambda: self._trace(int(most)))
            return ""
        if op == "cancel":
            if self._errand is not None:
                self._errand.cancel()
            return ""
        if op == "save-room":
            return await self._save_room(str(asked.get("name")), replaced=bool(asked.get("replace")))
        if op == "save-plan":
            return await self._save_plan(str(asked.get("name")), replaced=bool(asked.get("replace")))
        before = self.session.revision
        if op == "undo":
            self.session.undo()
        elif op == "redo":
            self.session.redo()
        elif op == "restart":
            self.session.restart()
        else:
            draft, label = await self._applied(asked)
            self.session.take(draft, label, str(asked.get("gesture") or "")[:40])
        if self.session.revision != before:
            await self._tell_all(self._state())
            self._work()
        return ""

    async def _applied(self, asked: Mapping[str, Any]) -> tuple[Draft, str]:
        plan = self._outcome.plan if self._outcome else None
        scene = plan.scene if plan else None
        room = Room(scene, plan.placements if plan else (), builds_of(scene), plan.after if plan else None)
        if asked.get("op") != "hang":
            return apply(self.session.draft, asked, room)
        # Looking for a place takes a while: what other pages change meanwhile must not be lost.
        draft = self.session.draft
        made, label = await asyncio.get_running_loop().run_in_executor(
            self._thread, apply, draft, dict(asked), room
        )
        now = self.session.draft
        added = replace(made.panels[-1], id=now.free_id())
        return replace(now, panels=(*now.panels, added)), label

    # --- what follows from a draft ---------------------------------------------------------------

    def _work(self) -> None:
        """Work the draft out, unless that is going on: then the later draft follows it."""
        if self._working is None or self._working.done():
            self._working = asyncio.get_running_loop().create_task(self._keep_working())

    async def _keep_working(self) -> None:
        loop = asyncio.get_running_loop()
        done = -1
        while done != self.session.revision:
            done, draft, outcome = self.session.revision, self.session.draft, None
            try:
                outcome = await loop.run_in_executor(self._thread, self._worker.work_out, draft)
                if outcome is None:
                    if done == self.session.revision:
                        self.session.mend()
                    done = -1
                    continue
                document = await loop.run_in_executor(self._thread, outcome_document, outcome, draft)
                document["traced"] = self._traced(draft)
            except SceneError as error:
                document = {"stale": True, "findings": finding_documents(error.findings)}
            except TreatmentError as error:
                document = {"stale": True, "findings": [stopped(error)]}
            except Exception as error:
                # A mistake of ours: the page must say so rather than wait for ever.
                document = {"stale": True, "findings": [stopped(mistake(error))]}
            else:
                self._outcome = outcome
            kept = self._result or {}
            self._result = {"type": "result", "revision": done, **_later(kept), **document}
            await self._tell_all({k: v for k, v in self._result.items() if k not in _LATER})
            if outcome is not None and done == self.session.revision:
                solid = await loop.run_in_executor(self._thread, solid_document, outcome)
                self._result |= solid
                await self._tell_all({"type": "solid", "revision": done, **solid})

    # --- tasks: planning and rays ----------------------------------------------------------------

    def _start(self, errand: Callable[[], Coroutine[Any, Any, str]]) -> None:
        if self._errand is not None and not self._errand.done():
            raise PlanError("a task is going on", hint="wait, or cancel it")
        if self._outcome is None or self._outcome.stale:
            raise PlanError("the room has errors", hint="mend them first")
        self._errand = asyncio.get_running_loop().create_task(self._run(errand))

    async def _run(self, errand: Callable[[], Coroutine[Any, Any, str]]) -> None:
        try:
            end = await errand()
        except asyncio.CancelledError:
            what = "Tracing" if self._task["kind"] == "rays" else "Planning"
            end = f"{what} was cancelled; nothing has changed."
        except TreatmentError as error:
            end = f"Nothing came of it: {error.message}{f' ({error.hint})' if error.hint else ''}."
        except Exception as error:
            # A mistake of ours must not leave the page waiting.
            end = f"Nothing came of it: {mistake(error).message}."
        self._task = {**self._task, "running": False, "words": end, "share": None}
        await self._tell_all(self._task)
        self._task = {**self._task, "words": ""}

    async def _plan(self) -> str:
        draft = self.session.draft
        await self._say_task("plan", "Starting")
        room = self.session.store.folder / WORKING_ROOM

        async def say(words: str, share: float | None) -> None:
            await self._say_task("plan", words, share)

        chosen = await plan_apart(room, draft.panels, say)
        if self.session.draft.text != draft.text:
            return "The room was changed while planning went on: plan again."
        self.session.take(replace(self.session.draft, panels=chosen), "plan panels")
        await self._tell_all(self._state())
        self._work()
        new = sum(not p.locked for p in chosen)
        return f"{new} panel{'s' * (new != 1)} planned."

    async def _trace(self, most: int) -> str:
        await self._say_task("rays", "Starting")
        outcome, draft = await self._settled(), self.session.draft
        counted = {p.id for p in outcome.plan.placements}
        panels = [p for p in draft.panels if p.id in counted]

        async def say(words: str, share: float | None) -> None:
            await self._say_task("rays", words, share)

        found = await rays_apart(self.session.store.folder / WORKING_ROOM, panels, most, say)
        self._rays[_state_key(draft)] = found
        while len(self._rays) > _MOST_TRACED:
            del self._rays[next(iter(self._rays))]
        if _state_key(self.session.draft) != _state_key(draft):
            return "Traced for the room before your last change: undo shows it."
        if self._result is not None:
            self._result["traced"] = self._traced(draft)
            traced = {"type": "traced", "traced": self._result["traced"]}
            await self._tell_all({**traced, "revision": self._result["revision"]})
        sent = ", ".join(f"{t.rays}" for t in found)
        return f"Traced: {sent} rays{' without and with panels' if len(found) == 2 else ''}."

    def _traced(self, draft: Draft) -> list[dict[str, Any]] | None:
        """What rays found in this state of the room, for the page."""
        found = self._rays.get(_state_key(draft))
        return [t.document() for t in found] if found else None

    async def _say_task(self, kind: str, words: str, share: float | None = None) -> None:
        self._task = {"type": "task", "kind": kind, "running": True, "words": words, "share": share}
        await self._tell_all(self._task)

    # --- keeping ---------------------------------------------------------------------------------

    async def _settled(self) -> Outcome:
        """Outcome of the draft as it is now."""
        if self._result is None or self._result["revision"] != self.session.revision:
            self._work()
        if self._working is not None:
            await self._working
        if self._outcome is None or self._outcome.stale:
            raise PlanError("the room has errors", hint="mend them first; they are listed under Findings")
        return self._outcome

    async def _save_room(self, name: str, *, replaced: bool) -> str:
        target = self.session.store.chosen(name, ".toml")
        if target.exists() and not replaced:
            raise PlanError(f"there is a {target.name} already", hint="choose another name, or tick Replace")
        self.session.store.write(target.name, self.session.draft.text.encode())
        return f"The room is saved as {target.name}."

    async def _save_plan(self, name: str, *, replaced: bool) -> str:
        from treatment.present.folder import write_folder, written_by_us

        outcome = await self._settled()
        target = self.session.store.chosen(name)
        if target.exists() and not written_by_us(target):
            hint = "choose another name"
            raise PlanError(f"there is a {target.name} already, and it is no plan of this program", hint=hint)
        if target.exists() and not replaced:
            raise PlanError(f"there is a {target.name} already", hint="choose another name, or tick Replace")
        plan = self._with_rays(await asyncio.to_thread(whole_plan, outcome), outcome.draft)
        # The folder gets the room of these numbers, even if it is changed while the report is written.
        copy = self.session.store.write(_SAVING, outcome.draft.text.encode())
        try:
            plan = replace(plan, scene=replace(plan.scene, path=copy))
            notes = await asyncio.to_thread(write_folder, plan, target, outcome.findings)
        finally:
            copy.unlink(missing_ok=True)
        return " ".join([f"The plan is saved in the folder {target.name}.", *notes])

    def _with_rays(self, plan: Plan, draft: Draft) -> Plan:
        """Put traced times into a plan where they are known for it."""
        found = self._rays.get(_state_key(draft))
        if not found:
            return plan
        return replace(plan, before=found[0].beside(plan.before), after=found[-1].beside(plan.after))

    async def report(self) -> str:
        """Write the report of the draft as it is now.

        Returns
        -------
        str
            One HTML file.

        Raises
        ------
        PlanError
            When the room has errors.
        """
        from treatment.present.report import report_html

        outcome = await self._settled()
        plan = self._with_rays(await asyncio.to_thread(whole_plan, outcome), outcome.draft)
        return await asyncio.to_thread(report_html, plan)

    # --- telling ---------------------------------------------------------------------------------

    def _state(self) -> dict[str, Any]:
        s = self.session
        return {
            "type": "state",
            "revision": s.revision,
            "undo": s.undo_label,
            "redo": s.redo_label,
            "resumed": s.resumed,
            "source": s.source,
            "source_changed": s.source_changed,
            "fields": fields_of(s.draft.text),
            "panels": [panel_document(p) for p in s.draft.panels],
        }

    async def _refuse(self, page: web.WebSocketResponse, number: Any, error: TreatmentError) -> None:
        words = {"message": error.message, "hint": error.hint}
        await self._tell(page, {"type": "refused", "re": number, **words})

    async def _tell(self, page: web.WebSocketResponse, document: Mapping[str, Any]) -> None:
        with contextlib.suppress(ConnectionError, RuntimeError):
            await page.send_str(json.dumps(document, separators=(",", ":"), default=str))

    async def _tell_all(self, document: Mapping[str, Any]) -> None:
        for page in tuple(self._pages):
            await self._tell(page, document)


def _later(kept: Mapping[str, Any]) -> dict[str, Any]:
    """What follows the numbers, as it was before: until the new one is there it is shown."""
    return {key: kept.get(key) for key in _LATER}


def _state_key(draft: Draft) -> str:
    """Tells states of the room apart; a lock or a reason of a panel changes no number."""
    panels = [(p.id, p.build, p.surface, p.corner, p.u, p.v, p.turned) for p in draft.panels]
    return json.dumps([draft.text, panels])
