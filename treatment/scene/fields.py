"""Readers of single values of a scene file: what is refused, and what was most likely meant."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Final

from treatment.errors import UnitError
from treatment.scene.codes import nearest
from treatment.units import parse_length

LONGEST_NAME: Final = 60


class FieldError(ValueError):
    """A value that cannot be used.

    Parameters
    ----------
    code : str
        Code of the finding.
    message : str
        What is wrong, the value as understood, the limit.
    hint : str
        What to do.
    """

    def __init__(self, code: str, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.code = code
        self.message = message
        self.hint = hint


def kind_of(value: object) -> str:
    """Say in words what a TOML value is.

    Parameters
    ----------
    value : object
        From the TOML reader.

    Returns
    -------
    str
        ``text "abc"``, ``the number 3``, ``a list``, ``a table``, ``true``, ``a date or time``.
    """
    match value:
        case bool():
            return "true" if value else "false"
        case int() | float():
            try:
                return f"the number {value:.6g}"
            except OverflowError:
                return "a huge number"
        case str():
            return f'the text "{value[:40]}"'
        case list():
            return "a list"
        case dict():
            return "a table"
    return "a date or time"


def length(value: object, unit: str) -> float:
    """Read a length.

    Parameters
    ----------
    value : object
        From the TOML reader.
    unit : str
        Unit of a plain number.

    Returns
    -------
    float
        In m.

    Raises
    ------
    FieldError
        When it is something else.
    """
    if isinstance(value, float) and not math.isfinite(value):
        raise FieldError(
            "number-not-finite", f"{value} is not a finite length", "write the length as measured"
        )
    if isinstance(value, list | dict):
        raise FieldError("wrong-type", f"a length is one number or text, this is {kind_of(value)}")
    try:
        return parse_length(value, unit)
    except UnitError as error:
        raise FieldError("length-unreadable", error.message, error.hint) from None


def number(value: object) -> float:
    """Read a plain number.

    Parameters
    ----------
    value : object
        From the TOML reader.

    Returns
    -------
    float
        Finite.

    Raises
    ------
    FieldError
        When it is something else.
    """
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise FieldError(
            "wrong-type", f"must be a number, this is {kind_of(value)}", "write it without quotes"
        )
    try:
        read = float(value)
    except OverflowError:
        read = math.inf
    if not math.isfinite(read):
        raise FieldError("number-not-finite", "the number is not finite", "write a plain number")
    return read


def text(value: object) -> str:
    """Read text.

    Parameters
    ----------
    value : object
        From the TOML reader.

    Returns
    -------
    str
        As it stands.

    Raises
    ------
    FieldError
        When it is something else.
    """
    if not isinstance(value, str):
        raise FieldError("wrong-type", f"must be text in quotes, this is {kind_of(value)}")
    return value


def flag(value: object) -> bool:
    """Read a yes or no.

    Parameters
    ----------
    value : object
        From the TOML reader.

    Returns
    -------
    bool
        As it stands.

    Raises
    ------
    FieldError
        When it is something else.
    """
    if not isinstance(value, bool):
        message = f"must be true or false, this is {kind_of(value)}"
        raise FieldError("wrong-type", message, "write true or false without quotes")
    return value


def name(value: object) -> str:
    """Read a name that fits a list and a drawing.

    Parameters
    ----------
    value : object
        From the TOML reader.

    Returns
    -------
    str
        Printable, at most `LONGEST_NAME` signs.

    Raises
    ------
    FieldError
        When it is something else.
    """
    given = text(value)
    if not given.strip() or not given.isprintable():
        raise FieldError(
            "name-not-printable",
            f"the name {given[:LONGEST_NAME]!r} is empty or holds signs that cannot be printed",
            'use a short plain name such as "left"',
        )
    if len(given) > LONGEST_NAME:
        raise FieldError(
            "name-too-long",
            f'the name "{given[:20]}..." has {len(given)} signs, {LONGEST_NAME} at most fit a drawing',
            "use a short name; a # comment takes the rest",
        )
    return given


def positive(metres: float) -> float:
    """Accept a size above zero.

    Parameters
    ----------
    metres : float
        In m.

    Returns
    -------
    float
        The same.

    Raises
    ------
    FieldError
        When it is something else.
    """
    if metres <= 0.0:
        raise FieldError(
            "size-not-positive",
            f"the size {metres:.4g} m is not above zero",
            "give the lower corner and a positive size",
        )
    return metres


def not_negative(value: float) -> float:
    """Accept zero and more.

    Parameters
    ----------
    value : float
        Any number.

    Returns
    -------
    float
        The same.

    Raises
    ------
    FieldError
        When it is something else.
    """
    if value < 0.0:
        raise FieldError("number-out-of-range", f"{value:.4g} is below zero", f"did you mean {-value:.4g}?")
    return value


def within(code: str, high: float) -> Callable[[float], float]:
    """Make a check of a coefficient.

    Parameters
    ----------
    code : str
        Code of the finding.
    high : float
        Highest value allowed; the lowest is 0.

    Returns
    -------
    callable
        Gives the coefficient back or raises `FieldError`.
    """

    def check(value: float) -> float:
        if 0.0 <= value <= high:
            return value
        if high < value <= 130.0 and value > 2.0:
            hint = f"in percent? write {value / 100.0:.4g}"
        else:
            hint = f"did you mean {-value:.4g}?" if -high <= value < 0.0 else "look at the data sheet again"
        raise FieldError(code, f"the coefficient {value:.4g} is outside 0 to {high:g}", hint)

    return check


def count(code: str, number: int, form: str) -> Callable[[object], object]:
    """Make a check of the length of a list.

    Parameters
    ----------
    code : str
        Code of the finding.
    number : int
        How many values there must be.
    form : str
        How to write it.

    Returns
    -------
    callable
        Gives the list back or raises `FieldError`.
    """

    def check(value: object) -> object:
        if not isinstance(value, list):
            raise FieldError("wrong-type", f"must be a list {form}, this is {kind_of(value)}")
        if len(value) != number:
            raise FieldError(code, f"has {len(value)} values where {number} are needed", f"write {form}")
        return value

    return check


def one_of(code: str, what: str, known: tuple[str, ...]) -> Callable[[object], str]:
    """Make a check of a word.

    Parameters
    ----------
    code : str
        Code of the finding.
    what : str
        What it is called.
    known : tuple of str
        What it may be.

    Returns
    -------
    callable
        Gives the word back or raises `FieldError`.
    """

    def check(value: object) -> str:
        word = text(value)
        if word not in known:
            raise FieldError(code, f'"{word[:40]}" is no {what}', nearest(word, known))
        return word

    return check
