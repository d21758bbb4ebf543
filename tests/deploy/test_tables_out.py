from __future__ import annotations

import csv
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import openpyxl
import pyarrow.parquet as pq
import pytest

from deploy import tables_out
from deploy.tables_out import WRITERS, Column, Row, write_table
from ingest import files
from shared.errors import MissingExtraError, SlabError

COLUMNS = (Column("name", "text"), Column("at", "time"), Column("c", "number"), Column("n", "whole"))
AT_MS = 1_795_524_000_000
"""2026-11-24T12:40Z."""
ROWS: list[Row] = [("lg-01.1", AT_MS, -0.5, -500), ("=1+1", None, None, None), ("-", AT_MS + 1, 18.25, 18250)]
HALIFAX = "America/Halifax"
ISO = ["2026-11-24T08:40:00.000-04:00", "2026-11-24T08:40:00.001-04:00"]


@pytest.mark.row("M10")
def test_a_csv_has_hours_with_their_offset_and_guarded_text(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    assert write_table(path, COLUMNS, ROWS, HALIFAX) == 3
    with path.open(encoding="utf-8", newline="") as file:
        assert list(csv.reader(file)) == [
            ["name", "at", "c", "n"],
            ["lg-01.1", ISO[0], "-0.5", "-500"],
            ["'=1+1", "", "", ""],
            ["'-", ISO[1], "18.25", "18250"],
        ]


@pytest.mark.row("M10")
def test_a_sheet_has_numbers_as_numbers_and_no_formula(tmp_path: Path) -> None:
    path = tmp_path / "t.xlsx"
    assert write_table(path, COLUMNS, ROWS, HALIFAX) == 3
    sheet = openpyxl.load_workbook(path).active
    assert [[cell.value for cell in row] for row in sheet.iter_rows()] == [
        ["name", "at", "c", "n"],
        ["lg-01.1", ISO[0], -0.5, -500],
        ["'=1+1", None, None, None],
        ["'-", ISO[1], 18.25, 18250],
    ]
    assert {cell.data_type for row in sheet.iter_rows() for cell in row} <= {"s", "n"}


def test_parquet_has_types_and_the_sites_zone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables_out, "PARQUET_ROWS", 2)
    path = tmp_path / "t.parquet"
    assert write_table(path, COLUMNS, ROWS, HALIFAX) == 3
    table = pq.read_table(path)
    assert [str(field.type) for field in table.schema] == [
        "string",
        "timestamp[ms, tz=America/Halifax]",
        "double",
        "int64",
    ]
    at = datetime(2026, 11, 24, 12, 40, tzinfo=UTC).astimezone(ZoneInfo(HALIFAX))
    assert table.to_pylist()[0] == {"name": "lg-01.1", "at": at, "c": -0.5, "n": -500}
    assert table.column("name").to_pylist() == ["lg-01.1", "=1+1", "-"]


@pytest.mark.parametrize("suffix", sorted(WRITERS))
def test_a_table_without_rows_has_its_head(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"t{suffix}"
    assert write_table(path, COLUMNS, [], HALIFAX) == 0
    assert path.stat().st_size > 0
    if suffix == ".parquet":
        assert pq.read_table(path).column_names == ["name", "at", "c", "n"]


@pytest.mark.parametrize("suffix", sorted(WRITERS))
def test_a_table_that_fails_leaves_what_was_there(tmp_path: Path, suffix: str) -> None:
    path = tmp_path / f"t{suffix}"
    path.write_bytes(b"before")

    def failing() -> Any:
        yield ROWS[0]
        raise SlabError("the store failed")

    with pytest.raises(SlabError, match="the store failed"):
        write_table(path, COLUMNS, failing(), HALIFAX)
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    assert path.read_bytes() == b"before"


def test_more_rows_than_a_sheet_holds_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tables_out, "XLSX_ROWS", 3)
    with pytest.raises(SlabError, match="a sheet holds 2 rows"):
        write_table(tmp_path / "t.xlsx", COLUMNS, ROWS, HALIFAX)
    assert list(tmp_path.iterdir()) == []


def test_another_kind_of_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SlabError, match=r"one of \.csv, \.parquet, \.xlsx"):
        write_table(tmp_path / "t.ods", COLUMNS, ROWS, HALIFAX)


@pytest.mark.parametrize("extra", ["parquet", "xlsx"])
def test_without_its_package_the_extra_is_named(tmp_path: Path, extra: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(wanted: str) -> Any:
        raise ModuleNotFoundError(wanted)

    monkeypatch.setattr(files, "import_module", missing)
    with pytest.raises(MissingExtraError, match=rf"'\.\[{extra}\]'"):
        write_table(tmp_path / f"t.{extra}", COLUMNS, ROWS, HALIFAX)
