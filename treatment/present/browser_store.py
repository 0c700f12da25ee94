"""The chosen folder: the only place where the browser planner reads and writes files."""

from __future__ import annotations

import contextlib
import json
import os
import re
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, Final

from treatment.errors import PlanError

#: Everything that is needed to go on after a stop.
SESSION_FILE: Final = "session.json"
#: The room as it stands, as a file that every other command reads.
WORKING_ROOM: Final = "working-room.toml"
_LOCK: Final = ".session.lock"
_OWN: Final = {SESSION_FILE, WORKING_ROOM, _LOCK}
_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.-]{0,59}")


class Store:
    """One folder, held for one planner at a time.

    Parameters
    ----------
    folder : Path
        Made when it does not exist.

    Raises
    ------
    PlanError
        When it is no folder, or cannot be written.
    """

    def __init__(self, folder: Path) -> None:
        try:
            folder.mkdir(exist_ok=True)
        except FileExistsError:
            raise PlanError("this is not a folder", where=str(folder), hint="name a new folder") from None
        except OSError as error:
            message = f"the folder cannot be made: {error.strerror or error}"
            raise PlanError(message, where=str(folder), hint="name another place") from error
        self.folder = folder.resolve()
        if not os.access(self.folder, os.W_OK):
            raise PlanError("the folder cannot be written", where=str(folder), hint="name another place")

    @contextlib.contextmanager
    def held(self) -> Iterator[None]:
        """Hold the folder: two planners would overwrite each other's work.

        Raises
        ------
        PlanError
            When another planner holds it.
        """
        try:
            import fcntl
        except ImportError:  # Windows: no such lock; the second planner is on its own
            yield
            return
        with self.path(_LOCK).open("a") as file:
            try:
                # The system drops the lock when the process ends, however it ends.
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except OSError:
                hint = "use the window that is open, or stop the other one first"
                message = "another planner works in this folder"
                raise PlanError(message, where=str(self.folder), hint=hint) from None
            yield

    def path(self, name: str) -> Path:
        """Path of a file right in the folder.

        Links are not followed: a name could otherwise lead out of the folder.

        Parameters
        ----------
        name : str
            File name, no folders in it.

        Raises
        ------
        PlanError
            When the name leads elsewhere.
        """
        path = self.folder / name
        if path.name != name or name in {".", ".."} or path.is_symlink():
            raise PlanError(f"'{name[:60]}' is no file of this folder", hint="choose another name")
        return path

    def write(self, name: str, content: bytes) -> Path:
        """Write a file whole, or not at all, even when the machine stops.

        Parameters
        ----------
        name : str
            File name, no folders in it.
        content : bytes
            All of it.

        Returns
        -------
        Path
            Of the file.

        Raises
        ------
        PlanError
            When the name leads elsewhere, or the disk refuses.
        """
        target = self.path(name)
        part = ""
        try:
            handle, part = tempfile.mkstemp(prefix=f".{name}-", dir=self.folder)
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
            Path(part).chmod(0o644)
            Path(part).replace(target)
        except OSError as error:
            if part:
                Path(part).unlink(missing_ok=True)
            message = f"'{name}' cannot be written: {error.strerror or error}"
            raise PlanError(message, where=str(self.folder), hint="is the disk full?") from error
        return target

    def write_folder(self, name: str, files: Mapping[str, bytes]) -> Path:
        """Write a folder of files; what an older one of that name held is gone then.

        Parameters
        ----------
        name : str
            Of the folder, no folders in it.
        files : mapping
            Name and content of each file.

        Returns
        -------
        Path
            Of the folder.

        Raises
        ------
        PlanError
            When a name leads elsewhere, or the disk refuses.
        """
        target = self.path(name)
        new = ""
        try:
            new = tempfile.mkdtemp(prefix=f".{name}-", dir=self.folder)
            for file, content in files.items():
                self.path(file)  # a plain name in here, too
                (Path(new) / file).write_bytes(content)
            Path(new).chmod(0o755)
            if target.exists():
                shutil.rmtree(target)
            Path(new).rename(target)
        except OSError as error:
            message = f"the folder '{name}' cannot be written: {error.strerror or error}"
            raise PlanError(message, where=str(self.folder), hint="is the disk full?") from error
        finally:
            if new:
                shutil.rmtree(new, ignore_errors=True)
        return target

    def read(self, name: str) -> bytes | None:
        """Read a file.

        Parameters
        ----------
        name : str
            File name, no folders in it.

        Returns
        -------
        bytes or None
            None when there is none.

        Raises
        ------
        PlanError
            When the name leads elsewhere, or the disk refuses.
        """
        path = self.path(name)
        try:
            return path.read_bytes()
        except FileNotFoundError:
            return None
        except OSError as error:
            message = f"'{name}' cannot be read: {error.strerror or error}"
            raise PlanError(message, where=str(self.folder)) from error

    def read_json(self, name: str) -> Any:
        """Read a JSON file; None when there is none, or it is none."""
        raw = self.read(name)
        try:
            return None if raw is None else json.loads(raw)
        except ValueError:
            return None

    def chosen(self, name: str, ending: str = "") -> Path:
        """Path for something that a person saves under a name of their own.

        Parameters
        ----------
        name : str
            As typed.
        ending : str
            Put behind it when it is not there.

        Returns
        -------
        Path
            Right in the folder.

        Raises
        ------
        PlanError
            When the name could lead elsewhere, or is one of the planner's own.
        """
        plain = name.strip()
        if ending and plain.lower().endswith(ending):
            plain = plain[: -len(ending)]
        if not _NAME.fullmatch(plain) or plain.endswith((".", " ")) or plain + ending in _OWN:
            hint = "letters, digits, spaces, dots, - and _; at most 60 of them"
            raise PlanError(f"'{name[:60]}' cannot be a name here", where="name", hint=hint)
        return self.path(plain + ending)
