from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ingest_support import AIR, EDGE, INSIDE, NOW, TOPIC, Bench, Crash, pack, placement, warm

from ingest.intake import REMEMBERED
from ingest.message import Incoming
from ingest.payloads.decoded import Decoded, Told
from shared.errors import StoreError
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, LoggerId, SensorId
from shared.models.readings import Heard, Reading, Reason

QUARTER_MS = 15 * MINUTE_MS
GOOD = pack(warm(20.0))
GOOD_KEY = (EDGE, NOW)


def test_a_good_message_is_stored_and_noted() -> None:
    bench = Bench()
    bench.take(pack(warm(21.5), warm(19.25, NOW - QUARTER_MS, INSIDE)))
    assert bench.readings.values() == {(EDGE, NOW): 21_500, (INSIDE, NOW - QUARTER_MS): 19_250}
    assert bench.book.revision(EDGE) == bench.book.revision(INSIDE) == 1
    assert bench.book.arrivals[INSIDE].newest_ms == NOW - QUARTER_MS
    assert bench.book.refused() == []


FAULTY: dict[str, tuple[bytes, str, Reason]] = {
    "nonsense": (b"\x00\xff{", TOPIC, Reason.NOT_UTF8),
    "17 KiB": (b"[" + b" " * 17_000 + b"]", TOPIC, Reason.TOO_BIG),
    "deep": (b"[" * 8000, TOPIC, Reason.NOT_JSON),
    "NaN": (b'[{"n":"lg-01.1","u":"Cel","t":1795510800,"v":NaN}]', TOPIC, Reason.NOT_FINITE),
    "a key twice": (b'[{"n":"a","n":"b"}]', TOPIC, Reason.DUPLICATE_KEY),
    "centidegrees": (pack(warm(2345.0)), TOPIC, Reason.RANGE),
    "kelvin called Cel": (pack(warm(296.5)), TOPIC, Reason.RANGE),
    "Fahrenheit called Cel": (pack(warm(100.4)), TOPIC, Reason.RANGE),
    "Fahrenheit": (pack({**warm(74.3), "u": "degF"}), TOPIC, Reason.UNIT),
    "power-on": (pack(warm(85.0)), TOPIC, Reason.RANGE),
    "no probe": (pack(warm(-127.0)), TOPIC, Reason.RANGE),
    "1970": (pack(warm(20.0, 3_600_000)), TOPIC, Reason.CLOCK_PAST),
    "2000": (pack(warm(20.0, 946_684_800_000)), TOPIC, Reason.CLOCK_PAST),
    "15 days old": (pack(warm(20.0, NOW - 15 * DAY_MS)), TOPIC, Reason.CLOCK_PAST),
    "8 hours ahead": (pack(warm(20.0, NOW + 8 * HOUR_MS)), TOPIC, Reason.CLOCK_FUTURE),
    "milliseconds": (pack({**warm(), "t": NOW}), TOPIC, Reason.CLOCK_FUTURE),
    "microseconds": (pack({**warm(), "t": NOW * 1000}), TOPIC, Reason.CLOCK_FUTURE),
    "hours": (pack({**warm(), "t": NOW / 3_600_000}), TOPIC, Reason.CLOCK_PAST),
    "an unknown channel": (pack(warm(20.0, sensor=SensorId("lg-01.7"))), TOPIC, Reason.UNKNOWN_SENSOR),
    "an unknown logger": (
        pack(warm(20.0, sensor=SensorId("lg-77.1"))),
        "slabhour/millrace/r/lg-77",
        Reason.UNKNOWN_SENSOR,
    ),
    "facts of an unknown logger": (
        pack({"n": "lg-77.seq", "v": 1}),
        "slabhour/millrace/r/lg-77",
        Reason.UNKNOWN_SENSOR,
    ),
    "another logger's name": (GOOD, "slabhour/millrace/r/lg-09", Reason.ID_MISMATCH),
    "another site": (GOOD, "slabhour/other/r/lg-01", Reason.TOPIC),
    "a path": (GOOD, "slabhour/millrace/r/lg-01/../lg-02", Reason.TOPIC),
    "a longer topic": (GOOD, "slabhour/millrace/r/lg-01/x", Reason.TOPIC),
    "no logger": (GOOD, "slabhour/millrace/r/", Reason.TOPIC),
    "NUL": (GOOD, "slabhour/millrace/r/lg-01\0", Reason.TOPIC),
    "a line end": (GOOD, "slabhour/millrace/r/lg-01\n", Reason.TOPIC),
    "a look-alike letter": (GOOD, "slabhour/millrace/r/l\u0261-01", Reason.TOPIC),
    "capitals": (GOOD, "slabhour/millrace/r/LG-01", Reason.TOPIC),
    "a shared subscription": (GOOD, "$share/g/slabhour/millrace/r/lg-01", Reason.TOPIC),
    "a filter": (GOOD, "slabhour/millrace/r/+", Reason.TOPIC),
    "a long name": (GOOD, f"slabhour/millrace/r/{'a' * 33}", Reason.TOPIC),
}


@pytest.mark.row("N8", "L3", "L16", "C2", "C3", "C5", "N9", "R5", "M7", "N2")
@pytest.mark.parametrize(("payload", "topic", "reason"), FAULTY.values(), ids=FAULTY.keys())
def test_a_faulty_message_is_kept_with_its_reason_and_its_neighbours_are_stored(
    payload: bytes, topic: str, reason: Reason
) -> None:
    bench = Bench()
    before, after = pack(warm(20.0, NOW - QUARTER_MS)), pack(warm(20.5, NOW, INSIDE))
    bench.intake.take([Incoming(TOPIC, before), Incoming(topic, payload), Incoming(TOPIC, after)])
    assert bench.readings.values() == {(EDGE, NOW - QUARTER_MS): 20_000, (INSIDE, NOW): 20_500}
    (refused,) = bench.book.refused()
    assert refused.reason is reason
    assert payload.startswith(refused.payload)
    assert refused.topic.isprintable()
    assert refused.detail.isascii()


def test_a_bad_record_does_not_take_the_pack_with_it() -> None:
    bench = Bench()
    bench.take(pack(warm(20.0), warm(85.0, NOW - QUARTER_MS), warm(296.5, NOW - QUARTER_MS), warm(20.5, NOW, INSIDE)))
    assert bench.readings.values() == {(EDGE, NOW): 20_000, (INSIDE, NOW): 20_500}
    (refused,) = bench.book.refused()
    assert (refused.sensor, refused.reason) == (EDGE, Reason.RANGE)
    assert refused.detail.endswith("(and 1 more)")


def test_a_payload_that_is_too_big_is_kept_only_in_part() -> None:
    bench = Bench()
    bench.take(b" " * 1_000_000)
    (refused,) = bench.book.refused()
    assert len(refused.payload) == 2048
    assert "1000000 bytes" in refused.detail


def test_a_decoder_that_fails_costs_its_message_only() -> None:
    bench = Bench()
    (route,) = bench.intake._routes

    def failing(told: Told, payload: bytes) -> Decoded:
        if payload == b"poison":
            raise ZeroDivisionError
        return route.decoder(told, payload)

    bench.intake._routes = (replace(route, decoder=failing),)
    bench.take(b"poison", GOOD)
    assert GOOD_KEY in bench.readings.stored
    assert "ZeroDivisionError" in bench.book.refused()[0].detail


def test_what_a_logger_says_of_itself_is_heard() -> None:
    bench = Bench()
    bench.take(pack({"bn": "lg-01.", "n": "boot", "vs": "a7"}, {"n": "seq", "v": 7}))
    assert bench.book.heard == [Heard(LoggerId("lg-01"), NOW, boot="a7", sequence=7)]
    assert bench.book.refused() == []


@pytest.mark.row("C3")
def test_a_time_in_the_future_does_not_ripen() -> None:
    bench = Bench()
    early = pack(warm(30.0, NOW + 8 * HOUR_MS))
    bench.take(early)
    bench.clock.set(NOW + 9 * HOUR_MS)
    bench.take(early)
    bench.intake.take_rows([Reading(EDGE, NOW + 8 * HOUR_MS, 30_000, NOW + 9 * HOUR_MS)])
    assert bench.readings.stored == {}
    by_message, by_row = bench.book.refused()
    assert by_message.reason is by_row.reason is Reason.CLOCK_FUTURE


@pytest.mark.row("C3", "N5")
def test_a_time_in_the_future_does_not_ripen_while_the_store_is_down() -> None:
    bench = Bench()
    early = bench.intake.incoming(TOPIC, pack(warm(30.0, NOW + HOUR_MS)))
    bench.clock.set(NOW + 2 * HOUR_MS)
    bench.intake.take([early])
    assert bench.readings.stored == {}


@pytest.mark.row("L10")
def test_of_two_values_the_colder_stays_and_the_pair_is_noted() -> None:
    bench = Bench()
    for celsius in (20.0, 18.0, 19.0):
        bench.take(pack(warm(celsius)))
    assert bench.readings.values() == {GOOD_KEY: 18_000}
    assert bench.book.conflicts == {(*GOOD_KEY, 18_000, 20_000), (*GOOD_KEY, 18_000, 19_000)}


def test_a_copy_changes_nothing_and_new_or_colder_rows_do() -> None:
    bench = Bench()
    revisions = []
    for celsius, taken in ((20.0, NOW), (20.0, NOW), (18.0, NOW), (18.0, NOW), (20.0, NOW - QUARTER_MS)):
        bench.take(pack(warm(celsius, taken)))
        revisions.append(bench.book.revision(EDGE))
    assert revisions == [1, 1, 2, 2, 3]


def test_changed_counts_rows_and_not_copies_of_them() -> None:
    bench = Bench()
    bench.take(GOOD, GOOD, pack(warm(20.0, NOW - QUARTER_MS)))
    bench.take(GOOD, pack(warm(19.0, NOW - 2 * QUARTER_MS)))
    assert [(a.changed, a.oldest_ms, a.newest_ms) for a in bench.book.noted] == [
        (2, NOW - QUARTER_MS, NOW),
        (1, NOW - 2 * QUARTER_MS, NOW),
    ]


STEPS = ["decoded", "replaced values noted", "merged", "noted"]


@pytest.mark.row("N3")
@pytest.mark.parametrize("step", STEPS)
def test_after_a_crash_at_any_step_the_redelivery_stores_tells_and_keeps_the_conflict(step: str) -> None:
    bench = Bench()
    bench.take(pack(warm(20.0)))
    told = bench.book.revision(EDGE)
    colder_and_late = [pack(warm(2.0)), pack(warm(1.0, NOW - QUARTER_MS)), b"nonsense"]
    bench.restarted(crash_after=step)
    with pytest.raises(Crash):
        bench.take(*colder_and_late)
    bench.restarted()
    bench.take(*colder_and_late)
    assert bench.readings.values() == {(EDGE, NOW): 2_000, (EDGE, NOW - QUARTER_MS): 1_000}
    assert bench.book.revision(EDGE) > told
    assert (*GOOD_KEY, 2_000, 20_000) in bench.book.conflicts
    assert len(bench.book.refused()) == 1


@pytest.mark.row("N3")
@pytest.mark.parametrize("step", STEPS)
def test_after_a_crash_a_redelivery_in_other_pieces_still_tells_of_every_row(step: str) -> None:
    bench = Bench()
    bench.take(pack(warm(20.0, NOW - 2 * QUARTER_MS)))
    first, second = pack(warm(2.0, NOW - 2 * QUARTER_MS)), pack(warm(3.0, NOW - QUARTER_MS))
    bench.restarted(crash_after=step)
    with pytest.raises(Crash):
        bench.take(first, second)
    bench.restarted()
    bench.take(pack(warm(4.0)))
    for piece in (second, first):
        before = bench.book.revision(EDGE)
        bench.take(piece)
        assert bench.book.revision(EDGE) == before + 1


@pytest.mark.row("N3", "N5")
def test_a_note_that_fails_is_made_up_for_at_the_next_try() -> None:
    bench = Bench()
    bench.take(pack(warm(20.0)))
    batch = [Incoming(TOPIC, pack(warm(2.0), warm(20.0, NOW - QUARTER_MS)))]
    bench.readings.failures = 1
    with pytest.raises(StoreError):
        bench.intake.take(batch)
    bench.book.failures = 1
    with pytest.raises(StoreError):
        bench.intake.take(batch)
    bench.intake.take(batch)
    assert bench.readings.values() == {GOOD_KEY: 2_000, (EDGE, NOW - QUARTER_MS): 20_000}
    assert bench.book.revision(EDGE) == 2
    assert bench.book.conflicts == {(*GOOD_KEY, 2_000, 20_000)}


messages = st.lists(
    st.tuples(st.sampled_from([EDGE, INSIDE]), st.integers(0, 5), st.integers(-3, 40)), min_size=1, max_size=8
)


@pytest.mark.row("L9", "L10", "L11")
@settings(deadline=None)
@given(messages, st.data())
def test_any_order_and_number_of_resends_gives_the_same_rows(
    sent: list[tuple[SensorId, int, int]], data: st.DataObject
) -> None:
    payloads = [pack(warm(celsius, NOW - n * QUARTER_MS, sensor)) for sensor, n, celsius in sent]
    resent = data.draw(st.permutations(payloads + data.draw(st.lists(st.sampled_from(payloads), max_size=8))))
    once, again = Bench(), Bench()
    once.take(*payloads)
    for payload in resent:
        again.take(payload)
    assert again.readings.values() == once.readings.values()


def test_rows_are_screened_as_of_their_own_hour() -> None:
    bench = Bench()
    old = NOW - 100 * DAY_MS
    bench.intake.take_rows(
        [
            Reading(EDGE, old, 20_000, old),
            Reading(EDGE, old + HOUR_MS, 20_000, old),
            Reading(INSIDE, old, 85_000, old),
            Reading(SensorId("lg-77.1"), old, 20_000, old),
            Reading(AIR, old, -40_000, old),
        ]
    )
    assert bench.readings.values() == {(EDGE, old): 20_000, (AIR, old): -40_000}
    assert [r.reason for r in bench.book.refused()] == [Reason.CLOCK_FUTURE, Reason.RANGE, Reason.UNKNOWN_SENSOR]
    assert bench.book.refused()[1].payload == f"lg-01.2,{old},85000".encode()


def test_what_is_remembered_is_bounded() -> None:
    bench = Bench([placement(EDGE)])
    bench.intake.take_rows([Reading(EDGE, NOW - n, 20_000, NOW) for n in range(REMEMBERED + 10)])
    assert len(bench.intake._noted) == REMEMBERED


def test_an_empty_batch_writes_nothing() -> None:
    bench = Bench()
    bench.intake.take([])
    bench.intake.take_rows([])
    assert bench.readings.merges == 0
    assert bench.book.arrivals == {}


def test_placements_are_asked_for_of_the_sensors_of_a_batch_alone() -> None:
    bench = Bench()
    bench.take(pack(warm()))
    assert bench.book.asked == {EDGE}
    bench.take(pack(warm(sensor=INSIDE)))
    assert bench.book.asked == {EDGE, INSIDE}
