"""Lengths as people write them, to metres and back.

References
----------
The international inch is 25.4 mm exactly and the foot 12 inches: 0.3048 m exactly (international
yard and pound agreement of 1959; the inch of ISO 31-1, annex A).
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import Any, Final

from treatment.errors import UnitError

#: Metres in one unit.
UNITS: Final[Mapping[str, float]] = MappingProxyType(
    {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
)
#: Units of a person who measures in feet and inches.
IMPERIAL: Final = frozenset({"ft", "in"})
EXAMPLES: Final = '2.35, "2.35 m", "235 cm", "2350 mm", "7 ft 8 1/2 in", "92.5 in"'

_EXACT = {u: Fraction(str(metres)) for u, metres in UNITS.items()}
_WORDS = {
    "m": "m metre metres meter meters",
    "cm": "cm centimetre centimetres centimeter centimeters",
    "mm": "mm millimetre millimetres millimeter millimeters",
    "ft": "ft ft. foot feet '",
    "in": 'in in. inch inches "',
}
_UNIT_OF_WORD = {word: unit for unit, words in _WORDS.items() for word in words.split()}
#: Larger unit first; a length may be written in several units of one system ("2 m 35 cm").
_SYSTEMS = (("m", "cm", "mm"), ("ft", "in"))
#: Primes, curly quotes and dashes that keyboards and phones put in place of the plain signs.
_SIGNS = str.maketrans(
    {"″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "‘": "'", "−": "-", "–": "-", "‐": "-", "‑": "-"}
)
_QUANTITY = r"(?:[0-9]+(?:\s+|-)[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]*)?|\.[0-9]+)"
_TERM = re.compile(rf"\s*({_QUANTITY})\s*([a-z]+\.?|''|'|\")?\s*")
_LONGEST_TEXT = 60
#: From here on (m) a length is a slip, and is written short.
_BEYOND_WRITING = 1e6


def parse_length(value: float | int | str | Any, unit: str = "m") -> float:
    """Read a length.

    Parameters
    ----------
    value : float, int or str
        A number in `unit`, or text such as ``2.35 m``, ``235cm``, ``7 ft 8 1/2 in``, ``7' 8 1/2"``,
        ``-3 in``. Text without a unit counts in `unit`.
    unit : {"m", "cm", "mm", "ft", "in"}
        Unit of a plain number.

    Returns
    -------
    float
        The length in m.

    Raises
    ------
    UnitError
        When it is no length, or not finite, or the unit is unknown.
    """
    if unit not in UNITS:
        raise UnitError(f'"{unit}" is not a unit of length', hint=f"use one of {', '.join(UNITS)}")
    if isinstance(value, str):
        return _parse_text(value, unit)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise _refusal(value, "is not a length")
    try:
        metres = float(value) * UNITS[unit]
    except OverflowError:
        metres = math.inf
    if not math.isfinite(metres):
        raise _refusal(value, "is not a finite length")
    return metres


def _parse_text(text: str, unit: str) -> float:
    if len(text) > _LONGEST_TEXT:
        raise _refusal(f"{text[:20]}...", "is too long to be a length")
    plain = unicodedata.normalize("NFKC", _separate_fractions(text.translate(_SIGNS)))
    plain = plain.replace("\N{FRACTION SLASH}", "/").strip().lower()
    if "," in plain:
        raise _refusal(
            text,
            "holds a comma",
            f'the decimal sign is a point: "{plain.replace(",", ".", 1)}"; thousands have no sign',
        )
    sign = -1 if plain.startswith("-") else 1
    rest = plain[1:] if plain[:1] in {"-", "+"} else plain
    total = Fraction(0)
    seen: list[str] = []
    while rest:
        match = _TERM.match(rest)
        if match is None:
            raise _refusal(text, "is not a length")
        quantity, word = match.groups()
        rest = rest[match.end() :]
        # An architect's dash between feet and inches: 7'-8 1/2".
        if rest.startswith("-") and word in {"'", "ft", "ft."}:
            rest = rest[1:]
        name = _unit_of(text, word, unit, alone=not seen and not rest)
        amount = _amount(text, quantity)
        _check_order(text, seen, name, amount, more=bool(rest), whole=amount.denominator == 1)
        seen.append(name)
        total += amount * _EXACT[name]
    if not seen:
        raise _refusal(text, "is not a length")
    try:
        return sign * float(total)
    except OverflowError:
        raise _refusal(text, "is not a finite length") from None


def _separate_fractions(text: str) -> str:
    """Put a space before a one-sign fraction, so that 8½ becomes 8 1/2 and not 81/2."""
    return "".join(f" {c}" if unicodedata.decomposition(c).startswith("<fraction>") else c for c in text)


def _unit_of(text: str, word: str | None, unit: str, *, alone: bool) -> str:
    if word is None:
        if alone:
            return unit
        raise _refusal(text, "has a number without a unit", f'name every unit, as in "7 ft 8 in"; {EXAMPLES}')
    name = _UNIT_OF_WORD.get('"' if word == "''" else word)
    if name is None:
        raise _refusal(text, f'has the unknown unit "{word}"', f"units are {', '.join(UNITS)}")
    return name


def _amount(text: str, quantity: str) -> Fraction:
    if "/" not in quantity:
        return Fraction(quantity if not quantity.endswith(".") else quantity[:-1])
    *whole, part = re.split(r"\s+|-", quantity)
    above, below = (int(n) for n in part.split("/"))
    if below == 0 or above >= below:
        raise _refusal(text, f"has the fraction {part}, which is not below one")
    return (Fraction(int(whole[0])) if whole else Fraction(0)) + Fraction(above, below)


def _check_order(text: str, seen: list[str], name: str, amount: Fraction, *, more: bool, whole: bool) -> None:
    """Refuse 5.5 ft 3 in, 7 ft 14 in, 3 in 2 ft and 2 m 3 in: each is more likely a slip than meant."""
    if more and not whole:
        raise _refusal(text, "has a fraction before a smaller unit", "use whole feet, or inches alone")
    if not seen:
        return
    before = seen[-1]
    for system in _SYSTEMS:
        if before in system and name in system and system.index(before) < system.index(name):
            if amount * _EXACT[name] >= _EXACT[before]:
                raise _refusal(
                    text, f"has {float(amount):g} {name} after the {before}, which is one {before} or more"
                )
            return
    raise _refusal(text, f"mixes {before} and {name} in this order")


def _refusal(value: object, reason: str, hint: str = "") -> UnitError:
    shown = f'"{value}"' if isinstance(value, str) else _shown(value)
    return UnitError(f"{shown} {reason}", hint=hint or f"write a length like {EXAMPLES}")


def _shown(value: object) -> str:
    """Text of any value, short enough for a message; a number of 5000 digits has no text at all."""
    try:
        text = {True: "true", False: "false"}[value] if isinstance(value, bool) else str(value)
    except ValueError:
        text = "a number with thousands of digits"
    return text if len(text) <= _LONGEST_TEXT else f"{text[:20]}..."


def _steps(metres: float, step: float) -> int:
    """Whole steps nearest to a length that is not negative; halves go up, as on paper."""
    return math.floor(metres / step + 0.5 + 1e-9)


def format_metric(metres: float, step: float | None = None) -> str:
    """Write a length in metres, to the millimetre: ``2.35 m``, ``0.865 m``.

    Parameters
    ----------
    metres : float
        Length in m.
    step : float, optional
        Round to a multiple of this, in m (0.005: the 5 mm that a tape and a pencil can hold).

    Returns
    -------
    str
        Two decimals, three where the last is not zero.
    """
    size = abs(metres)
    if size >= _BEYOND_WRITING:
        return f"{metres:.3g} m"
    if step is not None:
        size = _steps(size, step) * step
    thousandths = _steps(size, 0.001)
    sign = "-" if metres < 0.0 and thousandths else ""
    text = f"{thousandths // 1000}.{thousandths % 1000:03d}"
    return f"{sign}{text[:-1] if text.endswith('0') else text} m"


def format_imperial(metres: float, denominator: int = 8) -> str:
    """Write a length in feet and inches: ``7 ft 8 1/2 in``.

    Parameters
    ----------
    metres : float
        Length in m.
    denominator : int
        Parts of an inch to round to.

    Returns
    -------
    str
        Feet left out below one foot, inches left out where they are zero; the fraction is reduced.
    """
    if abs(metres) >= _BEYOND_WRITING:
        return f"{metres / UNITS['ft']:.3g} ft"
    parts = _steps(abs(metres), UNITS["in"] / denominator)
    feet, rest = divmod(parts, 12 * denominator)
    inches, part = divmod(rest, denominator)
    words = []
    if feet:
        words.append(f"{feet} ft")
    if rest or not feet:
        fraction = Fraction(part, denominator)
        whole = [str(inches)] if inches or feet or not part else []
        words.append(" ".join([*whole, *([str(fraction)] if part else []), "in"]))
    sign = "-" if metres < 0.0 and parts else ""
    return sign + " ".join(words)


def format_length(metres: float, unit: str = "m") -> str:
    """Write a length for a person who measures in a unit.

    Parameters
    ----------
    metres : float
        Length in m.
    unit : {"m", "cm", "mm", "ft", "in"}
        Unit the person uses.

    Returns
    -------
    str
        ``2.35 m``, ``235 cm``, ``2350 mm``; for feet and inches both systems,
        ``7 ft 8 1/2 in (2.35 m)``.
    """
    if unit in {"ft", "in"}:
        return f"{format_imperial(metres)} ({format_metric(metres)})"
    if unit in {"cm", "mm"} and abs(metres) < _BEYOND_WRITING:
        tenths = _steps(abs(metres), 0.001) if unit == "mm" else _steps(abs(metres), 0.001) / 10.0
        return f"{'-' if metres < 0.0 and tenths else ''}{tenths:.10g} {unit}"
    return format_metric(metres)


def format_pair(metres: float, unit: str = "m") -> tuple[str, str]:
    """Write a length in both systems, the one that a person measures in first.

    Parameters
    ----------
    metres : float
        Length in m.
    unit : {"m", "cm", "mm", "ft", "in"}
        Unit the person uses.

    Returns
    -------
    tuple of str
        ``("2.35 m", "7 ft 8 1/2 in")``, or the other way round for feet and inches.
    """
    both = format_metric(metres), format_imperial(metres)
    return both[::-1] if unit in IMPERIAL else both
