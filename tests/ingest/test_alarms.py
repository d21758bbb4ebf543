from __future__ import annotations

import pytest
from ingest_support import NOW

from ingest.alarms import Alarms
from ingest.reconnect import TAKEN_OVER


def alarms(*hours: int) -> Alarms:
    return Alarms("slabhour-yard-ingest", iter(hours).__next__)


@pytest.mark.row("B5")
def test_a_forgotten_session_is_told_with_its_span_of_time() -> None:
    one = alarms(NOW, NOW + 3_600_000)
    one.connected()
    one.session_lost()
    (said,) = one.told()
    assert said.endswith("from 2026-11-24T09:00:00+00:00 to 2026-11-24T10:00:00+00:00 may be lost")


@pytest.mark.row("B6")
def test_connections_that_are_granted_and_soon_ended_are_told_once() -> None:
    one = alarms()
    for _ in range(TAKEN_OVER - 1):
        one.ended(soon=True, granted=True)
    one.ended(soon=True, granted=False)
    assert one.told() == ()
    for _ in range(2 * TAKEN_OVER):
        one.ended(soon=True, granted=True)
    assert [said for said in one.told() if "another client" in said] == list(one.told())
    assert len(one.told()) == 1


@pytest.mark.row("B3")
def test_what_the_broker_drops_is_told_and_what_it_dropped_before_is_not() -> None:
    one = alarms()
    one.dropped(b"7", kept=True)
    for count in (b"7", b"?", b"0", b"0"):
        one.dropped(count, kept=False)
    assert one.told() == ()
    for count in (b"3", b"3", b"12"):
        one.dropped(count, kept=False)
    assert [said.split()[8] for said in one.told()] == ["3", "12"]
