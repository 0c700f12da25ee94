"""Words that people use for a wall or a floor, and the rows of the library that fit.

The words stand in ``materials/words/lay-words.csv``; which row fits a word is common practice. Beyond them a
word is looked for in ids and descriptions: what a wall, a floor or a ceiling is made of comes before
absorbers, so that ``glass`` finds window panes and no glass fibre.
"""

from __future__ import annotations

import difflib
import functools
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from treatment.materials.material import Material
from treatment.materials.shipped import materials_folder
from treatment.materials.table import Problems, read_rows

#: Categories of what a room is made of, in the order of a list; what absorbs on purpose comes last.
SURFACES: Final = ("wall", "floor", "ceiling", "ceiling-tile", "window", "door", "opening", "curtain")
_COLUMNS: Final = ("word", "materials", "note", "source")
_WORD: Final = re.compile(r"[a-z]+")
_SHOWN: Final = 3
#: What a word of the table weighs against one of an id or a description.
_TABLE: Final = 100.0
#: A name this like a known one is that one with a slip.
_SLIP: Final = 0.85


@dataclass(frozen=True)
class LayWord:
    """A word and what fits it.

    Parameters
    ----------
    word : str
        Lower case.
    materials : tuple of str
        Ids, the most usual first.
    note : str
        What to think of; empty for nothing.
    source : str
        Who says so.
    """

    word: str
    materials: tuple[str, ...]
    note: str
    source: str


@functools.cache
def lay_words() -> Mapping[str, LayWord]:
    """Read the words.

    Returns
    -------
    mapping of str to LayWord
        By word.

    Raises
    ------
    MaterialError
        When the table that comes with the program is damaged.
    """
    path = materials_folder() / "words" / "lay-words.csv"
    problems = Problems(str(path))
    rows = read_rows(path, _COLUMNS, (), problems)
    problems.raise_any()
    found = {
        row.text("word"): LayWord(
            row.text("word"), tuple(row.text("materials").split()), row.text("note"), row.text("source")
        )
        for row in rows
    }
    return MappingProxyType(found)


def words_of(text: str) -> list[str]:
    """Words of a name as somebody typed it, lower case, in their order.

    Parameters
    ----------
    text : str
        Such as ``Oak floor`` or ``carpets``.

    Returns
    -------
    list of str
        Each word, and where it ends in s the word without.
    """
    found: list[str] = []
    for word in _WORD.findall(text.lower()):
        found.append(word)
        if word.endswith("s") and len(word) > 3 and not word.endswith("ss"):
            found.append(word[:-1])
    return found


def materials_for(text: str, materials: Mapping[str, Material]) -> tuple[Material, ...]:
    """Materials that fit a lay word.

    Parameters
    ----------
    text : str
        One word or several; the rows that fit most of them come first.
    materials : mapping of str to Material
        What there is, by id.

    Returns
    -------
    tuple of Material
        The most likely first; empty when nothing fits.
    """
    known = lay_words()
    score: dict[str, float] = {}
    for word in dict.fromkeys(words_of(text)):
        if word in known:
            ids = [i for i in known[word].materials if i in materials]
            for place, name in enumerate(ids):
                # The table outweighs whatever a description holds by chance.
                score[name] = score.get(name, 0.0) + _TABLE - 10.0 * place
        if len(word) < 3:
            continue
        for name, m in materials.items():
            if word in name.split("-"):
                score[name] = score.get(name, 0.0) + 2.0
            elif word in words_of(m.description):
                score[name] = score.get(name, 0.0) + 1.0
    order = {c: i for i, c in enumerate(SURFACES)}
    listed = sorted(
        score,
        key=lambda n: (materials[n].category not in order and score[n] < _TABLE / 2.0, -score[n], len(n), n),
    )
    return tuple(materials[n] for n in listed)


def surfaces_for(text: str, materials: Mapping[str, Material]) -> tuple[Material, ...]:
    """Materials that fit a lay word, without absorbers, seats and people that only mention it.

    Parameters
    ----------
    text : str
        One word or several.
    materials : mapping of str to Material
        What there is, by id.

    Returns
    -------
    tuple of Material
        As `materials_for`; whatever the table names stays, and all where nothing would.
    """
    known = lay_words()
    named = {i for w in words_of(text) if w in known for i in known[w].materials}
    found = materials_for(text, materials)
    return tuple(m for m in found if m.category in SURFACES or m.id in named) or found


def lay_hint(text: str, materials: Mapping[str, Material]) -> str:
    """Answer a material name that nobody knows, when it holds a word that people use.

    Parameters
    ----------
    text : str
        As typed.
    materials : mapping of str to Material
        What there is, by id.

    Returns
    -------
    str
        Empty when no word of it is in the table, or when it is a known id but for a slip of the pen.
    """
    known = lay_words()
    word = next((w for w in words_of(text) if w in known), None)
    if word is None or difflib.get_close_matches(text.lower()[:80], materials, n=1, cutoff=_SLIP):
        return ""
    fitting = materials_for(text, materials)[: max(_SHOWN, len(known[word].materials))]
    note = f" ({known[word].note})" if known[word].note else ""
    named = ", ".join(repr(m.id) for m in fitting)
    return f"for '{word}' choose {named}{note}; list them with: treatment materials {word}"
