"""Where a column map comes from: options of a command, a file of its own, or the site file."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shared.errors import Fault, SetupError
from shared.file_checks import map_doubts
from shared.models.files import ColumnMap
from shared.toml_model import field_of, read, shown

WHERE = "column map"


def map_beside(path: Path) -> Path:
    """Return where the map of a file lies, if it has one."""
    return path.with_name(f"{path.name}.toml")


def load_map(path: Path) -> ColumnMap:
    """Read a map. Raises `SetupError` with every fault of it."""
    document = read(path, ColumnMap)
    faults = [*document.faults, *map(document.fault, map_doubts(document.table))]
    if faults or document.model is None:
        raise SetupError(faults)
    return document.model


def map_of(base: ColumnMap | None, options: Mapping[str, Any]) -> ColumnMap:
    """Return a map with options in place of what it says. Raises `SetupError` with what is missing or wrong."""
    below: dict[str, Any] = {} if base is None else base.model_dump(mode="json", exclude_none=True)
    if "columns" in options:
        below = {name: value for name, value in below.items() if name not in {"sensor", "value"}}
    elif {"sensor", "value"} & options.keys():
        below.pop("columns", None)
    whole = {**below, **options}
    try:
        found = ColumnMap.model_validate_json(json.dumps(whole), strict=True)
    except ValidationError as error:
        raise SetupError(
            [
                Fault(WHERE, None, field_of(e["loc"], whole), shown(_found(e["loc"], whole)), e["msg"])
                for e in error.errors(include_url=False)
            ]
        ) from error
    doubts = list(map_doubts(whole))
    if doubts:
        raise SetupError([Fault(WHERE, None, field_of(d.path, whole), d.found, d.allowed) for d in doubts])
    return found


def _found(loc: tuple[str | int, ...], whole: Mapping[str, Any]) -> Any:
    value: Any = whole
    for step in loc:
        try:
            value = value[step]
        except (KeyError, IndexError, TypeError):
            return None
    return value


def to_toml(columns: ColumnMap) -> str:
    """Return a map as `load_map` reads it."""
    lines = []
    for name, value in columns.model_dump(mode="json", exclude_none=True).items():
        if name == "columns":
            inner = [", ".join(f"{k} = {_quoted(v)}" for k, v in column.items()) for column in value]
            lines.append(f"columns = [{', '.join(f'{{ {one} }}' for one in inner)}]")
        else:
            lines.append(f"{name} = {_quoted(value)}")
    return "\n".join(lines) + "\n"


def _quoted(value: object) -> str:
    # TOML's basic strings are JSON's, but for the delete character.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
