from __future__ import annotations

import json
from typing import Any, Final

import pytest
from ingest_support import NOW
from payloads_support import LORAWAN, UPLINK

from ingest.payloads.decoded import Decoded, Facts, Record, Told, Untimed
from ingest.payloads.json_map import MOST_RECORDS, decoder
from shared.models.base import Json, LoggerId, SensorId
from shared.models.payloads import JsonTopic
from shared.models.readings import Reason

LOGGER: Final = LoggerId("lg-01")
EDGE, INSIDE = SensorId("lg-01.1"), SensorId("lg-01.2")


def topic(**fields: Any) -> JsonTopic:
    """Return a map in which each thing stands under its own name, changed by `fields` (None: left out)."""
    plain = {"channel": "channel", "value": "value", "unit": "degC", "time": "time", "time_format": "s"}
    plain["time_of"] = "measuring"
    known = {"filter": "a/{logger}", "format": "json", **plain, **fields}
    return JsonTopic.model_validate({name: value for name, value in known.items() if value is not None})


def read(message: Json, told: Told | None = None, **fields: Any) -> Decoded:
    payload = message if isinstance(message, bytes) else json.dumps(message).encode()
    return decoder(topic(**fields))(Told(LOGGER) if told is None else told, payload)


ONE: Final = {"channel": 1, "value": 20.5, "time": NOW / 1000}


def reasons(found: Decoded) -> list[Reason]:
    return [fault.reason for fault in found.faults]


def test_an_uplink_of_a_network_server_becomes_readings_of_two_channels_and_facts() -> None:
    eui = UPLINK["deviceInfo"]["devEui"]
    found = decoder(LORAWAN)(Told(LoggerId(eui)), json.dumps(UPLINK).encode())
    assert found.faults == ()
    # Its hour is that at which the network received it.
    assert found.records == ()
    assert found.untimed == (
        Untimed(SensorId(f"{eui}.1"), 20_500, NOW + 412),
        Untimed(SensorId(f"{eui}.2"), 19_250, NOW + 412),
    )
    # The best of two gateways that heard it.
    assert found.facts == Facts(sequence=41, battery_percent=87.0, signal_db=-81.0)


@pytest.mark.row("L3")
def test_an_uplink_whose_payload_was_not_decoded_is_refused_record_by_record() -> None:
    bare = {name: value for name, value in UPLINK.items() if name not in {"object", "rxInfo", "fCnt"}}
    found = decoder(LORAWAN)(Told(LOGGER), json.dumps(bare).encode())
    assert reasons(found)[:2] == [Reason.SCHEMA, Reason.SCHEMA]
    assert (found.records, found.untimed) == ((), ())


def test_one_message_may_have_several_times_of_one_channel() -> None:
    message = {"log": [[NOW / 1000 - 900, 20.5], [NOW / 1000, 21.0]]}
    found = read(message, Told(LOGGER, "2"), records="log", channel=None, value="[1]", time="[0]")
    assert found.records == (Record(INSIDE, NOW - 900_000, 20_500), Record(INSIDE, NOW, 21_000))


def test_one_time_of_the_message_holds_for_all_its_channels() -> None:
    message = {"at": "2026-11-24T09:00:00Z", "probes": [{"n": "1", "t": 20.5}, {"n": 2, "t": 21}]}
    found = read(
        message, records="probes", channel="n", value="t", time=None, message_time="at", time_format="iso"
    )  # fmt: skip
    assert found.records == (Record(EDGE, NOW, 20_500), Record(INSIDE, NOW, 21_000))


def test_a_sensor_may_be_named_whole_when_the_topic_names_no_logger() -> None:
    found = read(
        [{**ONE, "id": "lg-01.1"}, {**ONE, "id": "lg-09.2"}], Told(None), records="@", sensor="id", channel=None
    )
    assert [record.sensor for record in found.records] == ["lg-01.1", "lg-09.2"]


@pytest.mark.row("R5")
def test_a_sensor_of_another_logger_than_the_topics_is_refused() -> None:
    assert reasons(read({**ONE, "id": "lg-02.1"}, sensor="id", channel=None)) == [Reason.ID_MISMATCH]


@pytest.mark.row("L16")
def test_the_unit_is_fixed_or_told_by_the_message_and_never_guessed() -> None:
    fahrenheit = {**ONE, "value": 74.3, "u": "F"}
    assert read(fahrenheit, unit="degF").records == (Record(EDGE, NOW, 23_500),)
    assert read(fahrenheit, unit=None, unit_path="u").records == (Record(EDGE, NOW, 23_500),)
    assert read({**ONE, "u": "°C"}, unit=None, unit_path="u").records == (Record(EDGE, NOW, 20_500),)
    for unit in ("K", "f", "", None, 5, ["C"]):
        assert reasons(read({**ONE, "u": unit}, unit=None, unit_path="u")) == [Reason.UNIT]


def test_facts_are_those_of_senml() -> None:
    message = {**ONE, "seq": 7, "boot": "a7", "bat": 55.5, "rssi": -90}
    found = read(message, sequence="seq", boot="boot", battery="bat", signal="rssi")
    assert found.facts == Facts("a7", 7, 55.5, -90.0)
    assert found.records == (Record(EDGE, NOW, 20_500),)
    bad = {**ONE, "seq": 7.5, "boot": 3, "bat": 101, "rssi": "-90"}
    found = read(bad, sequence="seq", boot="boot", battery="bat", signal="rssi")
    assert found.facts is None
    assert reasons(found) == [Reason.SCHEMA, Reason.SCHEMA, Reason.RANGE, Reason.RANGE]
    assert found.records == (Record(EDGE, NOW, 20_500),)
    # A message that does not say them says nothing wrong.
    assert read(ONE, sequence="seq", boot="boot").faults == ()


BAD: Final[dict[str, tuple[dict[str, Json], Reason]]] = {
    "no value": ({"value": None}, Reason.SCHEMA),
    "digits in a text": ({"value": "20.5"}, Reason.SCHEMA),
    "true": ({"value": True}, Reason.SCHEMA),
    "a list": ({"value": [20.5]}, Reason.SCHEMA),
    "1e308": ({"value": 1e308}, Reason.RANGE),
    "no channel": ({"channel": None}, Reason.SCHEMA),
    "half a channel": ({"channel": 1.5}, Reason.SCHEMA),
    "channel 100": ({"channel": 100}, Reason.SCHEMA),
    "channel -1": ({"channel": -1}, Reason.SCHEMA),
    "a channel of letters": ({"channel": "edge"}, Reason.SCHEMA),
    "the name of a fact": ({"channel": "seq"}, Reason.SCHEMA),
    "no time": ({"time": None}, Reason.SCHEMA),
    "a time in a text": ({"time": str(NOW / 1000)}, Reason.SCHEMA),
    "hours": ({"time": NOW / 3_600_000}, Reason.CLOCK_PAST),
    "milliseconds for seconds": ({"time": NOW}, Reason.SCHEMA),
}


@pytest.mark.row("N8", "L3", "C5")
@pytest.mark.parametrize(("change", "reason"), BAD.values(), ids=BAD.keys())
def test_a_bad_record_is_refused_with_its_reason_and_its_neighbours_are_kept(
    change: dict[str, Json], reason: Reason
) -> None:
    found = read([ONE, {**ONE, **change}, ONE], records="@")
    assert reasons(found) == [reason]
    assert found.records == (Record(EDGE, NOW, 20_500),) * 2
    assert all(fault.detail.isascii() and fault.detail.isprintable() for fault in found.faults)


@pytest.mark.row("N8")
@pytest.mark.parametrize(
    ("payload", "reason"),
    [
        (b"", Reason.NOT_JSON),
        (b"\xff", Reason.NOT_UTF8),
        (b"[" * 8000 + b"]" * 8000, Reason.NOT_JSON),
        (b'{"value":NaN}', Reason.NOT_FINITE),
        (b'{"value":1,"value":2}', Reason.DUPLICATE_KEY),
        (b" " * 17_000, Reason.TOO_BIG),
        (b"null", Reason.SCHEMA),
        (b"3", Reason.SCHEMA),
        (b"[]", Reason.SCHEMA),
    ],
)
def test_a_message_that_cannot_be_read_gives_one_reason(payload: bytes, reason: Reason) -> None:
    found = read(payload)
    assert reasons(found) == [reason]
    assert found.records == ()


def test_a_value_too_large_for_a_float_is_not_finite() -> None:
    payload = json.dumps({**ONE, "value": 0.0}).replace("0.0", "1e999").encode()
    assert reasons(read(payload)) == [Reason.NOT_FINITE]


@pytest.mark.parametrize("records", [None, [], {}, "x", 3])
def test_records_are_a_list_that_is_not_empty(records: Json) -> None:
    assert reasons(read({"log": records}, records="log")) == [Reason.SCHEMA]


def test_more_records_than_can_be_read_quickly_are_too_big_at_once() -> None:
    assert len(read({"log": [ONE] * MOST_RECORDS}, records="log").records) == MOST_RECORDS
    assert reasons(read({"log": [{}] * (MOST_RECORDS + 1)}, records="log")) == [Reason.TOO_BIG]


@pytest.mark.parametrize(
    "path",
    ["abs(value)", "ceil(value)", "to_number(value)", "join('', value)", "sort(value)", "max(value)", "keys(value)",
     "value[0:2:0]", "sum(value)", "avg(value)", "map(&a, value)", "sort_by(value, &a)", "length(value)"],
)  # fmt: skip
@pytest.mark.parametrize(
    "value", [None, True, "x", "9" * 5000, [], [1, "a", None], {}, {"a": 1}, 3.5, [[]]], ids=lambda v: repr(v)[:12]
)
def test_a_function_that_cannot_take_what_it_finds_costs_that_record_only(path: str, value: Json) -> None:
    found = read([{**ONE, "value": value}, ONE], records="@", value=f"{path}")
    assert len(found.records) + len(found.faults) == 2


def test_a_path_of_an_infinite_number_raises_nothing() -> None:
    payload = json.dumps({**ONE, "value": 0.0}).replace("0.0", "1e999").encode()
    for path in ("ceil(value)", "floor(value)", "to_string(value)", "sum([value])"):
        assert read(payload, value=path).faults
