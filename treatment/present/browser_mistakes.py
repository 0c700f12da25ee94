"""What the planner says when something goes wrong that no person caused."""

from __future__ import annotations

from typing import Any

from treatment.errors import PlanError, TreatmentError


def mistake(error: Exception) -> PlanError:
    """Word a mistake of ours: the page goes on, and says so.

    Parameters
    ----------
    error : Exception
        Anything.
    """
    return PlanError(
        f"something went wrong inside the program: {type(error).__name__}: {str(error)[:200]}",
        hint="undo the last step; your work is kept",
    )


def stopped(error: TreatmentError) -> dict[str, Any]:
    """Word an error as a finding, as JSON holds it.

    Parameters
    ----------
    error : TreatmentError
        What stopped the work.
    """
    return {
        "code": "stopped",
        "severity": "error",
        "where": error.where,
        "message": error.message,
        "hint": error.hint,
        "line": None,
    }
