"""Reads a CSV table strictly and collects every problem, so that a file is mended in one go."""

from __future__ import annotations

import csv
import difflib
import io
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from treatment.errors import MaterialError

_SHOWN: Final = 20  # problems listed in full; a longer list hides the first ones
_CONTROL: Final = re.compile(r"[\x00-\x08\x0e-\x19]")  # no text holds them
_LARGEST: Final = 5_000_000  # bytes; no table of materials comes near


@dataclass
class Problems:
    """Collector of what is wrong with one file or one build.

    Parameters
    ----------
    where : str
        The file or the key path.
    """

    where: str
    found: list[tuple[str, str]] = field(default_factory=list)

    def add(self, message: str, hint: str = "") -> None:
        """Note one problem.

        Parameters
        ----------
        message : str
            Place, value and limit.
        hint : str
            What to do about it.
        """
        self.found.append((message, hint))

    def raise_any(self) -> None:
        """Raise all of them at once, if there are any.

        Raises
        ------
        MaterialError
            One line for each problem; the hints follow without repetition.
        """
        if not self.found:
            return
        # Ragged rows are met first; the reader goes through the file from the top.
        self.found.sort(key=lambda problem: _line(problem[0]))
        lines = [message for message, _ in self.found[:_SHOWN]]
        if len(self.found) > _SHOWN:
            lines.append(f"and {len(self.found) - _SHOWN} more")
        text = lines[0] if len(lines) == 1 else f"{len(self.found)} problems:\n  " + "\n  ".join(lines)
        hints = dict.fromkeys(hint for _, hint in self.found if hint)
        raise MaterialError(text, where=self.where, hint="; ".join(list(hints)[:5]))


def _line(message: str) -> int:
    match = re.match(r"line (\d+)", message)
    return int(match[1]) if match else 0


@dataclass(frozen=True)
class Row:
    """One row of a table.

    Parameters
    ----------
    line : int
        Line of the file on which it starts, counted from 1.
    cells : mapping of str to str
        Stripped text by column; a column that the file lacks reads as empty.
    """

    line: int
    cells: Mapping[str, str]

    def text(self, column: str) -> str:
        """Text of a cell; empty when the file has no such column.

        Parameters
        ----------
        column : str
            Name of the column.

        Returns
        -------
        str
            Stripped text.
        """
        return self.cells.get(column, "")

    def number(
        self, column: str, low: float, high: float, problems: Problems, hint: str = ""
    ) -> float | None:
        """Read a number within limits.

        Parameters
        ----------
        column : str
            Name of the column.
        low, high : float
            Limits, both allowed.
        problems : Problems
            Takes what is wrong.
        hint : str
            Advice when the number lies outside.

        Returns
        -------
        float or None
            None when the cell is blank, or bad (then `problems` says so).
        """
        text = self.text(column)
        if not text:
            return None
        place = f"line {self.line}, column {column}: "
        try:
            # Python reads 1_000 as a number; nobody means that in a table.
            value = math.nan if "_" in text else float(text)
        except ValueError:
            comma = (
                "write decimals with a point" if "," in text else "leave a cell blank where there is no data"
            )
            problems.add(f"{place}'{shorten(text)}' is not a number", comma)
            return None
        if not math.isfinite(value):
            problems.add(
                f"{place}'{shorten(text)}' is not a finite number",
                "leave a cell blank where there is no data",
            )
            return None
        if not low <= value <= high:
            problems.add(f"{place}{text} is outside {low:g} to {high:g}", hint)
            return None
        return value


def shorten(text: str) -> str:
    """Cut a text that is quoted in a message to 40 characters.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        At most 40 characters, printable.
    """
    clean = "".join(c if c.isprintable() else "?" for c in text)
    return clean if len(clean) <= 40 else clean[:37] + "..."


def nearest(name: str, known: Iterable[str], count: int = 3) -> str:
    """Words that propose the nearest known names.

    Parameters
    ----------
    name : str
        What was written.
    known : iterable of str
        What there is.
    count : int
        How many to propose at most.

    Returns
    -------
    str
        ``did you mean 'a', 'b'?``; empty when nothing is near.
    """
    wanted = name.strip().lower().replace("_", "-").replace(" ", "-")

    def likeness(other: str) -> float:
        # The start of a long name is asked too: 'carpt' for 'carpet-heavy-on-concrete'.
        whole = difflib.SequenceMatcher(None, wanted, other).ratio()
        start = difflib.SequenceMatcher(None, wanted, other[: len(wanted) + 1]).ratio()
        inside = 0.75 if len(wanted) > 2 and wanted in other else 0.0
        return max(whole, 0.9 * start, inside)

    scored = sorted((-likeness(n), len(n), n) for n in known)  # of equals the plainer name first
    near = [n for score, _, n in scored[:count] if score <= -0.6]
    return f"did you mean {', '.join(repr(n) for n in near)}?" if near else ""


def _decode(path: Path) -> str:
    """Text of a file in any common encoding; MaterialError when it is not text."""
    where = str(path)
    try:
        if path.stat().st_size > _LARGEST:
            raise MaterialError("the file is too large to be a table of materials", where=where)
        raw = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or "unknown reason").lower()
        raise MaterialError(f"cannot be read: {reason}", where=where, hint="check the path") from None
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings: tuple[str, ...] = ("utf-16",)
    elif b"\0" in raw:
        encodings = ()
    else:
        # cp1252 is what spreadsheets save on many machines; latin-1 takes the bytes it lacks.
        encodings = ("utf-8-sig", "cp1252", "latin-1")
    for encoding in encodings:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError:
            continue
        if not _CONTROL.search(text):
            return text
    raise MaterialError("this is not a text file", where=where, hint="save the table as CSV with commas")


def _check_header(
    header: Sequence[str], required: Sequence[str], optional: Sequence[str], problems: Problems
) -> None:
    if len(header) == 1 and any(mark in header[0] for mark in ";\t|"):
        problems.add(
            "line 1: the columns are not separated by commas",
            "save the table as CSV with commas between columns and points for decimals",
        )
        return
    for name in required:
        if name not in header:
            problems.add(f"line 1: column '{name}' is missing", f"columns needed: {', '.join(required)}")
    for name in dict.fromkeys(header):
        if header.count(name) > 1:
            problems.add(f"line 1: column '{shorten(name)}' stands there twice")
        if not name:
            problems.add("line 1: a column has no name", "delete empty columns at the end of the table")
        elif name not in required and name not in optional:
            problems.add(f"line 1: unknown column '{shorten(name)}'", nearest(name, (*required, *optional)))


def header_of(path: Path) -> tuple[str, ...]:
    """Names of the columns of a CSV file.

    Parameters
    ----------
    path : pathlib.Path
        The file.

    Returns
    -------
    tuple of str
        Cells of the first line that is not blank; empty for an empty file or one that is no CSV, which
        `read_rows` then reports.

    Raises
    ------
    MaterialError
        When the file cannot be read or is no text.
    """
    try:
        for cells in csv.reader(io.StringIO(_decode(path), newline="")):
            if any(cell.strip() for cell in cells):
                return tuple(cell.strip() for cell in cells)
    except csv.Error:
        pass
    return ()


def read_rows(
    path: Path, required: Sequence[str], optional: Sequence[str], problems: Problems
) -> tuple[Row, ...]:
    """Read the rows of a CSV file.

    Commas between cells, double quotes round a cell that holds one, the first line names the
    columns. UTF-8 or UTF-16, with or without a byte-order mark, cp1252, latin-1; any line ends.
    Blank lines are skipped.

    Parameters
    ----------
    path : pathlib.Path
        The file.
    required, optional : sequence of str
        Columns that must, and that may be there. No other may.
    problems : Problems
        Takes every ragged row (wrong number of cells); such a row is left out.

    Returns
    -------
    tuple of Row
        In the order of the file.

    Raises
    ------
    MaterialError
        When the file cannot be read, is no text, is empty, or its header is wrong.
    """
    reader = csv.reader(io.StringIO(_decode(path), newline=""))
    header: list[str] = []
    rows = []
    line = 1
    try:
        for cells in reader:
            start, line = line, reader.line_num + 1
            if not any(cell.strip() for cell in cells):
                continue
            if not header:
                header = [cell.strip() for cell in cells]
                _check_header(header, required, optional, problems)
                problems.raise_any()
            elif len(cells) != len(header):
                problems.add(
                    f"line {start}: {len(cells)} cells where the header has {len(header)}",
                    "put double quotes round a cell that holds a comma, and keep blank cells",
                )
            else:
                rows.append(Row(start, dict(zip(header, (c.strip() for c in cells), strict=True))))
    except csv.Error as error:
        problems.add(f"line {reader.line_num}: not readable as CSV: {error}", "check the double quotes")
    if not header:
        raise MaterialError(
            "the file is empty", where=str(path), hint=f"columns needed: {', '.join(required)}"
        )
    if not rows and not problems.found:
        problems.add("there is no row below the header")
    return tuple(rows)
