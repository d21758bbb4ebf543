"""What the intake says became of each message of a batch."""

from __future__ import annotations

from collections.abc import Sequence

from ingest_support import AIR, EDGE, INSIDE, NOW, SITE, TOPIC, Bench, MemoryReadings, pack, placement, warm

from ingest.message import Incoming
from ingest.payloads import FORMATS
from ingest.payloads.decoded import Told
from ingest.sheet import Taken
from ingest.topics import Way
from shared.errors import RejectedError
from shared.models.base import MINUTE_MS, LoggerId
from shared.models.payloads import SenmlTopic, TextTopic, default_topic
from shared.models.readings import Conflict, Reading, Reason

TEXT = TextTopic(filter="board/{logger}/{channel}", format="text", unit="degC")


def counted(taken: Taken) -> tuple[int, int, list[Reason], bool]:
    return len(taken.rows), taken.waiting, [fault.reason for fault in taken.faults], taken.heard


def test_each_message_of_a_batch_is_answered_in_its_place() -> None:
    bench = Bench()
    good = pack(warm(20.0), warm(19.0, sensor=INSIDE), {"n": "lg-01.seq", "v": 4})
    half = pack(warm(20.5, NOW - MINUTE_MS), warm(81.0, NOW - MINUTE_MS, INSIDE), warm(5.0, sensor=AIR))
    batch = [
        Incoming(TOPIC, good),
        Incoming("somewhere/else", good),
        Incoming(TOPIC, b"none"),
        Incoming(TOPIC, half),
        Incoming(f"slabhour/{SITE}/canary", b'{"canary": 3}'),
        Incoming(f"slabhour/{SITE}/canary", b"[]"),
        Incoming(TOPIC, good),
    ]
    assert [counted(taken) for taken in bench.intake.take(batch)] == [
        (2, 0, [], True),
        (0, 0, [Reason.TOPIC], False),
        (0, 0, [Reason.NOT_JSON], False),
        (1, 0, [Reason.ID_MISMATCH, Reason.RANGE], False),
        (0, 0, [], True),
        (0, 0, [Reason.SCHEMA], False),
        (2, 0, [], True),
    ]


def test_one_without_an_hour_waits_and_the_next_one_stores_it() -> None:
    bench = Bench(topics=[TEXT])
    for passed, expected in ((0, (0, 1, [], False)), (1, (0, 0, [Reason.NOT_FRESH], False)), (20, (0, 1, [], False))):
        bench.clock.set(NOW + passed * MINUTE_MS)
        (taken,) = bench.intake.take([bench.intake.incoming("board/lg-01/1", b"20.5")])
        assert counted(taken) == expected, passed
    bench.clock.set(NOW + 40 * MINUTE_MS)
    (taken,) = bench.intake.take([bench.intake.incoming("board/lg-01/1", b"20.25")])
    assert counted(taken) == (1, 1, [], False)
    assert bench.readings.values() == {(EDGE, NOW + 20 * MINUTE_MS): 20_250}


def test_what_the_store_will_never_take_is_told_of_the_message_that_brought_it() -> None:
    class Choosy(MemoryReadings):
        def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
            conflicts = super().merge([r for r in batch if r.sensor != INSIDE])
            raise RejectedError([(r, "too old for it") for r in batch if r.sensor == INSIDE], conflicts)

    bench = Bench()
    bench.readings = Choosy()
    bench.restarted()
    batch = [Incoming(TOPIC, pack(warm(20.0))), Incoming(TOPIC, pack(warm(19.0), warm(19.5, sensor=INSIDE)))]
    first, second = bench.intake.take(batch)
    assert counted(first) == (1, 0, [], False)
    assert counted(second) == (1, 0, [Reason.STORE], False)
    assert second.faults[0].sensor == INSIDE


def test_a_message_that_says_how_it_is_read_needs_no_topic_of_the_site() -> None:
    bench = Bench([placement(EDGE)], topics=[TEXT])
    decoder = FORMATS["senml+json"].make(default_topic(SITE))
    assert isinstance(default_topic(SITE), SenmlTopic)
    way = Way(Told(LoggerId("lg-01")), decoder)
    (taken,) = bench.intake.take([Incoming("/r/lg-01", pack(warm(20.0), warm(20.0, sensor=AIR)), way=way)])
    assert counted(taken) == (1, 0, [Reason.ID_MISMATCH], False)
    assert bench.readings.values() == {(EDGE, NOW): 20_000}
    assert [refused.topic for refused in bench.book.refused()] == ["/r/lg-01"]
