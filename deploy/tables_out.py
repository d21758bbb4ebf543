"""Tables written as CSV, Parquet or XLSX, a row at a time.

Text that a spreadsheet would take for a formula is guarded in CSV and XLSX; Parquet has types and needs no guard. A
file appears whole or not at all.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from datetime import tzinfo
from pathlib import Path
from typing import Any, Final, Literal, TypeAlias
from zoneinfo import ZoneInfo

from deploy.cells import guarded
from ingest.files import extra
from shared.errors import SlabError, TooManyRowsError
from shared.models.acts import instant
from shared.models.base import Ms

Kind: TypeAlias = Literal["text", "number", "whole", "time"]
Cell: TypeAlias = str | float | int | None
Row: TypeAlias = Sequence[Cell]
"""A time is whole milliseconds UTC until it is written."""
PARQUET_ROWS: Final = 50_000
CSV_ROWS: Final = 500
"""At once, of a download."""
XLSX_ROWS: Final = 1_048_576
"""Rows of a sheet, its head included (the format's own limit)."""


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its head, which names the unit, and what its cells are."""

    name: str
    kind: Kind


Write: TypeAlias = Callable[[Row], None]
Opened: TypeAlias = AbstractContextManager[Write]


def write_table(path: Path, columns: Sequence[Column], rows: Iterable[Row], zone: str) -> int:
    """Write a table; return its number of rows.

    Args:
        path: its end says which kind of file.
        columns: of the table.
        rows: a cell for each column.
        zone: of the site; hours are written with their offset there.

    Raises:
        SlabError: no such kind of file, or more rows than it can hold.
        MissingExtraError: the package for it is not installed.
    """
    opener = WRITERS.get(path.suffix.lower())
    if opener is None:
        raise SlabError(f"{path.name}: the name of the file must end in one of {', '.join(WRITERS)}")
    part = path.with_name(f".{path.name}.part")
    number = 0
    try:
        with opener(part, columns, ZoneInfo(zone)) as write:
            for row in rows:
                write(row)
                number += 1
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return number


def iso(at_ms: Ms, place: tzinfo) -> str:
    """Return an hour as ISO 8601 with its offset, to the millisecond."""
    return instant(at_ms, place).isoformat(timespec="milliseconds")


def _plain(columns: Sequence[Column], row: Row, place: tzinfo) -> list[Cell]:
    """Return cells as text formats have them."""
    cells: list[Cell] = []
    for column, cell in zip(columns, row, strict=True):
        if column.kind == "time" and cell is not None:
            cells.append(iso(int(cell), place))
        elif isinstance(cell, str):
            cells.append(guarded(cell))
        else:
            cells.append(cell)
    return cells


def csv_lines(columns: Sequence[Column], rows: Iterable[Row], zone: str) -> Iterator[str]:
    """Yield a table as CSV, some lines at a time, as `write_table` would write it."""
    place, text = ZoneInfo(zone), io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow([column.name for column in columns])
    for number, row in enumerate(rows, 1):
        table.writerow(_plain(columns, row, place))
        if number % CSV_ROWS == 0:
            yield text.getvalue()
            text.seek(0)
            text.truncate()
    yield text.getvalue()


@contextmanager
def _csv(path: Path, columns: Sequence[Column], place: tzinfo) -> Iterator[Write]:
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow([column.name for column in columns])
        yield lambda row: table.writerow(_plain(columns, row, place))


@contextmanager
def _xlsx(path: Path, columns: Sequence[Column], place: tzinfo) -> Iterator[Write]:
    book = extra("openpyxl", "xlsx").Workbook(write_only=True)
    sheet = book.create_sheet("slabhour")
    sheet.freeze_panes = "A2"
    sheet.append([column.name for column in columns])
    left = XLSX_ROWS - 1

    def write(row: Row) -> None:
        nonlocal left
        if left == 0:
            raise TooManyRowsError(
                f"a sheet holds {XLSX_ROWS - 1} rows: write CSV or Parquet, or less with --from and --to"
            )
        left -= 1
        sheet.append(_plain(columns, row, place))

    try:
        yield write
        book.save(path)
    finally:
        # Else the file that openpyxl collects its rows in stays open.
        if not sheet.closed:
            sheet.close()


@contextmanager
def _parquet(path: Path, columns: Sequence[Column], place: tzinfo) -> Iterator[Write]:
    arrow, parquet = extra("pyarrow", "parquet"), extra("pyarrow.parquet", "parquet")
    types = {
        "text": arrow.string(),
        "number": arrow.float64(),
        "whole": arrow.int64(),
        "time": arrow.timestamp("ms", tz=str(place)),
    }
    schema = arrow.schema([(column.name, types[column.kind]) for column in columns])
    waiting: list[Row] = []

    def flush(file: Any) -> None:
        cells = list(zip(*waiting, strict=True)) or [()] * len(columns)
        arrays = [arrow.array(list(one), type=field.type) for one, field in zip(cells, schema, strict=True)]
        file.write_table(arrow.Table.from_arrays(arrays, schema=schema))
        waiting.clear()

    with parquet.ParquetWriter(path, schema) as file:

        def write(row: Row) -> None:
            waiting.append(row)
            if len(waiting) == PARQUET_ROWS:
                flush(file)

        yield write
        flush(file)


WRITERS: Final[dict[str, Callable[[Path, Sequence[Column], tzinfo], Opened]]] = {
    ".csv": _csv,
    ".parquet": _parquet,
    ".xlsx": _xlsx,
}
"""Writers by the end of a file's name."""
