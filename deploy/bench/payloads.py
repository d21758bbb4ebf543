"""Milliseconds of a processor that the hardest messages take, format by format: `python -m deploy.bench.payloads`.

And in how many steps (calls of Python and of C): they are the same on every machine, so a test can hold them.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from functools import partial
from statistics import median
from typing import Final

import cbor2

from ingest.payloads import FORMATS
from ingest.payloads.decoded import Decoder, Told
from ingest.payloads.strict_json import LIMIT_BYTES
from shared.models.base import LoggerId
from shared.models.payloads import JsonTopic, SenmlTopic, TextTopic, TopicSettings

LIMIT_MS: Final = 10.0
TRIES: Final = 20
TOPICS: Final[Mapping[str, TopicSettings]] = {
    "senml+json": SenmlTopic(filter="r/{logger}", format="senml+json"),
    "senml+cbor": SenmlTopic(filter="r/{logger}", format="senml+cbor"),
    "json": JsonTopic(
        filter="r/{logger}",
        format="json",
        records="a",
        channel="c",
        value="v",
        unit="degC",
        time="t",
        time_format="s",
        time_of="measuring",
    ),
    "json, one time": JsonTopic(
        filter="r/{logger}",
        format="json",
        records="a",
        channel="c",
        value="v",
        unit="degC",
        message_time="t",
        time_format="%Y-%m-%d %H:%M:%S",
        utc_offset="+00:00",
        time_of="receiving",
    ),
    "text": TextTopic(filter="r/{logger}/{channel}", format="text", unit="degC"),
}
TOLD: Final = Told(LoggerId("lg-01"), "1")


def _full(one: bytes, before: bytes = b"[", after: bytes = b"]") -> bytes:
    """Return as many of one record as a message may hold."""
    many = (LIMIT_BYTES - len(before) - len(after)) // (len(one) + 1)
    return before + b",".join([one] * many) + after


def _keys(last: bytes) -> bytes:
    """Return an object of as many keys as a message may hold, and a last one."""
    keys = b",".join(b'"%x":0' % n for n in range(LIMIT_BYTES // 7))
    return b"{" + keys[: keys.rindex(b",", 0, LIMIT_BYTES - 20)] + b"," + last + b"}"


def payloads(seed: int = 1) -> Iterator[tuple[str, bytes]]:
    """Yield hard messages with what is hard about them, the largest that are read and larger ones."""
    noise = random.Random(seed)
    record = b'{"n":"lg-01.1","u":"Cel","t":1795510800,"v":20}'
    yield "good records", _full(record)
    yield "records that are refused", _full(b'{"n":"lg-01.1","v":"x"}')
    yield "records of nothing", _full(b"{}")
    for many in (250, 350):
        yield (
            f"{many} good records",
            b'[{"bn":"lg-01.","bt":1795510800,"bu":"Cel"}' + b',{"n":"1","t":-9,"v":20}' * (many - 1) + b"]",
        )
        yield f"{many} records of nothing", b"[" + b",".join([b"{}"] * many) + b"]"
        yield f"{many} records of a map", b'{"a":[' + b",".join([b'{"c":1,"v":20.5,"t":1795510800}'] * many) + b"]}"
    yield "records of a map", _full(b'{"c":1,"v":20.5,"t":1795510800}', b'{"a":[', b"]}")
    yield "map of nothing", _full(b"0", b'{"a":[', b"]}")
    yield "one list in the other", b"[" * (LIMIT_BYTES // 2) + b"]" * (LIMIT_BYTES // 2)
    yield "keys, the last one twice", _keys(b'"z":0,"z":0')
    yield "keys that nobody asked for", b"[" + _keys(b'"z":0') + b"]"
    yield (
        "a long time for many records",
        b'{"t":"' + b"2" * 7_000 + b'","a":[' + b",".join([b'{"c":1,"v":20.5}'] * 250) + b"]}",
    )
    yield "escapes", b'[{"n":"' + rb"\ud800" * (LIMIT_BYTES // 6 - 3) + b'"}]'
    yield "digits", b"[" + b"9" * (LIMIT_BYTES - 2) + b"]"
    yield "spaces", b" " * (LIMIT_BYTES - 2) + b"20"
    good = cbor2.dumps({0: "lg-01.1", 1: "Cel", 6: 1795510800, 2: 20})
    yield "350 good records in CBOR", b"\x9f" + good * 350 + b"\xff"
    yield "350 records of nothing in CBOR", b"\x9f" + b"\xa0" * 350 + b"\xff"
    yield "records of nothing in CBOR", b"\x9f" + b"\xa0" * (LIMIT_BYTES - 2) + b"\xff"
    yield "one list in the other in CBOR", b"\x81" * LIMIT_BYTES
    for size in (LIMIT_BYTES, 4 * LIMIT_BYTES):
        yield f"noise of {size} bytes", noise.randbytes(size)


def steps(decode: Callable[[bytes], object], payload: bytes) -> int:
    """Return how many calls, of Python and of C, one message takes."""
    counted = 0

    def count(_frame: object, event: str, _arg: object) -> None:
        nonlocal counted
        counted += event in {"call", "c_call"}

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        decode(payload)
    finally:
        sys.setprofile(before)
    return counted


def cost_ms(decode: Decoder, payload: bytes) -> float:
    """Return the processor's time for one message, the median of several. [ms]"""
    found = []
    for _ in range(TRIES):
        began = time.process_time()
        decode(TOLD, payload)
        found.append(time.process_time() - began)
    return median(found) * 1000.0


def main() -> int:
    """Measure every format and print; 1 when one is slower than it may be."""
    slow = False
    for name, topic in TOPICS.items():
        decode = FORMATS[topic.format].make(topic)
        found = {what: cost_ms(decode, payload) for what, payload in payloads()}
        what = max(found, key=lambda each: found[each])
        slow = slow or not found[what] <= LIMIT_MS
        most = max(steps(partial(decode, TOLD), payload) for _, payload in payloads())
        said = f"{found[what]:.2f} ms at worst ({what}); may take {LIMIT_MS:g} ms; at most {most} steps"
        sys.stdout.write(f"{name}: {said}\n")
    return int(slow)


if __name__ == "__main__":
    sys.exit(main())
