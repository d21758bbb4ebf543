"""Other software reads the office's pages too: the same sheet, scores and orders."""

from __future__ import annotations

from pathlib import Path

from api_support import office

from cure.dashboard.shift import GROUPS


def test_the_sheet_the_scores_and_the_orders_are_read(tmp_path: Path) -> None:
    with office(tmp_path) as found:
        told = found.read("shift")
        assert set(told["sheet"]) == {"code", *GROUPS}
        assert {entry["of"] for entry in told["sheet"]["sign-off"]} == {"2-b1"}
        assert told["taken_over"] == []
        assert "govern" in told["caution"]
        assert found.read("forecast-scores")["lines"][0]["forecasts"] == 0
        orders = found.read("break-orders")
        assert [pour["bay"] for pour in orders["pours"]] == ["2-b1"]
        assert "releases nothing" in orders["caution"]
        ledger = found.ask("GET", "/api/v1/tables/ledger.csv", found.token("read"))
        assert ledger.text.startswith("floor,bay,pour,operation,wanted_at")
