"""Path to scene: reads the file, and says everything that is wrong with it at once."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from treatment.errors import Finding, SceneError
from treatment.materials.library import load_library
from treatment.materials.shipped import scenes_folder
from treatment.scene.assemble import assemble
from treatment.scene.checks import check_scene
from treatment.scene.codes import finding, nearest
from treatment.scene.document import read_document
from treatment.scene.model import Scene
from treatment.scene.places import Places

LARGEST_FILE: Final = 5_000_000
_RANK: Final = {"error": 0, "warning": 1, "note": 2}
_PLACE: Final = re.compile(r"\s*\(at line (\d+), column (\d+)\)|\s*\(at end of document\)")


def resolve_scene(text: str) -> Path:
    """Find the scene that a person names: a file, or a shipped scene by its bare name.

    Parameters
    ----------
    text : str
        ``rooms/mine.toml`` or ``garden-room``.

    Returns
    -------
    pathlib.Path
        The file. Where there is neither, the text as a path: reading it then says so.
    """
    path = Path(text)
    try:
        if path.exists():
            return path
    except (OSError, ValueError):  # a name too long for the system
        return path
    shipped = {p.stem: p for p in scenes_folder().glob("*.toml")}
    return shipped.get(text, path)


def load_scene(path: Path | str) -> tuple[Scene, tuple[Finding, ...]]:
    """Load a scene.

    Parameters
    ----------
    path : pathlib.Path or str
        The file.

    Returns
    -------
    scene : Scene
        The room and what stands in it.
    findings : tuple of Finding
        Warnings and notes, with lines.

    Raises
    ------
    SceneError
        When anything is an error; its findings hold everything found, warnings and notes too.
    """
    path = Path(path)
    text = _read(path)
    data = _parse(path, text)
    places = Places.of(text)
    document, findings = read_document(data)
    scene, numbering, found = assemble(document, load_library(), path)
    findings += found
    if scene is not None:
        findings += check_scene(scene, numbering)
    # A seat that could not be read is no missing seat.
    findings = [f for f in findings if not (f.code in {"no-seats", "no-loudspeakers"} and data.get(f.where))]
    located = tuple(replace(f, line=places.line(f.where)) for f in findings)
    ordered = tuple(sorted(located, key=lambda f: (_RANK[f.severity], f.line or 0)))
    errors = sum(f.severity == "error" for f in ordered)
    if errors or scene is None:
        raise _scene_error(path, *ordered)
    return scene, ordered


def _scene_error(path: Path, *findings: Finding) -> SceneError:
    errors = sum(f.severity == "error" for f in findings)
    count = "1 error" if errors == 1 else f"{errors} errors"
    return SceneError(f"the scene has {count}", findings, where=str(path), hint=findings[0].message)


def _refuse(code: str, path: Path, message: str, hint: str = "", line: int | None = None) -> SceneError:
    return _scene_error(path, replace(finding(code, str(path), message, hint), line=line))


def _read(path: Path) -> str:
    """Text of a file; a byte order mark, as some editors write it, is left out."""
    try:
        if path.is_dir():
            hint = "name the scene file in it"
            raise _refuse("file-is-directory", path, "this is a folder, not a file", hint)
        if not path.exists():
            shipped = [p.stem for p in scenes_folder().glob("*.toml")]
            raise _refuse("file-missing", path, "there is no such file", nearest(path.stem, shipped))
        if not path.is_file():
            raise _refuse(
                "file-unreadable", path, "this is a device or pipe, not a file", "save it as a file"
            )
        size = path.stat().st_size
        if size > LARGEST_FILE:
            message = f"the file has {size / 1e6:.1f} MB; a scene has at most {LARGEST_FILE / 1e6:g} MB"
            raise _refuse("file-too-large", path, message, "is this a scene file?")
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "its name is not possible"
        raise _refuse(
            "file-unreadable", path, f"the file cannot be read: {reason}", "check the name"
        ) from None
    if not raw.strip():
        hint = "start from a shipped scene, or let `treatment new` write one"
        raise _refuse("file-empty", path, "the file is empty", hint)
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        hint = "save it as plain text in UTF-8"
        raise _refuse("file-not-text", path, f"byte {error.start + 1} is no UTF-8 text", hint, line) from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        hint = "is this a scene file? save it as plain text in UTF-8"
        raise _refuse("file-not-text", path, "the file holds binary data", hint, line)
    return text


def _parse(path: Path, text: str) -> dict[str, Any]:
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise _refuse("toml-syntax", path, "brackets are nested too deep", "close every [ with a ]") from None
    except ValueError as error:  # tomllib.TOMLDecodeError, or a number of thousands of digits
        message = str(error)
        place = _PLACE.search(message)
        line = int(place[1]) if place and place[1] else text.count("\n") + 1
        column = f", column {place[2]}" if place and place[2] else ""
        reason = (
            _PLACE.sub("", message).rstrip(".")
            if isinstance(error, tomllib.TOMLDecodeError)
            else "bad number"
        )
        hint = 'text stands in quotes, lists in [ ], and a key has one value: name = "L"'
        raise _refuse("toml-syntax", path, f"line {line}{column}: {reason}", hint, line) from None
    if not data:
        hint = "start from a shipped scene, or let `treatment new` write one"
        raise _refuse("file-empty", path, "the file holds nothing but comments", hint)
    return data
