"""What lay ahead of the site's clock when it first came does not ripen, whenever and however it comes again."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ingest_support import EDGE, INSIDE, NOW, TOPIC, Bench, pack, warm

from ingest.message import Incoming
from ingest.screening import AHEAD_MS
from shared.errors import StoreError
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.readings import Reading, Reason

QUARTER_MS = 15 * MINUTE_MS
EIGHT = pack(*(warm(30.0, NOW + HOUR_MS + i * QUARTER_MS) for i in range(32)))


@pytest.mark.row("C3")
def test_it_does_not_ripen_over_a_restart() -> None:
    bench = Bench()
    bench.take(EIGHT)
    bench.restarted()
    bench.clock.set(NOW + 10 * HOUR_MS)
    bench.take(EIGHT)
    assert bench.readings.stored == {}
    assert len(bench.book.refused()) == 32


@pytest.mark.row("C3")
def test_every_hour_of_a_pack_is_kept_and_the_payload_once() -> None:
    bench = Bench()
    bench.take(EIGHT)
    refused = bench.book.refused()
    assert [r.taken_ms for r in refused] == [NOW + HOUR_MS + i * QUARTER_MS for i in range(32)]
    assert {r.reason for r in refused} == {Reason.CLOCK_FUTURE}
    assert [len(r.payload) for r in refused] == [len(EIGHT)] + [0] * 31


@pytest.mark.row("C3")
def test_it_does_not_ripen_in_another_pack_or_with_another_value_and_its_neighbours_are_stored() -> None:
    bench = Bench()
    bench.take(EIGHT)
    bench.restarted()
    bench.clock.set(NOW + 10 * HOUR_MS)
    early = NOW + 3 * HOUR_MS
    bench.take(pack(warm(12.0, early), warm(13.0, early + MINUTE_MS), warm(14.0, early, INSIDE)))
    bench.intake.take_rows([Reading(EDGE, early + QUARTER_MS, 9_000, NOW + 10 * HOUR_MS)])
    assert bench.readings.values() == {(EDGE, early + MINUTE_MS): 13_000, (INSIDE, early): 14_000}


@pytest.mark.row("C3")
def test_a_copy_that_waits_in_the_same_batch_with_a_later_hour_does_not_ripen() -> None:
    bench = Bench()
    copy = pack(warm(30.0, NOW + HOUR_MS))
    bench.clock.set(NOW + 2 * HOUR_MS)
    bench.intake.take([Incoming(TOPIC, copy, NOW), Incoming(TOPIC, copy, NOW + 2 * HOUR_MS)])
    assert bench.readings.stored == {}


@pytest.mark.row("C3")
def test_a_refusal_that_could_not_be_noted_is_made_again_with_the_same_hour() -> None:
    bench = Bench()
    batch = [bench.intake.incoming(TOPIC, pack(warm(30.0, NOW + HOUR_MS)))]
    bench.book.failures = 1
    with pytest.raises(StoreError):
        bench.intake.take(batch)
    bench.clock.set(NOW + 2 * HOUR_MS)
    bench.intake.take(batch)
    assert bench.readings.stored == {}


@pytest.mark.row("C3")
@settings(deadline=None)
@given(st.lists(st.tuples(st.integers(-4, 40), st.integers(0, 40), st.booleans()), min_size=1, max_size=20))
def test_in_any_order_of_sending_and_restarting_only_what_first_came_in_its_time_is_stored(
    sent: list[tuple[int, int, bool]],
) -> None:
    bench, wanted, judged = Bench(), set(), set()
    for quarter, at, restarted in sorted(sent, key=lambda one: one[1]):
        if restarted:
            bench.restarted()
        taken, now = NOW + quarter * QUARTER_MS, NOW + at * QUARTER_MS
        bench.clock.set(now)
        bench.take(pack(warm(20.0, taken)))
        if taken <= now + AHEAD_MS and taken not in judged:
            wanted.add((EDGE, taken))
        judged.add(taken)
    assert set(bench.readings.stored) == wanted
