from __future__ import annotations

from cure.dashboard.pace import A_MINUTE, Pace
from shared.models.base import MINUTE_MS


def test_so_many_at_once_then_so_many_a_minute_each_person_by_itself() -> None:
    pace = Pace()
    assert [pace.wait_ms("qc", 0) for _ in range(A_MINUTE)] == [0] * A_MINUTE
    assert pace.wait_ms("qc", 0) == MINUTE_MS // A_MINUTE
    assert pace.wait_ms("super", 0) == 0
    assert [pace.wait_ms("qc", MINUTE_MS) for _ in range(A_MINUTE)] == [0] * A_MINUTE
    assert pace.wait_ms("qc", MINUTE_MS) > 0


def test_long_silence_saves_up_no_more_and_a_clock_set_back_takes_nothing() -> None:
    pace = Pace(2)
    assert pace.wait_ms("qc", 100 * MINUTE_MS) == 0
    assert pace.wait_ms("qc", 0) == 0
    assert pace.wait_ms("qc", 0) == MINUTE_MS // 2
    assert [pace.wait_ms("qc", 1000 * MINUTE_MS) > 0 for _ in range(3)] == [False, False, True]
