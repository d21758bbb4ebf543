"""A temperature that is stamped on arrival may only make a release later: these tests say what that means."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from ingest_support import EDGE, NOW, placement

from cure.maturity import default_rate, maturity
from ingest.arrival import Arrived, Waiting, apart_ms, arrived
from shared.models.base import HOUR_MS, MINUTE_MS, MilliC, Ms
from shared.models.decisions import Placement
from shared.models.setup import Zone

QUARTER_MS: Final = 15 * MINUTE_MS
LEAST_MS: Final = QUARTER_MS // 4


def stored(arrivals: Sequence[tuple[Ms, MilliC]]) -> list[tuple[Ms, MilliC]]:
    """Return what counts of temperatures that arrived one after the other."""
    waiting: Waiting | None = None
    counted = []
    for at_ms, milli_c in arrivals:
        step = arrived(waiting, at_ms, milli_c, LEAST_MS)
        waiting = step.waiting
        if step.counted is not None:
            counted.append(step.counted)
    return counted


def test_the_first_one_waits_and_counts_nothing() -> None:
    assert arrived(None, NOW, 20_000, LEAST_MS) == Arrived(Waiting(NOW, 20_000))


def test_one_counts_when_the_next_has_come_at_its_own_hour_and_as_the_colder_of_both() -> None:
    before = Waiting(NOW, 20_000)
    for following, counted in ((21_000, 20_000), (19_000, 19_000), (20_000, 20_000)):
        step = arrived(before, NOW + QUARTER_MS, following, LEAST_MS)
        assert step == Arrived(Waiting(NOW + QUARTER_MS, following), counted=(NOW, counted))


@pytest.mark.row("R3", "R4")
@pytest.mark.parametrize("after_ms", [-HOUR_MS, -1, 0, 1, LEAST_MS - 1])
def test_two_too_close_together_count_neither_whatever_comes_later(after_ms: Ms) -> None:
    crowded = arrived(Waiting(NOW, 30_000), NOW + after_ms, 30_000, LEAST_MS)
    assert crowded.crowded
    assert crowded.counted is None
    later = arrived(crowded.waiting, NOW + after_ms + QUARTER_MS, 30_000, LEAST_MS)
    assert later.counted is None
    assert not later.crowded
    # From there on it is as it always was.
    assert arrived(later.waiting, NOW + after_ms + 2 * QUARTER_MS, 30_000, LEAST_MS).counted is not None


@pytest.mark.row("R3")
def test_a_buffer_of_warm_hours_that_comes_in_a_burst_at_night_counts_nothing() -> None:
    cold = [(NOW + n * QUARTER_MS, 4_000) for n in range(4)]
    burst = [(NOW + 8 * HOUR_MS + 30 * n, 30_000) for n in range(32)]
    then = [(NOW + 9 * HOUR_MS + n * QUARTER_MS, 4_000) for n in range(4)]
    assert {milli_c for _, milli_c in stored([*cold, *burst, *then])} == {4_000}


def test_two_must_be_a_quarter_of_the_longest_interval_of_the_sensor_apart() -> None:
    slow = Placement(EDGE, placement(EDGE).bay, Zone.TOP, 50, 3600, required=True)
    assert apart_ms([placement(EDGE)]) == 225_000
    assert apart_ms([placement(EDGE), slow]) == 900_000


arrivals = st.lists(st.tuples(st.integers(0, 2 * QUARTER_MS), st.integers(-5_000, 60_000)), max_size=30).map(
    lambda steps: [(NOW + sum(gap for gap, _ in steps[: n + 1]), milli_c) for n, (_, milli_c) in enumerate(steps)]
)


@given(arrivals)
def test_what_counts_came_itself_at_that_hour_and_is_never_warmer_than_it_said(
    sent: list[tuple[Ms, MilliC]],
) -> None:
    found = stored(sent)
    assert len({at_ms for at_ms, _ in found}) == len(found)
    for at_ms, milli_c in found:
        assert any(at == at_ms and said >= milli_c for at, said in sent)


@given(arrivals, st.integers(0, 29))
def test_one_message_more_never_makes_anything_that_counted_warmer(sent: list[tuple[Ms, MilliC]], which: int) -> None:
    sent = sent or [(NOW, 0)]
    again = sorted([*sent, sent[which % len(sent)]], key=lambda one: one[0])
    before = dict(stored(sent))
    # A copy at the same hour is too close: it can only take away.
    assert all(at_ms in before and milli_c <= before[at_ms] for at_ms, milli_c in stored(again))


@pytest.mark.row("R3", "E12")
@given(
    st.lists(st.floats(-20.0, 20.0), min_size=4, max_size=40),
    st.floats(0.0, 50.0),
    st.lists(st.floats(0.0, 0.999), min_size=40, max_size=40),
)
def test_values_under_way_for_less_than_an_interval_never_make_more_maturity_than_the_concrete_has(
    slopes: list[float], start_c: float, late: list[float]
) -> None:
    """A slab that warms ever slower and then cools ever faster; each value is late by less than an interval."""
    quarters = np.arange(len(slopes) + 1) * 0.25
    truth_c = start_c + np.concatenate(([0.0], np.cumsum(np.sort(slopes)[::-1]) * 0.25))
    sent = [
        (NOW + round(hour * HOUR_MS), round(1000 * float(np.interp(hour - late[n] * 0.25, quarters, truth_c))))
        for n, hour in enumerate(quarters)
        if n > 0
    ]
    found = stored(sent)
    hours = np.array([(at_ms - NOW) / HOUR_MS for at_ms, _ in found])
    counted_c = np.array([milli_c / 1000 for _, milli_c in found])
    real_c = np.interp(hours, quarters, truth_c)
    assert np.all(counted_c <= real_c + 0.0006)  # to the nearest thousandth
    earned, real = (maturity(hours, c, default_rate)[-1] for c in (counted_c, real_c + 0.0006))
    assert earned <= real + 1e-9
