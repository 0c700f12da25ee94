"""Actions on the state: choices go round, steps stop at their ends, before and after change places."""

from __future__ import annotations

import pytest

from treatment.errors import PlanError
from treatment.present.native.keys import ACTIONS, KEYS
from treatment.present.native.state import ALL, LOUDEST, Choices, ViewState, changed, first_state
from treatment.present.native.wishes import Wishes, wished

CHOICES = Choices(("L", "C", "R"), ("left", "right"), ("P1", "P2", "P3"))


def after(*actions: str, state: ViewState | None = None) -> ViewState:
    state = first_state(CHOICES, 1) if state is None else state
    for action in actions:
        state = changed(state, CHOICES, action)
    return state


def test_opens_with_every_panel_and_the_middle_seat() -> None:
    state = after()
    assert (state.step, state.seat, state.loudspeaker, state.orders) == (3, 1, ALL, (1,))


@pytest.mark.parametrize(("name", "count"), [("loudspeaker", 4), ("seat", 3), ("band", 9), ("order", 5)])
def test_choices_go_round_both_ways(name: str, count: int) -> None:
    seen = [getattr(after(*[f"{name}:next"] * k), name) for k in range(count + 1)]
    assert len(set(seen)) == count
    assert seen[0] == seen[-1]
    assert after(f"{name}:next", f"{name}:previous") == after()


def test_steps_stop_at_their_ends_and_tell_of_what_hangs_last() -> None:
    assert after("step:next").step == 3
    down = after("step:previous")
    assert (down.step, down.picked) == (2, ("panel", "P2"))
    bare = after(*["step:previous"] * 5)
    assert (bare.step, bare.picked) == (0, ())
    assert after("step:99").step == 3


def test_before_and_after_change_places() -> None:
    assert after("before-after").step == 0
    assert after("step:2", "before-after").step == 0
    assert after("step:2", "before-after", "before-after").step == 2
    # From a bare start there is nothing to go back to but the whole plan.
    assert after("before-after", state=ViewState()).step == 3


def test_switches_and_escape() -> None:
    state = after("zones", "pick:seat:odd: name", "help")
    assert state.zones
    assert state.picked == ("seat", "odd: name")
    closed = changed(state, CHOICES, "escape")
    assert not closed.help
    assert closed.picked
    assert changed(closed, CHOICES, "escape").picked == ()
    assert after("colouring").colouring == "delay"
    assert after("colouring", "colouring") == after()


def test_nothing_to_choose_from_breaks_nothing() -> None:
    empty = Choices((), ())
    state = first_state(empty)
    for action in ACTIONS.values():
        state = changed(state, empty, action)
    assert (state.loudspeaker, state.seat, state.step) == (ALL, ALL, 0)


def test_every_key_means_one_thing() -> None:
    symbols = [s for _, keys in KEYS for key in keys for s, _ in key.actions]
    assert len(symbols) == len(set(symbols))


def test_wishes_of_the_command_line() -> None:
    wishes = Wishes("C", "all", "both", "250", "delay", "2", "plan", True)
    state = wished(after(), CHOICES, wishes)
    assert (state.loudspeaker, state.seat, state.orders, state.band) == (1, ALL, (1, 2), 2)
    assert (state.colouring, state.step, state.view, state.zones) == ("delay", 2, "plan", True)
    assert wished(after(), CHOICES, Wishes(band="loudest")).band == LOUDEST
    assert wished(after(), CHOICES, Wishes(step="before")).step == 0
    assert wished(after(), CHOICES, Wishes()) == after()


@pytest.mark.parametrize(
    ("wishes", "where", "hint"),
    [
        (Wishes(loudspeaker="Z"), "--loudspeaker", "L, C, R"),
        (Wishes(seat="0"), "--seat", "left, right"),
        (Wishes(band="300"), "--band", "250, 500"),
        (Wishes(step="4"), "--step", "0 to 3"),
        (Wishes(step="-1"), "--step", "0 to 3"),
        (Wishes(view="top"), "--from", "corner, plan"),
    ],
)
def test_wishes_that_cannot_be_fulfilled(wishes: Wishes, where: str, hint: str) -> None:
    with pytest.raises(PlanError) as caught:
        wished(after(), CHOICES, wishes)
    assert caught.value.where == where
    assert hint in caught.value.hint
