from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from ingest.reconnect import FIRST_S, LONGEST_S, delay_s


@given(st.integers(0, 10_000), st.floats(0, 1))
def test_a_wait_is_never_longer_than_the_longest_nor_shorter_than_half_the_first(failures: int, roll: float) -> None:
    assert FIRST_S / 2 <= delay_s(failures, roll) <= LONGEST_S


def test_the_waits_double_until_they_are_as_long_as_they_get() -> None:
    assert [delay_s(n, 1.0) for n in range(8)] == [0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 30.0, 30.0]
    assert [delay_s(n, 0.0) for n in range(8)] == [0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 15.0, 15.0]


def test_after_a_power_cut_no_tenth_of_the_time_takes_more_than_its_share() -> None:
    services = 1000
    waits = sorted(delay_s(4, n / (services - 1)) for n in range(services))
    assert (waits[0], waits[-1]) == (4.0, 8.0)
    tenths = [sum(4.0 + 0.4 * k <= wait < 4.4 + 0.4 * k for wait in waits) for k in range(10)]
    assert max(tenths) <= services // 10 + 1
