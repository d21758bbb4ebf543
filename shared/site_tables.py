"""Looks into the tables of a site file, of which any part may be absent or at fault."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from pydantic import BaseModel

from shared.toml_lines import Path
from shared.toml_model import Table


def tables(table: Table, name: str) -> Iterator[tuple[Path, Table]]:
    """Yield the tables of an array of tables with their paths."""
    for index, entry in enumerate(table.get(name) or ()):
        if isinstance(entry, dict):
            yield (name, index), entry


def nested(entry: Table, path: Path, name: str) -> Iterator[tuple[Path, Table]]:
    """Yield the tables of an array inside a table with their paths."""
    for (_, index), inner in tables(entry, name):
        yield (*path, name, index), inner


def table_of(table: Table, name: str) -> Table:
    """Return a table inside a table; empty when there is none."""
    return table.get(name) or {}


def in_force(entry: Table, model: type[BaseModel], name: str) -> Any:
    """Return the value in force; None when the one that is written is at fault."""
    return entry.get(name, model.model_fields[name].default)


def ids(table: Table, name: str) -> list[str]:
    """Return the ids in an array of tables."""
    return [entry["id"] for _, entry in tables(table, name) if entry.get("id") is not None]


def listed(names: Sequence[str]) -> str:
    """Return names as a fault lists them."""
    return ", ".join(f'"{n}"' for n in names) or "none"
