from __future__ import annotations

import pytest
from ingest_support import EDGE, NOW, SITE, TOPIC, Bench, pack, warm

from ingest.canary import CANARY
from shared.errors import StoreError
from shared.models.base import SensorId
from shared.models.readings import Heard, Reason

CANARY_TOPIC = f"slabhour/{SITE}/canary"


def test_a_canary_is_noted_with_its_number_and_is_no_reading() -> None:
    bench = Bench()
    bench.take(b'{"canary": 1795510800000}', topic=CANARY_TOPIC)
    assert bench.book.heard == [Heard(CANARY, NOW, sequence=1_795_510_800_000)]
    assert bench.readings.values() == {}
    assert bench.book.refused() == []


def test_no_logger_can_be_called_as_the_canary() -> None:
    bench = Bench()
    bench.take(pack(warm(20.0, sensor=SensorId(f"{CANARY}.1"))), topic=f"slabhour/{SITE}/r/{CANARY}")
    assert [r.reason for r in bench.book.refused()] == [Reason.TOPIC]


@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"[]", Reason.SCHEMA),
        (b'{"canary": "x"}', Reason.SCHEMA),
        (b'{"canary": 1e300}', Reason.SCHEMA),
        (b'{"canary": -1}', Reason.SCHEMA),
        (b'{"canary": NaN}', Reason.NOT_FINITE),
        (b"\xff", Reason.NOT_UTF8),
    ],
)
def test_a_canary_of_somebody_else_is_refused_with_its_reason(payload: bytes, reason: Reason) -> None:
    bench = Bench()
    bench.take(payload, topic=CANARY_TOPIC)
    assert [r.reason for r in bench.book.refused()] == [reason]
    assert bench.book.heard == []


@pytest.mark.row("C8")
def test_while_the_clock_is_in_1970_nothing_is_taken_in_and_nothing_is_refused() -> None:
    bench = Bench(now=3_600_000)
    early = bench.intake.incoming(TOPIC, pack(warm(20.0)))
    with pytest.raises(StoreError, match="cannot be right"):
        bench.intake.take([early])
    assert bench.book.refused() == []
    bench.clock.set(NOW)
    bench.intake.take([early])
    assert bench.readings.values() == {(EDGE, NOW): 20_000}
