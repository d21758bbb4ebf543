from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared.elapsed import JUMP_MS, KEPT, Look, Spans, elapsed_ms, jump_words, seen, why_insane
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, Ms
from shared.models.decisions import ClockSpan

T0: Ms = 1_795_435_200_000


@dataclass
class Machine:
    """A host in true time, with a wall clock that may be wrong, looked at by the service."""

    true_ms: Ms = T0
    offset_ms: int = 0
    boots: int = 1
    booted_ms: Ms = T0
    knows: bool = True
    spans: Spans = field(default_factory=lambda: Spans(()))

    @property
    def wall_ms(self) -> Ms:
        return self.true_ms + self.offset_ms

    def look(self) -> Spans:
        boot_ms = self.true_ms - self.booted_ms
        self.spans = seen(self.spans.spans, Look(self.wall_ms, f"boot-{self.boots}", boot_ms, self.synchronised))
        return self.spans

    @property
    def synchronised(self) -> bool:
        return self.knows and self.offset_ms == 0

    def run(self, ms: int, *, looks: int = 1) -> Machine:
        for _ in range(looks):
            self.true_ms += ms // looks
            self.look()
        return self

    def set(self, offset_ms: int) -> Machine:
        self.offset_ms = offset_ms
        self.look()
        return self

    def reboot(self, down_ms: int, offset_ms: int = 0) -> Machine:
        self.true_ms += down_ms
        self.boots, self.booted_ms, self.offset_ms = self.boots + 1, self.true_ms, offset_ms
        self.look()
        return self

    def elapsed(self, since_ms: Ms, vouched_ms: Ms | None = None) -> int:
        return elapsed_ms(self.spans.spans, since_ms, vouched_ms)


def begun(*, knows: bool = True) -> Machine:
    machine = Machine(knows=knows)
    machine.look()
    return machine


def test_without_jumps_the_time_since_boot_is_the_wall_clocks() -> None:
    machine = begun().run(26 * HOUR_MS, looks=50)
    assert len(machine.spans.spans) == 1
    assert machine.elapsed(T0 + HOUR_MS) == 25 * HOUR_MS


def test_an_instant_that_is_still_to_come_has_passed_for_no_time() -> None:
    assert begun().run(HOUR_MS).elapsed(T0 + 2 * HOUR_MS) == 0
    assert elapsed_ms((), T0) == 0


@pytest.mark.row("C6")
def test_a_clock_that_jumps_ten_days_ahead_earns_nothing() -> None:
    machine = begun().run(2 * HOUR_MS).set(10 * DAY_MS)
    assert machine.spans.jump_ms == 10 * DAY_MS
    assert machine.elapsed(T0 + HOUR_MS) == HOUR_MS
    machine.run(HOUR_MS)
    assert machine.spans.jump_ms == 0
    assert machine.elapsed(T0 + HOUR_MS) == 2 * HOUR_MS


@pytest.mark.row("C7")
def test_a_clock_that_jumps_back_makes_no_negative_time_and_takes_nothing_once_it_is_right_again() -> None:
    machine = begun().run(5 * HOUR_MS).set(-2 * HOUR_MS)
    assert machine.spans.jump_ms == -2 * HOUR_MS
    assert machine.elapsed(T0 + 4 * HOUR_MS) == 0
    assert machine.elapsed(T0 + HOUR_MS) == 2 * HOUR_MS
    machine.run(10 * MINUTE_MS).set(0)
    assert machine.elapsed(T0 + HOUR_MS) == 4 * HOUR_MS + 10 * MINUTE_MS


@pytest.mark.row("C11")
def test_a_host_that_sleeps_goes_on_counting() -> None:
    machine = begun().run(HOUR_MS).run(8 * HOUR_MS)
    assert machine.spans.jump_ms == 0
    assert machine.elapsed(T0) == 9 * HOUR_MS


def test_a_clock_slewed_by_seconds_is_no_jump_but_many_small_steps_are() -> None:
    machine = begun().run(HOUR_MS).set(JUMP_MS)
    assert machine.spans.jump_ms == 0
    machine.run(1000).set(JUMP_MS + 1)
    assert machine.spans.jump_ms == JUMP_MS + 1


@pytest.mark.row("C12")
@pytest.mark.parametrize("leap_ms", [1000, -1000, 2000, -2000])
def test_a_leap_second_stepped_or_smeared_over_a_day_suspends_nothing_and_earns_no_second_more(leap_ms: int) -> None:
    stepped = begun().run(HOUR_MS).set(leap_ms).run(23 * HOUR_MS, looks=23)
    smeared = begun()
    for hour in range(24):
        smeared.run(HOUR_MS).set(leap_ms * (hour + 1) // 24)
    for machine in (stepped, smeared):
        assert machine.spans.jump_ms == 0
        assert abs(machine.elapsed(T0) - 24 * HOUR_MS) <= 2000


def test_over_a_reboot_a_clock_that_is_right_counts_and_one_that_nobody_checks_does_not() -> None:
    assert begun().run(HOUR_MS).reboot(3 * HOUR_MS).run(HOUR_MS).elapsed(T0) == 5 * HOUR_MS
    assert begun(knows=False).run(HOUR_MS).reboot(3 * HOUR_MS).run(HOUR_MS).elapsed(T0) == 2 * HOUR_MS


def test_over_a_reboot_loggers_vouch_for_what_they_have_measured_and_no_more() -> None:
    machine = begun(knows=False).run(HOUR_MS).reboot(3 * HOUR_MS).run(HOUR_MS)
    assert machine.elapsed(T0, T0 + 4 * HOUR_MS + 50 * MINUTE_MS) == 4 * HOUR_MS + 50 * MINUTE_MS
    assert machine.elapsed(T0, T0 + HOUR_MS) == 2 * HOUR_MS
    assert machine.elapsed(T0, T0 + 99 * HOUR_MS) == 5 * HOUR_MS


def test_an_instant_while_the_host_was_down_counts_from_there() -> None:
    machine = begun().run(HOUR_MS).reboot(3 * HOUR_MS).run(HOUR_MS)
    assert machine.elapsed(T0 + 2 * HOUR_MS) == 3 * HOUR_MS


def test_an_instant_before_the_first_look_counts_when_the_clock_is_right_or_loggers_vouch() -> None:
    assert begun().run(HOUR_MS).elapsed(T0 - DAY_MS) == DAY_MS + HOUR_MS
    assert begun().run(HOUR_MS).reboot(HOUR_MS).run(HOUR_MS).elapsed(T0 - DAY_MS) == DAY_MS + 3 * HOUR_MS
    unsure = begun(knows=False).run(HOUR_MS)
    assert unsure.elapsed(T0 - DAY_MS) == HOUR_MS
    assert unsure.elapsed(T0 - DAY_MS, T0 + HOUR_MS) == DAY_MS + HOUR_MS


@pytest.mark.row("C8")
def test_a_boot_in_1970_earns_its_time_once_the_clock_is_right() -> None:
    machine = begun().run(HOUR_MS).reboot(2 * HOUR_MS, -(T0 + 3 * HOUR_MS)).run(HOUR_MS)
    assert why_insane(Look(machine.wall_ms, "b", 0, synchronised=False)) == "the service's clock says 1970"
    assert machine.elapsed(T0) == 0
    assert machine.set(0).elapsed(T0) == 4 * HOUR_MS


def test_a_service_first_started_in_1970_knows_nothing_of_the_time_before_a_reboot() -> None:
    machine = Machine(offset_ms=-T0)
    machine.look()
    since = machine.run(HOUR_MS).wall_ms
    assert machine.reboot(HOUR_MS).run(HOUR_MS).elapsed(since) == HOUR_MS


def test_only_so_many_spans_are_kept() -> None:
    machine = begun()
    for _ in range(KEPT + 5):
        machine.run(1000).reboot(1000)
    assert len(machine.spans.spans) == KEPT


def test_a_jump_is_told_in_the_unit_that_it_is_seen_in() -> None:
    told = [jump_words(ms) for ms in (10 * DAY_MS, -2 * HOUR_MS, 6_000, 200_000)]
    assert [t.removeprefix("the service's clock jumped ") for t in told] == [
        "ahead by 10.0 days", "back by 2.0 h", "ahead by 6.0 s", "ahead by 3.3 min",
    ]  # fmt: skip


RIGHT, AHEAD, BACK, IN_1970 = 0, 10 * DAY_MS, -2 * HOUR_MS, -T0
RUN = st.tuples(st.just("run"), st.integers(1, 30 * HOUR_MS))
SET = st.tuples(st.just("set"), st.sampled_from([RIGHT, AHEAD, BACK, IN_1970, HOUR_MS, -10 * MINUTE_MS]))
REBOOT = st.tuples(st.just("reboot"), st.integers(1, 30 * HOUR_MS), st.sampled_from([RIGHT, AHEAD, IN_1970]))
STORY = st.lists(RUN | SET | REBOOT, min_size=1, max_size=8)


def told(story: list[tuple[str, ...]], *, knows: bool, stamp_after: int) -> tuple[Machine, Ms, Ms]:
    """Return the machine after a story, and one instant of it: by its wall clock then, and truly."""
    machine = begun(knows=knows)
    stamp, at = machine.wall_ms, machine.true_ms
    for k, (what, *how) in enumerate(story):
        getattr(machine, what)(*how)
        if k == stamp_after:
            stamp, at = machine.wall_ms, machine.true_ms
    return machine, stamp, at


@pytest.mark.row("C6", "C7", "E12")
@given(STORY, st.booleans(), st.integers(0, 8), st.none() | st.integers(0, HOUR_MS))
def test_no_jump_and_no_reboot_ever_gives_more_than_the_true_time(
    story: list[tuple[str, ...]], knows: bool, stamp_after: int, late_ms: int | None
) -> None:
    machine, stamp, at = told(story, knows=knows, stamp_after=stamp_after)
    vouched = None if late_ms is None else machine.true_ms - late_ms
    assert 0 <= machine.elapsed(stamp, vouched) <= machine.true_ms - at
    assert machine.elapsed(stamp, vouched) <= max(0, machine.wall_ms - stamp)


@given(STORY, st.booleans(), st.integers(0, 8), st.integers(1, 5 * DAY_MS))
def test_while_the_clock_runs_the_elapsed_time_grows_and_never_faster_than_it(
    story: list[tuple[str, ...]], knows: bool, stamp_after: int, more_ms: int
) -> None:
    machine, stamp, _ = told(story, knows=knows, stamp_after=stamp_after)
    before = machine.elapsed(stamp)
    machine.run(more_ms)
    assert before <= machine.elapsed(stamp) <= before + more_ms


@given(st.lists(st.integers(1, DAY_MS), min_size=1, max_size=20), st.integers(0, 10 * DAY_MS))
def test_a_later_instant_has_passed_for_less(runs: list[int], since: int) -> None:
    machine = begun()
    for ms in runs:
        machine.run(ms)
    assert machine.elapsed(T0 + since) >= machine.elapsed(T0 + since + 1)


def test_the_time_since_boot_of_another_boot_with_the_same_name_is_not_taken_for_the_same() -> None:
    first = ClockSpan("b", T0, 0, T0 + HOUR_MS, HOUR_MS, synchronised=True)
    spans = seen([first], Look(T0 + DAY_MS, "b", 0, synchronised=True))
    assert (len(spans.spans), spans.jump_ms) == (2, 0)
