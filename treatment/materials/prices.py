"""Prices of one's own: a CSV with the columns item, price, and where wanted unit and date."""

from __future__ import annotations

import datetime
import functools
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from treatment.materials.shipped import materials_folder
from treatment.materials.table import Problems, read_rows, shorten

#: What the note of a price says that no shop was asked for.
EXAMPLE: Final = "invented example"


@dataclass(frozen=True)
class Price:
    """One line of the table.

    Parameters
    ----------
    item : str
        As written: the name of the shopping list or its beginning, or the id of a build.
    price : float
        Of one unit.
    unit : str
        What the price is for; empty for the unit of the shopping list.
    date : str
        When it was typed, ``YYYY-MM-DD``; empty when not said.
    """

    item: str
    price: float
    unit: str = ""
    date: str = ""


@dataclass(frozen=True)
class Prices:
    """A table of prices.

    Parameters
    ----------
    rows : tuple of Price
        No item stands there twice.
    where : str
        The file.
    """

    rows: tuple[Price, ...]
    where: str = ""

    def find(self, item: str) -> Price | None:
        """Price of an item.

        Parameters
        ----------
        item : str
            Name on the shopping list.

        Returns
        -------
        Price or None
            That of the same name; failing this, of the longest name that the item begins with
            (``board 1x4`` for all its lengths); None when there is none.
        """
        wanted = _plain(item)
        matching = [
            row
            for row in self.rows
            for name in (_plain(row.item),)
            if wanted == name or (wanted.startswith(name) and not wanted[len(name)].isalnum())
        ]
        return max(matching, key=lambda row: len(_plain(row.item)), default=None)


def _plain(text: str) -> str:
    return " ".join(text.casefold().split())


@functools.lru_cache(maxsize=1)
def example_prices() -> Prices:
    """Invented prices of parts, which stand in where a person has priced some parts of a panel only.

    Returns
    -------
    Prices
        Examples, of no shop, date or currency.

    Raises
    ------
    MaterialError
        When the table is missing.
    """
    return read_prices(materials_folder() / "prices" / "example-parts.csv")


def read_prices(path: Path) -> Prices:
    """Read a table of prices.

    Parameters
    ----------
    path : pathlib.Path
        CSV with commas; columns ``item``, ``price``, optional ``unit`` and ``date``.

    Returns
    -------
    Prices
        In the order of the file.

    Raises
    ------
    MaterialError
        When the file or a line has an error; all problems stand in one message.
    """
    problems = Problems(str(path))
    rows: dict[str, Price] = {}
    for row in read_rows(path, ("item", "price"), ("unit", "date"), problems):
        item, date = row.text("item"), row.text("date")
        before = len(problems.found)
        price = row.number("price", 0.0, 1e6, problems, "a price is the amount of money for one unit")
        if price is None and len(problems.found) == before:
            problems.add(f"line {row.line}, column price: blank", "leave the whole line out instead")
        if not item or not item.isprintable():
            problems.add(
                f"line {row.line}, column item: blank, or no plain text", "copy it from shopping.csv"
            )
        elif _plain(item) in rows:
            problems.add(f"line {row.line}, column item: '{shorten(item)}' stands there twice")
        if date and not _is_date(date):
            problems.add(f"line {row.line}, column date: '{shorten(date)}' is no date", "write 2025-03-31")
        rows[_plain(item)] = Price(item, price or 0.0, row.text("unit"), date)
    problems.raise_any()
    return Prices(tuple(rows.values()), str(path))


def _is_date(text: str) -> bool:
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True
