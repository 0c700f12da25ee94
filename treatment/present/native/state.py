"""What a person has chosen in the window, and what each action makes of it. Nothing is painted here.

An action is a short text, ``name`` or ``name:value``: keys, clicks on the side card and options of the
command line all become actions, so that each can be tried without a window.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from treatment import bands

#: Stands for every loudspeaker or every seat.
ALL: Final = -1
#: Stands for the loudest octave from 1 to 8 kHz, which the early-reflection criterion looks at.
LOUDEST: Final = -1
#: Which paths are shown: words, and numbers of reflections.
ORDERS: Final[tuple[tuple[str, tuple[int, ...]], ...]] = (
    ("single bounces", (1,)),
    ("double bounces", (2,)),
    ("single and double", (1, 2)),
    ("direct sound", (0,)),
    ("none", ()),
)
COLOURINGS: Final = ("level", "delay")
VIEWS: Final = ("corner", "plan", "front", "back", "left", "right", "seat")
#: Things that are either shown or not.
SWITCHES: Final = ("zones", "names", "keep_free", "strong", "help")


@dataclass(frozen=True)
class Choices:
    """What there is to choose from.

    Parameters
    ----------
    loudspeakers, seats, panels : tuple of str
        Names, in the order of the scene; panels in the order of their benefit.
    """

    loudspeakers: tuple[str, ...]
    seats: tuple[str, ...]
    panels: tuple[str, ...] = ()


@dataclass(frozen=True)
class ViewState:
    """What is chosen.

    Parameters
    ----------
    loudspeaker, seat : int
        Indices; `ALL` for every one.
    order : int
        Index into `ORDERS`.
    band : int
        Position on the band axis; `LOUDEST` for the loudest octave from 1 to 8 kHz.
    colouring : str
        What the colour of a path tells: ``level`` or ``delay``.
    step : int
        How many panels hang, the most useful first; 0 is the room as it is.
    other : int
        What the change between before and after goes back to.
    zones, names, keep_free : bool
        Whether zones, names and kept-free spaces are shown.
    strong : bool
        Whether only paths are shown that the criterion would treat.
    help : bool
        Whether the list of keys is shown.
    view : str
        Saved view that was asked for last.
    picked : tuple of str
        Kind and name of the thing that was clicked; empty for none.
    """

    loudspeaker: int = ALL
    seat: int = ALL
    order: int = 0
    band: int = LOUDEST
    colouring: str = "level"
    step: int = 0
    other: int = 0
    zones: bool = False
    names: bool = True
    keep_free: bool = True
    strong: bool = False
    help: bool = False
    view: str = "corner"
    picked: tuple[str, ...] = ()

    @property
    def orders(self) -> tuple[int, ...]:
        """Numbers of reflections of the paths that are shown."""
        return ORDERS[self.order][1]


def first_state(choices: Choices, middle_seat: int = ALL) -> ViewState:
    """State in which a window opens: every panel hung, single bounces to the middle seat.

    Parameters
    ----------
    choices : Choices
        What there is.
    middle_seat : int
        Index of the seat in the middle.

    Returns
    -------
    ViewState
        Before the first action.
    """
    return ViewState(seat=middle_seat if choices.seats else ALL, step=len(choices.panels))


def changed(state: ViewState, choices: Choices, action: str) -> ViewState:
    """Take an action.

    Parameters
    ----------
    state : ViewState
        Before.
    choices : Choices
        What there is to choose from.
    action : str
        ``loudspeaker``, ``seat``, ``order``, ``band`` or ``step`` with ``:next``, ``:previous`` or a number;
        ``colouring``, ``before-after``, ``escape``; a name of `SWITCHES`; ``view:`` and a name of `VIEWS`;
        ``pick:kind:name``. Anything else changes nothing.

    Returns
    -------
    ViewState
        After. A number beyond the last choice is brought back to it.
    """
    name, _, value = action.partition(":")
    if name in ("loudspeaker", "seat", "band"):
        most = {
            "loudspeaker": len(choices.loudspeakers),
            "seat": len(choices.seats),
            "band": bands.COUNT,
        }[name]
        return replace(state, **{name: _moved(getattr(state, name), value, -1, most - 1)})  # type: ignore[arg-type]
    if name == "order":
        return replace(state, order=_moved(state.order, value, 0, len(ORDERS) - 1))
    if name == "step":
        return _stepped(state, choices, value)
    if name == "before-after":
        if state.step:
            return replace(state, step=0, other=state.step)
        return replace(state, step=state.other or len(choices.panels))
    if name == "colouring":
        return replace(state, colouring=COLOURINGS[1 - COLOURINGS.index(state.colouring)])
    if name in SWITCHES:
        return replace(state, **{name: not getattr(state, name)})  # type: ignore[arg-type]
    if name == "view" and value in VIEWS:
        return replace(state, view=value)
    if name == "pick":
        return replace(state, picked=tuple(value.split(":", 1)) if value else ())
    if name == "escape":
        return replace(state, help=False) if state.help else replace(state, picked=())
    return state


def _stepped(state: ViewState, choices: Choices, value: str) -> ViewState:
    """Go to a step; what hangs last is picked, so that its numbers can be read."""
    last = len(choices.panels)
    if value in ("next", "previous"):
        # Unlike other choices a step does not begin again at its end: hung is hung.
        step = min(max(state.step + (1 if value == "next" else -1), 0), last)
    else:
        step = min(max(int(value), 0), last)
    picked = ("panel", choices.panels[step - 1]) if step > 0 else ()
    return replace(state, step=step, picked=picked)


def _moved(at: int, value: str, low: int, high: int) -> int:
    """Next or previous of a round of choices, or a choice by its number."""
    high = max(high, low)
    if value in ("next", "previous"):
        return low + (at - low + (1 if value == "next" else -1)) % (high - low + 1)
    return min(max(int(value), low), high)
