"""What every decoder of the table promises, whatever its format."""

from __future__ import annotations

import json
from typing import Final, get_args

import cbor2
import pytest
from hypothesis import given, note
from hypothesis import strategies as st
from ingest_support import NOW
from payloads_support import SAMPLES, UPLINK, Sample

from ingest.payloads import FORMATS
from ingest.payloads.decoded import Decoded
from shared.models.base import Json, SensorId
from shared.models.payloads import TopicSettings

every_format: Final = pytest.mark.parametrize("sample", SAMPLES.values(), ids=SAMPLES.keys())


def temperatures(found: Decoded) -> list[tuple[SensorId, int | None, int]]:
    timed = [(record.sensor, record.taken_ms, record.milli_c) for record in found.records]
    return [*timed, *((untimed.sensor, untimed.arrived_ms, untimed.milli_c) for untimed in found.untimed)]


def answered(found: Decoded) -> None:
    assert temperatures(found) or found.faults or found.facts
    assert all(fault.detail.isascii() and fault.detail.isprintable() for fault in found.faults)


def test_every_format_that_a_site_file_may_name_is_in_the_table_and_the_reverse() -> None:
    union, *_ = get_args(TopicSettings)
    named = {name for model in get_args(union) for name in get_args(model.model_fields["format"].annotation)}
    assert named == set(FORMATS) == set(SAMPLES)


@every_format
def test_a_good_message_is_read_whole(sample: Sample) -> None:
    found = sample.decode(sample.payload)
    assert found.faults == ()
    bare = sample.topic.format == "text"
    assert [milli_c for _, _, milli_c in temperatures(found)] == ([20_500] if bare else [20_500, 19_250])
    assert bare or (found.facts is not None and found.facts.sequence == 41)


@every_format
def test_nonsense_is_refused_with_a_reason(sample: Sample) -> None:
    for nonsense in (b"", b"\x00\xff", b"\xff" * 65_536, b"[" * 65_536, b"9" * 65_536):
        found = sample.decode(nonsense)
        assert found.faults
        assert temperatures(found) == []


def answered_by_all(payload: bytes) -> None:
    """Hand one message to every decoder: to think of it takes many times as long as to read it."""
    for name, sample in SAMPLES.items():
        note(f"as {name}")
        answered(sample.decode(payload))


@pytest.mark.row("N8")
@given(st.binary(max_size=65_536))
def test_any_bytes_get_an_answer_or_a_reason(payload: bytes) -> None:
    answered_by_all(payload)


@pytest.mark.row("N8")
@every_format
@given(st.data())
def test_a_good_message_with_a_stretch_of_other_bytes_gets_an_answer_or_a_reason(
    sample: Sample, data: st.DataObject
) -> None:
    start = data.draw(st.integers(0, len(sample.payload)))
    end = data.draw(st.integers(start, len(sample.payload)))
    put = data.draw(st.binary(max_size=16) | st.text(max_size=8).map(lambda text: text.encode("utf-8", "replace")))
    answered(sample.decode(sample.payload[:start] + put + sample.payload[end:]))


WORDS: Final = st.sampled_from(["lg-01.1", "lg-01.", "1", "c", "v", "Cel", "object", "edge", "time", "rxInfo", "rssi"])
NUMBERS: Final = st.integers(-(2**70), 2**70) | st.floats() | st.sampled_from([NOW / 1000, 20.5])
VALUES: Final = st.recursive(
    st.none() | st.booleans() | NUMBERS | WORDS | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS | st.text(max_size=3), inner, max_size=6),
    max_leaves=16,
)
RECORDS: Final = st.lists(st.dictionaries(st.integers(-8, 10) | WORDS, VALUES, max_size=8), max_size=5)


@pytest.mark.row("N8")
@given(VALUES)
def test_any_json_gets_an_answer_or_a_reason(value: Json) -> None:
    answered_by_all(json.dumps(value).encode())


@pytest.mark.row("N8")
@given(RECORDS | VALUES)
def test_any_cbor_gets_an_answer_or_a_reason(value: Json) -> None:
    answered_by_all(cbor2.dumps(value))


@pytest.mark.row("N8")
@given(st.dictionaries(st.sampled_from(sorted(UPLINK)), VALUES, max_size=4))
def test_an_uplink_with_anything_in_place_of_its_fields_gets_an_answer_or_a_reason(changes: dict[str, Json]) -> None:
    answered(SAMPLES["json"].decode(json.dumps({**UPLINK, **changes}).encode()))


@pytest.mark.row("R8")
@every_format
def test_a_flipped_bit_makes_no_temperature_more_and_none_is_lost_without_a_reason(sample: Sample) -> None:
    good = sample.decode(sample.payload)
    sent = temperatures(good)
    for bit in range(8 * len(sample.payload)):
        flipped = bytearray(sample.payload)
        flipped[bit // 8] ^= 1 << bit % 8
        found = sample.decode(bytes(flipped))
        answered(found)
        left = temperatures(found)
        assert len(left) <= len(sent), (bit, found)
        assert found.faults or len(left) == len(sent), (bit, found)
        # What is there without a reason beside it is as it was sent or says something else: of one that changed,
        # sensor, time or value differs, so that it can neither stand in for the one that was sent nor repeat it.
        assert len(set(left)) == len(left), (bit, found)


def flips_that_change_nothing(sample: Sample) -> list[bytes]:
    good, unchanged = sample.decode(sample.payload), []
    for bit in range(8 * len(sample.payload)):
        flipped = bytearray(sample.payload)
        flipped[bit // 8] ^= 1 << bit % 8
        if sample.decode(bytes(flipped)) == good:
            unchanged.append(bytes(flipped))
    return unchanged


@pytest.mark.row("R8")
@pytest.mark.parametrize("name", ["senml+json", "text"])
def test_a_flipped_bit_of_what_is_all_meaning_is_refused_or_reads_as_something_else(name: str) -> None:
    assert flips_that_change_nothing(SAMPLES[name]) == []


@pytest.mark.row("R8")
def test_a_flipped_bit_in_cbor_too_but_for_digits_beyond_the_thousandth() -> None:
    sample = SAMPLES["senml+cbor"]
    numbers = [[value for record in cbor2.loads(sample.payload) for value in record.values()]]
    numbers += [
        [v for record in cbor2.loads(same) for v in record.values()] for same in flips_that_change_nothing(sample)
    ]
    good, *others = [[float(value) for value in found if isinstance(value, float)] for found in numbers]
    assert len(others) > 50  # the tails of two numbers of 64 bits
    assert max(abs(a - b) for other in others for a, b in zip(good, other, strict=True)) < 0.0005
