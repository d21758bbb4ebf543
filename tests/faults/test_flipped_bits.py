"""A bit of a message that flips on its way earns no sensor more than one interval at the fastest rate there is.

Two in the first two hours, in which a slab may jump and no reading is called a spike: a reading ends one interval and
begins the next, and each counts at its mean.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import cbor2
import numpy as np
import pytest
from cure_support import END_MS, make_case, placed
from ingest_support import Bench, pack, placement
from store_support import EDGE, INSIDE

from cure.accumulate import NOMINAL
from cure.bay import evidence
from cure.maturity import FASTEST_CREDITED_C, default_rate
from ingest.message import Incoming
from ingest.payloads import FORMATS
from ingest.payloads.decoded import Decoded, Told
from ingest.topics import Way
from shared.models.base import MINUTE_MS, LoggerId, Ms, SensorId
from shared.models.payloads import JsonTopic, SenmlTopic, TextTopic, TopicSettings
from shared.models.setup import Zone

QUARTER_MS: Final = 15 * MINUTE_MS
LOGGER: Final = LoggerId(EDGE.partition(".")[0])
CASE: Final = make_case(placements=(placed(EDGE, Zone.EXPOSED_EDGE), placed(INSIDE, Zone.INTERIOR)))
QUARTERS: Final = 16
AT_CAP_H: Final = float(default_rate(np.array([FASTEST_CREDITED_C]))[0]) / 4
"""What one interval earns at the rate cap. [h]"""
MAP: Final = JsonTopic(
    filter="j/{logger}",
    format="json",
    records="r",
    channel="c",
    value="v",
    unit="degC",
    message_time="t",
    time_format="s",
    time_of="measuring",
)
BOARD: Final = TextTopic(filter="board/{logger}/{channel}", format="text", unit="degC")


def senml(taken_ms: Ms, edge: float, inside: float) -> bytes:
    return pack({"bn": f"{LOGGER}.", "bt": taken_ms // 1000, "bu": "Cel", "n": "1", "v": edge}, {"n": "2", "v": inside})


def cbor(taken_ms: Ms, edge: float, inside: float) -> bytes:
    return cbor2.dumps([{-2: f"{LOGGER}.", -3: taken_ms // 1000, -4: "Cel", 0: "1", 2: edge}, {0: "2", 2: inside}])


def mapped(taken_ms: Ms, edge: float, inside: float) -> bytes:
    return f'{{"t":{taken_ms // 1000},"r":[{{"c":1,"v":{edge}}},{{"c":2,"v":{inside}}}]}}'.encode()


KINDS: Final[dict[str, tuple[TopicSettings, Callable[[Ms, float, float], bytes]]]] = {
    "senml+json": (SenmlTopic(filter="s/{logger}", format="senml+json"), senml),
    "senml+cbor": (SenmlTopic(filter="c/{logger}", format="senml+cbor"), cbor),
    "json": (MAP, mapped),
}


def earned(topic: TopicSettings, payloads: list[bytes]) -> dict[SensorId, float]:
    """Return the equivalent age of each sensor after messages that came a quarter of an hour apart. [h]"""
    way = Way(Told(LOGGER), FORMATS[topic.format].make(topic))
    bench = Bench([placement(EDGE, Zone.EXPOSED_EDGE), placement(INSIDE)], END_MS)
    now = END_MS
    for n, payload in enumerate(payloads):
        now = END_MS + n * QUARTER_MS
        bench.clock.set(now)
        bench.intake.take([Incoming("/", payload, now, way=way)])
    return earned_by(bench, now)


def earned_by(bench: Bench, now: Ms) -> dict[SensorId, float]:
    """Return the equivalent age of each sensor by what a bench has stored. [h]"""
    series = {sensor: bench.readings.between(sensor, 0, 2**62) for sensor in (EDGE, INSIDE)}
    found = evidence(CASE, series, now, elapsed_ms=now - END_MS)
    return {s.placement.sensor: 0.0 if s.track is None else float(s.track.sums[-1][NOMINAL]) for s in found.sensors}


@pytest.mark.row("R8")
@pytest.mark.parametrize("celsius", [4.5, 20.5])
@pytest.mark.parametrize(("at", "intervals"), [(6, 2), (12, 1)], ids=["first two hours", "later"])
@pytest.mark.parametrize("kind", KINDS)
def test_a_flipped_bit_earns_at_most_an_interval_at_the_fastest_rate(
    kind: str, celsius: float, at: int, intervals: int
) -> None:
    topic, message = KINDS[kind]
    good = [message(END_MS + n * QUARTER_MS, celsius, celsius + 0.5) for n in range(QUARTERS)]
    right = earned(topic, good)
    # What the coldest interval of the good ones earned is gone with the two.
    quarter_h = min(right.values()) / QUARTERS
    assert quarter_h > 0.0
    decode, most = FORMATS[topic.format].make(topic), 0.0
    gains: dict[Decoded, float] = {}
    for bit in range(8 * len(good[at])):
        flipped = bytearray(good[at])
        flipped[bit // 8] ^= 1 << bit % 8
        # Most flips are refused alike, and then the message is a missing one.
        read = Decoded(decode(Told(LOGGER), bytes(flipped)).records)
        if read not in gains:
            found = earned(topic, [*good[:at], bytes(flipped), *good[at + 1 :]])
            gains[read] = max(found[sensor] - right[sensor] for sensor in right)
        assert gains[read] <= intervals * AT_CAP_H - (intervals - 1) * quarter_h, (bit, bytes(flipped), gains[read])
        most = max(most, gains[read])
    # Some flips do make it warmer: the bound is one that is approached.
    assert most > 0.0


def earned_by_board(edge: list[bytes], inside_c: float) -> dict[SensorId, float]:
    """Return the equivalent age of each sensor after bare numbers, a quarter of an hour apart. [h]"""
    bench = Bench([placement(EDGE, Zone.EXPOSED_EDGE), placement(INSIDE)], END_MS, topics=[BOARD])
    now = END_MS
    for n, payload in enumerate(edge):
        now = END_MS + n * QUARTER_MS
        bench.clock.set(now)
        bench.intake.take([bench.intake.incoming(f"board/{LOGGER}/1", payload)])
        bench.intake.take([bench.intake.incoming(f"board/{LOGGER}/2", f"{inside_c:.2f}".encode())])
    return earned_by(bench, now)


@pytest.mark.row("R8")
@pytest.mark.parametrize("celsius", [4.5, 20.5])
@pytest.mark.parametrize("at", [6, 12])
def test_a_flipped_bit_of_a_bare_number_earns_nothing_at_all(celsius: float, at: int) -> None:
    """It counts as the colder of itself and the next one: hotter it makes nothing, another sensor it cannot be."""
    good = [f"{celsius:.2f}".encode()] * QUARTERS
    right = earned_by_board(good, celsius + 0.5)
    for bit in range(8 * len(good[at])):
        flipped = bytearray(good[at])
        flipped[bit // 8] ^= 1 << bit % 8
        found = earned_by_board([*good[:at], bytes(flipped), *good[at + 1 :]], celsius + 0.5)
        assert max(found[sensor] - right[sensor] for sensor in right) <= 1e-9, (bit, bytes(flipped))
