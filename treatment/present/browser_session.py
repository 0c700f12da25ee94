"""The steps of a person's work: undo, redo, and on disk after each of them."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

from treatment.errors import PlanError
from treatment.present.browser_draft import Draft, panel_document, read_panel
from treatment.present.browser_store import SESSION_FILE, WORKING_ROOM, Store

_FORMAT: Final = "treatment-session/1"
#: Older steps are forgotten.
MOST_STEPS: Final = 100


@dataclass(frozen=True)
class Step:
    """One state, and what led to it.

    Parameters
    ----------
    label : str
        In words.
    draft : Draft
        The state.
    """

    label: str
    draft: Draft

    @cached_property
    def panels(self) -> list[dict[str, Any]]:
        """Its panels as JSON holds them; written with every later step, so made once."""
        return [panel_document(p) for p in self.draft.panels]


class Session:
    """The work in one folder; every change is on disk before it is answered.

    Parameters
    ----------
    store : Store
        The folder.
    source : str
        Name of what was opened.
    start : Draft
        As it was opened.
    """

    def __init__(self, store: Store, source: str, start: Draft) -> None:
        self.store = store
        self.source = source
        self.start = start
        self.steps = [Step("open", start)]
        self.at = 0
        #: Counts changes, so that an answer can be told from a later one.
        self.revision = 1
        #: Whether the work was taken up again after a stop.
        self.resumed = False
        #: Whether what was opened has changed since the work began.
        self.source_changed = False
        self._gesture = ""
        self._written = ""

    @classmethod
    def open(cls, store: Store, source: str, start: Draft) -> Session:
        """Open the folder's session, or begin one.

        Parameters
        ----------
        store : Store
            The folder.
        source : str
            Name of what was opened.
        start : Draft
            What it says now.

        Returns
        -------
        Session
            With all its steps when the folder holds one for this source.

        Raises
        ------
        PlanError
            When the folder holds the work on something else, or one that cannot be read.
        """
        session = cls(store, source, start)
        data = store.read_json(SESSION_FILE)
        if data is None and store.read(SESSION_FILE) is None:
            session.write()
            return session
        if not isinstance(data, dict) or data.get("format") != _FORMAT:
            hint = "name another folder, or move that file away"
            raise PlanError(
                "the folder's session.json is not one of this program", where=str(store.folder), hint=hint
            )
        if data.get("source") != source:
            message = f"the folder holds the work on '{str(data.get('source'))[:60]}'"
            raise PlanError(message, where=str(store.folder), hint="name another folder for this room")
        try:
            drafts = [_read_draft(d, data["texts"]) for d in data["steps"]]
            session.steps = [
                Step(str(d["label"]), draft) for d, draft in zip(data["steps"], drafts, strict=True)
            ]
            session.at = min(max(int(data["at"]), 0), len(drafts) - 1)
            session.source_changed = data["opened"] != _mark(start)
        except (KeyError, TypeError, ValueError, IndexError) as error:
            hint = f"the room as it was last is in {WORKING_ROOM}; move session.json away to begin anew"
            raise PlanError(
                f"the folder's session cannot be read: {error}", where=str(store.folder), hint=hint
            ) from error
        session.resumed = len(session.steps) > 1
        session.write()
        return session

    @property
    def draft(self) -> Draft:
        """The state as it is."""
        return self.steps[self.at].draft

    @property
    def undo_label(self) -> str:
        """What undo would take back; empty when there is nothing."""
        return self.steps[self.at].label if self.at else ""

    @property
    def redo_label(self) -> str:
        """What redo would do again; empty when there is nothing."""
        return self.steps[self.at + 1].label if self.at + 1 < len(self.steps) else ""

    def take(self, draft: Draft, label: str, gesture: str = "") -> None:
        """Make a step.

        Parameters
        ----------
        draft : Draft
            The new state.
        label : str
            What was done.
        gesture : str
            Steps of one drag bear one name here and count as one.
        """
        if draft == self.draft:
            return
        del self.steps[self.at + 1 :]
        if gesture and gesture == self._gesture and self.at:
            self.steps[self.at] = Step(label, draft)
        else:
            self.steps.append(Step(label, draft))
        self.steps = self.steps[-MOST_STEPS:]
        self.at = len(self.steps) - 1
        self._gesture = gesture
        self._changed()

    def undo(self) -> None:
        """Take the last step back, where there is one."""
        if self.at:
            self.at -= 1
            self._gesture = ""
            self._changed()

    def redo(self) -> None:
        """Do the next step again, where there is one."""
        if self.at + 1 < len(self.steps):
            self.at += 1
            self._gesture = ""
            self._changed()

    def restart(self) -> None:
        """Go back to what was opened, as a step that can be undone."""
        self.source_changed = False
        self.take(self.start, "start again from the file")
        self.write()

    def mend(self) -> None:
        """Write everything again: somebody else has changed a file of the session."""
        self._written = ""
        self.write()

    def _changed(self) -> None:
        self.revision += 1
        self.write()

    def write(self) -> None:
        """Put everything on disk.

        Raises
        ------
        PlanError
            When the disk refuses.
        """
        texts = list(dict.fromkeys(s.draft.text for s in self.steps))
        number = {text: i for i, text in enumerate(texts)}
        document = {
            "format": _FORMAT,
            "source": self.source,
            "opened": _mark(self.start) if not self.source_changed else "",
            "texts": texts,
            "steps": [
                {"label": s.label, "text": number[s.draft.text], "panels": s.panels} for s in self.steps
            ],
            "at": self.at,
        }
        self.store.write(SESSION_FILE, json.dumps(document).encode())
        if self.draft.text != self._written:
            self.store.write(WORKING_ROOM, self.draft.text.encode())
            self._written = self.draft.text


def _mark(draft: Draft) -> str:
    """Short mark of a draft: tells whether a file has changed."""
    whole = json.dumps([draft.text, [panel_document(p) for p in draft.panels]])
    return hashlib.sha256(whole.encode()).hexdigest()


def _read_draft(data: Any, texts: Any) -> Draft:
    text = texts[int(data["text"])]
    if not isinstance(text, str):
        raise ValueError("a text is missing")
    return Draft(text, tuple(read_panel(p) for p in data["panels"]))
