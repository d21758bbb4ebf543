"""One TOML file read into a model: every fault with its line, its field and what is allowed, in words for people."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, time
from difflib import get_close_matches
from functools import cache
from pathlib import Path as FilePath
from typing import Any, Final, Generic, TypeAlias, TypeVar

from pydantic import BaseModel, ValidationError

from shared import allowed
from shared.errors import Fault
from shared.toml_lines import Path, line_for, lines_of

Table: TypeAlias = dict[str, Any]
M = TypeVar("M", bound=BaseModel)

_POSITION: Final = re.compile(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)$")


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing wrong at a path of a document."""

    path: Path
    found: str
    allowed: str


@dataclass(frozen=True, slots=True)
class Document(Generic[M]):
    """What was read of one file."""

    file: str
    model: M | None
    """None when there are faults."""
    table: Table
    """The values, with None in place of each that is at fault: what is not None is of the right kind."""
    faults: tuple[Fault, ...]
    lines: Mapping[Path, int]
    whole: Table
    """The values as written."""

    def fault(self, doubt: Doubt) -> Fault:
        """Return the doubt as a fault of this file."""
        return _fault(self.file, self.lines, self.whole, doubt)


def read(path: FilePath, model: type[M]) -> Document[M]:
    """Read a file; faults are returned, not raised."""
    file = str(path)
    try:
        text = path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        return _unread(file, line, "text", "bytes that are not UTF-8", "text saved as UTF-8")
    except (OSError, ValueError) as error:
        found = "no such file" if isinstance(error, FileNotFoundError) else f"a file that cannot be read ({error})"
        return _unread(file, None, "file", found, "a file that this user may read")
    try:
        # Dates become text, as in a field that takes one without quotes.
        whole = json.loads(json.dumps(tomllib.loads(text), default=_written))
        lines = lines_of(text)
    except RecursionError:
        return _unread(file, 1, "text", "brackets nested too deeply", "at most some ten levels")
    except tomllib.TOMLDecodeError as error:
        return _syntax(file, text, str(error))
    except ValueError:
        return _unread(file, 1, "text", "a number with thousands of digits", "numbers of at most some twenty digits")
    return _checked(file, model, whole, lines)


def field_of(path: Path, whole: Table) -> str:
    """Return a path as people read it: `bay[2-b1].sensors[1].zone`, by id where there is one, else counted from 1."""
    words = ""
    value: Any = whole
    for step in path:
        value = _inside(value, step)
        if isinstance(step, str):
            words += f".{_printable(step)}" if words else _printable(step)
        else:
            name = value.get("id") if isinstance(value, dict) and words.isidentifier() else None
            words += f"[{name if isinstance(name, str) and name.isprintable() else step + 1}]"
    return words or "whole file"


def _fault(file: str, lines: Mapping[Path, int], whole: Table, doubt: Doubt) -> Fault:
    return Fault(file, line_for(lines, doubt.path), field_of(doubt.path, whole), doubt.found, doubt.allowed)


def _inside(value: Any, step: str | int) -> Any:
    if isinstance(step, str):
        return value.get(step) if isinstance(value, dict) else None
    return value[step] if isinstance(value, list) and step < len(value) else None


def _unread(file: str, line: int | None, field: str, found: str, wanted: str) -> Document[M]:
    return Document(file, None, {}, (Fault(file, line, field, found, wanted),), {}, {})


def _syntax(file: str, text: str, message: str) -> Document[M]:
    position = _POSITION.search(message)
    last = max(1, text.rstrip("\n").count("\n") + 1)
    line = int(position[1]) if position and position[1] else last
    column = f"column {position[2]}" if position and position[2] else "end of the text"
    said = message[: position.start()] if position else message
    return _unread(file, min(line, last), column, f"what is not TOML ({said.lower()})", 'TOML, such as: name = "value"')


def _checked(file: str, model: type[M], whole: Table, lines: Mapping[Path, int]) -> Document[M]:
    schema = _schema(model)
    try:
        # Strict, so that "100" is no number and 1 is no yes; through JSON, so that lists may stand for tuples.
        found = model.model_validate_json(json.dumps(whole), strict=True)
    except ValidationError as error:
        errors = error.errors(include_url=False)
        # A list that is too short only because its elements have faults of their own has none itself.
        inside = {loc[:n] for loc in (e["loc"] for e in errors) for n in range(len(loc))}
        doubts = [
            _doubt(schema, whole, e["type"], e["loc"])
            for e in errors
            if not (e["type"] == "too_short" and e["loc"] in inside)
        ]
    else:
        return Document(file, found, whole, (), lines, whole)
    # A list of three that is short by two is one fault, though pydantic names both.
    faults = tuple(dict.fromkeys(_fault(file, lines, whole, d) for d in doubts))
    return Document(file, None, _without(whole, [d.path for d in doubts]) or {}, faults, lines, whole)


@cache
def _schema(model: type[BaseModel]) -> allowed.Schema:
    return model.model_json_schema()


def _written(value: object) -> str:
    if isinstance(value, date | time):
        return value.isoformat()
    raise TypeError(f"TOML has no {type(value).__name__}")


def _doubt(schema: allowed.Schema, whole: Table, kind: str, loc: Sequence[str | int]) -> Doubt:
    path, node = allowed.resolve(schema, loc)
    if kind.startswith("union_tag") and "discriminator" in node:
        path, node = (*path, node["discriminator"]["propertyName"]), allowed.tags(schema, node)
    elif kind == "extra_forbidden":
        return _unknown_key(path, allowed.keys(schema, node))
    elif path and isinstance(path[-1], int) and kind == "missing":
        path, node = allowed.resolve(schema, path[:-1])
    value: Any = whole
    for step in path:
        value = _inside(value, step)
    return Doubt(path, shown(value), allowed.words(schema, node, str(path[-1]) if path else ""))


def _unknown_key(path: Path, keys: Sequence[str]) -> Doubt:
    near = get_close_matches(str(path[-1]), keys, n=1)
    nearest = f"{near[0]} (nearest), or " if near else ""
    return Doubt(path, "an unknown key", f"{nearest}one of: {', '.join(keys)}")


def shown(value: object) -> str:
    """Return a value as a fault shows it: short, on one line."""
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list):
        return f"a list of {len(value)}" if value else "an empty list"
    text = _printable(json.dumps(value, ensure_ascii=False))
    return text if len(text) <= 60 else f"{text[:57]}..."


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in text)


def _without(value: Any, paths: Iterable[Path]) -> Any:
    """Return a copy with None at those paths."""
    heads: dict[str | int, list[Path]] = {}
    for path in paths:
        if not path:
            return None
        heads.setdefault(path[0], []).append(path[1:])
    if isinstance(value, dict):
        return {k: _without(v, heads.get(k, ())) for k, v in value.items()}
    if isinstance(value, list):
        return [_without(v, heads.get(i, ())) for i, v in enumerate(value)]
    return value
