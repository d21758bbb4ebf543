"""A store that is away for a minute (`FAULT_SCALE=10`: ten), each kind: nothing is acknowledged, nothing is lost."""

from __future__ import annotations

from pathlib import Path

import pytest
from influx_support import NEEDS_INFLUXDB
from outages import OUTAGE_S, outage

from ingest import writer
from shared.store import influx_server

SAID = {"influxdb": "does not answer", "sqlite": "database is locked"}


@pytest.mark.row("S2", "S4", "N5")
@pytest.mark.parametrize("kind", [pytest.param("influxdb", marks=NEEDS_INFLUXDB), "sqlite"])
def test_through_an_outage_nothing_is_acknowledged_and_afterwards_all_is_there_in_order(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(writer, "LONGEST_WAIT_S", 1.0)
    monkeypatch.setattr(influx_server, "PATIENCE_S", 1.0)
    came = outage(kind, tmp_path)
    assert came.lasted_s >= OUTAGE_S
    assert SAID[kind] in came.trouble
    assert came.acknowledged_meanwhile == 0
    assert came.stalest_s < 60.0, "the watchdog would end the service"
    assert came.offered >= min(OUTAGE_S, 300.0) * 5, "too few came to say anything"
    assert (came.lost, came.refused, came.in_order) == (0, 0, True)
