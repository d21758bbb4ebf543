from __future__ import annotations

from cure.dashboard.idle import IDLE_MS, REMEMBERED, Idle


def test_a_session_is_over_when_nobody_has_used_it_for_so_long_and_stays_so() -> None:
    idle = Idle()
    for at in (0, IDLE_MS - 1, 2 * IDLE_MS - 2):
        assert not idle.is_over("a", at, counts=True)
    assert not idle.is_over("b", 2 * IDLE_MS, counts=True)
    for at in (3 * IDLE_MS, 3 * IDLE_MS + 1):
        assert idle.is_over("a", at, counts=True)


def test_what_a_page_asks_by_itself_is_no_use_and_a_restart_is_one() -> None:
    idle = Idle()
    assert not idle.is_over("a", 0, counts=False)
    assert not idle.is_over("a", IDLE_MS - 1, counts=False)
    assert idle.is_over("a", IDLE_MS, counts=False)


def test_a_clock_set_back_ends_nothing_and_what_is_remembered_is_bounded() -> None:
    idle = Idle()
    assert not idle.is_over("a", 10 * IDLE_MS, counts=True)
    assert not idle.is_over("a", 0, counts=True)
    for n in range(REMEMBERED + 10):
        idle.is_over(str(n), 0, counts=True)
    assert len(idle._used) == REMEMBERED
