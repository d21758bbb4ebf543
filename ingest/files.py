"""Tables in files, row by row: CSV, and Parquet and XLSX when their packages are installed.

A row of a CSV is a line of it, so that each has its number and none hides another: one that is too short, too long or
badly quoted is a refused row with its line. Every cell is handed on as text.
"""

from __future__ import annotations

import csv
from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from importlib import import_module
from io import TextIOWrapper
from itertools import islice
from pathlib import Path
from typing import Any, Final

from ingest.columns import DELIMITERS, Mapper, Row, missing_columns
from shared.errors import Fault, MissingExtraError, SetupError
from shared.models.files import ColumnMap

PARQUET_ROWS: Final = 10_000


@dataclass(frozen=True, slots=True)
class Table:
    """A table that is open: its header and, once, its rows."""

    header: Sequence[str]
    rows: Iterator[Row]
    fraction: Callable[[], float]
    """How much of the file has been read, 0 to 1."""

    def chunks(self, size: int, skip: int = 0) -> Iterator[list[Row]]:
        """Yield the rows after the first `skip`, so many at a time."""
        rows = islice(self.rows, skip, None)
        while chunk := list(islice(rows, size)):
            yield chunk


@contextmanager
def open_table(path: Path, columns: ColumnMap) -> Iterator[Table]:
    """Open a table.

    Raises:
        SetupError: it cannot be read as what its name says, or has no header.
        MissingExtraError: the package for this kind of file is not installed.
    """
    opener = TABLES.get(path.suffix.lower())
    if opener is None:
        raise _refused(path, "name", repr(path.suffix), f"one of {', '.join(TABLES)}")
    with opener(path, columns) as table:
        yield table


def mapper(path: Path, table: Table, columns: ColumnMap, received: str | None = None) -> Mapper:
    """Return what reads the table's rows. Raises `SetupError` when the header lacks a column."""
    missing = missing_columns(columns, table.header)
    if missing:
        found = f"no {', '.join(missing)}" if not set(missing) & set(table.header) else f"{missing[0]} twice"
        there = ", ".join(table.header) or "nothing"
        raise SetupError([Fault(str(path), columns.header_line, "header", found, f"the columns there: {there}")])
    return Mapper(columns, table.header, received if received in table.header else None)


def extra(module: str, name: str) -> Any:
    """Return a module of an optional package. Raises `MissingExtraError`."""
    try:
        return import_module(module)
    except ModuleNotFoundError as error:
        raise MissingExtraError(name) from error


def _refused(path: Path, what: str, found: str, allowed: str) -> SetupError:
    return SetupError([Fault(str(path), None, what, found, allowed)])


@contextmanager
def _csv(path: Path, columns: ColumnMap) -> Iterator[Table]:
    size = path.stat().st_size
    with path.open("rb") as raw:
        # What says so at its beginning; programs that read loggers out write it too.
        encoding = "utf-16" if raw.read(2) in {BOM_UTF16_LE, BOM_UTF16_BE} else "utf-8-sig"
    # Bytes that are no UTF-8 stay visible in the refusal of their row, or in the header.
    with path.open("rb") as raw, TextIOWrapper(raw, encoding, "backslashreplace", newline="") as file:
        rows = _csv_rows(file, DELIMITERS[columns.delimiter], columns.header_line)
        first = next(rows, None)
        header = [] if first is None else [cell.strip() for cell in first.cells]
        yield Table(header, rows, lambda: raw.tell() / size if size else 1.0)


def _csv_rows(file: TextIOWrapper, delimiter: str, first: int) -> Iterator[Row]:
    # A row is a line: by itself, the standard library's reader would take all that follows a stray quote for one cell.
    for number, line in enumerate(islice(file, first - 1, None), first):
        plain = line.rstrip("\r\n")
        if '"' not in plain:
            if plain:
                yield Row(number, plain.split(delimiter))
            continue
        try:
            yield Row(number, next(csv.reader([plain], delimiter=delimiter, strict=True)))
        except csv.Error as error:
            yield Row(number, [plain], f"not a row of a CSV: {error}")


def _text(cell: object) -> str:
    if cell is None:
        return ""
    return cell.isoformat(sep=" ") if isinstance(cell, datetime) else str(cell)


def _whole(path: Path, rows: Iterator[Row], errors: tuple[type[Exception], ...], allowed: str) -> Iterator[Row]:
    """Yield the rows. Raises `SetupError`: the file cannot be read behind one of them."""
    line = 0
    try:
        for row in rows:
            line = row.line
            yield row
    except errors as error:
        raise _refused(path, f"after row {line}", str(error) or type(error).__name__, f"{allowed}, whole") from error


@contextmanager
def _parquet(path: Path, _columns: ColumnMap) -> Iterator[Table]:
    parquet, arrow = extra("pyarrow.parquet", "parquet"), extra("pyarrow", "parquet")
    # Of its own errors some are of these kinds as well.
    errors = (arrow.ArrowException, OSError, ValueError)
    try:
        file = parquet.ParquetFile(path)
    except errors as error:
        raise _refused(path, "file", str(error), "a Parquet file") from error
    done = 0

    def cells_of(column: Any) -> list[Any]:
        if arrow.types.is_timestamp(column.type) and column.type.unit == "ns":
            # Python's times have no nanoseconds; nor has a reading.
            column = column.cast(arrow.timestamp("us", column.type.tz), safe=False)
        found: list[Any] = column.to_pylist()
        return found

    def rows() -> Iterator[Row]:
        nonlocal done
        for batch in file.iter_batches(PARQUET_ROWS):
            for cells in zip(*map(cells_of, batch.columns), strict=True):
                done += 1
                yield Row(done, [_text(cell) for cell in cells])

    with file:
        whole = _whole(path, rows(), errors, "a Parquet file")
        yield Table(file.schema_arrow.names, whole, lambda: done / max(1, file.metadata.num_rows))


@contextmanager
def _xlsx(path: Path, columns: ColumnMap) -> Iterator[Table]:
    openpyxl = extra("openpyxl", "xlsx")
    # It closes what it opens by itself only when all goes well.
    with path.open("rb") as raw:
        try:
            book = openpyxl.load_workbook(raw, read_only=True, data_only=True)
        except Exception as error:
            # A damaged workbook comes out as whatever its readers of ZIP and XML raise.
            raise _refused(path, "file", str(error) or type(error).__name__, "an XLSX workbook") from error
        try:
            yield _sheet(path, book, columns.header_line)
        finally:
            book.close()


def _sheet(path: Path, book: Any, header_line: int) -> Table:
    """Return the first sheet of a workbook, whatever size it says of itself: some programs write down a wrong one."""
    sheet = book.worksheets[0]
    last, done = max(1, sheet.max_row or 1), header_line
    sheet.reset_dimensions()
    rows = _whole(path, _sheet_rows(sheet), (Exception,), "an XLSX workbook")
    head = next((row for row in rows if row.line >= header_line), None)
    names = [] if head is None or head.line != header_line else [cell.strip() for cell in head.cells]

    def below() -> Iterator[Row]:
        nonlocal done
        for row in rows:
            done = row.line
            # A row ends with the last cell that somebody touched; what stands beyond the header is another matter.
            beyond = row.cells[len(names) :]
            cells = row.cells if any(beyond) else row.cells[: len(names)]
            yield row._replace(cells=[*cells, *[""] * (len(names) - len(cells))])

    return Table(names, below(), lambda: min(1.0, done / last))


def _sheet_rows(sheet: Any) -> Iterator[Row]:
    for number, cells in enumerate(sheet.iter_rows(values_only=True), 1):
        if any(cell is not None for cell in cells):
            yield Row(number, [_text(cell) for cell in cells])


TABLES: Final = {".csv": _csv, ".txt": _csv, ".parquet": _parquet, ".xlsx": _xlsx}
"""Readers by the end of a file's name."""
