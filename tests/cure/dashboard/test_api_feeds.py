"""Tables for other software: as CSV, as a sheet, as Parquet, or with words on how to get there."""

from __future__ import annotations

import io
import sys
from collections.abc import Iterator

import openpyxl
import pyarrow.parquet
import pytest
from api_support import V1, Office, office

from deploy import tables_out


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with office(tmp_path_factory.mktemp("office")) as found:
        yield found


def test_a_table_is_the_one_of_the_export_with_formulas_guarded(shared: Office) -> None:
    text = shared.ask("GET", f"{V1}/tables/decisions.csv", shared.token("read")).text
    assert text.startswith("log_line,at,what,bay,pour,operation,from,to")
    assert len(text.splitlines()) > 3
    none = shared.ask("GET", f"{V1}/tables/readings.csv?bay=2-b9", shared.token("read")).text
    assert none.count("\n") == 1


def test_a_table_comes_as_a_file_too_or_says_how_to_get_there(shared: Office, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = shared.ask("GET", f"{V1}/tables/readings.csv", shared.token("read")).text.splitlines()
    sheet = shared.ask("GET", f"{V1}/tables/readings.xlsx", shared.token("read"))
    assert sheet.headers["content-disposition"] == 'attachment; filename="readings.xlsx"'
    rows = list(openpyxl.load_workbook(io.BytesIO(sheet.content)).active.values)
    assert [len(rows), list(rows[0])] == [len(plain), plain[0].split(",")]
    columns = shared.ask("GET", f"{V1}/tables/readings.parquet?bay=2-b1", shared.token("read")).content
    assert pyarrow.parquet.read_table(io.BytesIO(columns)).num_rows == len(plain) - 1
    monkeypatch.setattr(tables_out, "XLSX_ROWS", 5)
    full = shared.ask("GET", f"{V1}/tables/readings.xlsx", shared.token("read"))
    assert (full.status_code, full.json()["detail"][:22]) == (422, "a sheet holds 4 rows: ")
    monkeypatch.setitem(sys.modules, "openpyxl", None)
    missing = shared.ask("GET", f"{V1}/tables/readings.xlsx", shared.token("read"))
    assert missing.status_code == 501
    assert "pip install -e '.[xlsx]'" in missing.json()["detail"]
    assert "readings.csv" in missing.json()["detail"]
