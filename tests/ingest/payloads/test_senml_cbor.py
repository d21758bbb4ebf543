from __future__ import annotations

import math
from typing import Final

import cbor2
import pytest
from ingest_support import EDGE, INSIDE, NOW

from ingest.payloads import senml
from ingest.payloads.decoded import Decoded, Decoder, Facts, Record, Told
from ingest.payloads.senml_cbor import DEEPEST, LABELS, decoder, load
from ingest.payloads.strict_json import PayloadError
from shared.models.base import LoggerId
from shared.models.payloads import SenmlTopic
from shared.models.readings import Reason

LG_01: Final = Told(LoggerId("lg-01"))
DECODE: Final[Decoder] = decoder(SenmlTopic(filter="r/{logger}", format="senml+cbor"))
WARM: Final[dict[object, object]] = {0: "lg-01.1", 1: "Cel", 6: NOW // 1000, 2: 20.0}


def pack(*records: object) -> bytes:
    return cbor2.dumps(list(records))


def test_a_good_pack_with_base_values_is_read_whole() -> None:
    payload = pack(
        {-2: "lg-01.", -3: 1795510800, -4: "Cel", -5: 20},
        {0: "1", 2: 3.45},
        {0: "2", 6: -900, 2: -20.001},
        {0: "boot", 3: "a7f3"},
        {0: "seq", 2: 41},
        {0: "battery", 1: "%EL", -5: 0, 2: 87},
        {0: "signal", 1: "dBW", 2: -120},
    )
    assert DECODE(LG_01, payload) == Decoded(
        (Record(EDGE, NOW, 23_450), Record(INSIDE, NOW - 900_000, -1)),
        (),
        Facts(boot="a7f3", sequence=61, battery_percent=87.0, signal_db=-90.0),
    )


# RFC 8949, 3.4.4: tag 4, the exponent of ten first.
@pytest.mark.parametrize(
    "number",
    ["fb4037733333333333", "c48221190929", "c4822119092a", "f94dde", "17"],
    ids=["float", "decimal fraction", "another decimal fraction", "half float", "whole number"],
)
def test_a_number_is_the_same_however_it_is_written(number: str) -> None:
    payload = bytes.fromhex(f"81a400676c672d30312e31016343656c061a{NOW // 1000:08x}02{number}")
    (record,) = DECODE(LG_01, payload).records
    assert record.milli_c == {"fb4037733333333333": 23_450, "c48221190929": 23_450, "c4822119092a": 23_460}.get(
        number, 23_469 if number == "f94dde" else 23_000
    )


def test_an_encoder_that_does_not_know_its_lengths_is_understood() -> None:
    payload = b"\x9f\xbf\x00\x67lg-01.1\x01\x63Cel\x06\x1a" + (NOW // 1000).to_bytes(4) + b"\x02\x14\xff\xff"
    assert DECODE(LG_01, payload).records == (Record(EDGE, NOW, 20_000),)


TOO_DEEP: Final = b"\x81" * (DEEPEST + 1) + b"\x00"
BAD_PAYLOADS: Final[dict[str, tuple[bytes, Reason]]] = {
    "nothing": (b"", Reason.NOT_CBOR),
    "17 KiB": (b"\x00" * 17_000, Reason.TOO_BIG),
    "a text that is not UTF-8": (b"\x81\xa1\x00\x62\xff\xfe", Reason.NOT_UTF8),
    "cut off": (pack(WARM)[:-1], Reason.NOT_CBOR),
    "two documents": (pack(WARM) * 2, Reason.NOT_CBOR),
    "too deep": (TOO_DEEP, Reason.NOT_CBOR),
    "16 000 brackets": (b"\x81" * 16_000, Reason.NOT_CBOR),
    "16 000 open brackets": (b"\x9f" * 16_000, Reason.NOT_CBOR),
    "a list of 4 000 000 000": (b"\x9a\xee\x6b\x28\x00", Reason.NOT_CBOR),
    "a text of 2^62 bytes": (b"\x7b\x40\x00\x00\x00\x00\x00\x00\x00", Reason.NOT_CBOR),
    "a break where nothing is open": (b"\xff", Reason.NOT_CBOR),
    "a label twice": (b"\x81\xa2\x02\x01\x02\x02", Reason.DUPLICATE_KEY),
    "a label written out": (pack({**WARM, "n": "lg-01.2"}), Reason.SCHEMA),
    "true for a label": (pack({**{k: v for k, v in WARM.items() if k != 1}, True: "Cel"}), Reason.SCHEMA),
    "1.0 for a label": (b"\x81\xa1\xf9\x3c\x00\x63Cel", Reason.SCHEMA),
    "null for a label": (pack({None: 1}), Reason.SCHEMA),
    "a regular expression": (b"\x81\xa1\x00\xd8\x23\x61a", Reason.SCHEMA),
    "a bignum": (pack({**WARM, 2: 2**70}), Reason.SCHEMA),
    "a list that holds itself": (b"\xd8\x1c\x81\xd8\x1d\x00", Reason.SCHEMA),
    "a fraction of a googol digits": (b"\x81\xa1\x02\xc4\x82\x1a\x7f\xff\xff\xff\x01", Reason.SCHEMA),
    "a fraction of three parts": (b"\x81\xa1\x02\xc4\x83\x01\x01\x01", Reason.SCHEMA),
    "a fraction of text": (b"\x81\xa1\x02\xc4\x82\x61a\x01", Reason.SCHEMA),
    "a map": (cbor2.dumps(WARM), Reason.SCHEMA),
    "a number": (b"\x00", Reason.SCHEMA),
    "an empty pack": (pack(), Reason.SCHEMA),
    "a list in the pack": (pack([]), Reason.SCHEMA),
    "base values only": (pack({-2: "lg-01."}), Reason.SCHEMA),
    "a later version": (pack({-1: 11, **WARM}), Reason.SCHEMA),
    "a field to be understood": (pack({"lock_": 1, **WARM}), Reason.SCHEMA),
    "JSON": (b'[{"n":"lg-01.1","u":"Cel","t":1795510800,"v":20}]', Reason.NOT_CBOR),
}


@pytest.mark.row("N8", "L17")
@pytest.mark.parametrize(("payload", "reason"), BAD_PAYLOADS.values(), ids=BAD_PAYLOADS.keys())
def test_a_message_that_cannot_be_read_gives_one_reason_and_nothing_else(payload: bytes, reason: Reason) -> None:
    found = DECODE(LG_01, payload)
    assert [fault.reason for fault in found.faults] == [reason]
    assert (found.records, found.facts) == ((), None)
    assert found.faults[0].detail.isascii()
    assert found.faults[0].detail.isprintable()


BAD_RECORDS: Final[dict[str, tuple[dict[object, object], Reason]]] = {
    "a number in a text": ({**WARM, 2: "20.5"}, Reason.SCHEMA),
    "null": ({**WARM, 2: None}, Reason.SCHEMA),
    "undefined": ({**WARM, 2: cbor2.undefined}, Reason.SCHEMA),
    "true": ({**WARM, 2: True}, Reason.SCHEMA),
    "bytes for a name": ({**WARM, 0: b"lg-01.1"}, Reason.SCHEMA),
    "an unknown whole number": ({**WARM, 9: 1}, Reason.SCHEMA),
    "an unknown name": ({**WARM, "unit": "F"}, Reason.SCHEMA),
    "NaN": ({**WARM, 2: math.nan}, Reason.NOT_FINITE),
    "Infinity": ({**WARM, 2: -math.inf}, Reason.NOT_FINITE),
    "a time of infinity": ({**WARM, 6: math.inf}, Reason.NOT_FINITE),
    "data": ({**WARM, 8: b"hi"}, Reason.SCHEMA),
    "1e308": ({**WARM, 2: 1e308}, Reason.RANGE),
    "2^63": ({**WARM, 2: 2**63}, Reason.RANGE),
    "kelvin": ({**WARM, 1: "K", 2: 296.5}, Reason.UNIT),
    "no time": ({k: v for k, v in WARM.items() if k != 6}, Reason.CLOCK_PAST),
    "milliseconds are the far future": ({**WARM, 6: NOW * 1000}, Reason.CLOCK_FUTURE),
    "another logger": ({**WARM, 0: "lg-02.1"}, Reason.ID_MISMATCH),
}


@pytest.mark.row("N8", "L3", "R5", "C5", "L16")
@pytest.mark.parametrize(("record", "reason"), BAD_RECORDS.values(), ids=BAD_RECORDS.keys())
def test_a_bad_record_is_refused_with_its_reason_and_its_neighbours_are_kept(
    record: dict[object, object], reason: Reason
) -> None:
    found = DECODE(LG_01, pack(WARM, record, WARM))
    assert [fault.reason for fault in found.faults] == [reason]
    assert found.records == (Record(EDGE, NOW, 20_000),) * 2


@pytest.mark.row("N8")
def test_no_tag_but_that_of_a_decimal_fraction_is_acted_upon() -> None:
    contents = (b"\x61a", b"\x80", b"\x82\x01\x02")
    acted, reasons = [], set()
    for tag in (*range(2_000), *range(2_000, 2**16, 37), 43_000, 55_799, 2**32 - 1, 2**32, 2**64 - 1):
        head = bytes([0xC0 | tag]) if tag < 24 else bytes([0xDB]) + tag.to_bytes(8)
        for content in contents:
            try:
                load(b"\x81\xa1\x02" + head + content)
                acted.append((tag, content))
            except PayloadError as error:
                reasons.add(error.fault.reason)
    assert acted == [(4, b"\x82\x01\x02")]
    assert reasons == {Reason.SCHEMA}


def test_the_labels_are_those_of_the_fields_that_json_has() -> None:
    assert set(LABELS.values()) == set(senml.SenmlRecord.model_fields)
