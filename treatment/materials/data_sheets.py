"""A folder of one's own data sheets."""

from __future__ import annotations

from pathlib import Path

from treatment.errors import Finding, MaterialError
from treatment.materials.library import Library
from treatment.materials.material import Material
from treatment.materials.read_table import read_table

CODE = "data-sheet"


def read_data_sheets(folder: Path, problems: list[Finding] | None = None) -> tuple[Material, ...]:
    """Read every table of a folder.

    Parameters
    ----------
    folder : pathlib.Path
        Holds ``*.csv``, as `treatment.materials.read_table.read_table` reads them: by octaves, or by
        third octaves, which are averaged by three (ISO 11654:1997, 4.1).
    problems : list of Finding, optional
        Takes one error for each file that does not load (code ``data-sheet``); the others are returned.

    Returns
    -------
    tuple of Material
        In the order of the files' names.

    Raises
    ------
    MaterialError
        Without `problems`: for the first folder or file that does not load, with all that is wrong in it.
    """
    found: list[Material] = []
    try:
        paths = _sheets(folder)
    except MaterialError as error:
        return _report(error, problems)
    known = Library({}, {})
    for path in paths:
        try:
            materials = read_table(path)
            known = known.extended(materials, where=str(path))
        except MaterialError as error:
            _report(error, problems)
        else:
            found += materials
    return tuple(found)


def _sheets(folder: Path) -> list[Path]:
    where = str(folder)
    if not folder.is_dir():
        kind = "is a file, not a folder" if folder.exists() else "does not exist"
        raise MaterialError(
            f"the folder of data sheets {kind}", where=where, hint="name a folder that holds CSV files"
        )
    try:
        paths = sorted(p for p in folder.iterdir() if p.suffix.lower() == ".csv" and p.is_file())
    except OSError as error:
        raise MaterialError(f"cannot be read: {error.strerror}", where=where) from None
    if not paths:
        raise MaterialError(
            "the folder holds no data sheet", where=where, hint="save each table as CSV, ending in .csv"
        )
    return paths


def _report(error: MaterialError, problems: list[Finding] | None) -> tuple[Material, ...]:
    if problems is None:
        raise error
    problems.append(Finding(CODE, "error", error.where, error.message, error.hint))
    return ()
