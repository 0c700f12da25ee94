"""Where the tables and example rooms that come with the program are found."""

from __future__ import annotations

from pathlib import Path

from treatment.errors import MaterialError

_PACKAGE = Path(__file__).resolve().parents[1]


def shipped_folder(name: str, package: Path = _PACKAGE) -> Path:
    """Find a folder that is shipped with the program.

    An installed wheel holds it in the package (``treatment/shipped/<name>``), a checkout beside
    the package. The package is asked first: beside an installed package stand other people's
    folders, which may bear the same name. So the second place counts only next to a
    ``pyproject.toml``.

    Parameters
    ----------
    name : str
        ``materials`` or ``scenes``.
    package : pathlib.Path
        Folder of the package.

    Returns
    -------
    pathlib.Path
        The folder.

    Raises
    ------
    MaterialError
        When it is in neither place.
    """
    inside = package / "shipped" / name
    if inside.is_dir():
        return inside
    beside = package.parent / name
    if beside.is_dir() and (package.parent / "pyproject.toml").is_file():
        return beside
    raise MaterialError(
        f"the folder '{name}' that comes with the program is missing",
        where=str(inside),
        hint="install the program again, or run it from a complete checkout",
    )


def materials_folder() -> Path:
    """Folder of the material tables.

    Returns
    -------
    pathlib.Path
        Holds ``*.csv``, one file per source, and ``builds/``.

    Raises
    ------
    MaterialError
        When it is missing.
    """
    return shipped_folder("materials")


def scenes_folder() -> Path:
    """Folder of the example rooms.

    Returns
    -------
    pathlib.Path
        Holds ``*.toml``.

    Raises
    ------
    MaterialError
        When it is missing.
    """
    return shipped_folder("scenes")
