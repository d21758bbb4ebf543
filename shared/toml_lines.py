"""On which line of a TOML text each key, table and list element stands.

`tomllib` gives values without positions. This reads the same text once more, only to find where things begin, so it
may trust that the text is valid: `tomllib` has accepted it before.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping
from typing import Final, TypeAlias

Path: TypeAlias = tuple[str | int, ...]
"""Keys and list positions from the root: ("bay", 0, "sensors", 1, "zone")."""

_BLANK: Final = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_SPACE: Final = re.compile(r"[ \t]*")
_KEY_PART: Final = re.compile(r"""[A-Za-z0-9_-]+|"(?:\\.|[^"\\])*"|'[^']*'""")
_STRING: Final = re.compile(
    r'"""(?:\\.|[^\\])*?"""(?:"{0,2})'
    r"|'''.*?'''(?:'{0,2})"
    r'|"(?:\\.|[^"\\])*"'
    r"|'[^']*'",
    re.DOTALL,
)
_PLAIN: Final = re.compile(r"[^,\]}\n#]*")


def lines_of(text: str) -> Mapping[Path, int]:
    r"""Return the line, counted from 1, on which each path begins.

    Args:
        text: a valid TOML document with "\n" as its only line end.
    """
    return _Scan(text).lines


def line_for(lines: Mapping[Path, int], path: Path) -> int:
    """Return the line of a path; of the nearest table around it when the path itself is not in the file."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return 1


class _Scan:
    """One walk through the text; `lines` is the result."""

    def __init__(self, text: str) -> None:
        self.lines: dict[Path, int] = {}
        self._text = text
        self._at = 0
        self._starts = [0, *(m.end() for m in re.finditer("\n", text))]
        self._elements: dict[Path, int] = {}
        """How many tables each array of tables has so far."""
        table: Path = ()
        self._skip(_BLANK)
        while self._at < len(text):
            if text[self._at] == "[":
                table = self._header()
            else:
                self._assignment(table)
            self._skip(_BLANK)

    def _skip(self, pattern: re.Pattern[str]) -> str:
        found = pattern.match(self._text, self._at)
        if found is None:  # only for text that tomllib would have refused
            raise ValueError(f"cannot follow the text from character {self._at}")
        self._at = found.end()
        return found.group()

    def _line(self) -> int:
        return bisect_right(self._starts, self._at)

    def _next(self, mark: str) -> bool:
        """Step over `mark` if it comes next."""
        if self._text.startswith(mark, self._at):
            self._at += len(mark)
            return True
        return False

    def _key(self) -> tuple[str, ...]:
        """Read a key, dotted or not."""
        parts: list[str] = []
        while True:
            self._skip(_SPACE)
            parts.append(_unquoted(self._skip(_KEY_PART)))
            self._skip(_SPACE)
            if not self._next("."):
                return tuple(parts)

    def _header(self) -> Path:
        """Read `[a.b]` or `[[a.b]]`; return the path of its table."""
        line = self._line()
        many = self._next("[[")
        if not many:
            self._next("[")
        path: Path = ()
        *around, last = self._key()
        for part in around:
            path = self._inside((*path, part))
            self.lines.setdefault(path, line)
        path = (*path, last)
        if many:
            self.lines.setdefault(path, line)
            index = self._elements.get(path, 0)
            self._elements[path] = index + 1
            path = (*path, index)
        self.lines[path] = line
        self._next("]]" if many else "]")
        return path

    def _inside(self, path: Path) -> Path:
        """Return the newest element when `path` is an array of tables."""
        count = self._elements.get(path)
        return path if count is None else (*path, count - 1)

    def _assignment(self, table: Path) -> None:
        line = self._line()
        path = table
        for part in self._key():
            path = (*path, part)
            self.lines.setdefault(path, line)
        self._next("=")
        self._skip(_SPACE)
        self._value(path)

    def _value(self, path: Path) -> None:
        opening = self._text[self._at : self._at + 1]
        if opening in {'"', "'"}:
            self._skip(_STRING)
        elif opening == "[":
            self._list(path)
        elif opening == "{":
            self._inline_table(path)
        else:
            self._skip(_PLAIN)

    def _list(self, path: Path) -> None:
        self._next("[")
        index = 0
        self._skip(_BLANK)
        while not self._next("]"):
            self.lines[(*path, index)] = self._line()
            self._value((*path, index))
            index += 1
            self._skip(_BLANK)
            self._next(",")
            self._skip(_BLANK)

    def _inline_table(self, path: Path) -> None:
        self._next("{")
        self._skip(_BLANK)
        while not self._next("}"):
            self._assignment(path)
            self._skip(_BLANK)
            self._next(",")
            self._skip(_BLANK)


def _unquoted(part: str) -> str:
    return part if part[0] not in "\"'" else next(iter(tomllib.loads(f"{part} = 0")))
