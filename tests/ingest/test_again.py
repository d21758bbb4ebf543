from __future__ import annotations

import pytest
from again_support import Decisions, again, outcomes
from ingest_support import EDGE, INSIDE, NOW, TOPIC, Bench, pack, placement, placements, warm

from ingest.again import standing_words
from ingest.message import Incoming
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, SensorId
from shared.models.payloads import JsonTopic, TextTopic
from shared.models.readings import Reading, Reason
from shared.models.setup import Zone

NEW = SensorId("lg-05.1")
NEW_TOPIC = "slabhour/millrace/r/lg-05"
QUARTER_MS = 15 * MINUTE_MS


def test_a_placement_entered_later_lets_its_readings_in_as_late_ones() -> None:
    bench = Bench()
    bench.take(pack(warm(20.0, NOW - QUARTER_MS, NEW), warm(20.5, NOW, NEW)), topic=NEW_TOPIC)
    book = Decisions(bench)
    assert outcomes(again(bench, book)) == [""]
    assert bench.readings.values() == {}
    bench.clock.set(NOW + 5 * HOUR_MS)
    bench.book.lying.append(placement(NEW))
    found = again(bench, book)
    assert outcomes(found) == ["stored: 2 readings"]
    assert bench.readings.values() == {(NEW, NOW - QUARTER_MS): 20_000, (NEW, NOW): 20_500}
    assert {r.received_ms for r in bench.readings.stored.values()} == {NOW}
    assert bench.book.revision(NEW) == 1
    assert standing_words(found) == "2 readings pass now; 1 refusals are answered, 0 stand"


def test_a_second_time_finds_nothing_left_to_do() -> None:
    bench = Bench()
    bench.take(pack(warm(20.0, NOW, NEW)), topic=NEW_TOPIC)
    book = Decisions(bench)
    bench.book.lying.append(placement(NEW))
    assert len(again(bench, book)) == 1
    stored, noted = bench.readings.values(), len(bench.book.noted)
    assert again(bench, book) == ()
    assert (bench.readings.values(), len(bench.book.noted)) == (stored, noted)


def test_a_crash_between_storing_and_deciding_does_the_same_once_more() -> None:
    bench = Bench()
    bench.take(pack(warm(20.0, NOW, NEW)), topic=NEW_TOPIC)
    bench.book.lying.append(placement(NEW))
    lost = Decisions(bench)
    lost.decide = lambda *_: (_ for _ in ()).throw(KeyboardInterrupt)  # type: ignore[method-assign]
    with pytest.raises(KeyboardInterrupt):
        again(bench, lost)
    bench.restarted()
    assert outcomes(again(bench, Decisions(bench))) == ["stored: 1 reading"]
    assert bench.readings.values() == {(NEW, NOW): 20_000}


@pytest.mark.row("C3")
def test_what_lay_ahead_does_not_ripen_by_this_way_either() -> None:
    bench = Bench()
    bench.take(pack(warm(20.0, NOW + 8 * HOUR_MS), warm(20.0, NOW, NEW)))
    bench.take(pack(warm(20.0, NOW + 8 * HOUR_MS, NEW)), topic=NEW_TOPIC)
    book = Decisions(bench)
    bench.clock.set(NOW + DAY_MS)
    bench.book.lying.append(placement(NEW))
    again(bench, book)
    assert (EDGE, NOW + 8 * HOUR_MS) not in bench.readings.values()
    # Nor one that was refused for another reason first, when its hour had not come.
    assert (NEW, NOW + 8 * HOUR_MS) not in bench.readings.values()
    assert all("clock in the future" in said for said in book.decided.values())


def test_a_map_of_fields_that_was_corrected_reads_what_could_not_be_read() -> None:
    def topic(value: str) -> JsonTopic:
        return JsonTopic(
            filter="gw/{logger}/up", format="json", channel="ch", value=value, unit="degC", time="at",
            time_of="measuring", time_format="ms",
        )  # fmt: skip

    bench = Bench(topics=[topic("temp")])
    bench.intake.take([Incoming("gw/lg-01/up", b'{"ch": 1, "temperature": 18.5, "at": %d}' % NOW)])
    assert bench.readings.values() == {}
    assert len(bench.book.refused()) == 1
    bench.topics = [topic("temperature")]
    bench.restarted()
    assert outcomes(again(bench, Decisions(bench))) == ["stored: 1 reading"]
    assert bench.readings.values() == {(EDGE, NOW): 18_500}


def test_a_unit_that_was_corrected_lets_in_what_was_out_of_range() -> None:
    def topic(unit: str) -> JsonTopic:
        return JsonTopic.model_validate(
            {
                "filter": "gw/{logger}/up", "format": "json", "channel": "ch", "value": "temp", "unit": unit,
                "time": "at", "time_of": "measuring", "time_format": "ms",
            }
        )  # fmt: skip

    bench = Bench(topics=[topic("degC")])
    bench.intake.take([Incoming("gw/lg-01/up", b'{"ch": 1, "temp": 104.0, "at": %d}' % NOW)])
    assert [r.reason for r in bench.book.refused()] == [Reason.RANGE]
    bench.topics = [topic("degF")]
    bench.restarted()
    again(bench, Decisions(bench))
    assert bench.readings.values() == {(EDGE, NOW): 40_000}


def test_what_is_refused_for_another_reason_now_says_so_and_stands_for_that_one() -> None:
    bench = Bench()
    bench.take(pack(warm(85.0, NOW, NEW), warm(20.0, NOW - QUARTER_MS, NEW)), topic=NEW_TOPIC)
    book = Decisions(bench)
    bench.book.lying.append(placement(NEW))
    assert outcomes(again(bench, book)) == [
        "stored: 1 reading; refused again (range): 85.000 degC is outside -20..80 degC"
    ]
    assert [r.refused.reason for r in book.standing(None)] == [Reason.RANGE]
    assert outcomes(again(bench, book)) == [""]


def test_only_what_is_asked_for_is_decided() -> None:
    bench = Bench()
    other = SensorId("lg-06.1")
    bench.take(pack(warm(20.0, NOW, NEW)), topic=NEW_TOPIC)
    bench.take(pack(warm(20.0, NOW, other)), topic="slabhour/millrace/r/lg-06")
    bench.book.lying += [placement(NEW), placement(other, Zone.INTERIOR)]
    book = Decisions(bench)
    assert [a.refusal.refused.sensor for a in again(bench, book, other)] == [other]
    assert set(bench.readings.values()) == {(other, NOW)}


def test_a_row_of_a_file_or_of_a_replay_is_screened_again_by_itself() -> None:
    bench = Bench()
    bench.intake.take_rows([Reading(NEW, NOW, 20_000, NOW), Reading(EDGE, NOW, 99_000, NOW)])
    bench.book.lying.append(placement(NEW))
    assert outcomes(again(bench, Decisions(bench))) == ["stored: 1 reading", ""]
    assert bench.readings.values() == {(NEW, NOW): 20_000}


def test_what_was_not_kept_whole_and_what_has_no_hour_of_its_own_stands() -> None:
    bench = Bench(topics=[TextTopic(filter="t/{logger}/{channel}", format="text", unit="degC")])
    bench.intake.take([Incoming("t/lg-01/1", b"20.5", may_have_waited=True)])
    bench.take(b"[" + b" " * 17_000 + b"]", topic="t/lg-01/1")
    book = Decisions(bench)
    assert {r.refused.reason for r in book.standing(None)} == {Reason.NOT_FRESH, Reason.TOO_BIG}
    assert set(outcomes(again(bench, book))) == {""}
    assert bench.readings.values() == {}
    assert bench.intake._waiting == {}


def test_the_colder_of_two_values_stays_whatever_passes_later() -> None:
    bench = Bench([p for p in placements() if p.sensor != INSIDE])
    bench.take(pack(warm(30.0, NOW, INSIDE)))
    bench.book.lying.append(placement(INSIDE))
    bench.take(pack(warm(20.0, NOW, INSIDE)), topic=TOPIC)
    again(bench, Decisions(bench))
    assert bench.readings.values()[INSIDE, NOW] == 20_000
    assert bench.book.conflicts == {(INSIDE, NOW, 20_000, 30_000)}
