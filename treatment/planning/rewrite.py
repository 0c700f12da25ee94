"""Edits of a room file's text: one value, one entry; comments and everything else stay as they are.

The file is the person's own. An edit changes the parsed document of the text (tomlkit keeps comments and
layout), and is then proved: the new text, read by the reader of the standard library, must say exactly what
the old one said but for the edit.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from treatment.errors import PlanError

#: Keys and indices from the top of the file: ``("seats", 0, "position", 2)``.
KeyPath = Sequence[str | int]
#: What a file can hold.
Value = Any

_HINT = "edit the room file by hand, and open it again"

#: The text that was written last by a change of values, and its parsed document.
_at_hand: dict[str, Any] = {}


def read_value(text: str, path: KeyPath) -> Value:
    """Read one value of a room file.

    Parameters
    ----------
    text : str
        TOML.
    path : sequence of str or int
        Keys and indices.

    Returns
    -------
    object
        A copy of what stands there, or None when there is nothing.

    Raises
    ------
    PlanError
        When the text is no TOML.
    """
    return copy.deepcopy(_found(_plain(text), path))


def set_value(text: str, path: KeyPath, value: Value) -> str:
    """Set one value of a room file; tables on the way to it are made when they do not exist.

    Parameters
    ----------
    text : str
        TOML.
    path : sequence of str or int
        Keys and indices. A list must be long enough.
    value : object
        Text, number, flag, list or table.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    PlanError
        When there is no such place, or the text cannot be edited without changing something else.
    """
    return set_values(text, [(path, value)])


def set_values(text: str, changes: Sequence[tuple[KeyPath, Value]]) -> str:
    """Set several values of a room file at once.

    Parameters
    ----------
    text : str
        TOML.
    changes : sequence of tuple
        Path and value of each, as for `set_value`.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    PlanError
        As `set_value`; then none of them is set.
    """

    def edit(document: Any, tables: Callable[[], Any]) -> None:
        for path, value in changes:
            holder: Any = document
            for key in path[:-1]:
                if isinstance(key, str) and isinstance(holder, dict) and key not in holder:
                    holder[key] = tables()
                holder = _step(holder, key, path)
            _put(holder, path[-1], value, path)

    return _edited(text, edit, drag=True)


def remove_value(text: str, path: KeyPath) -> str:
    """Take one key, or one entry of a list, out of a room file.

    Parameters
    ----------
    text : str
        TOML.
    path : sequence of str or int
        Keys and indices.

    Returns
    -------
    str
        The new text. A list that has become empty is left out.

    Raises
    ------
    PlanError
        When there is no such place.
    """

    def edit(document: Any, _: Callable[[], Any]) -> None:
        holder = document
        for key in path[:-1]:
            holder = _step(holder, key, path)
        _step(holder, path[-1], path)
        del holder[path[-1]]
        if isinstance(path[-1], int) and len(path) == 2 and len(holder) == 0:
            del document[path[0]]

    return _edited(text, edit)


def add_entry(text: str, section: str, entry: Mapping[str, Value]) -> str:
    """Add an entry at the end of a list of tables, such as ``[[seats]]``.

    Parameters
    ----------
    text : str
        TOML.
    section : str
        Key of the list; it is made when the file has none.
    entry : mapping
        The new table.

    Returns
    -------
    str
        The new text.

    Raises
    ------
    PlanError
        When the section is no list.
    """
    import tomlkit
    from tomlkit.items import AoT

    def edit(document: Any, tables: Callable[[], Any]) -> None:
        if section not in document:
            document[section] = tomlkit.aot() if isinstance(document, tomlkit.TOMLDocument) else []
        holder = document[section]
        if not isinstance(holder, list):
            raise _refused((section,))
        table = tables() if isinstance(holder, AoT) else {}
        for key, value in entry.items():
            table[key] = copy.deepcopy(value)
        holder.append(table)

    return _edited(text, edit)


def _edited(text: str, edit: Callable[[Any, Callable[[], Any]], None], *, drag: bool = False) -> str:
    """Edit the text and, apart from it, what it says; both must agree.

    While something is dragged the same text comes back: its parsed document is at hand then.
    """
    import tomlkit
    from tomlkit.exceptions import TOMLKitError

    wanted = _plain(text)
    edit(wanted, dict)
    at_hand = _at_hand.pop(text, None) if drag else None
    for document in (at_hand, None) if at_hand is not None else (None,):
        try:
            document = tomlkit.parse(text) if document is None else document
            edit(document, tomlkit.table)
            changed = tomlkit.dumps(document)
            same = tomllib.loads(changed) == wanted
        except (TOMLKitError, ValueError, TypeError, AttributeError) as error:
            raise PlanError(f"this cannot be changed here: {error}", hint=_HINT) from error
        if same:
            _at_hand.clear()
            if drag:
                _at_hand[changed] = document
            return changed
    raise PlanError("this cannot be changed here without touching other parts of the file", hint=_HINT)


def _plain(text: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise PlanError(f"the room file cannot be read: {error}", hint=_HINT) from error


def _found(holder: Any, path: KeyPath) -> Any:
    for key in path:
        inside = isinstance(holder, Mapping) if isinstance(key, str) else isinstance(holder, list)
        if not inside or (isinstance(key, str) and key not in holder):
            return None
        if isinstance(key, int) and not 0 <= key < len(holder):
            return None
        holder = holder[key]
    return holder


def _step(holder: Any, key: str | int, path: KeyPath) -> Any:
    found = _found(holder, [key])
    if found is None:
        raise _refused(path)
    # Not what `_found` gave: of a document with comments the live part is wanted.
    return holder[key]


def _put(holder: Any, key: str | int, value: Value, path: KeyPath) -> None:
    if isinstance(key, int):
        _step(holder, key, path)
    elif not isinstance(holder, Mapping):
        raise _refused(path)
    holder[key] = copy.deepcopy(value)


def _refused(path: KeyPath) -> PlanError:
    shown = "".join(f"[{k}]" if isinstance(k, int) else f".{k}" for k in path).lstrip(".")
    return PlanError("the room file has no such place", where=shown[:80], hint=_HINT)
