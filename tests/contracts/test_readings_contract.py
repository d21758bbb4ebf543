"""The contract of `Readings`, held against every store in the table."""

from __future__ import annotations

import random
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from readings_support import NEEDS_INFLUXDB, Stores
from store_support import EDGE, INSIDE, T0, make_reading

from shared.errors import StoreError
from shared.models.base import SensorId
from shared.models.readings import Conflict, Reading
from shared.ports import Readings
from shared.store import READINGS

WRITER = Path(__file__).parents[1] / "support" / "writing_process.py"
EVERY = [pytest.param(kind, marks=NEEDS_INFLUXDB if kind == "influxdb" else ()) for kind in sorted(READINGS)]
KINDS = pytest.mark.parametrize("kind", EVERY)


@pytest.fixture(params=EVERY)
def store(request: pytest.FixtureRequest, stores: Stores, tmp_path: Path) -> Iterator[Readings]:
    opened = stores.open(request.param, tmp_path)
    yield opened
    opened.close()


def whole(store: Readings, *sensors: SensorId) -> list[Reading]:
    return [reading for sensor in sensors for reading in store.rows(sensor, -1, 2**62)]


def test_the_same_batch_any_number_of_times_is_stored_once(store: Readings) -> None:
    batch = [make_reading(minutes=m) for m in (0, 15, 30)]
    assert [list(store.merge(batch)) for _ in range(3)] == [[], [], []]
    assert whole(store, EDGE) == batch


def test_the_first_receipt_of_a_copy_stays(store: Readings) -> None:
    first = make_reading()
    store.merge([first])
    store.merge([replace(first, received_ms=first.received_ms + 60_000)])
    assert whole(store, EDGE) == [first]


@pytest.mark.row("S11", "L10")
def test_another_value_for_a_key_keeps_the_colder_and_names_the_pair(store: Readings) -> None:
    store.merge([make_reading(c=12.0)])
    assert store.merge([make_reading(c=9.5, late_min=1)]) == [Conflict(EDGE, T0, 9_500, 12_000, T0 + 62_000)]
    assert store.merge([make_reading(c=15.0, late_min=2)])[-1] == Conflict(EDGE, T0, 9_500, 15_000, T0 + 122_000)
    assert store.between(EDGE, T0 - 1, T0).milli_c.tolist() == [9_500]


def test_two_values_in_one_batch_are_a_conflict(store: Readings) -> None:
    assert store.merge([make_reading(c=12.0), make_reading(c=9.5)]) == [Conflict(EDGE, T0, 9_500, 12_000, T0 + 2_000)]
    assert store.known([(EDGE, T0)]) == {(EDGE, T0): 9_500}


def test_a_batch_delivered_again_names_its_conflicts_again(store: Readings) -> None:
    """A crash after the merge and before the note must not lose the conflict."""
    store.merge([make_reading(c=12.0)])
    batch = [make_reading(c=9.5)]
    assert store.merge(batch) == store.merge(batch) != []


def test_a_reading_without_a_conflict_is_not_named_with_others_conflicts(store: Readings) -> None:
    store.merge([make_reading(c=12.0), make_reading(c=9.5)])
    assert store.merge([make_reading(minutes=15), make_reading(INSIDE)]) == []


def test_a_span_is_open_at_its_start_and_closed_at_its_end(store: Readings) -> None:
    store.merge([make_reading(minutes=m) for m in (0, 15, 30, 45)])
    series = store.between(EDGE, T0, T0 + 30 * 60_000)
    assert series.taken_ms.tolist() == [T0 + 15 * 60_000, T0 + 30 * 60_000]
    assert [r.taken_ms for r in store.rows(EDGE, T0, T0 + 30 * 60_000)] == series.taken_ms.tolist()


def test_readings_that_came_in_any_order_are_read_in_order_of_time(store: Readings) -> None:
    batch = [make_reading(minutes=15 * n, c=20 - n) for n in range(20)]
    shuffled = random.Random(7).sample(batch, len(batch))
    for reading in shuffled:
        store.merge([reading])
    assert whole(store, EDGE) == batch


def test_an_unknown_sensor_has_no_readings(store: Readings) -> None:
    unknown = SensorId("lg-77.1")
    series = store.between(unknown, 0, 2**62)
    assert len(series) == 0
    assert series.taken_ms.dtype == series.milli_c.dtype == "int64"
    assert list(store.rows(unknown, 0, 2**62)) == []
    assert store.known([(unknown, T0)]) == {}
    assert store.forget(unknown, 2**62) == 0


def test_nothing_merged_is_nothing_done(store: Readings) -> None:
    assert list(store.merge([])) == []


def test_known_returns_only_the_keys_that_are_there(store: Readings) -> None:
    store.merge([make_reading(c=-1.25), make_reading(INSIDE, c=3)])
    assert store.known([(EDGE, T0), (INSIDE, T0), (INSIDE, T0 + 1)]) == {(EDGE, T0): -1_250, (INSIDE, T0): 3_000}


def test_forgetting_takes_what_was_taken_before_and_nothing_else(store: Readings) -> None:
    store.merge([make_reading(sensor, minutes=m) for sensor in (EDGE, INSIDE) for m in (0, 15, 30)])
    assert store.forget(EDGE, T0 + 30 * 60_000) == 2
    assert [r.taken_ms for r in whole(store, EDGE)] == [T0 + 30 * 60_000]
    assert len(whole(store, INSIDE)) == 3


def test_tidying_changes_nothing_that_is_stored_before_and_after_much_was_forgotten(store: Readings) -> None:
    store.merge([make_reading(minutes=m) for m in range(3_000)])
    store.merge([make_reading(INSIDE, c=12.0), make_reading(INSIDE, c=9.5)])
    assert store.tidy() is None
    assert store.forget(EDGE, T0 + 2_990 * 60_000) == 2_990
    assert store.tidy() is None
    assert len(whole(store, EDGE)) == 10
    assert store.merge([make_reading(INSIDE, c=12.0)]) == store.merge([make_reading(INSIDE, c=12.0)]) != []


def test_ten_thousand_points_of_many_sensors_come_back_exactly(store: Readings) -> None:
    sensors = [SensorId(f"lg-{n:02}.{c}") for n in range(10) for c in (1, 2)]
    batch = [make_reading(s, minutes=m, c=(i * 37 + m) % 61 - 20) for i, s in enumerate(sensors) for m in range(600)]
    assert len(batch) == 12_000
    store.merge(random.Random(1).sample(batch, len(batch)))
    for index, sensor in enumerate(sensors):
        own = batch[index * 600 : (index + 1) * 600]
        series = store.between(sensor, 0, 2**62)
        assert series.taken_ms.tolist() == [r.taken_ms for r in own]
        assert series.milli_c.tolist() == [r.milli_c for r in own]


def test_a_span_longer_than_a_page_is_read_whole_while_others_write(store: Readings) -> None:
    batch = [make_reading(minutes=m) for m in range(12_000)]
    store.merge(batch)
    reading = store.rows(EDGE, 0, 2**62)
    first = next(reading)
    store.merge([make_reading(INSIDE)])
    assert [first, *reading] == batch


@KINDS
def test_what_was_merged_is_there_after_reopening(kind: str, stores: Stores, tmp_path: Path) -> None:
    batch = [make_reading(c=12), make_reading(c=11), make_reading(INSIDE, c=-3)]
    first = stores.open(kind, tmp_path)
    conflicts = first.merge(batch)
    first.close()
    again = stores.open(kind, tmp_path)
    try:
        assert whole(again, EDGE, INSIDE) == batch[1:]
        assert again.merge(batch) == conflicts
    finally:
        again.close()


@KINDS
def test_a_closed_store_refuses_in_words(kind: str, stores: Stores, tmp_path: Path) -> None:
    store = stores.open(kind, tmp_path)
    store.close()
    for use in (
        lambda: store.merge([make_reading()]),
        lambda: store.between(EDGE, 0, 1),
        lambda: store.known([(EDGE, 0)]),
    ):
        with pytest.raises(StoreError, match="closed"):
            use()


@KINDS
def test_beside_whoever_writes_it_is_read_and_never_written(kind: str, stores: Stores, tmp_path: Path) -> None:
    writer = stores.open(kind, tmp_path)
    first, second = make_reading(), make_reading(minutes=15)
    writer.merge([first])
    beside = stores.read(kind, tmp_path)
    writer.merge([second])
    assert whole(beside, EDGE) == [first, second]
    assert beside.known({(EDGE, T0), (EDGE, T0 + 1), (INSIDE, T0)}) == {(EDGE, T0): first.milli_c}
    with pytest.raises(StoreError, match="read only"):
        beside.merge([first])
    with pytest.raises(StoreError, match="read only"):
        beside.forget(EDGE, T0 + 1)
    assert whole(beside, EDGE) == [first, second]
    beside.close()
    writer.close()


def test_what_is_known_is_told_of_many_keys_at_once(store: Readings) -> None:
    batch = [make_reading(s, minutes=m) for s in (EDGE, INSIDE) for m in range(0, 3000, 2)]
    store.merge(batch)
    asked = {(s, T0 + m * 60_000) for s in (EDGE, INSIDE, SensorId("lg-77.1")) for m in range(3000)}
    assert store.known(asked) == {(r.sensor, r.taken_ms): r.milli_c for r in batch}
    assert store.known(set()) == {}


def test_threads_read_while_one_writes(store: Readings) -> None:
    def read(_: int) -> bool:
        lengths = [len(store.between(EDGE, 0, 2**62)) for _ in range(20)]
        return lengths == sorted(lengths) and all(n % 10 == 0 for n in lengths)

    with ThreadPoolExecutor(3) as pool:
        reads = pool.map(read, range(3))
        for n in range(20):
            store.merge([make_reading(minutes=10 * n + m) for m in range(10)])
        assert all(reads)
    assert len(store.between(EDGE, 0, 2**62)) == 200


ANY_READING = st.builds(
    Reading,
    sensor=st.sampled_from([EDGE, INSIDE]),
    taken_ms=st.sampled_from([T0, T0 + 1, T0 + 900_000]),
    milli_c=st.sampled_from([-2_000, 0, 500, 20_000]),
    received_ms=st.integers(T0, T0 + 3),
)


@KINDS
@settings(max_examples=40, deadline=None)
@given(batch=st.lists(ANY_READING, min_size=1, max_size=12), data=st.data())
def test_any_order_any_cut_and_any_copies_give_the_same_rows_and_conflicts(
    kind: str, stores: Stores, batch: list[Reading], data: st.DataObject
) -> None:
    copies = data.draw(st.permutations(batch + data.draw(st.lists(st.sampled_from(batch), max_size=4))))
    cut = data.draw(st.integers(0, len(copies)))
    assert _outcome(stores, kind, [batch]) == _outcome(stores, kind, [copies[:cut], copies[cut:]])


def _outcome(stores: Stores, kind: str, batches: Sequence[Sequence[Reading]]) -> tuple[list[Reading], set[Conflict]]:
    with tempfile.TemporaryDirectory() as folder:
        store = stores.open(kind, Path(folder))
        try:
            for batch in batches:
                store.merge(batch)
            everything = [reading for batch in batches for reading in batch]
            return whole(store, EDGE, INSIDE), set(store.merge(everything))
        finally:
            store.close()


@KINDS
@pytest.mark.row("H2")
def test_a_writer_killed_amid_batches_loses_nothing_that_it_acknowledged(
    kind: str, stores: Stores, tmp_path: Path
) -> None:
    for kill_after in (1, 30):
        folder = tmp_path / str(kill_after)
        with subprocess.Popen(
            [sys.executable, WRITER, *stores.said(kind, folder)], stdout=subprocess.PIPE, text=True
        ) as writer:
            assert writer.stdout is not None
            acknowledged = next(int(line) for line in writer.stdout if int(line) >= kill_after)
            writer.kill()
            acknowledged = max([acknowledged, *(int(line) for line in writer.stdout)])
        store = stores.open(kind, folder)
        try:
            stored = [r for n in range(20) for r in store.rows(SensorId(f"lg-{n:02}.1"), -1, 2**62)]
        finally:
            store.close()
        batches = {r.milli_c for r in stored}
        assert batches >= set(range(acknowledged + 1))
        assert len(stored) == 200 * len(batches)
