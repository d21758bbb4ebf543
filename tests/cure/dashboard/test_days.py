"""Days ahead: an hour that is expected stands on its day, and never reads as a release."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from pages_support import NOW, SITE, row
from store_support import BAY, OTHER_BAY

from alerts.site_words import shipped
from cure.dashboard.asked import Visitor
from cure.dashboard.choosing import reader_of
from cure.dashboard.days import Turn, ahead
from shared.models.base import HOUR_MS, LOAD, STRIP, WALK, BayId, Operation
from shared.models.decisions import GateState
from shared.ports import BoardRow

READER = reader_of(shipped(), SITE, Visitor(), {}, "")


def waits(bay: BayId, hours: Mapping[Operation, int], **states: GateState) -> BoardRow:
    found = row(bay, {STRIP: GateState.CURING, **states})  # type: ignore[dict-item]  # operations by their names
    memory = {"expected": {op: {"expected_ms": NOW + ahead_h * HOUR_MS} for op, ahead_h in hours.items()}}
    return replace(found, state=replace(found.state, memory=memory))


def test_what_is_expected_stands_on_its_day_by_the_hour() -> None:
    # It is 18:00 on site.
    rows = [waits(BayId(BAY), {STRIP: 7, WALK: 1}), waits(BayId(OTHER_BAY), {STRIP: 2})]
    found = ahead(rows, SITE, NOW, READER, doubted=False)
    assert found.days == (
        ("Tue 25 Nov 2025", (Turn(BAY, "Walk", "19:00"), Turn(OTHER_BAY, "Strip", "20:00"))),
        ("Wed 26 Nov 2025", (Turn(BAY, "Strip", "01:00"),)),
    )
    assert found.unknown == (Turn(BAY, "Load", ""), Turn(OTHER_BAY, "Walk", ""), Turn(OTHER_BAY, "Load", ""))


def test_what_is_released_withdrawn_or_past_has_no_hour_and_in_doubt_nothing_has() -> None:
    hours = {STRIP: 3, WALK: 3, LOAD: -1}
    one = waits(BayId(BAY), hours, strip=GateState.RELEASED, walk=GateState.WITHDRAWN)
    found = ahead([one], SITE, NOW, READER, doubted=False)
    assert (found.days, found.unknown) == ((), (Turn(BAY, "Load", ""),))
    doubted = ahead([waits(BayId(BAY), hours)], SITE, NOW, READER, doubted=True)
    assert doubted.days == ()
    assert [t.operation for t in doubted.unknown] == ["Strip", "Walk", "Load"]
