"""Lines of a TOML text: where ``seats[1].position`` stands.

The standard library's reader gives values without places. This scanner walks over text that the
reader has already accepted, so it may be plain: it checks nothing.
"""

from __future__ import annotations

import contextlib
import re
from dataclasses import dataclass, field

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE = re.compile(r"[ \t]*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:\\.|[^\\])*?"{3,5}'
    r"|'''.*?'{3,5}"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
_SCALAR = re.compile(r"[^,\]}#\n]+")


@dataclass
class _Scanner:
    text: str
    at: int = 0
    lines: dict[str, int] = field(default_factory=dict)
    counts: dict[str, int] = field(default_factory=dict)
    newlines: list[int] = field(default_factory=list)
    _line: int = 1
    _seen: int = 0

    def note(self, path: str) -> None:
        self._line += self.text.count("\n", self._seen, self.at)
        self._seen = self.at
        self.lines.setdefault(path, self._line)

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        if match is None:
            return ""
        self.at = match.end()
        return match.group()

    def take(self, sign: str) -> bool:
        if not self.text.startswith(sign, self.at):
            return False
        self.at += len(sign)
        return True

    def key(self) -> list[str]:
        """Read a dotted key."""
        parts = []
        while True:
            self.skip(_SPACE)
            quoted = self.skip(_STRING)
            parts.append(quoted[1:-1] if quoted else self.skip(_BARE_KEY))
            self.skip(_SPACE)
            if not self.take("."):
                return parts

    def value(self, path: str) -> None:
        self.skip(_SPACE)
        if self.take("["):
            self._array(path)
        elif self.take("{"):
            self._inline_table(path)
        elif not self.skip(_STRING):
            self.skip(_SCALAR)

    def _array(self, path: str) -> None:
        index = 0
        while True:
            self.skip(_BLANK)
            if self.take("]") or self.at >= len(self.text):
                return
            start = self.at
            self.note(f"{path}[{index}]")
            self.value(f"{path}[{index}]")
            self.skip(_BLANK)
            self.take(",")
            index += 1
            self.at += self.at == start  # never stand still, whatever the text

    def _inline_table(self, path: str) -> None:
        while True:
            self.skip(_BLANK)
            if self.take("}") or self.at >= len(self.text):
                return
            start = self.at
            self._pair(path)
            self.skip(_BLANK)
            self.take(",")
            self.at += self.at == start

    def _pair(self, base: str) -> None:
        self.note(base)
        path = base
        for part in self.key():
            path = f"{path}.{part}" if path else part
            self.note(path)
        self.take("=")
        self.value(path)

    def header(self) -> str:
        """Read a table header after its first bracket; give the path of the table."""
        many = self.take("[")
        *parents, last = self.key()
        path = ""
        for part in parents:
            path = self._current(f"{path}.{part}" if path else part)
            self.note(path)
        path = f"{path}.{last}" if path else last
        if many:
            self.note(path)
            self.counts[path] = self.counts.get(path, -1) + 1
        path = self._current(path)
        self.note(path)
        self.skip(re.compile(r"[ \t]*\]+"))
        return path

    def _current(self, path: str) -> str:
        """Path of the newest element where the path is an array of tables."""
        return f"{path}[{self.counts[path]}]" if path in self.counts else path

    def run(self) -> dict[str, int]:
        base = ""
        while True:
            self.skip(_BLANK)
            if self.at >= len(self.text):
                return self.lines
            start = self.at
            if self.take("["):
                base = self.header()
            else:
                self._pair(base)
            self.at += self.at == start


@dataclass(frozen=True)
class Places:
    """Lines of the keys of one file.

    Parameters
    ----------
    lines : dict of str to int
        Line, counted from 1, of every key path.
    """

    lines: dict[str, int]

    @classmethod
    def of(cls, text: str) -> Places:
        """Find the places in a text that a TOML reader has accepted.

        Parameters
        ----------
        text : str
            The file.

        Returns
        -------
        Places
            Lines by key path. Arrays nested hundreds deep are given up; what was found is kept.
        """
        scanner = _Scanner(text)
        with contextlib.suppress(RecursionError):
            scanner.run()
        return cls({path: line for path, line in scanner.lines.items() if path})

    def line(self, path: str) -> int | None:
        """Line of a key path, or of the nearest thing around it that has one.

        Parameters
        ----------
        path : str
            Such as ``seats[1].position[2]``.

        Returns
        -------
        int or None
            The line; None when nothing of the path stands in the file.
        """
        while path:
            if path in self.lines:
                return self.lines[path]
            cut = max(path.rfind("."), path.rfind("["))
            path = path[: max(cut, 0)]
        return None
