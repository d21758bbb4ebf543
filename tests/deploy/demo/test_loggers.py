from __future__ import annotations

from collections import Counter

import pytest
from demo_support import sent, slabs

from deploy.demo.loggers import Pack, csv_text, packs, readings, site
from deploy.demo.scenario import (
    CLOSE_MS,
    OFFSETS_C,
    OPEN_MS,
    READINGS_FILE,
    SEED,
    SILENCES,
    SLABS,
    Spot,
    tuesday,
)
from deploy.replay import read_readings
from ingest.payloads.decoded import Told
from ingest.payloads.senml import decode
from shared.models.base import LoggerId, SensorId


@pytest.fixture(scope="module")
def messages() -> list[Pack]:
    return packs(list(sent()))


def test_eighteen_loggers_of_one_or_two_channels_stand_three_to_a_bay() -> None:
    loggers = {s.id.split(".")[0] for b in site().bay for s in b.sensors}
    assert loggers == {f"lg-{n:02d}" for n in range(1, 19)}
    assert all(len({s.id.split(".")[0] for s in b.sensors}) == 3 for b in site().bay)
    assert {s.sensor for s in sent()} == {s.id for b in site().bay for s in b.sensors}


def test_the_shipped_readings_are_what_the_loggers_make_byte_for_byte() -> None:
    shipped = READINGS_FILE.read_bytes()
    assert shipped == csv_text(list(sent())).encode()
    assert len(shipped) < 900_000


def test_another_seed_makes_other_readings_at_the_same_hours() -> None:
    one, other = sent(), readings(SEED + 1)
    assert [(r.sensor, r.taken_ms) for r in one] == [(r.sensor, r.taken_ms) for r in other]
    assert [r.milli_c for r in one] != [r.milli_c for r in other]


def test_replay_reads_the_shipped_readings() -> None:
    read = read_readings(READINGS_FILE)
    assert [(r.sensor, r.taken_ms, r.milli_c, r.received_ms) for r in read] == [
        (r.sensor, r.taken_ms, r.milli_c, r.published_ms) for r in sent()
    ]


def test_every_pack_decodes_back_into_the_readings_that_were_packed(messages: list[Pack]) -> None:
    decoded = []
    for pack in messages:
        found = decode(Told(LoggerId(pack.topic.rpartition("/")[2])), pack.payload)
        assert found.faults == ()
        assert len(pack.payload) <= 16 * 1024
        decoded += [(r.sensor, r.taken_ms, r.milli_c, pack.published_ms) for r in found.records]
    assert sorted(decoded) == sorted((r.sensor, r.taken_ms, r.milli_c, r.published_ms) for r in sent())


def test_a_logger_counts_its_packs_and_starts_anew_after_it_lost_its_memory(messages: list[Pack]) -> None:
    boots: dict[str, list[tuple[str | None, int | None]]] = {}
    for pack in messages:
        logger = LoggerId(pack.topic.rpartition("/")[2])
        facts = decode(Told(logger), pack.payload).facts
        assert facts is not None
        boots.setdefault(logger, []).append((facts.boot, facts.sequence))
    assert all(max(Counter(pairs).values()) == 1 for pairs in boots.values())
    restarted = {logger for logger, pairs in boots.items() if len({boot for boot, _ in pairs}) > 1}
    assert restarted == {s.logger for s in SILENCES if not s.kept}


def test_nothing_is_sent_before_the_demo_opens_or_before_it_was_measured(messages: list[Pack]) -> None:
    assert all(OPEN_MS <= r.published_ms <= CLOSE_MS for r in sent())
    assert all(r.taken_ms < r.published_ms for r in sent())
    assert [p.published_ms for p in messages] == sorted(p.published_ms for p in messages)


def test_the_past_is_sent_within_a_minute_and_a_half_of_the_opening() -> None:
    kept = [r for r in sent() if r.taken_ms < OPEN_MS - 60_000]
    assert len(kept) > 2000
    assert max(r.published_ms for r in kept if r.taken_ms < OPEN_MS) < OPEN_MS + 90_000


def test_one_logger_loses_two_hours_and_one_sends_hours_late() -> None:
    lost, late = SILENCES
    assert not [r for r in sent() if r.logger == lost.logger and lost.from_ms <= r.taken_ms < lost.to_ms]
    assert lost.to_ms - lost.from_ms == 2 * 3_600_000
    held = [r for r in sent() if r.logger == late.logger and late.from_ms <= r.taken_ms < late.to_ms]
    assert len(held) == 14
    assert {r.published_ms for r in held} == {tuesday(15, 40)}


def test_readings_are_whole_steps_of_a_sixteenth_of_a_degree_near_the_truth() -> None:
    assert all(abs(r.milli_c / 62.5 - round(r.milli_c / 62.5)) <= 0.0081 for r in sent())
    slab = SLABS[0]
    errors = [
        r.milli_c / 1000 - slabs().temperature_c(slab.bay, Spot.INTERIOR, 50.0, r.taken_ms)
        for r in sent()
        if r.sensor == "lg-02.1" and r.taken_ms > slab.end_ms
    ]
    assert abs(sum(errors) / len(errors)) < 0.02
    assert 0.03 < (sum(e * e for e in errors) / len(errors)) ** 0.5 < 0.08


def test_one_sensor_reads_four_tenths_too_warm() -> None:
    slab = SLABS[1]
    errors = [
        r.milli_c / 1000 - slabs().temperature_c(slab.bay, Spot.INTERIOR, 50.0, r.taken_ms)
        for r in sent()
        if r.sensor == SensorId("lg-05.1") and r.taken_ms > slab.end_ms
    ]
    assert sum(errors) / len(errors) == pytest.approx(OFFSETS_C[SensorId("lg-05.1")], abs=0.02)
