"""Files that a room file names: taken into the work's folder at the start, looked for nowhere else later."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from treatment.errors import PlanError
from treatment.planning.rewrite import set_value
from treatment.present.browser_store import Store
from treatment.present.folder import DATA_SHEETS


def take_along(source: Path, store: Store) -> str:
    """Copy the mesh and the data sheets that a room file names into the folder of the work.

    Parameters
    ----------
    source : Path
        The room file; it has been loaded, so what it names is there.
    store : Store
        The folder of the work.

    Returns
    -------
    str
        Text of the room file, naming the copies.

    Raises
    ------
    PlanError
        When a copy cannot be written.
    """
    text = source.read_text(encoding="utf-8-sig")
    mesh, sheets = _named(text)
    if mesh is not None:
        path = (source.parent / mesh).resolve()
        if path.parent != store.folder:
            store.write(path.name, path.read_bytes())
        text = _renamed(text, ("room", "file"), mesh, path.name)
    if sheets is not None:
        folder = (source.parent / sheets).resolve()
        if folder != store.folder / DATA_SHEETS:
            store.write_folder(
                DATA_SHEETS,
                {p.name: p.read_bytes() for p in folder.iterdir() if _is_sheet(p)},
            )
        text = _renamed(text, ("data_sheets",), sheets, DATA_SHEETS)
    return text


def stay_inside(text: str, store: Store) -> None:
    """Refuse a room that names files anywhere but in the folder of the work.

    The page cannot write such names, but a session file that came from elsewhere may hold them.

    Parameters
    ----------
    text : str
        The room file.
    store : Store
        The folder of the work.

    Raises
    ------
    PlanError
        When it names a file elsewhere, or a link.
    """
    for name in _named(text):
        if name is None:
            continue
        path = store.path(name)
        if path.is_dir() and any(p.is_symlink() for p in path.iterdir()):
            raise PlanError(f"'{name[:60]}' holds links to other places", hint="put copies there instead")


def _is_sheet(path: Path) -> bool:
    return path.suffix.lower() == ".csv" and path.is_file()


def _named(text: str) -> tuple[str | None, str | None]:
    """Mesh and folder of data sheets as the text names them."""
    try:
        data: dict[str, Any] = tomllib.loads(text)
    except (ValueError, RecursionError):
        return None, None  # loading it says what is wrong
    room = data.get("room")
    mesh = room.get("file") if isinstance(room, dict) and room.get("shape") == "mesh" else None
    sheets = data.get("data_sheets")
    return (mesh if isinstance(mesh, str) else None, sheets if isinstance(sheets, str) else None)


def _renamed(text: str, place: tuple[str, ...], was: str, now: str) -> str:
    if was == now:
        return text
    try:
        return set_value(text, place, now)
    except PlanError as error:
        message = f"the room file names '{was[:60]}', and that name cannot be changed to its copy's"
        raise PlanError(message, where=".".join(place), hint=error.hint) from error
