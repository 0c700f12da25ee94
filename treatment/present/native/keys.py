"""Keys of the window, what each does, and the words that say so on the screen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Key:
    """One line of the list of keys.

    Parameters
    ----------
    shown : str
        What stands on the key.
    words : str
        What it does.
    actions : tuple of (str, str)
        Key symbols as the toolkit names them, each with its action.
    """

    shown: str
    words: str
    actions: tuple[tuple[str, str], ...]


def _choice(letter: str, words: str, name: str) -> Key:
    """A letter for the next choice, and with shift for the previous one."""
    return Key(letter.upper(), words, ((letter, f"{name}:next"), (letter.upper(), f"{name}:previous")))


#: Key by key, in groups.
KEYS: Final[tuple[tuple[str, tuple[Key, ...]], ...]] = (
    (
        "Choose (with shift: backwards)",
        (
            _choice("l", "loudspeaker", "loudspeaker"),
            _choice("s", "seat", "seat"),
            _choice("o", "which paths: single, double, direct", "order"),
            _choice("b", "octave band", "band"),
            Key("C", "colour by level or by delay", (("c", "colouring"),)),
            Key("T", "only paths that the criterion would treat", (("t", "strong"),)),
        ),
    ),
    (
        "Panels",
        (
            Key("Space", "before and after", (("space", "before-after"),)),
            Key(
                "Page up, page down",
                "one panel more, one less",
                (("Prior", "step:next"), ("Next", "step:previous"), ("period", "step:next"),
                 ("comma", "step:previous")),
            ),
        ),
    ),
    (
        "Show",
        (
            Key("Z", "zones on the walls", (("z", "zones"),)),
            Key("N", "names", (("n", "names"),)),
            Key("K", "spaces to keep free", (("k", "keep_free"),)),
            Key("H or ?", "this list", (("h", "help"), ("question", "help"), ("F1", "help"))),
        ),
    ),
    (
        "Look",
        (
            Key(
                "1 2 3",
                "from a corner, from above, at the front",
                (("1", "view:corner"), ("2", "view:plan"), ("3", "view:front")),
            ),
            Key(
                "4 5 6",
                "at the back, the left, the right wall",
                (("4", "view:back"), ("5", "view:left"), ("6", "view:right")),
            ),
            Key("7", "from the chosen seat", (("7", "view:seat"),)),
            Key(
                "Arrows",
                "turn; with shift: move",
                (("Left", "turn:left"), ("Right", "turn:right"), ("Up", "turn:up"), ("Down", "turn:down")),
            ),
            Key(
                "+ and \N{MINUS SIGN}",
                "nearer, farther",
                (("plus", "zoom:in"), ("equal", "zoom:in"), ("minus", "zoom:out"), ("KP_Add", "zoom:in"),
                 ("KP_Subtract", "zoom:out")),
            ),
            Key("Home", "the view as it was", (("Home", "home"), ("0", "home"))),
            Key("P", "keep a picture of what is seen", (("p", "still"),)),
            Key("Esc", "close the list, let go", (("Escape", "escape"),)),
            Key("Q", "close the window", (("q", "close"),)),
        ),
    ),
)  # fmt: skip

#: What the mouse does.
MOUSE: Final = (
    ("drag", "turn"),
    ("shift and drag, or middle button", "move"),
    ("wheel, or right button and drag", "nearer, farther"),
    ("click on a thing", "read its numbers"),
    ("click on the card", "choose"),
)

#: Action of each key symbol.
ACTIONS: Final = {symbol: action for _, keys in KEYS for key in keys for symbol, action in key.actions}
