"""The card beside the room: what is chosen, which panels hang, and what that does."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from treatment import bands
from treatment.planning.plan import Evaluation, Placement
from treatment.present.native.arrivals import arrivals_chart
from treatment.present.native.card import Card
from treatment.present.native.state import ALL, LOUDEST, ORDERS, VIEWS, Choices, ViewState
from treatment.present.native.times import RaysHere, chart_key, reverberation_chart, times_words
from treatment.present.palette import AFTER, BEFORE, INK, MUTED, PANEL, PANEL_EDGE, PAPER, RULE, WALL
from treatment.present.wording import counted, surface_words
from treatment.scene.model import Scene

#: Width of the card, and least height it is laid out for, in units.
WIDTH: Final = 340.0
HEIGHT: Final = 900.0
_EDGE: Final = 16.0
_TEXT: Final = 12.5
_NO_RAYS: Final = RaysHere()


def side_card(
    size: tuple[int, int],
    unit: float,
    scene: Scene,
    placements: Sequence[Placement],
    choices: Choices,
    state: ViewState,
    before: Evaluation | None,
    now: Evaluation | None,
    ahead: int = 0,
    rays: RaysHere = _NO_RAYS,
) -> Card:
    """Lay the card out.

    Parameters
    ----------
    size : tuple of int
        Width and height in pixels.
    unit : float
        Pixels to a unit.
    scene : Scene
        The room.
    placements : sequence of Placement
        All panels, in the order of their benefit.
    choices : Choices
        What there is to choose from.
    state : ViewState
        What is chosen.
    before, now : Evaluation or None
        The room as it is, and with the panels that hang; None while they are worked out.
    ahead : int
        How many steps are still being worked out.
    rays : RaysHere
        What rays found, where they were sent.

    Returns
    -------
    Card
        With its places to click.
    """
    card = Card(size, unit, WALL)
    _strip(card, 0.0)
    left, right = _EDGE, card.width - _EDGE
    wide = right - left
    card.text(left, 13.0, card.fitted(scene.title, wide, 15.0, True), 15.0, bold=True)
    card.text(
        left, 35.0, card.fitted(state_words(scene, placements, state), wide, _TEXT), _TEXT, colour=MUTED
    )
    y = _rows(card, left, right, 60.0, choices, state)
    _strip(card, y + 2.0)
    y = _switches(card, left, right, y + 4.0, state)
    _strip(card, y + 4.0)
    y = _heading(card, left, right, y + 8.0, "Panels, the most useful first")
    y = _ladder(card, left, right, y, scene, placements, state)
    free = card.height - y - 144.0
    _strip(card, y)
    y = _heading(card, left, right, y + 4.0, card.fitted(times_words(now, state, rays), wide, _TEXT, True))
    chart = max(0.5 * free, 80.0)
    reverberation_chart(card, (left, y, right, y + chart), before, now, state, rays)
    chart_key(card, left, y + chart + 4.0, treated=now is not None and now is not before, rays=rays)
    _strip(card, y + chart + 37.0)
    y = _heading(card, left, right, y + chart + 40.0, "One or two bounces: delay and level")
    words = arrivals_chart(card, (left, y, right, y + chart), before, now, state)
    if now is None:
        words = f"with {counted(state.step, 'panel')}: being worked out"
    card.text(left, y + chart + 5.0, card.fitted(words, wide, _TEXT), _TEXT)
    hint = (
        f"{counted(ahead, 'step')} still being worked out"
        if ahead
        else "H: keys and mouse.  Drag to turn, click to read."
    )
    card.text(left, card.height - 20.0, hint, 11.0, colour=MUTED)
    card.spot((left, card.height - 24.0, right, card.height), "help")
    return card


def _strip(card: Card, y: float) -> None:
    """Begin a strip of the card, with its share of the rule at the left."""
    card.strip(y)
    card.line([(0.5, 0.0), (0.5, card.height)], RULE)


def state_words(scene: Scene, placements: Sequence[Placement], state: ViewState) -> str:
    """Say which state of the room is seen.

    Parameters
    ----------
    scene : Scene
        Names the currency.
    placements : sequence of Placement
        All panels.
    state : ViewState
        How many hang.

    Returns
    -------
    str
        ``as it is``, or how many panels hang and what they cost.
    """
    if not placements:
        return "as it is: no plan was opened"
    if not state.step:
        return f"as it is, without its {counted(len(placements), 'panel')}"
    cost = sum(p.build.price for p in placements[: state.step])
    money = f", {cost:.2f} {scene.budget.currency}".rstrip() if scene.budget and cost else ""
    return f"with {state.step} of {counted(len(placements), 'panel')}{money}"


def _heading(card: Card, left: float, right: float, y: float, words: str) -> float:
    card.line([(left, y), (right, y)], RULE)
    card.text(left, y + 7.0, words, _TEXT, bold=True)
    return y + 27.0


def _rows(card: Card, left: float, right: float, y: float, choices: Choices, state: ViewState) -> float:
    """One line for each choice, with arrows to both sides."""
    level = "loudest, 1 to 8 kHz" if state.band == LOUDEST else bands.band_label(bands.NOMINAL_HZ[state.band])
    rows = (
        ("L", "Loudspeaker", _name(choices.loudspeakers, state.loudspeaker), "loudspeaker"),
        ("S", "Seat", _name(choices.seats, state.seat), "seat"),
        ("O", "Paths", ORDERS[state.order][0], "order"),
        ("B", "Octave", level, "band"),
        ("C", "Colour by", state.colouring, "colouring"),
    )
    for key, words, value, action in rows:
        _strip(card, y)
        middle = y + 12.0
        _key(card, left, middle, key)
        card.text(left + 26.0, middle, words, _TEXT, colour=MUTED, anchor="lm")
        box = (left + 112.0, y + 1.0, right, y + 23.0)
        card.area(box, PAPER, line=RULE, radius=4.0)
        card.text((box[0] + box[2]) / 2.0, middle, card.fitted(value, 142.0, _TEXT), _TEXT, anchor="mm")
        both = action == "colouring"
        for at, sense, next_ in ((box[0] + 12.0, -1.0, "previous"), (box[2] - 12.0, 1.0, "next")):
            card.line(
                [
                    (at - 2.5 * sense, middle - 5.0),
                    (at + 2.5 * sense, middle),
                    (at - 2.5 * sense, middle + 5.0),
                ],
                INK,
                1.6,
            )
            half = (box[0], box[1], (box[0] + box[2]) / 2.0, box[3])
            if sense > 0.0:
                half = (half[2], box[1], box[2], box[3])
            card.spot(half, action if both else f"{action}:{next_}")
        y += 25.0
    return y


def _name(names: Sequence[str], index: int) -> str:
    return "all" if index == ALL or not names else names[index]


def _key(card: Card, left: float, middle: float, key: str) -> None:
    card.area((left, middle - 9.0, left + 18.0, middle + 9.0), WALL, line=MUTED, radius=3.0, width=0.8)
    card.text(left + 9.0, middle, key, 11.0, anchor="mm", colour=MUTED)


def _switches(card: Card, left: float, right: float, y: float, state: ViewState) -> float:
    """Things that are shown or not, and views, as small buttons."""
    switches = (
        ("Z  zones", "zones", state.zones),
        ("N  names", "names", state.names),
        ("K  keep free", "keep_free", state.keep_free),
        ("T  strong", "strong", state.strong),
    )
    _buttons(card, left, right, y, switches)
    views = tuple((f"{k}  {name}", f"view:{name}", state.view == name) for k, name in enumerate(VIEWS, 1))
    _buttons(card, left, right, y + 26.0, views[:4])
    _buttons(card, left, right, y + 52.0, (*views[4:], ("P  picture", "still", False)))
    return y + 78.0


def _buttons(
    card: Card, left: float, right: float, y: float, buttons: Sequence[tuple[str, str, bool]]
) -> None:
    gap = 5.0
    wide = (right - left + gap) / len(buttons)
    for k, (words, action, on) in enumerate(buttons):
        box = (left + k * wide, y, left + (k + 1) * wide - gap, y + 22.0)
        card.area(box, AFTER if on else PAPER, line=AFTER if on else RULE, radius=4.0)
        middle = (box[0] + box[2]) / 2.0
        card.text(middle, y + 11.0, words, 11.0, anchor="mm", colour=PAPER if on else INK)
        card.spot(box, action)


def _ladder(
    card: Card,
    left: float,
    right: float,
    y: float,
    scene: Scene,
    placements: Sequence[Placement],
    state: ViewState,
) -> float:
    """A square for each panel; a click hangs it and all before it."""
    if not placements:
        words = "None yet: run `treatment plan`, view the folder that it wrote, and step through them here."
        for line in card.wrapped(words, right - left, _TEXT):
            card.text(left, y, line, _TEXT, colour=MUTED)
            y += 17.0
        return y + 6.0
    before = (
        ("Space  before", "before-after", state.step == 0),
        ("after", f"step:{len(placements)}", state.step == len(placements)),
    )
    _buttons(card, left, left + 190.0, y, before)
    moves = (("\N{MINUS SIGN} 1", "step:previous", False), ("+ 1", "step:next", False))
    _buttons(card, left + 198.0, right, y, moves)
    y += 29.0
    columns = 15
    side = (right - left) / columns
    for k in range(len(placements)):
        row, column = divmod(k, columns)
        box = (
            left + column * side,
            y + row * side,
            left + (column + 1) * side - 3.0,
            y + (row + 1) * side - 3.0,
        )
        up = k < state.step
        card.area(
            box,
            PANEL if up else PAPER,
            line=PANEL_EDGE if up else RULE,
            radius=2.0,
            width=2.2 if k == state.step - 1 else 0.8,
        )
        middle = ((box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0)
        card.text(*middle, str(k + 1), 9.0, anchor="mm", colour=INK if up else MUTED)
        card.spot(box, f"step:{k + 1}")
    y += side * (1 + (len(placements) - 1) // columns) + 3.0
    if state.step:
        p = placements[state.step - 1]
        words = f"{p.id}: {p.build.id}, {surface_words(scene.surfaces[p.surface])}"
        card.area((left, y + 2.0, left + 10.0, y + 12.0), PANEL, line=PANEL_EDGE)
    else:
        words = "no panel hangs"
        card.area((left, y + 2.0, left + 10.0, y + 12.0), PAPER, line=BEFORE)
    card.text(left + 17.0, y, card.fitted(words, right - left - 17.0, _TEXT), _TEXT)
    return y + 22.0
