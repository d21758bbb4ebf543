"""The contract of `BoardBook`: what is known of loggers, placed or not."""

from __future__ import annotations

from store_support import EDGE, T0

from shared.models.base import LoggerId, Ms, SensorId
from shared.models.readings import Heard, Reason, Refused, RefusedCount
from shared.ports import NewArrivals
from shared.store.book import SiteBook


def refusal(n: int, reason: Reason, sensor: str | None = None, topic: str = "t", at_ms: Ms = T0) -> Refused:
    name = None if sensor is None else SensorId(sensor)
    return Refused(at_ms, topic, str(n).encode(), reason, "why", name)


def test_refusals_are_counted_since_an_hour_most_first(book: SiteBook) -> None:
    told = [refusal(n, Reason.UNIT, "lg-01.1") for n in range(3)]
    told += [refusal(9, Reason.NOT_JSON), refusal(8, Reason.UNIT, "lg-01.1", at_ms=T0 - 1)]
    book.ingest.note([], told, [], [])
    assert list(book.board.refused_since(T0)) == [
        RefusedCount("t", SensorId("lg-01.1"), Reason.UNIT, 3),
        RefusedCount("t", None, Reason.NOT_JSON, 1),
    ]
    assert book.board.refused_since(T0 + 1) == []


def test_of_each_stranger_the_newest_message_is_there_and_no_other_refusal(book: SiteBook) -> None:
    unknown = Reason.UNKNOWN_SENSOR
    old, new = refusal(1, unknown, "lg-77.1"), refusal(2, unknown, "lg-77.1", at_ms=T0 + 5)
    other, whole = refusal(3, unknown, "lg-78.1"), refusal(4, unknown, None, topic="u")
    book.ingest.note([], [old, new, other, refusal(5, Reason.UNIT, "lg-79.1"), whole], [], [])
    assert list(book.board.strangers(10)) == [whole, other, new]
    assert list(book.board.strangers(1)) == [whole]


def test_what_has_arrived_and_what_loggers_said_is_there_by_name(book: SiteBook) -> None:
    said = Heard(LoggerId("lg-01"), T0, battery_percent=50.0)
    book.ingest.note([NewArrivals(EDGE, 1, T0, T0 + 1, T0 + 2)], [], [], [said])
    assert list(book.board.arrivals()) == list(book.ingest.arrival([EDGE]).values())
    assert list(book.board.heard()) == [said]
