"""Checks of amounts that are no lengths: weights, pitches, budgets."""

from __future__ import annotations

from typing import Final

from treatment.scene.fields import FieldError

HIGHEST_WEIGHT: Final = 100.0


def weight(value: float) -> float:
    """Accept the weight of a seat or a loudspeaker.

    Parameters
    ----------
    value : float
        Any number.

    Returns
    -------
    float
        The same, from 0 to `HIGHEST_WEIGHT`.

    Raises
    ------
    FieldError
        When it is something else.
    """
    if not 0.0 <= value <= HIGHEST_WEIGHT:
        hint = f"1 is usual, 2 counts twice, 0 leaves it out; {HIGHEST_WEIGHT:g} at most"
        raise FieldError("number-out-of-range", f"{value:.4g} is no weight", hint)
    return value


def pitch(degrees: float) -> float:
    """Accept the pitch of a slope.

    Parameters
    ----------
    degrees : float
        From the horizontal.

    Returns
    -------
    float
        The same.

    Raises
    ------
    FieldError
        When it is level, or as steep as a wall.
    """
    if not 0.5 <= degrees <= 85.0:
        hint = "it counts from the horizontal: 45 is as steep as it is wide; give a level part as height"
        raise FieldError("number-out-of-range", f"a pitch of {degrees:.4g} degrees is no slope", hint)
    return degrees


def budget_amount(value: float) -> float:
    """Accept a budget that buys something.

    Parameters
    ----------
    value : float
        In any currency.

    Returns
    -------
    float
        The same.

    Raises
    ------
    FieldError
        When it is something else.
    """
    if value <= 0.0:
        raise FieldError(
            "budget-not-positive", f"the budget {value:.6g} buys nothing", "leave [budget] out for no limit"
        )
    return value
