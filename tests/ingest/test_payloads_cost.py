"""No message of up to 64 KiB takes a decoder long, whatever is in it.

Milliseconds are measured by `deploy.bench.payloads`. Here what a slower machine does not change: how many calls a
message takes, and how long the hardest take against the heaviest good one.
"""

from __future__ import annotations

import subprocess
import sys
import time
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from typing import Final

import payloads_support
import pytest
from hypothesis import given
from hypothesis import strategies as st
from payloads_support import SAMPLES, Sample

from deploy.bench.payloads import TOLD, TOPICS, payloads, steps
from ingest.payloads import FORMATS
from ingest.payloads.decoded import Decoder

MOST_STEPS: Final = 50_000
"""Half as many again as 350 good records in CBOR take (computed: 32 785)."""
MOST_TIMES: Final = 4.0
"""The hardest take as long as the heaviest good message; the walk over pairs of keys that was here once took 12."""
HARD: Final = dict(payloads())


def decoder(name: str) -> Decoder:
    return FORMATS[TOPICS[name].format].make(TOPICS[name])


def least_s(decode: Decoder, payload: bytes) -> float:
    """Return the time of this thread for one message, the least of several: what disturbs can only add."""
    found = []
    for _ in range(5):
        began = time.thread_time()
        decode(TOLD, payload)
        found.append(time.thread_time() - began)
    return min(found)


def test_every_format_is_measured() -> None:
    assert {topic.format for topic in TOPICS.values()} == set(FORMATS)


@pytest.mark.row("N8")
@pytest.mark.parametrize("name", TOPICS)
def test_a_hard_message_takes_no_more_steps_than_it_may(name: str) -> None:
    found = {what: steps(partial(decoder(name), TOLD), payload) for what, payload in HARD.items()}
    assert {what: n for what, n in found.items() if n > MOST_STEPS} == {}


@pytest.mark.row("N8")
@pytest.mark.parametrize("name", TOPICS)
def test_a_hard_message_takes_no_longer_than_a_few_of_the_heaviest_good_one(name: str) -> None:
    heaviest = least_s(decoder("senml+json"), HARD["350 good records"])
    found = {what: least_s(decoder(name), payload) / heaviest for what, payload in HARD.items()}
    assert {what: times for what, times in found.items() if times > MOST_TIMES} == {}


@pytest.mark.row("N8")
@pytest.mark.parametrize("sample", SAMPLES.values(), ids=SAMPLES.keys())
@given(
    st.binary(max_size=65_536)
    | st.builds(lambda part, n: part * n, st.binary(min_size=1, max_size=40), st.integers(0, 1600))
)
def test_any_bytes_take_no_more_steps_than_they_may(sample: Sample, payload: bytes) -> None:
    assert steps(sample.decode, payload) <= MOST_STEPS


@pytest.mark.skipif(find_spec("atheris") is not None, reason="atheris is installed")
def test_the_fuzzer_says_what_it_needs() -> None:
    script = Path(payloads_support.__file__).with_name("fuzz_payloads.py")
    ran = subprocess.run([sys.executable, script], check=False, capture_output=True, text=True, timeout=60)
    assert (ran.returncode, ran.stderr) == (1, "this needs atheris, which is not installed: pip install atheris\n")
