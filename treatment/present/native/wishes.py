"""What the command line asks the window to show -> a state."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from treatment import bands
from treatment.errors import PlanError
from treatment.present.native.state import ALL, COLOURINGS, LOUDEST, VIEWS, Choices, ViewState

#: Words for `state.ORDERS`, in its order.
PATH_WORDS: Final = ("single", "double", "both", "direct", "none")


@dataclass(frozen=True)
class Wishes:
    """Options as they were typed; empty text wishes nothing.

    Parameters
    ----------
    loudspeaker, seat : str
        A name, or ``all``.
    paths : str
        One of `PATH_WORDS`.
    band : str
        Middle of an octave in Hz, or ``loudest``.
    colour : str
        ``level`` or ``delay``.
    step : str
        A number of panels, ``before`` or ``after``.
    view : str
        One of `state.VIEWS`.
    zones : bool
        Whether zones are shown.
    """

    loudspeaker: str = ""
    seat: str = ""
    paths: str = ""
    band: str = ""
    colour: str = ""
    step: str = ""
    view: str = ""
    zones: bool = False


def wished(state: ViewState, choices: Choices, wishes: Wishes) -> ViewState:
    """Fulfil wishes.

    Parameters
    ----------
    state : ViewState
        In which a window opens.
    choices : Choices
        What there is to choose from.
    wishes : Wishes
        What was typed.

    Returns
    -------
    ViewState
        With what was wished.

    Raises
    ------
    PlanError
        When a wish names something that there is not.
    """
    if wishes.loudspeaker:
        state = replace(state, loudspeaker=_named(wishes.loudspeaker, choices.loudspeakers, "--loudspeaker"))
    if wishes.seat:
        state = replace(state, seat=_named(wishes.seat, choices.seats, "--seat"))
    if wishes.paths:
        state = replace(state, order=_one_of(wishes.paths, PATH_WORDS, "--paths"))
    if wishes.colour:
        state = replace(state, colouring=COLOURINGS[_one_of(wishes.colour, COLOURINGS, "--colour")])
    if wishes.view:
        state = replace(state, view=VIEWS[_one_of(wishes.view, VIEWS, "--from")])
    if wishes.band:
        words = ("loudest", *(str(f) for f in bands.NOMINAL_HZ))
        state = replace(state, band=_one_of(wishes.band, words, "--band") + LOUDEST)
    if wishes.step:
        state = replace(state, step=_step(wishes.step, len(choices.panels)))
    return replace(state, zones=state.zones or wishes.zones)


def _step(text: str, most: int) -> int:
    if text in ("before", "after"):
        return 0 if text == "before" else most
    if not text.isdecimal() or int(text) > most:
        raise PlanError(
            f"there is no step '{text}'", where="--step", hint=f"a number from 0 to {most}, before, or after"
        )
    return int(text)


def _named(text: str, names: tuple[str, ...], where: str) -> int:
    if text in names:
        return names.index(text)
    return ALL if text == "all" else _one_of(text, names, where)


def _one_of(text: str, words: tuple[str, ...], where: str) -> int:
    if text not in words:
        raise PlanError(f"there is no '{text}'", where=where, hint=f"one of: {', '.join(words) or 'none'}")
    return words.index(text)
