from __future__ import annotations

from collections.abc import Sequence

from ingest_support import EDGE, INSIDE, NOW, Bench, MemoryReadings, pack, warm

from shared.errors import RejectedError
from shared.models.readings import Conflict, Reading, Reason


def test_a_reading_that_the_store_will_never_take_is_refused_and_the_others_count() -> None:
    class Choosy(MemoryReadings):
        def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
            conflicts = super().merge([r for r in batch if r.sensor != INSIDE])
            raise RejectedError([(r, "too old for it") for r in batch if r.sensor == INSIDE], conflicts)

    bench = Bench()
    bench.readings = Choosy()
    bench.restarted()
    bench.take(pack(warm(20.0), warm(19.0, sensor=INSIDE)), pack(warm(18.0)))
    assert bench.readings.values() == {(EDGE, NOW): 18_000}
    (refused,) = bench.book.refused()
    assert (refused.reason, refused.sensor, refused.detail) == (Reason.STORE, INSIDE, "too old for it")
    assert refused.payload == f"{INSIDE},{NOW},19000".encode()
    assert bench.book.conflicts == {(EDGE, NOW, 18_000, 20_000)}
    assert (bench.book.revision(EDGE), bench.book.revision(INSIDE)) == (1, 0)
