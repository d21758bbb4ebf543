"""Tables as whole files that are served: written beside, sent in pieces, gone when they are read."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from importlib.util import find_spec
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import BinaryIO, Final

from cure.dashboard.downloads import TableFiles
from deploy.exporting import FIRST_MS, LAST_MS, SHEETS, Sheet, Wanted
from deploy.tables_out import write_table
from shared.ports import BoardBook, Readings

PIECE_BYTES: Final = 65_536
EXTRAS: Final = {"xlsx": "openpyxl", "parquet": "pyarrow"}
"""How the name of a file ends, and the package that writes it."""


def table_files(board: BoardBook, readings: Readings) -> TableFiles:
    """Return what the pages hand out beside CSV: of which kinds the extra is installed, and how one is written."""

    def write(name: str, bays: Sequence[str]) -> Iterator[bytes]:
        of, _, _ = name.partition(".")
        return written(name, SHEETS[of](board, readings, Wanted(FIRST_MS, LAST_MS, (), tuple(bays))), zone_of(board))

    return TableFiles(tuple(kind for kind, package in EXTRAS.items() if find_spec(package) is not None), write)


def zone_of(board: BoardBook) -> str:
    """Return the time zone of the site."""
    return board.site().site.zone


def written(name: str, sheet: Sheet, zone: str) -> Iterator[bytes]:
    """Write a table beside what is served, and return its pieces: what cannot be written is told before any is sent."""
    with TemporaryDirectory(prefix="slabhour-table-") as folder:
        path = Path(folder, name)
        write_table(path, sheet.columns, sheet.rows, zone)
        # What is open can be read to its end, also when its name is gone.
        file = path.open("rb")
    return _pieces(file)


def _pieces(file: BinaryIO) -> Iterator[bytes]:
    with file:
        while piece := file.read(PIECE_BYTES):
            yield piece
