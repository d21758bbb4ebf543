"""Clocks of loggers that were set, or run too fast, told from when their live readings came."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from cure_support import END_MS, QUARTER_MS, make_case, placed
from hypothesis import given, settings
from hypothesis import strategies as st
from store_support import EDGE

from cure.bay import BayEvidence, evidence
from cure.seen import Cause, Doubt
from shared.models.base import HOUR_MS, MINUTE_MS, Ms
from shared.models.decisions import ClockSpan, HoldKind, PourState
from shared.models.readings import Series
from shared.models.setup import Zone

ALONE = (placed(EDGE, Zone.EXPOSED_EDGE),)
HOURS = 40


def told(
    own_ms: Callable[[int, Ms], Ms], came: Callable[[int, Ms], Ms] = lambda _, now: now, c: float = 20.0
) -> Series:
    """Return what a logger told that measures each quarter of an hour, from an hour before the end of the pour on.

    Args:
        own_ms: its own clock's hour of the nth, measured at that hour.
        came: when that one came.
        c: what it said. [degC]
    """
    real = [END_MS + (n - 4) * QUARTER_MS for n in range(4 * HOURS + 5)]
    rows = {own_ms(n, t): came(n, t) for n, t in reversed(list(enumerate(real)))}
    taken = np.array(sorted(rows), np.int64)
    return Series(taken, np.full(len(taken), round(c * 1000), np.int64), np.array([rows[int(t)] for t in taken]))


def judged(series: Series, clock: tuple[ClockSpan, ...] = (), memory: dict[str, object] | None = None) -> BayEvidence:
    case = make_case(placements=ALONE, clock=clock, state=PourState(memory=memory or {}))
    elapsed_ms = HOURS * HOUR_MS
    return evidence(case, {EDGE: series}, END_MS + elapsed_ms, elapsed_ms=elapsed_ms)


def clocks(found: BayEvidence) -> list[Doubt]:
    return [d for d in found.doubts if d.cause is Cause.CLOCK]


def ahead_at(hour: float, by_h: float, behind_h: float = 3.0) -> Series:
    """Return what a logger told whose clock was behind, and was then set ahead, or back."""

    def own(n: int, now: Ms) -> Ms:
        return now - round((behind_h - by_h * (n >= 4 + 4 * hour)) * HOUR_MS)

    return told(own)


@pytest.mark.row("C1")
@pytest.mark.parametrize("by_h", [0.6, 2.5, 3.0])
def test_the_hours_that_a_clock_left_out_when_it_was_set_ahead_earn_nothing_and_a_person_is_asked(by_h: float) -> None:
    (doubt,) = clocks(found := judged(series := ahead_at(20.0, by_h)))
    (span,) = doubt.refused
    # Its own hours before and after.
    assert span == (END_MS + round((20.0 - 3.0) * HOUR_MS) - QUARTER_MS, END_MS + round((17.0 + by_h) * HOUR_MS))
    assert (doubt.hold, doubt.told) == (HoldKind.SENSOR_DOUBTFUL, True)
    # From the end of the pour by its clock, without the hole and the quarter of an hour on each side of its end.
    assert found.counted_h(5.0) == pytest.approx(HOURS - 3.0 - 0.5)
    before = judged(Series(series.taken_ms, series.milli_c))
    assert clocks(before) == []
    assert found.counted_h(5.0) <= before.counted_h(5.0)
    # Somebody who has looked at it does not make the hours true.
    answered = judged(series, memory={"doubtful": {EDGE: {Cause.CLOCK: True}}})
    assert [(d.hold, d.refused) for d in clocks(answered)] == [(None, doubt.refused)]
    assert answered.counted_h(5.0) == found.counted_h(5.0)


@pytest.mark.row("C1")
def test_the_hours_that_a_clock_tells_twice_because_it_was_set_back_earn_nothing() -> None:
    def own(n: int, now: Ms) -> Ms:
        # 7 s apart from the hours before, so that none falls on another.
        return now - (2 * HOUR_MS - 7000) * (n >= 4 + 4 * 20)

    (doubt,) = clocks(found := judged(told(own)))
    (span,) = doubt.refused
    assert span == (END_MS + 18 * HOUR_MS + 7000 - 1, END_MS + 20 * HOUR_MS - QUARTER_MS)
    assert doubt.hold is HoldKind.SENSOR_DOUBTFUL
    assert found.counted_h(5.0) == pytest.approx(HOURS - 2.0 - 1.75, abs=0.01)


@pytest.mark.row("C1")
@pytest.mark.parametrize(("gains", "found"), [(0.0, False), (0.002, False), (0.02, True), (0.1, True), (0.3, True)])
def test_what_a_clock_tells_that_runs_too_fast_earns_nothing(gains: float, found: bool) -> None:
    def own(_: int, now: Ms) -> Ms:
        return now - 13 * HOUR_MS + round((now - END_MS) * gains)

    evidence_ = judged(told(own))
    assert bool(clocks(evidence_)) is found
    if found:
        (doubt,) = clocks(evidence_)
        assert len(doubt.refused) == 1, "spans that touch are one"
        assert not evidence_.fresh()
        assert np.isnan(evidence_.counted_h(5.0)) or evidence_.counted_h(5.0) < 8.0


@pytest.mark.row("C1", "R1")
@settings(deadline=None, max_examples=60)
@given(
    late=st.lists(st.integers(0, 15 * 60), min_size=4 * HOURS + 5, max_size=4 * HOURS + 5),
    away=st.lists(st.tuples(st.integers(0, 150), st.integers(1, 60)), max_size=3),
    behind_h=st.integers(0, 4),
    set_h=st.sampled_from([None, -1.0, -3.0, 2.0]),
)
def test_what_is_late_by_less_than_an_interval_or_kept_by_a_gateway_for_hours_is_no_clock_and_a_clock_only_costs(
    late: list[int], away: list[tuple[int, int]], behind_h: int, set_h: float | None
) -> None:
    back = {n: first + long for first, long in away for n in range(first, first + long)}

    def came(n: int, now: Ms) -> Ms:
        # All that was kept comes at once, when the gateway is back; else each with a delay of its own.
        return END_MS + (back[n] - 4) * QUARTER_MS + 90_000 if n in back else now + late[n] * 1000

    def own(n: int, now: Ms) -> Ms:
        return now - behind_h * HOUR_MS + round((set_h or 0.0) * HOUR_MS) * (n >= 90)

    series = told(own, came)
    found = judged(series)
    if set_h is None:
        assert clocks(found) == []
    without = judged(Series(series.taken_ms, series.milli_c))
    counted, most = found.counted_h(5.0), without.counted_h(5.0)
    assert not counted > most
    assert not found.lower_bound_mpa() > without.lower_bound_mpa()


@pytest.mark.row("C1", "C6")
def test_a_service_whose_own_clock_was_set_doubts_no_loggers() -> None:
    at_ms = END_MS + 20 * HOUR_MS
    for jump_ms in (2 * HOUR_MS, -2 * HOUR_MS):
        series = told(lambda _, now: now, lambda _, now: now + jump_ms * (now >= at_ms))  # noqa: B023
        spans = (
            ClockSpan("boot", END_MS - HOUR_MS, 0, at_ms - 1, 21 * HOUR_MS, synchronised=False),
            ClockSpan("boot", at_ms + jump_ms, 21 * HOUR_MS, at_ms + 30 * HOUR_MS, 51 * HOUR_MS, synchronised=False),
        )
        assert clocks(judged(series, spans)) == []
        # Without what is known of our clock it is the loggers' own.
        assert clocks(judged(series)) != [] or jump_ms < 0


@pytest.mark.row("C1")
def test_a_clock_that_was_put_right_before_the_last_concrete_is_no_doubt() -> None:
    assert clocks(judged(ahead_at(-0.25, 3.0))) == []
    assert clocks(judged(told(lambda _, now: now - MINUTE_MS))) == []
