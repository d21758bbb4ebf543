"""What the live demo recorded, replayed: by then it has run, with the machine to itself, or it is run for this."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest
from demo_run import INTERVAL_MS, RECORD, Demo, ran

from deploy.demo.ledger import differences, lines_of
from deploy.demo.scenario import CLOSE_MS, SITE_FILE
from deploy.replay import read_acts, read_readings, replay
from shared.models.acts import ms
from shared.models.decisions import LogEntry
from shared.sitefile import load

pytestmark = pytest.mark.long


@pytest.fixture
def demo(tmp_path: Path) -> Demo:
    before = None if RECORD is None else Demo(Path(RECORD))
    return before if before is not None and before.recorded else ran(tmp_path)


def test_a_replay_of_what_it_recorded_makes_the_same_decisions_within_two_intervals(demo: Demo) -> None:
    told: list[LogEntry] = []

    def tell(line: dict[str, object]) -> None:
        if line["what"] == "gate":
            told.append(LogEntry(ms(datetime.fromisoformat(str(line["at"]))), str(line["who"]), "gate", line))

    readings, acts = read_readings(demo.folder / "readings.csv"), read_acts(demo.folder / "acts.jsonl")
    replay(load(SITE_FILE), readings, acts, until_ms=CLOSE_MS, tell=tell)
    live = [x for x in demo.ledger() if x.at_ms <= max(r.received_ms for r in readings)]
    replayed = [x for x in lines_of(told) if x.at_ms <= max(r.received_ms for r in readings)]
    assert differences(live, replayed, 2 * INTERVAL_MS) == []
