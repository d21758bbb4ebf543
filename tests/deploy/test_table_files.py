"""Tables as files that the pages hand out: of the kinds whose extra is installed, with what CSV has."""

from __future__ import annotations

import io
from pathlib import Path

import openpyxl
import pyarrow.parquet
import pytest
from deploy_support import little_service, poured

from cure.dashboard.downloads import KINDS
from deploy import table_files as module
from deploy.table_files import EXTRAS, table_files


def test_a_table_is_written_in_every_kind_whose_extra_is_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert set(EXTRAS) == set(KINDS)
    with little_service(tmp_path) as (service, clock):
        for done in poured():
            clock.set(max(clock.now(), done.at_ms))
            service.apply(done)
        files = table_files(service.book.board, service.readings)
        assert files.kinds == ("xlsx", "parquet")
        sheet = b"".join(files.write("decisions.xlsx", []))
        rows = list(openpyxl.load_workbook(io.BytesIO(sheet)).active.values)
        table = pyarrow.parquet.read_table(io.BytesIO(b"".join(files.write("decisions.parquet", ["2-b1"]))))
        assert (rows[0][0], table.column_names[0], table.num_rows) == ("log_line", "log_line", len(rows) - 1)
        monkeypatch.setattr(module, "find_spec", lambda package: None if package == "pyarrow" else package)
        assert table_files(service.book.board, service.readings).kinds == ("xlsx",)
