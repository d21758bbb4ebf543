from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from ingest_support import EDGE, INSIDE, NOW, pack, warm

from ingest.payloads.decoded import Decoded, Facts, Record, Told
from ingest.payloads.senml import SenmlRecord, decode
from shared.models.base import Json, LoggerId
from shared.models.readings import Reason

LG_01 = Told(LoggerId("lg-01"))


def test_a_good_pack_with_base_values_is_read_whole() -> None:
    text = """[{"bn":"lg-01.","bt":1795510800,"bu":"Cel","bv":20},
               {"n":"1","v":3.45},{"n":"2","t":-900,"v":-20.001},
               {"n":"boot","vs":"a7f3"},{"n":"seq","v":41},{"n":"battery","u":"%EL","bv":0,"v":87},
               {"n":"signal","u":"dBW","v":-120}]"""
    assert decode(LG_01, text.encode()) == Decoded(
        (Record(EDGE, NOW, 23_450), Record(INSIDE, NOW - 900_000, -1)),
        (),
        Facts(boot="a7f3", sequence=61, battery_percent=87.0, signal_db=-90.0),
    )


BAD_PAYLOADS: dict[str, tuple[bytes, Reason]] = {
    "nothing": (b"", Reason.NOT_JSON),
    "17 KiB": (b"[" + b" " * 17_000 + b"]", Reason.TOO_BIG),
    "351 records": (b"[" + b",".join([b"{}"] * 351) + b"]", Reason.TOO_BIG),
    "a Latin-1 letter": (b'[{"n":"caf\xe9"}]', Reason.NOT_UTF8),
    "UTF-16": ('[{"n":"lg-01.1"}]'.encode("utf-16"), Reason.NOT_UTF8),
    "an overlong slash": (b'["\xc0\xaf"]', Reason.NOT_UTF8),
    "a byte order mark": (b"\xef\xbb\xbf[]", Reason.NOT_JSON),
    "cut off": (pack(warm())[:-5], Reason.NOT_JSON),
    "two documents": (pack(warm()) * 2, Reason.NOT_JSON),
    "a leading zero": (b'[{"n":"lg-01.1","u":"Cel","t":1795510800,"v":020.5}]', Reason.NOT_JSON),
    "8000 brackets": (b"[" * 8000, Reason.NOT_JSON),
    "8000 nested lists": (b"[" * 8000 + b"]" * 8000, Reason.NOT_JSON),
    "a key twice": (b'[{"n":"lg-01.1","u":"Cel","t":1795510800,"v":2,"v":40}]', Reason.DUPLICATE_KEY),
    "a nested key twice": (b'[{"n":{"a":1,"a":2}}]', Reason.DUPLICATE_KEY),
    "NaN": (b'[{"n":"lg-01.1","u":"Cel","t":1795510800,"v":NaN}]', Reason.NOT_FINITE),
    "Infinity": (b'[{"n":"lg-01.1","u":"Cel","t":1795510800,"v":-Infinity}]', Reason.NOT_FINITE),
    "an object": (b'{"n":"lg-01.1"}', Reason.SCHEMA),
    "an empty pack": (b"[]", Reason.SCHEMA),
    "a list in the pack": (b"[[]]", Reason.SCHEMA),
    "null": (b"null", Reason.SCHEMA),
    "base values only": (b'[{"bn":"lg-01."}]', Reason.SCHEMA),
    "a later version": (pack({"bver": 11, **warm()}), Reason.SCHEMA),
    "a field to be understood": (pack({"lock_": 1, **warm()}), Reason.SCHEMA),
}


@pytest.mark.row("N8", "L17")
@pytest.mark.parametrize(("payload", "reason"), BAD_PAYLOADS.values(), ids=BAD_PAYLOADS.keys())
def test_a_message_that_cannot_be_read_gives_one_reason_and_nothing_else(payload: bytes, reason: Reason) -> None:
    decoded = decode(LG_01, payload)
    assert [fault.reason for fault in decoded.faults] == [reason]
    assert decoded.records == ()
    assert decoded.facts is None


def raw(fields: str) -> bytes:
    """A bad record between two good ones."""
    good = json.dumps(warm())
    return f"[{good},{{{fields}}},{good}]".encode()


BAD_RECORDS: dict[str, tuple[str, Reason]] = {
    "digits in a string": ('"n":"lg-01.1","u":"Cel","t":1795510800,"v":"20.5"', Reason.SCHEMA),
    "an empty string": ('"n":"lg-01.1","u":"Cel","t":1795510800,"v":""', Reason.SCHEMA),
    "null": ('"n":"lg-01.1","u":"Cel","t":1795510800,"v":null', Reason.SCHEMA),
    "true": ('"n":"lg-01.1","u":"Cel","t":1795510800,"v":true', Reason.SCHEMA),
    "a time in a string": ('"n":"lg-01.1","u":"Cel","t":"1795510800","v":20', Reason.SCHEMA),
    "a date": ('"n":"lg-01.1","u":"Cel","t":"2026-11-24T09:00:00Z","v":20', Reason.SCHEMA),
    "an unknown field": ('"n":"lg-01.1","u":"Cel","unit":"F","t":1795510800,"v":20', Reason.SCHEMA),
    "half a letter": ('"n":"\\ud800","u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "half a letter for a key": ('"\\ud800":1', Reason.SCHEMA),
    "text": ('"n":"lg-01.1","u":"Cel","t":1795510800,"vs":"20"', Reason.SCHEMA),
    "a number and text": ('"n":"lg-01.1","u":"Cel","t":1795510800,"v":20,"vs":"20"', Reason.SCHEMA),
    "a number and data": ('"n":"lg-01.1","u":"Cel","t":1795510800,"v":20,"vd":"aGk"', Reason.SCHEMA),
    "1e999": ('"n":"lg-01.1","u":"Cel","t":1795510800,"v":1e999', Reason.NOT_FINITE),
    "5000 digits": (f'"n":"lg-01.1","u":"Cel","t":1795510800,"v":{"9" * 5000}', Reason.NOT_FINITE),
    "a time of 1e999": ('"n":"lg-01.1","u":"Cel","t":1e999,"v":20', Reason.NOT_FINITE),
    "1e308": ('"n":"lg-01.1","u":"Cel","t":1795510800,"v":1e308', Reason.RANGE),
    "no unit": ('"n":"lg-01.1","t":1795510800,"v":20', Reason.UNIT),
    "kelvin": ('"n":"lg-01.1","u":"K","t":1795510800,"v":296.5', Reason.UNIT),
    "Fahrenheit": ('"n":"lg-01.1","u":"degF","t":1795510800,"v":74.3', Reason.UNIT),
    "celsius in small letters": ('"n":"lg-01.1","u":"cel","t":1795510800,"v":20', Reason.UNIT),
    "no time": ('"n":"lg-01.1","u":"Cel","v":20', Reason.CLOCK_PAST),
    "a relative time": ('"n":"lg-01.1","u":"Cel","t":-30,"v":20', Reason.CLOCK_PAST),
    "1970": ('"n":"lg-01.1","u":"Cel","t":3600,"v":20', Reason.CLOCK_PAST),
    "the last relative second": ('"n":"lg-01.1","u":"Cel","t":268435455,"v":20', Reason.CLOCK_PAST),
    "microseconds": ('"n":"lg-01.1","u":"Cel","t":1795510800000000,"v":20', Reason.CLOCK_FUTURE),
    "another logger": ('"n":"lg-02.1","u":"Cel","t":1795510800,"v":20', Reason.ID_MISMATCH),
    "no name": ('"u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "no channel": ('"n":"lg-01","u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "three digits of channel": ('"n":"lg-01.100","u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "an unknown fact": ('"n":"lg-01.humidity","u":"%RH","t":1795510800,"v":20', Reason.SCHEMA),
    "a foreign digit": ('"n":"lg-01.\\u0661","u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "a look-alike letter": ('"n":"l\\u0261-01.1","u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "a line end": ('"n":"lg-01.1\\n","u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "NUL": ('"n":"lg-01.1\\u0000","u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "a path": ('"n":"lg-01/../lg-02.1","u":"Cel","t":1795510800,"v":20', Reason.SCHEMA),
    "a boot of no text": ('"n":"lg-01.boot","v":3', Reason.SCHEMA),
    "half a message": ('"n":"lg-01.seq","v":3.5', Reason.SCHEMA),
    "a battery in volts": ('"n":"lg-01.battery","u":"V","v":3.5', Reason.UNIT),
    "a battery of 200": ('"n":"lg-01.battery","u":"%EL","v":200', Reason.RANGE),
    "a signal without unit": ('"n":"lg-01.signal","v":-90', Reason.UNIT),
    "a signal of 1e300": ('"n":"lg-01.signal","u":"dBm","v":1e300', Reason.RANGE),
}


@pytest.mark.row("N8", "L3", "R5", "M7", "C5", "L16")
@pytest.mark.parametrize(("fields", "reason"), BAD_RECORDS.values(), ids=BAD_RECORDS.keys())
def test_a_bad_record_is_refused_with_its_reason_and_its_neighbours_are_kept(fields: str, reason: Reason) -> None:
    decoded = decode(LG_01, raw(fields))
    assert [fault.reason for fault in decoded.faults] == [reason]
    assert decoded.records == (Record(EDGE, NOW, 20_000),) * 2
    assert all(fault.detail.isascii() and fault.detail.isprintable() for fault in decoded.faults)


@pytest.mark.row("N8")
def test_records_after_unreadable_base_values_are_refused_not_guessed() -> None:
    decoded = decode(LG_01, b'[{"bn":"lg-01.","bu":"Cel","bt":"1795510800"},{"n":"1","t":1795510800,"v":20}]')
    assert decoded.records == ()
    assert [fault.reason for fault in decoded.faults] == [Reason.SCHEMA, Reason.SCHEMA]


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=4), inner, max_size=4),
    max_leaves=12,
)
fields = st.sampled_from([*SenmlRecord.model_fields, "x_", "x"])
texts = st.sampled_from(["lg-01.1", "lg-01.", "1", "lg-01.boot", "Cel", "lg-02.1"]) | st.text(max_size=8)
numbers = st.floats() | st.integers() | st.sampled_from([NOW / 1000, 1e308, -1e308, 2**28, 20.5])
senml_like = st.lists(st.dictionaries(fields, texts | numbers | json_values, max_size=8), max_size=5)


def answered(payload: bytes) -> None:
    decoded = decode(LG_01, payload)
    assert decoded.records or decoded.faults or decoded.facts
    assert all(fault.detail.isascii() for fault in decoded.faults)


@pytest.mark.row("N8")
@given(st.binary(max_size=20 * 1024))
def test_any_bytes_get_an_answer_or_a_reason(payload: bytes) -> None:
    answered(payload)


@pytest.mark.row("N8")
@given(json_values | senml_like)
def test_any_json_gets_an_answer_or_a_reason(value: Json) -> None:
    answered(json.dumps(value).encode())
