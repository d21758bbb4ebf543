from __future__ import annotations

import pytest
from again_support import Decisions, again, outcomes
from ingest_support import EDGE, INSIDE, NOW, Bench, pack, warm

from shared.models.base import HOUR_MS, MINUTE_MS, Json, Ms
from shared.models.readings import Reason

QUARTER_MS = 15 * MINUTE_MS


def message(number: int, taken_ms: Ms, celsius: float = 20.0, boot: str | None = "a7") -> bytes:
    started: list[dict[str, Json]] = [] if boot is None else [{"n": "lg-01.boot", "vs": boot}]
    return pack(*started, {"n": "lg-01.seq", "v": number}, warm(celsius, taken_ms))


def reasons(bench: Bench) -> list[Reason]:
    return [r.reason for r in bench.book.refused()]


@pytest.mark.row("R4")
def test_a_buffer_played_again_with_new_hours_is_refused() -> None:
    bench = Bench()
    for number in range(4):
        bench.take(message(number, NOW - (9 - number) * QUARTER_MS))
    before = bench.readings.values()
    for number in range(4):
        bench.take(message(number, NOW - (4 - number) * QUARTER_MS, 30.0))
    assert bench.readings.values() == before
    assert reasons(bench) == [Reason.REPLAYED] * 4


@pytest.mark.row("R4", "L12")
def test_a_buffer_of_before_the_loggers_last_start_played_again_is_refused_and_the_new_start_goes_on() -> None:
    bench = Bench()
    for number in range(4):
        bench.take(message(number, NOW - (9 - number) * QUARTER_MS))
    bench.take(message(0, NOW - 5 * QUARTER_MS, boot="b8"))
    before = bench.readings.values()
    for number in (0, 3):
        bench.take(message(number, NOW - (4 - number) * MINUTE_MS, 30.0))
        bench.take(message(number + 1, NOW - (3 - number) * QUARTER_MS, boot="b8"))
    assert len(bench.readings.values()) == len(before) + 2
    assert 30_000 not in bench.readings.values().values()
    assert reasons(bench) == [Reason.REPLAYED] * 2
    bench.take(message(1, NOW - 7 * MINUTE_MS, 31.0, boot="b8"))
    assert reasons(bench)[2:] == [Reason.REPLAYED]


@pytest.mark.row("R4", "L9")
def test_the_same_message_sent_again_is_no_replay() -> None:
    bench = Bench()
    for _ in range(3):
        bench.take(message(1, NOW))
    assert bench.readings.values() == {(EDGE, NOW): 20_000}
    assert reasons(bench) == []


@pytest.mark.row("R4", "L10")
def test_another_value_for_an_hour_that_is_stored_is_a_conflict_as_ever() -> None:
    bench = Bench()
    bench.take(message(1, NOW))
    bench.take(message(1, NOW, 19.0))
    assert bench.readings.values() == {(EDGE, NOW): 19_000}
    assert reasons(bench) == []


@pytest.mark.row("R2")
def test_a_message_that_was_missing_is_taken_when_it_comes() -> None:
    bench = Bench()
    bench.take(message(1, NOW - 2 * QUARTER_MS))
    bench.take(message(3, NOW))
    bench.take(message(2, NOW - QUARTER_MS))
    assert len(bench.readings.values()) == 3
    assert reasons(bench) == []


@pytest.mark.row("L12")
@pytest.mark.parametrize("boot", ["b8", None])
def test_after_a_start_and_of_a_logger_that_tells_no_starts_a_low_number_is_new(boot: str | None) -> None:
    bench = Bench()
    bench.take(message(500, NOW - QUARTER_MS, boot=None if boot is None else "a7"))
    bench.take(message(1, NOW, boot=boot))
    assert len(bench.readings.values()) == 2
    assert reasons(bench) == []


@pytest.mark.row("N3", "R4")
def test_a_message_that_was_stored_and_not_noted_is_taken_when_it_comes_again() -> None:
    bench = Bench()
    bench.book.failures = 1
    with pytest.raises(Exception, match="locked"):
        bench.take(message(1, NOW))
    bench.take(message(1, NOW))
    assert bench.readings.values() == {(EDGE, NOW): 20_000}
    assert reasons(bench) == []
    assert bench.book.revision(EDGE) == 1


@pytest.mark.row("R4")
def test_screened_again_it_stays_refused() -> None:
    bench = Bench()
    bench.take(message(1, NOW - HOUR_MS))
    bench.take(message(1, NOW))
    assert outcomes(again(bench, Decisions(bench))) == [""]
    assert set(bench.readings.values()) == {(EDGE, NOW - HOUR_MS)}


@pytest.mark.row("R4")
def test_what_the_message_itself_had_and_nobody_had_placed_passes_when_it_is_screened_again() -> None:
    bench = Bench()
    placed = bench.book.lying
    bench.book.lying = [p for p in placed if p.sensor != INSIDE]
    bench.take(pack({"n": "lg-01.boot", "vs": "a7"}, {"n": "lg-01.seq", "v": 1}, warm(20.0), warm(21.0, NOW, INSIDE)))
    bench.book.lying = placed
    again(bench, Decisions(bench))
    assert (INSIDE, NOW) in bench.readings.values()


@pytest.mark.row("L11", "R4")
def test_what_comes_after_a_higher_number_that_was_heard_first_is_no_replay() -> None:
    bench = Bench()
    for number in (50, 2, 3, 51):
        bench.take(message(number, NOW - (60 - number) * MINUTE_MS))
    assert len(bench.readings.values()) == 4
    assert reasons(bench) == []
