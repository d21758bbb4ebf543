from __future__ import annotations

from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.payloads.decoded import Told, Untimed
from ingest.payloads.text import decode
from shared.models.base import LoggerId, SensorId
from shared.models.readings import Reason

SHED: Final = Told(LoggerId("shed-1"), "2")
SENSOR: Final = SensorId("shed-1.2")


@pytest.mark.parametrize(
    ("payload", "milli_c"),
    [
        (b"21.5", 21_500),
        (b"21.50\r\n", 21_500),
        (b"  21.5", 21_500),
        (b"+3", 3_000),
        (b"-0.25", -250),
        (b"0", 0),
        (b"85.00", 85_000),
        (b"-127.00", -127_000),
    ],
)
def test_a_bare_number_is_a_temperature_of_the_topics_channel(payload: bytes, milli_c: int) -> None:
    found = decode(SHED, payload, "degC")
    assert found.untimed == (Untimed(SENSOR, milli_c),)
    assert (found.records, found.faults, found.facts) == ((), (), None)


@pytest.mark.row("L16")
def test_the_unit_is_that_of_the_site_file() -> None:
    assert decode(SHED, b"74.3", "degF").untimed == (Untimed(SENSOR, 23_500),)
    assert decode(SHED, b"32", "degF").untimed == (Untimed(SENSOR, 0),)


@pytest.mark.row("N8", "L3")
@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"", Reason.SCHEMA),
        (b"  ", Reason.SCHEMA),
        (b"null", Reason.SCHEMA),
        (b"21,5", Reason.SCHEMA),
        (b"21.5 C", Reason.SCHEMA),
        (b"21.5 22.5", Reason.SCHEMA),
        (b"21.5\n22.5", Reason.SCHEMA),
        (b"21.5\x00", Reason.SCHEMA),
        (b"2e1", Reason.SCHEMA),
        (b"0x15", Reason.SCHEMA),
        (b".5", Reason.SCHEMA),
        (b"5.", Reason.SCHEMA),
        (b"--5", Reason.SCHEMA),
        ("\u0662\u0661".encode(), Reason.SCHEMA),
        (b"\xff", Reason.SCHEMA),
        (b"nan", Reason.NOT_FINITE),
        (b"-INF", Reason.NOT_FINITE),
        (b"ovf", Reason.NOT_FINITE),
        (b"999999999", Reason.RANGE),
        (b"9" * 5000, Reason.SCHEMA),
        (b" " * 17_000, Reason.TOO_BIG),
    ],
)
def test_anything_else_is_refused_with_its_reason(payload: bytes, reason: Reason) -> None:
    found = decode(SHED, payload, "degC")
    assert [fault.reason for fault in found.faults] == [reason]
    assert found.untimed == ()
    assert found.faults[0].detail.isascii()
    assert found.faults[0].detail.isprintable()


@given(st.integers(-99_999, 99_999), st.sampled_from(["degC", "degF"]))
def test_every_number_of_two_decimals_is_read_to_the_thousandth(hundredths: int, unit: str) -> None:
    (found,) = decode(SHED, f"{hundredths / 100:.2f}".encode(), unit).untimed
    celsius = hundredths / 100 if unit == "degC" else (hundredths / 100 - 32) / 1.8
    assert abs(found.milli_c - celsius * 1000) <= 0.5 + 1e-6
