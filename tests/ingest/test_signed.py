"""A logger that has a key is believed only in what it signed."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from dataclasses import replace

import pytest
from ingest_support import EDGE, INSIDE, NOW, TOPIC, Bench, pack, warm
from payloads_support import SAMPLES
from repo_support import ROOT

from ingest.intake import Intake
from ingest.payloads.decoded import Decoded, Facts, Record, Told, Untimed
from ingest.signed import believed, mac_of, read_keys, signed_text
from ingest.turns import SharedIntake
from shared.errors import SetupError
from shared.models.base import Json, LoggerId, SensorId
from shared.models.payloads import JsonTopic
from shared.models.readings import Reason

LOGGER, OTHER = LoggerId("lg-01"), LoggerId("lg-09")
KEY = bytes(range(32))
KEYS = {LOGGER: KEY}
WHOLE = Decoded((Record(EDGE, NOW, 20_500), Record(INSIDE, NOW - 1, -250)), (), Facts("a7", 41, 88.0))


def signed(decoded: Decoded = WHOLE, key: bytes = KEY) -> Decoded:
    assert decoded.facts is not None
    return replace(decoded, facts=replace(decoded.facts, mac=mac_of(key, LOGGER, decoded)))


def reasons(decoded: Decoded) -> list[Reason]:
    return [fault.reason for fault in decoded.faults]


def message(*more: dict[str, Json], celsius: float = 20.5, key: bytes = KEY, seq: int = 41) -> bytes:
    said = Decoded((Record(EDGE, NOW, round(celsius * 1000)),), (), Facts("a7", seq))
    facts: list[dict[str, Json]] = [{"n": "lg-01.boot", "vs": "a7"}, {"n": "lg-01.seq", "v": seq}]
    return pack(warm(celsius), *facts, {"n": "lg-01.mac", "vs": mac_of(key, LOGGER, said)}, *more)


def bench() -> Bench:
    found = Bench()
    found.intake = Intake("millrace", found.readings, found.book, found.clock, keys=KEYS)  # type: ignore[arg-type]
    return found


def test_what_a_logger_signed_is_taken_whole_and_its_battery_is_not_part_of_it() -> None:
    assert believed(Told(LOGGER), signed(), KEYS) == signed()
    assert signed_text(LOGGER, WHOLE) == f"slabhour-1\nlg-01\na7\n41\n1 {NOW} 20500\n2 {NOW - 1} -250\n".encode()
    low = replace(signed(), facts=replace(signed().facts or Facts(), battery_percent=3.0))
    assert believed(Told(LOGGER), low, KEYS).records == WHOLE.records


@pytest.mark.row("M1", "M4")
@pytest.mark.parametrize(
    "change",
    [
        lambda d: replace(d, records=(replace(d.records[0], milli_c=20_501), d.records[1])),
        lambda d: replace(d, records=(replace(d.records[0], taken_ms=NOW + 1), d.records[1])),
        lambda d: replace(d, records=(replace(d.records[0], sensor=SensorId("lg-01.3")), d.records[1])),
        lambda d: replace(d, records=d.records[:1]),
        lambda d: replace(d, records=d.records[::-1]),
        lambda d: replace(d, records=(*d.records, d.records[0])),
        lambda d: replace(d, facts=replace(d.facts, boot="a8")),
        lambda d: replace(d, facts=replace(d.facts, sequence=42)),
        lambda d: replace(d, facts=replace(d.facts, sequence=None)),
        lambda d: replace(d, facts=replace(d.facts, boot=None)),
        lambda d: replace(d, facts=replace(d.facts, mac=None)),
        lambda d: replace(d, facts=replace(d.facts, mac="0" * 64)),
        lambda d: replace(d, facts=None),
        lambda d: replace(d, untimed=(Untimed(EDGE, 20_500),)),
        lambda _: signed(key=bytes(32)),
    ],
)
def test_whatever_else_is_said_is_refused_whole_with_the_reason(change: Callable[[Decoded], Decoded]) -> None:
    found = believed(Told(LOGGER), change(signed()), KEYS)
    assert (found.records, found.untimed, found.facts) == ((), (), None)
    assert reasons(found) == [Reason.SIGNATURE]


def test_a_logger_without_a_key_goes_on_and_one_topic_for_many_cannot_speak_for_one_that_has_a_key() -> None:
    assert believed(Told(OTHER), WHOLE, KEYS) == WHOLE
    many = Decoded((Record(EDGE, NOW, 1), Record(SensorId("lg-09.1"), NOW, 2)), (), None, (Untimed(INSIDE, 3),))
    found = believed(Told(None), many, KEYS)
    assert ([r.sensor for r in found.records], found.untimed) == (["lg-09.1"], ())
    assert reasons(found) == [Reason.SIGNATURE] * 2
    assert believed(Told(None), many, {}) == many


@pytest.mark.row("M4")
def test_the_intake_stores_what_is_signed_and_keeps_the_rest_as_refused_until_the_key_is_right() -> None:
    here = bench()
    here.take(message(), pack(warm(30.0, NOW - 60_000)), message(celsius=30.0, key=bytes(32), seq=42), b"\xff")
    assert list(here.readings.values().values()) == [20_500]
    refused = here.book.refused()
    assert [r.reason for r in refused] == [Reason.SIGNATURE, Reason.SIGNATURE, Reason.NOT_UTF8]
    assert "lg-01 must sign: the message bears no mac" in refused[0].detail
    # As it was it changes nothing; with another hour it is not that message.
    here.take(message())
    assert len(here.book.refused()) == 3
    late = json.loads(message())
    late[0]["t"] += 900
    here.take(json.dumps(late).encode())
    assert (len(here.readings.stored), here.book.refused()[-1].reason) == (1, Reason.SIGNATURE)
    again = here.intake.look_again(refused[1:2])
    assert [r.reason for r in again[0].refused] == [Reason.SIGNATURE]
    mended = {LOGGER: bytes(32)}
    here.intake = Intake("millrace", here.readings, here.book, here.clock, keys=mended)  # type: ignore[arg-type]
    assert [r.milli_c for r in here.intake.look_again(refused[1:2])[0].rows] == [30_000]


def test_intakes_that_take_turns_have_the_same_keys() -> None:
    here = Bench()
    shared = SharedIntake("millrace", here.readings, here.book, here.clock, keys=KEYS)  # type: ignore[arg-type]
    beside = shared.beside(here.readings, here.book)
    beside.take([beside.incoming(TOPIC, pack(warm(30.0)))])
    assert here.readings.stored == {}
    assert [r.reason for r in here.book.refused()] == [Reason.SIGNATURE]


def test_every_format_that_has_a_place_for_it_can_be_signed() -> None:
    topic = JsonTopic(
        filter="yard/{logger}/up", format="json", channel="'1'", value="c", unit="degC", time="t", time_format="ms",
        time_of="measuring", sequence="n", boot="b", mac="sig",
    )  # fmt: skip
    sample = replace(SAMPLES["json"], topic=topic, told=Told(LOGGER))
    said = {"c": 20.5, "t": NOW, "n": 41, "b": "a7"}
    read = sample.decode(json.dumps(said).encode())
    whole = sample.decode(json.dumps({**said, "sig": mac_of(KEY, LOGGER, read)}).encode())
    assert [r.milli_c for r in believed(Told(LOGGER), whole, KEYS).records] == [20_500]
    text = SAMPLES["text"].decode(b"20.5")
    assert reasons(believed(Told(LOGGER), text, KEYS)) == [Reason.SIGNATURE]


def test_the_example_of_the_readme_is_what_openssl_makes_and_what_is_believed() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    example = readme.split("## Signed messages")[1].split("```text\n")[1].split("```")[0]
    (key,) = re.findall(r"^key +(\w+)$", example, re.MULTILINE)
    payload = example.split("message  ")[1].split("signed")[0]
    read = SAMPLES["senml+json"].decode(payload.encode())
    assert (len(read.records), read.faults) == (2, ())
    assert believed(Told(LOGGER), read, {LOGGER: bytes.fromhex(key)}) == read
    (text,) = re.findall(r"^signed +(\S.*)$", example, re.MULTILINE)
    assert text.replace("\\n", "\n").encode() == signed_text(LOGGER, read)
    if shutil.which("openssl") is None:
        pytest.skip("openssl is not installed")
    command = example.split("tried    ")[1]
    made = subprocess.run(["sh", "-c", command], capture_output=True, text=True, check=True, timeout=60).stdout
    assert read.facts is not None
    assert made.split()[-1] == read.facts.mac


def test_a_file_of_keys_names_every_line_that_is_none_and_repeats_no_key() -> None:
    good = "ab" * 32
    assert read_keys(f"# the gateway's\nlg-01 {good}  # new\n\n", "keys") == {LOGGER: bytes.fromhex(good)}
    with pytest.raises(SetupError) as told:
        read_keys(f"lg-01 {good}\nlg-01 {good}\nlg-02 {'cd' * 31}\nLG {good}\nlg-03 {good.upper()}\n", "keys")
    assert [fault.line for fault in told.value.faults] == [2, 3, 4, 5]
    assert not any(part in str(told.value) for part in (good, good.upper(), "cdcd"))
