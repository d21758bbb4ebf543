from __future__ import annotations

from collections.abc import Collection, Mapping
from threading import Event, Thread

from ingest_support import EDGE, NOW, SITE, MemoryBook, MemoryReadings, placements, until

from ingest.turns import SharedIntake
from shared.clock import SimulatedClock
from shared.models.base import Ms, SensorId
from shared.models.payloads import TextTopic
from shared.models.readings import Reading


class SlowReadings(MemoryReadings):
    """Is asked, and answers when it may."""

    def __init__(self) -> None:
        super().__init__()
        self.asked, self.may = 0, Event()

    def known(self, keys: Collection[tuple[SensorId, Ms]]) -> Mapping[tuple[SensorId, Ms], int]:
        self.asked += 1
        self.may.wait(10)
        return super().known(keys)


def test_nobody_writes_between_what_another_asked_and_wrote() -> None:
    readings, book = SlowReadings(), MemoryBook(placements())
    first = SharedIntake(SITE, readings, book, SimulatedClock(NOW), keys={})
    second = first.beside(readings, book)
    rows = [[Reading(EDGE, NOW, 9_000, NOW)], [Reading(EDGE, NOW, 8_000, NOW)]]
    threads = [Thread(target=one.take_rows, args=(row,)) for one, row in zip((first, second), rows, strict=True)]
    threads[0].start()
    until(lambda: readings.asked == 1)
    threads[1].start()
    threads[1].join(0.2)
    assert readings.asked == 1
    readings.may.set()
    for thread in threads:
        thread.join(60)
    assert (readings.asked, readings.merges) == (2, 2)
    # The second one knew of the first one's value, and kept the pair before it was replaced.
    assert book.conflicts == {(EDGE, NOW, 8_000, 9_000)}


def test_one_beside_another_reads_the_same_topics() -> None:
    topic = TextTopic(filter="board/{logger}/{channel}", format="text", unit="degC")
    readings, book = MemoryReadings(), MemoryBook(placements())
    first = SharedIntake(SITE, readings, book, SimulatedClock(NOW), topics=[topic], keys={})
    assert first.beside(readings, book).subscriptions() == first.subscriptions() == [("board/+/+", 0)]
