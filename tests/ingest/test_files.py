from __future__ import annotations

import importlib
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zipfile import ZipFile

import openpyxl
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest import files
from ingest.columns import Row
from shared.errors import MissingExtraError, SetupError
from shared.models.files import ColumnMap

LONG = ColumnMap(time="time", sensor="id", value="temp", unit="degC")
AT = datetime(2026, 11, 24, 12, 40, tzinfo=UTC)


def rows(path: Path, columns: ColumnMap = LONG) -> list[Row]:
    with files.open_table(path, columns) as table:
        files.mapper(path, table, columns)
        found = list(table.rows)
        assert table.fraction() == 1.0
        return found


def written(path: Path, text: str | bytes) -> Path:
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def test_each_row_of_a_csv_has_its_line_and_empty_lines_are_none(tmp_path: Path) -> None:
    path = written(tmp_path / "r.csv", "time,id,temp\na,b,c\r\n\nd,e,f\n")
    assert [(row.line, list(row.cells)) for row in rows(path)] == [(2, ["a", "b", "c"]), (4, ["d", "e", "f"])]


def test_a_mark_of_byte_order_is_no_part_of_the_header(tmp_path: Path) -> None:
    assert len(rows(written(tmp_path / "r.csv", b"\xef\xbb\xbftime,id,temp\r\na,b,c\r\n"))) == 1


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_a_csv_in_utf_16_that_says_so_is_read(tmp_path: Path, encoding: str) -> None:
    text = "\ufefftime,id,temp\r\na,b,18 \N{DEGREE SIGN}C\r\nd,e,f\r\n"
    found = rows(written(tmp_path / "r.csv", text.encode(encoding)))
    assert [(row.line, list(row.cells)) for row in found] == [
        (2, ["a", "b", "18 \N{DEGREE SIGN}C"]),
        (3, ["d", "e", "f"]),
    ]
    with pytest.raises(SetupError, match="found no time, id, temp"):
        rows(written(tmp_path / "r.csv", text[1:].encode(encoding)))


def test_what_stands_above_the_header_is_not_read_and_lines_are_still_the_files(tmp_path: Path) -> None:
    columns = LONG.model_copy(update={"header_line": 3, "delimiter": "semicolon"})
    path = written(tmp_path / "r.csv", 'Logger "7\nread out by hand\ntime;id;temp\na;b;c\n')
    assert [(row.line, list(row.cells)) for row in rows(path, columns)] == [(4, ["a", "b", "c"])]


def test_a_stray_quote_costs_its_own_row_and_no_other(tmp_path: Path) -> None:
    path = written(tmp_path / "r.csv", 'time,id,temp\na,"b,c\nd,"e",f\ng,h,"i"x\nj,k,l\n')
    found = rows(path)
    assert [(row.line, bool(row.fault)) for row in found] == [(2, True), (3, False), (4, True), (5, False)]
    assert list(found[1].cells) == ["d", "e", "f"]


def test_bytes_that_are_no_text_cost_their_own_row(tmp_path: Path) -> None:
    path = written(tmp_path / "r.csv", b"time,id,temp\na,b,\xff\xfe\nd,e,f\n")
    assert [row.cells[2] for row in rows(path)] == ["\\xff\\xfe", "f"]


@given(
    st.lists(
        st.lists(
            st.text(st.characters(codec="ascii", exclude_characters='\r\n",\x0b\x0c\x1c\x1d\x1e'), min_size=1),
            min_size=3,
            max_size=3,
        )
    )
)
def test_cells_come_out_as_they_stand(tmp_path_factory: pytest.TempPathFactory, table: list[list[str]]) -> None:
    path = tmp_path_factory.mktemp("cells") / "r.csv"
    written(path, "time,id,temp\n" + "".join(",".join(row) + "\n" for row in table))
    assert [list(row.cells) for row in rows(path)] == table


def test_chunks_begin_after_what_is_done(tmp_path: Path) -> None:
    path = written(tmp_path / "r.csv", "time,id,temp\n" + "".join(f"{n},b,c\n" for n in range(10)))
    with files.open_table(path, LONG) as table:
        chunks = [[row.cells[0] for row in chunk] for chunk in table.chunks(4, skip=3)]
    assert chunks == [["3", "4", "5", "6"], ["7", "8", "9"]]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "found no time, id, temp; allowed: the columns there: nothing"),
        ("time,id\n", "found no temp"),
        ("time,id,temp,temp\n", "found temp twice"),
    ],
)
def test_a_header_that_does_not_fit_is_told_with_what_is_there(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(SetupError, match=rf"r\.csv:1: header: {said}"):
        rows(written(tmp_path / "r.csv", text))


def test_another_kind_of_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match=r"one of \.csv, \.txt, \.parquet, \.xlsx"):
        rows(written(tmp_path / "r.ods", ""))


def test_parquet_is_read_with_its_types(tmp_path: Path) -> None:
    path = tmp_path / "r.parquet"
    times = pa.array([AT, None], pa.timestamp("us", tz="UTC"))
    table = pa.table({"time": times, "id": ["lg-01.1", "lg-01.1"], "temp": pa.array([18.25, None])})
    pq.write_table(table, path)
    assert [(row.line, list(row.cells)) for row in rows(path)] == [
        (1, ["2026-11-24 12:40:00+00:00", "lg-01.1", "18.25"]),
        (2, ["", "lg-01.1", ""]),
    ]


def test_a_sheet_is_read_with_its_types_and_its_rows(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    for cells in (["read out"], ["time", "id", "temp"], [AT.replace(tzinfo=None), "lg-01.1", 18.25], [], ["x", "y", 7]):
        sheet.append(cells)
    book.save(tmp_path / "r.xlsx")
    columns = LONG.model_copy(update={"header_line": 2})
    assert [(row.line, list(row.cells)) for row in rows(tmp_path / "r.xlsx", columns)] == [
        (3, ["2026-11-24 12:40:00", "lg-01.1", "18.25"]),
        (5, ["x", "y", "7"]),
    ]


@pytest.mark.parametrize("name", ["r.parquet", "r.xlsx"])
def test_a_damaged_file_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(SetupError, match="allowed: a"):
        rows(written(tmp_path / name, b"PK or PAR1, but not really"))


@pytest.mark.parametrize(("name", "module"), [("r.parquet", "pyarrow"), ("r.xlsx", "openpyxl")])
def test_without_its_package_the_extra_is_named(
    tmp_path: Path, name: str, module: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = importlib.import_module

    def missing(wanted: str) -> Any:
        if wanted.partition(".")[0] == module:
            raise ModuleNotFoundError(wanted)
        return real(wanted)

    monkeypatch.setattr("ingest.files.import_module", missing)
    with pytest.raises(MissingExtraError, match=rf"'\.\[{name.partition('.')[2]}\]'"):
        rows(written(tmp_path / name, b""))


def broken(path: Path, member: bytes) -> Path:
    """Spoil a file in its middle, behind its head; its length and end stay."""
    whole = bytearray(path.read_bytes())
    at = whole.index(member) + len(member)
    middle = at + (len(whole) - at) // 3
    whole[middle : middle + 64] = bytes(64)
    path.write_bytes(whole)
    return path


@pytest.mark.parametrize(
    ("name", "member", "said"),
    [
        ("r.parquet", b"PAR1", r"after row \d+: found .*, whole"),
        ("r.xlsx", b"xl/worksheets/sheet1.xml", r"after row \d+: found .*, whole"),
        # Without the size of the sheet all of it is read for that first.
        ("streamed.xlsx", b"xl/worksheets/sheet1.xml", "file: found .*an XLSX workbook"),
    ],
)
def test_a_file_that_cannot_be_read_behind_its_head_is_refused_in_words(
    tmp_path: Path, name: str, member: bytes, said: str
) -> None:
    path, number = tmp_path / name, 600
    table = [(f"{AT.isoformat()}{n}", "lg-01.1", n * 7919 % 1009) for n in range(number)]
    if path.suffix == ".parquet":
        named = dict(zip(("time", "id", "temp"), map(list, zip(*table, strict=True)), strict=True))
        pq.write_table(pa.table(named), path, compression="gzip")
    else:
        book = openpyxl.Workbook(write_only=name != "r.xlsx")
        sheet = book.active or book.create_sheet()
        for cells in (("time", "id", "temp"), *table):
            sheet.append(cells)
        book.save(path)
    assert len(rows(path)) == number
    with pytest.raises(SetupError, match=rf"{name}: {said}"):
        rows(broken(path, member))


def test_hours_to_the_nanosecond_are_read_to_the_microsecond_before_them(tmp_path: Path) -> None:
    at_ns = int(AT.timestamp()) * 10**9 + 123_456_789
    times = pa.array([at_ns], pa.timestamp("ns", tz="UTC"))
    pq.write_table(pa.table({"time": times, "id": ["lg-01.1"], "temp": [18.25]}), tmp_path / "r.parquet")
    assert [row.cells[0] for row in rows(tmp_path / "r.parquet")] == ["2026-11-24 12:40:00.123456+00:00"]


def test_a_sheet_that_says_a_wrong_size_of_itself_is_read_whole(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    for cells in (["time", "id", "temp"], ["a", "lg-01.1", 18], ["b", "lg-01.2"], ["c", "lg-01.1", 19, None]):
        sheet.append(cells)
    sheet.cell(4, 6).value = ""
    book.save(tmp_path / "whole.xlsx")
    with ZipFile(tmp_path / "whole.xlsx") as whole, ZipFile(tmp_path / "r.xlsx", "w") as lies:
        for name in whole.namelist():
            said = whole.read(name)
            if name == "xl/worksheets/sheet1.xml":
                assert b"<dimension ref=" in said
                said = re.sub(rb'<dimension ref="[^"]*"', b'<dimension ref="A1:B2"', said)
            lies.writestr(name, said)
    assert [(row.line, list(row.cells)) for row in rows(tmp_path / "r.xlsx")] == [
        (2, ["a", "lg-01.1", "18"]),
        (3, ["b", "lg-01.2", ""]),
        (4, ["c", "lg-01.1", "19"]),
    ]


def test_a_workbook_without_a_sheet_is_refused_in_words(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.create_chartsheet()
    book.remove(book.worksheets[0])
    book.save(tmp_path / "r.xlsx")
    with pytest.raises(SetupError, match="allowed: an XLSX workbook"):
        rows(tmp_path / "r.xlsx")
