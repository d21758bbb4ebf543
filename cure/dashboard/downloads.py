"""Tables as files for a spreadsheet or for analysis, beside CSV: those for which this service has the extra."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

KINDS: Final = {
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    "parquet": "application/vnd.apache.parquet",
}
"""How the name of a file ends, and what it is; each by its extra."""


@dataclass(frozen=True, slots=True)
class TableFiles:
    """What whoever wires can write."""

    kinds: tuple[str, ...]
    """Endings of `KINDS` whose extra is installed."""
    write: Callable[[str, Sequence[str]], Iterator[bytes]]
    """A table's name with its ending, bays (none: all): the pieces of the file. Raises `SlabError`."""


def _none(_name: str, _bays: Sequence[str]) -> Iterator[bytes]:
    return iter(())


NO_FILES: Final = TableFiles((), _none)
