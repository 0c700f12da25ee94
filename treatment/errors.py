"""The errors that a user can cause.

::

    TreatmentError          everything below; the command line turns it into exit status 1
    +-- UnitError           a length that cannot be read
    +-- SceneError          the scene file, or what it points to, has errors
    +-- MaterialError       a material table or build table has errors
    +-- GeometryError       the room does not close, or its parts do not fit
    +-- PlanError           a plan cannot be made or written

Each holds ``where`` (the place: a file, a key, a row) and ``hint`` (what to do).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["error", "warning", "note"]


class TreatmentError(Exception):
    """Base of every error that a user can cause.

    Parameters
    ----------
    message : str
        What is wrong, in one sentence.
    where : str
        The place: a file, a key path, a row. Empty when there is none.
    hint : str
        What to do about it. Empty when there is nothing to add.
    """

    def __init__(self, message: str, *, where: str = "", hint: str = "") -> None:
        super().__init__(message)
        self.message = message
        self.where = where
        self.hint = hint

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        advice = f" ({self.hint})" if self.hint else ""
        return f"{place}{self.message}{advice}"


class UnitError(TreatmentError):
    """A length that cannot be read."""


class MaterialError(TreatmentError):
    """A material table or a build table has an error."""


class GeometryError(TreatmentError):
    """The room does not close, or a part of it does not fit."""


class PlanError(TreatmentError):
    """A plan cannot be made or written."""


@dataclass(frozen=True)
class Finding:
    """One thing to tell the user about the input or about a result.

    Parameters
    ----------
    code : str
        Stable code, kebab-case (``seat-outside-room``); listed in docs/guide.
    severity : {"error", "warning", "note"}
        An error stops; a warning should be read; a note informs.
    where : str
        Key path in the scene file (``seats[0].position``) or the thing's name.
    message : str
        What is wrong, the value as understood, the limit.
    hint : str
        What to do about it.
    line : int or None
        Line in the scene file, where known.
    """

    code: str
    severity: Severity
    where: str
    message: str
    hint: str = ""
    line: int | None = None


class SceneError(TreatmentError):
    """The scene file has errors; all of them are in ``findings``.

    Parameters
    ----------
    message : str
        Summary sentence.
    findings : tuple of Finding
        Everything found, errors, warnings and notes.
    where : str
        The file.
    hint : str
        What to do.
    """

    def __init__(
        self, message: str, findings: tuple[Finding, ...] = (), *, where: str = "", hint: str = ""
    ) -> None:
        super().__init__(message, where=where, hint=hint)
        self.findings = findings
