from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pytest
from cure_support import CONCRETE, END_MS, make_case, recorded, site_of_all
from service_support import HostClock
from store_support import AIR, POUR, make_pour

from cure.rounds import Rounds, checked_elapsed_ms
from shared.elapsed import Look, seen
from shared.errors import StoreError
from shared.models.acts import PourEnd, act_from, instant
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, STRIP, WALK, Ms, PourId, SensorId
from shared.models.decisions import ClockSpan, Doubt, DoubtKind, Gate, GateState
from shared.models.messages import MessageKind
from shared.models.readings import Arrival, Series
from shared.models.setup import SiteFile
from shared.ports import CureBook, PourCase, Readings, Result


@dataclass
class OnePour:
    """A site book with one pour that is always due, and a store of its readings."""

    case_: PourCase
    recorded: list[Result] = field(default_factory=list)
    down: bool = False
    series: dict[SensorId, Series] = field(default_factory=dict)

    def due(self, now: Ms, limit: int) -> Sequence[PourId]:
        return [POUR][: limit if now is not None else 0]

    def case(self, pour: PourId) -> PourCase:
        assert pour == POUR
        return self.case_

    def record(self, case: PourCase, result: Result) -> bool:
        assert case is self.case_
        self.recorded.append(result)
        return True

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        if self.down:
            raise StoreError(f"no readings in {after}..{through}")
        return self.series.get(sensor, Series(np.empty(0, np.int64), np.empty(0, np.int64)))


def rounds(one: OnePour, clock: HostClock) -> Rounds:
    readings: Readings = one  # type: ignore[assignment]  # of the ports only what rounds ask of them
    book: CureBook = one  # type: ignore[assignment]
    return Rounds(readings, book, clock)


def span(hours: float, clock: HostClock, *, from_ms: Ms = END_MS) -> tuple[ClockSpan, ...]:
    """Return how a clock has run that was right so many hours long; it stands at the end of them."""
    clock.true_ms = clock.booted_ms = from_ms
    first = seen((), Look(clock.now(), *clock.boot(), clock.synchronised()))
    clock.pass_(round(hours * HOUR_MS))
    return seen(first.spans, Look(clock.now(), *clock.boot(), clock.synchronised())).spans


def ran(host: HostClock, **changes: Any) -> Result:
    one = OnePour(make_case(**changes))
    assert rounds(one, host).run_due() == 1
    return one.recorded[0]


def states(result: Result) -> set[GateState]:
    return {g.state for g in result.gates}


def checked(site: SiteFile) -> SiteFile:
    return site.model_copy(update={"site": site.site.model_copy(update={"clock_sync": "required"})})


@pytest.mark.row("C6", "C7")
@pytest.mark.parametrize(("jump_ms", "way"), [(10 * DAY_MS, "ahead by 10.0 days"), (-2 * HOUR_MS, "back by 2.0 h")])
def test_a_clock_that_jumps_suspends_every_gate_in_the_same_round(jump_ms: int, way: str) -> None:
    clock = HostClock(END_MS)
    spans = span(30, clock)
    clock.offset_ms = jump_ms
    result = ran(clock, clock=spans)
    assert states(result) == {GateState.SUSPENDED}
    assert way in result.gates[0].reason


def test_a_doubt_that_is_told_suspends_with_its_reason() -> None:
    doubt = Doubt(DoubtKind.LOG, END_MS, "log line 7 is not as it was written")
    result = ran(HostClock(END_MS + HOUR_MS), doubts=(doubt,))
    assert states(result) == {GateState.SUSPENDED}
    assert "log line 7" in result.gates[0].reason


def test_an_unsynchronised_clock_suspends_where_it_is_required_and_nowhere_else() -> None:
    clock = HostClock(END_MS + HOUR_MS, right=False)
    assert states(ran(clock, site=checked(site_of_all()))) == {GateState.SUSPENDED}
    assert GateState.SUSPENDED not in states(ran(clock))
    clock.right = True
    assert GateState.SUSPENDED not in states(ran(clock, site=checked(site_of_all())))


@pytest.mark.row("C8")
def test_a_clock_of_1970_suspends_although_nobody_checks_it() -> None:
    clock = HostClock(END_MS, offset_ms=-END_MS)
    assert states(ran(clock)) == {GateState.SUSPENDED}


def elapsed_ms(case: PourCase, clock: HostClock) -> int | None:
    found = rounds(OnePour(case), clock)._standing(case).elapsed_ms
    # What is shown beside the rounds is credited by the same time.
    assert checked_elapsed_ms(case, clock) == found
    return found


@pytest.mark.row("C6", "E12")
def test_elapsed_time_since_the_pours_end_does_not_jump_with_the_clock() -> None:
    clock = HostClock(END_MS)
    spans = span(12, clock)
    clock.offset_ms = 10 * DAY_MS
    assert elapsed_ms(make_case(clock=spans), clock) == 12 * HOUR_MS
    assert elapsed_ms(make_case(clock=spans, pour=make_pour()), clock) is None


def test_over_a_reboot_the_middle_one_of_the_loggers_vouches() -> None:
    clock = HostClock(END_MS, right=False)
    spans = span(10, clock)
    clock.reboot(3 * HOUR_MS)
    newest = [clock.true_ms - m * MINUTE_MS for m in (0, 10, 40)]
    arrivals = {s: Arrival(s, 1, at, at) for s, at in zip(CONCRETE, newest, strict=True)}
    assert elapsed_ms(make_case(clock=spans, arrivals=arrivals), clock) == 13 * HOUR_MS - 10 * MINUTE_MS
    assert elapsed_ms(make_case(clock=spans), clock) == 10 * HOUR_MS


def test_a_round_with_a_new_end_counts_from_that_end() -> None:
    clock = HostClock(END_MS)
    case = make_case(clock=span(12, clock))
    act = act_from(
        {
            "kind": "pour_end",
            "at": instant(clock.now()),
            "who": "qc",
            "pour": POUR,
            "happened": instant(END_MS + HOUR_MS),
        }
    )
    assert isinstance(act, PourEnd)
    assert rounds(OnePour(case), clock)._standing(case, act).elapsed_ms == 11 * HOUR_MS


def released(**changes: Any) -> PourCase:
    gates = {op: Gate(POUR, op, GateState.RELEASED, 1) for op in (STRIP, WALK)}
    return make_case(gates=gates, **changes)


def test_without_readings_nothing_is_recorded_until_the_store_is_in_doubt() -> None:
    one, clock = OnePour(released(), down=True), HostClock(END_MS + 30 * HOUR_MS)
    some = rounds(one, clock)
    some.run_due()
    assert one.recorded == []
    assert some.trouble.rounds == 1
    assert "no readings" in some.trouble.said


def test_a_store_in_doubt_suspends_what_cannot_be_judged_and_changes_nothing_else() -> None:
    doubt = Doubt(DoubtKind.STORE, END_MS, "readings.db: disk I/O error")
    one = OnePour(released(doubts=(doubt,)), down=True)
    rounds(one, HostClock(END_MS + 30 * HOUR_MS)).run_due()
    (result,) = one.recorded
    assert [g.state for g in result.gates] == [GateState.SUSPENDED] * 3
    assert {g.before for g in result.gates if g.operation in {STRIP, WALK}} == {GateState.RELEASED}
    assert {m.kind for m in result.messages} <= {MessageKind.IN_DOUBT}
    assert (result.holds, result.pour) == (one.case_.holds, one.case_.pour)
    assert (result.state.estimate, result.state.verdicts) == (one.case_.state.estimate, one.case_.state.verdicts)


def test_rounds_in_which_a_store_fails_are_counted_until_one_goes_well() -> None:
    one, clock = OnePour(make_case(), down=True), HostClock(END_MS + HOUR_MS)
    some = rounds(one, clock)
    for n in (1, 2, 3):
        some.run_due()
        assert some.trouble.rounds == n
        clock.pass_(MINUTE_MS)
    one.down = False
    some.run_due()
    assert (some.trouble.rounds, some.trouble.said) == (0, "")


@pytest.mark.row("C11")
def test_after_a_long_sleep_the_old_estimate_releases_nothing() -> None:
    clock = HostClock(END_MS)
    spans = span(20, clock)
    series = {s: recorded(18.0, 20) for s in CONCRETE} | {AIR: recorded(12.0, 20)}
    clock.pass_(8 * HOUR_MS)
    one = OnePour(make_case(clock=spans), series=series)
    rounds(one, clock).run_due()
    strip = next(g for g in one.recorded[0].gates if g.operation == STRIP)
    assert strip.state is GateState.CURING
    assert strip.steady_from_ms is None
    assert elapsed_ms(one.case_, clock) == 28 * HOUR_MS
