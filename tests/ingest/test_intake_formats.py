"""A message of each format, through the whole intake: stored readings, or refusals with a reason."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Final

import cbor2
import pytest
from ingest_support import EDGE, INSIDE, NOW, Bench, Crash, pack, placement
from payloads_support import SAMPLES, UPLINK
from repo_support import ROOT
from setup_support import SITE, changed, written

from ingest.message import Incoming
from shared.errors import StoreError
from shared.models.base import HOUR_MS, MINUTE_MS, LoggerId, Ms, SensorId
from shared.models.payloads import TextTopic, TopicSettings
from shared.models.readings import Heard, Reason
from shared.sitefile import load

QUARTER_MS: Final = 15 * MINUTE_MS
EUI: Final = LoggerId("00a1b2c3d4e5f601")
UP: Final = f"application/17/device/{EUI}/event/up"
BOARD: Final = "board/lg-01/1"
SENSORS: Final = (EDGE, INSIDE, SensorId(f"{EUI}.1"), SensorId(f"{EUI}.2"))
TEXT: Final = TextTopic(filter="board/{logger}/{channel}", format="text", unit="degC")


def bench(*topics: TopicSettings) -> Bench:
    listed = topics or [sample.topic for sample in SAMPLES.values()]
    return Bench([placement(sensor) for sensor in SENSORS], topics=listed)


def arrive(at: Bench, payload: bytes, at_ms: Ms, *, topic: str = BOARD, waited: bool = False) -> None:
    at.clock.set(at_ms)
    at.intake.take([at.intake.incoming(topic, payload, may_have_waited=waited)])


def test_a_message_of_every_format_becomes_stored_readings() -> None:
    all_of_them = bench()
    arrive(all_of_them, SAMPLES["senml+json"].payload, NOW, topic="slabhour/millrace/r/lg-01")
    cbor = [{-2: "lg-01.", -3: NOW // 1000 + 60, -4: "Cel", 0: "1", 2: 20.75}, {0: "seq", 2: 42}]
    arrive(all_of_them, cbor2.dumps(cbor), NOW, topic="cbor/lg-01")
    arrive(all_of_them, SAMPLES["json"].payload, NOW, topic=UP)
    arrive(all_of_them, b"21.00\r\n", NOW + 2 * MINUTE_MS)
    arrive(all_of_them, uplink("2026-11-24T09:15:00.5Z", 20.75, 19.0), NOW + QUARTER_MS + 2000, topic=UP)
    arrive(all_of_them, b"21.25\r\n", NOW + 2 * MINUTE_MS + QUARTER_MS)
    assert all_of_them.book.refused() == []
    assert all_of_them.readings.values() == {
        (EDGE, NOW): 20_500,
        (INSIDE, NOW - QUARTER_MS): 19_250,
        (EDGE, NOW + MINUTE_MS): 20_750,
        (SensorId(f"{EUI}.1"), NOW + 412): 20_500,
        (SensorId(f"{EUI}.2"), NOW + 412): 19_000,
        (EDGE, NOW + 2 * MINUTE_MS): 21_000,
    }
    assert all_of_them.book.revision(EDGE) == 3
    assert all_of_them.book.heard == [
        Heard(LoggerId("lg-01"), NOW, sequence=41),
        Heard(LoggerId("lg-01"), NOW, sequence=42),
        Heard(EUI, NOW, sequence=41, battery_percent=87.0, signal_db=-81.0),
        Heard(EUI, NOW + QUARTER_MS + 2000, sequence=41, signal_db=-81.0),
    ]


def uplink(time: str, edge: float, inside: float) -> bytes:
    return json.dumps({**UPLINK, "time": time, "object": {"edge": edge, "inside": inside}}).encode()


FAULTY: Final[dict[str, tuple[str, bytes, Reason]]] = {
    "CBOR that is none": ("cbor/lg-01", b"\xff", Reason.NOT_CBOR),
    "CBOR of another logger": ("cbor/lg-01", cbor2.dumps([{0: "lg-02.1", 1: "Cel", 2: 1}]), Reason.ID_MISMATCH),
    "CBOR where JSON belongs": ("slabhour/millrace/r/lg-01", SAMPLES["senml+cbor"].payload, Reason.NOT_UTF8),
    "JSON where CBOR belongs": ("cbor/lg-01", SAMPLES["senml+json"].payload, Reason.NOT_CBOR),
    "an uplink with no data": (UP, json.dumps({**UPLINK, "object": None}).encode(), Reason.SCHEMA),
    "an uplink of next year": (
        UP,
        json.dumps({**UPLINK, "time": "2027-11-24T09:00:00Z"}).encode(),
        Reason.CLOCK_FUTURE,
    ),
    "an uplink of a probe off its wire": (
        UP,
        json.dumps({**UPLINK, "object": {"edge": -127, "inside": -127}}).encode(),
        Reason.RANGE,
    ),
    "an uplink of a stranger": (UP.replace("601", "999"), SAMPLES["json"].payload, Reason.UNKNOWN_SENSOR),
    "a join": (UP.replace("/up", "/join"), b"{}", Reason.TOPIC),
    "text that is no number": (BOARD, b"error", Reason.SCHEMA),
    "power-on": (BOARD, b"85.00", Reason.RANGE),
    "no probe": (BOARD, b"-127.00", Reason.RANGE),
    "a board that nobody placed": ("board/lg-07/1", b"21.5", Reason.UNKNOWN_SENSOR),
    "a board's channel of letters": ("board/lg-01/edge", b"21.5", Reason.TOPIC),
}


@pytest.mark.row("N8", "L3", "R5")
@pytest.mark.parametrize(("topic", "payload", "reason"), FAULTY.values(), ids=FAULTY.keys())
def test_a_faulty_message_of_any_format_is_kept_with_its_reason_and_nothing_of_it_is_stored(
    topic: str, payload: bytes, reason: Reason
) -> None:
    one = bench()
    arrive(one, payload, NOW, topic=topic)
    assert one.readings.stored == {}
    refused = one.book.refused()
    assert {r.reason for r in refused} == {reason}
    assert all(payload == r.payload for r in refused)
    assert all(r.detail.isascii() for r in refused)


@pytest.mark.row("R3")
def test_what_a_broker_may_have_kept_has_no_hour_and_never_counts() -> None:
    one = bench(TEXT)
    arrive(one, b"20.0", NOW)
    arrive(one, b"30.0", NOW + QUARTER_MS, waited=True)
    arrive(one, b"19.0", NOW + 2 * QUARTER_MS)
    assert one.readings.values() == {(EDGE, NOW): 19_000}
    assert [r.reason for r in one.book.refused()] == [Reason.NOT_FRESH]


@pytest.mark.row("R1", "R3")
def test_what_the_network_received_in_time_may_wait_for_the_service_at_the_broker() -> None:
    one, network = bench(), SensorId(f"{EUI}.1")
    late = NOW + 3 * HOUR_MS
    for n in range(4):
        arrive(one, uplink(f"2026-11-24T09:{15 * n:02}:00Z", 20.0 + n, 19.0), late, topic=UP, waited=True)
    assert {key: c for key, c in one.readings.values().items() if key[0] == network} == {
        (network, NOW + n * QUARTER_MS): 20_000 + 1000 * n for n in range(3)
    }
    assert one.book.refused() == []


@pytest.mark.row("R3", "R7")
def test_what_the_network_received_in_a_burst_never_counts_and_a_copy_is_no_burst() -> None:
    one = bench()
    for minute, second in ((0, 0), (0, 0), (15, 0), (15, 20), (15, 40), (30, 0), (45, 0)):
        time = f"2026-11-24T09:{minute:02}:{second:02}Z"
        arrive(one, uplink(time, 30.0, 30.0), NOW + HOUR_MS, topic=UP)
    hours = {taken_ms for _, taken_ms in one.readings.stored}
    # 09:15:00 came as one of three, and 09:45 waits for the next.
    assert hours == {NOW, NOW + 2 * QUARTER_MS}
    assert {r.reason for r in one.book.refused()} == {Reason.NOT_FRESH}


@pytest.mark.row("C3")
def test_an_hour_of_the_network_that_lay_ahead_does_not_ripen() -> None:
    one = bench()
    early = uplink("2026-11-24T12:00:00Z", 30.0, 30.0)
    arrive(one, early, NOW, topic=UP)
    arrive(one, early, NOW + 4 * HOUR_MS, topic=UP)
    arrive(one, uplink("2026-11-24T12:15:00Z", 30.0, 30.0), NOW + 4 * HOUR_MS, topic=UP)
    assert one.readings.stored == {}
    assert {r.reason for r in one.book.refused()} == {Reason.CLOCK_FUTURE}


@pytest.mark.row("R3", "C8")
def test_what_arrived_while_the_clock_was_wrong_has_no_hour_either() -> None:
    one = bench(TEXT)
    # Such a clock stamps nothing (`Intake.incoming`).
    one.intake.take([Incoming(BOARD, b"30.0", None)])
    arrive(one, b"20.0", NOW + QUARTER_MS)
    arrive(one, b"20.0", NOW + 2 * QUARTER_MS)
    assert one.readings.values() == {(EDGE, NOW + QUARTER_MS): 20_000}
    assert [r.reason for r in one.book.refused()] == [Reason.NOT_FRESH]


@pytest.mark.row("R3", "R4")
def test_a_buffer_that_comes_in_a_burst_is_refused_whole_in_one_batch_or_in_many() -> None:
    for together in (True, False):
        one = bench(TEXT)
        arrive(one, b"5.0", NOW)
        burst = [Incoming(BOARD, f"{30 - n}.0".encode(), NOW + QUARTER_MS + 30 * n) for n in range(10)]
        one.clock.set(NOW + QUARTER_MS + 1000)
        for batch in [burst] if together else [[message] for message in burst]:
            one.intake.take(batch)
        arrive(one, b"4.0", NOW + 2 * QUARTER_MS)
        arrive(one, b"4.5", NOW + 3 * QUARTER_MS)
        # That before the burst counts as the colder of itself and the first of it.
        assert one.readings.values() == {(EDGE, NOW): 5_000, (EDGE, NOW + 2 * QUARTER_MS): 4_000}
        assert {r.reason for r in one.book.refused()} == {Reason.NOT_FRESH}
        assert len(one.book.refused()) == 9


def test_a_fall_is_stored_as_it_arrives_and_a_rise_an_interval_late() -> None:
    one = bench(TEXT)
    for n, celsius in enumerate((10.0, 1.0, 12.0, 12.5)):
        arrive(one, f"{celsius}".encode(), NOW + n * QUARTER_MS)
        assert (1_000 in one.readings.values().values()) == (n >= 1)
    hours = [NOW + n * QUARTER_MS for n in range(3)]
    assert one.readings.values() == dict(zip([(EDGE, hour) for hour in hours], [1_000, 1_000, 12_000], strict=True))


def test_one_that_is_out_of_range_is_neither_stored_nor_the_colder_of_two() -> None:
    one = bench(TEXT)
    for n, text in enumerate((b"10.0", b"-127.00", b"11.0")):
        arrive(one, text, NOW + n * QUARTER_MS)
    assert one.readings.values() == {(EDGE, NOW): 10_000}


@pytest.mark.row("N5")
def test_a_batch_that_could_not_be_stored_is_not_taken_for_a_burst_when_it_comes_again() -> None:
    one = bench(TEXT)
    arrive(one, b"20.0", NOW)
    one.readings.failures = 1
    one.clock.set(NOW + QUARTER_MS)
    message = one.intake.incoming(BOARD, b"20.5")
    with pytest.raises(StoreError):
        one.intake.take([message])
    one.clock.set(NOW + QUARTER_MS + 5_000)
    one.intake.take([message])
    assert one.readings.values() == {(EDGE, NOW): 20_000}
    assert one.book.refused() == []


@pytest.mark.row("R2")
@pytest.mark.parametrize("step", ["decoded", "merged", "noted"])
def test_a_crash_costs_the_one_that_waits_and_makes_nothing_warmer(step: str) -> None:
    one = bench(TEXT)
    arrive(one, b"20.0", NOW)
    one.restarted(crash_after=step)
    with pytest.raises(Crash):
        arrive(one, b"30.0", NOW + QUARTER_MS)
    one.restarted()
    arrive(one, b"19.0", NOW + 2 * QUARTER_MS)
    arrive(one, b"19.0", NOW + 3 * QUARTER_MS)
    assert one.readings.values() == {(EDGE, NOW + 2 * QUARTER_MS): 19_000}


# README's example, as it stands there.
def topics_of_readme(folder: Path) -> tuple[TopicSettings, ...]:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (example,) = (text for text in re.findall(r"```toml\n(.*?)```", readme, re.DOTALL) if "[[topic]]" in text)
    return load(written(folder, changed(SITE, "[[mix]]", f"{example}\n[[mix]]"))).site.topic


def test_the_topics_in_readme_are_read_as_it_says(tmp_path: Path) -> None:
    one = bench(*topics_of_readme(tmp_path))
    arrive(one, pack({"n": "lg-01.1", "u": "Cel", "t": NOW / 1000, "v": 20.5}), NOW, topic="slabhour/millrace/r/lg-01")
    arrive(one, SAMPLES["json"].payload, NOW, topic=UP)
    arrive(one, uplink("2026-11-24T09:15:00Z", 21.0, 19.5), NOW + QUARTER_MS, topic=UP)
    log = {
        "log": [
            {"temp": 68.0, "unit": "F", "at": "24.11.2026 04:45"},
            {"temp": 20.25, "unit": "C", "at": "24.11.2026 05:00"},
        ]
    }
    arrive(one, json.dumps(log).encode(), NOW, topic="yard/lg-01/2/log")
    arrive(one, b"70.7", NOW + HOUR_MS)
    arrive(one, b"70.7", NOW + HOUR_MS + QUARTER_MS)
    assert one.book.refused() == []
    assert one.readings.values() == {
        (EDGE, NOW): 20_500,
        (SensorId(f"{EUI}.1"), NOW + 412): 20_500,
        (SensorId(f"{EUI}.2"), NOW + 412): 19_250,
        (INSIDE, NOW - QUARTER_MS): 20_000,
        (INSIDE, NOW): 20_250,
        (EDGE, NOW + HOUR_MS): 21_500,
    }
