"""What is kept between rounds is what the store would say again; a new reading is fetched alone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from cure_support import END_MS, make_case
from hypothesis import given, settings
from hypothesis import strategies as st
from ingest_support import EDGE, INSIDE, Bench, Crash, MemoryReadings, pack, warm
from store_support import T0

from cure.history import Histories
from shared.errors import StoreError
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, PourId, SensorId
from shared.models.readings import Arrival, Series
from shared.ports import PourCase

QUARTER_MS = 15 * MINUTE_MS
FAR_MS = END_MS + 100 * HOUR_MS


class Counting(MemoryReadings):
    """Counts the rows that it hands out."""

    def __init__(self) -> None:
        super().__init__()
        self.fetched = 0

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        if self.failures:
            self.failures -= 1
            raise StoreError("it cannot be read")
        found = super().between(sensor, after, through)
        self.fetched += len(found)
        return found


class World:
    """A pour of two sensors, its loggers' messages, and the histories of a process that lives through them."""

    def __init__(self, most: int = 5_000_000) -> None:
        self.bench = Bench(now=FAR_MS)
        self.bench.readings = self.readings = Counting()
        self.bench.restarted()
        self.histories = Histories(self.readings, most)

    def take(self, *sent: tuple[SensorId, int, float]) -> None:
        """Take a message with readings of (sensor, quarter of an hour, degC)."""
        records = [warm(celsius, T0 + quarter * QUARTER_MS, sensor) for sensor, quarter, celsius in sent]
        self.bench.take(pack(*records))

    def case(self, pour: str = "2-b1-p1") -> PourCase:
        case = make_case(arrivals=dict(self.bench.book.arrivals))
        return replace(case, pour=replace(case.pour, id=PourId(pour)))

    def same(self, now: Ms = FAR_MS) -> None:
        """Hold what is kept against the store."""
        case = self.case()
        kept = self.histories.of(case, now)
        assert _bytes(kept) == _bytes(self.histories.anew(case, now))


def _bytes(found: Mapping[SensorId, Series]) -> dict[SensorId, tuple[bytes, bytes]]:
    return {sensor: (s.taken_ms.tobytes(), s.milli_c.tobytes()) for sensor, s in found.items()}


Sent = tuple[SensorId, int, float]
sent = st.tuples(st.sampled_from([EDGE, INSIDE]), st.integers(0, 60), st.sampled_from([4.0, 5.0, 19.5, 20.0]))
steps = st.lists(
    st.one_of(
        st.lists(sent, min_size=1, max_size=8),
        st.sampled_from(["crash after merged", "restart", "look", "look back"]),
    ),
    max_size=25,
)


@settings(max_examples=300, deadline=None)
@given(steps)
def test_whatever_comes_late_twice_or_colder_it_is_what_the_store_says(story: list[list[Sent] | str]) -> None:
    world = World()
    for step in story:
        if isinstance(step, list):
            try:
                world.take(*step)
            except Crash:
                # What was not acknowledged comes again, as the broker does it: before anything newer.
                world.bench.restarted()
                world.histories.of(world.case(), FAR_MS)
                world.take(*step)
        elif step == "crash after merged":
            world.bench.restarted("merged")
        elif step == "restart":
            world.bench.restarted()
        else:
            world.same(FAR_MS if step == "look" else T0 + 30 * QUARTER_MS)
    world.same()


def test_a_new_reading_is_fetched_alone_after_sixty_days_of_minutes() -> None:
    world, minutes = World(), 60 * 24 * 60
    rows = range(1, minutes + 1)
    store = {n: 20_000 + n % 7 for n in rows}
    long = Series(np.array([END_MS + n * MINUTE_MS for n in rows]), np.array(list(store.values())))
    asked: list[int] = []

    class Long(MemoryReadings):
        def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
            assert sensor == case.placements[0].sensor
            first, last = np.searchsorted(long.taken_ms, [after, through], side="right")
            asked.append(int(last - first))
            return Series(long.taken_ms[first:last], long.milli_c[first:last])

    histories, case = Histories(Long()), world.case()
    case = replace(case, placements=case.placements[:1])
    sensor = case.placements[0].sensor

    def looked(revision: int, newest: int) -> Series:
        arrival = Arrival(sensor, revision, int(long.taken_ms[newest - 1]), 0, rewritten=1)
        return histories.of(replace(case, arrivals={sensor: arrival}), FAR_MS * 2)[sensor]

    whole = long
    long = Series(whole.taken_ms[:-1], whole.milli_c[:-1])
    assert len(looked(1, minutes - 1)) == minutes - 1
    long = whole
    found = looked(2, minutes)
    assert asked == [minutes - 1, 1]
    assert np.array_equal(found.taken_ms, whole.taken_ms)
    assert np.array_equal(found.milli_c, whole.milli_c)


def test_without_news_nothing_is_fetched() -> None:
    world = World()
    world.take((EDGE, 1, 20.0), (INSIDE, 1, 20.0))
    world.same()
    before, case = world.readings.fetched, world.case()
    world.histories.of(case, FAR_MS)
    assert world.readings.fetched == before


def test_a_reading_a_little_ahead_of_the_clock_is_seen_once_its_hour_has_come() -> None:
    world = World()
    world.take((EDGE, 1, 20.0), (EDGE, 2, 4.0))
    before = world.histories.of(world.case(), T0 + QUARTER_MS)
    assert before[EDGE].milli_c.tolist() == [20_000]
    assert world.histories.of(world.case(), T0 + 2 * QUARTER_MS)[EDGE].milli_c.tolist() == [20_000, 4_000]


def test_a_store_that_fails_is_noticed_also_without_news() -> None:
    world = World()
    world.take((EDGE, 1, 20.0))
    world.same()
    world.readings.failures = 1
    with pytest.raises(StoreError):
        world.histories.of(world.case(), FAR_MS)


def test_a_store_that_fails_loses_nothing_that_is_known() -> None:
    world = World()
    world.take((EDGE, 1, 20.0))
    world.same()
    world.take((EDGE, 2, 20.0))
    world.readings.failures = 1
    with pytest.raises(StoreError):
        world.histories.of(world.case(), FAR_MS)
    world.same()


def test_another_start_of_the_pour_is_read_anew() -> None:
    world = World()
    world.take((EDGE, -16, 18.0), (EDGE, 1, 20.0))
    world.same()
    case = world.case()
    earlier = replace(case, pour=replace(case.pour, start_ms=T0 - 3 * HOUR_MS))
    assert world.histories.of(case, FAR_MS)[EDGE].milli_c.tolist() == [20_000]
    assert world.histories.of(earlier, FAR_MS)[EDGE].milli_c.tolist() == [18_000, 20_000]


def test_memory_has_an_end_and_the_pour_looked_at_longest_ago_goes_first() -> None:
    world = World(most=3)
    world.take((EDGE, 1, 20.0), (EDGE, 2, 20.0))
    for pour in ("a", "b", "a"):
        world.histories.of(world.case(pour), FAR_MS)
    before = world.readings.fetched
    world.histories.of(world.case("a"), FAR_MS)
    assert world.readings.fetched == before
    world.histories.of(world.case("b"), FAR_MS)
    assert world.readings.fetched == before + 2
