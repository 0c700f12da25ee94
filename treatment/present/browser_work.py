"""A draft -> findings and numbers, by the same checks and the same `evaluate` as every command."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass

from treatment.errors import Finding, SceneError
from treatment.planning.cautions import cautions_for
from treatment.planning.evaluate import evaluate
from treatment.planning.first_steps import first_steps
from treatment.planning.legal import review_placements
from treatment.planning.make import assemble
from treatment.planning.memory import Memory
from treatment.planning.plan import Evaluation, Placement, Plan
from treatment.present.browser_draft import Draft, placements
from treatment.present.browser_store import WORKING_ROOM, Store
from treatment.present.browser_taken import stay_inside
from treatment.present.known_builds import builds_of
from treatment.scene.load import load_scene
from treatment.scene.model import Scene


@dataclass(frozen=True, eq=False)
class Outcome:
    """What a draft comes to.

    Parameters
    ----------
    scene : Scene
        The room, or the last one without errors.
    placements : tuple of Placement
        Panels at their places, those included that cannot hang there.
    plan : Plan
        Before and after with the panels that can hang.
    findings : tuple of Finding
        Everything to tell: room, panels, numbers.
    draft : Draft
        What was worked out.
    stale : bool
        True when the room has errors: then scene and numbers are those before them.
    seconds : float
        Time it took.
    """

    scene: Scene
    placements: tuple[Placement, ...]
    plan: Plan
    findings: tuple[Finding, ...]
    draft: Draft
    stale: bool
    seconds: float


class Worker:
    """Works out drafts, one after the other, and keeps what the next one may need again.

    Parameters
    ----------
    store : Store
        Holds the working room.
    """

    def __init__(self, store: Store) -> None:
        self._store = store
        self._text = ""
        self._scene: Scene | None = None
        self._found: tuple[Finding, ...] = ()
        self._errors = False
        self._before: Evaluation | None = None
        #: What evaluations worked out; a plain `evaluate` without it gives the same numbers.
        self.memory = Memory()

    def work_out(self, draft: Draft) -> Outcome | None:
        """Check and evaluate a draft.

        Parameters
        ----------
        draft : Draft
            It must be the one on disk.

        Returns
        -------
        Outcome or None
            None when a later draft has taken its place meanwhile.

        Raises
        ------
        SceneError
            When no room without errors is known yet.
        """
        start = time.perf_counter()
        if draft.text != self._text and not self._read(draft.text):
            return None
        scene = self._scene
        if scene is None:
            raise SceneError("the room has errors", self._found, hint="mend the room file")
        if self._before is None:
            self._before = evaluate(scene, memory=self.memory)
        before = self._before
        placed, homeless = placements(draft.panels, scene, builds_of(scene))
        hanging = review_placements(scene, placed)
        counted = _that_can_hang(placed, hanging)
        after = evaluate(scene, counted, memory=self.memory) if counted else before
        # Why some reflections stay takes as long as all the rest: it follows with the drawing.
        # What else would help takes an evaluation each; the report has it.
        weak = first_steps(before, after, offers=False)
        plan = Plan(scene, counted, before, after, (), (), cautions_for(scene, counted), (), (), advice=weak)
        findings = (*self._found, *homeless, *hanging, *_over_budget(plan), *after.findings)
        return Outcome(
            scene, placed, plan, _told_once(findings), draft, self._errors, time.perf_counter() - start
        )

    def _read(self, text: str) -> bool:
        """Read the working room; False when it is not this text any more."""
        stay_inside(text, self._store)
        try:
            scene, found = load_scene(self._store.folder / WORKING_ROOM)
        except SceneError as error:
            if self._store.read(WORKING_ROOM) != text.encode():
                return False
            self._text, self._found, self._errors = text, error.findings, True
            return True
        if self._store.read(WORKING_ROOM) != text.encode():
            return False
        self._text, self._scene, self._found, self._errors = text, scene, found, False
        self._before = None
        return True


def whole_plan(outcome: Outcome) -> Plan:
    """The plan with its lists, for a report or a folder.

    Parameters
    ----------
    outcome : Outcome
        Of the draft.

    Returns
    -------
    Plan
        Made as the command makes it.
    """
    return assemble(outcome.scene, outcome.plan.placements)


def _that_can_hang(placed: Sequence[Placement], findings: Sequence[Finding]) -> tuple[Placement, ...]:
    """Panels without an error. Of two in one place the earlier one counts: it was there first."""
    wrong = {f.where.split(", ")[-1] for f in findings if f.severity == "error"}
    return tuple(p for p in placed if p.id not in wrong)


def _over_budget(plan: Plan) -> list[Finding]:
    limit = plan.scene.budget
    if limit is None or plan.cost <= limit.amount + 1e-9:
        return []
    over = plan.cost - limit.amount
    message = f"the panels cost {plan.cost:.2f} {limit.currency}, {over:.2f} more than the budget"
    return [Finding("over-budget", "warning", "budget", message, "take one down, or raise the budget")]


def _told_once(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Errors first, nothing twice."""
    rank = {"error": 0, "warning": 1, "note": 2}
    once = {(f.code, f.where, f.message): f for f in findings}
    return tuple(sorted(once.values(), key=lambda f: rank[f.severity]))
