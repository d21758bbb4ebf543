from __future__ import annotations

from cure.dashboard.attempts import (
    REMEMBERED,
    TRIES,
    TRIES_OF_ADDRESS,
    TRIES_OF_PERSON,
    WINDOW_MS,
    Attempts,
)


def test_a_person_may_fail_a_few_times_at_a_place_and_then_waits_there() -> None:
    attempts = Attempts()
    for n in range(TRIES):
        assert attempts.wait_ms("qc", "a", n) == 0
        attempts.failed("qc", "a", n)
    assert attempts.wait_ms("qc", "a", 10) == WINDOW_MS - 10
    assert attempts.wait_ms("qc", "another", 10) == attempts.wait_ms("super", "a", 10) == 0
    assert attempts.wait_ms("qc", "a", WINDOW_MS) == 0


def test_an_address_may_try_many_names_but_not_for_ever() -> None:
    attempts = Attempts()
    for n in range(TRIES_OF_ADDRESS):
        assert attempts.wait_ms(f"p{n}", "a", 0) == 0
        attempts.failed(f"p{n}", "a", 0)
    assert attempts.wait_ms("nobody", "a", 1) == WINDOW_MS - 1


def test_a_name_may_be_tried_from_many_addresses_but_not_for_ever() -> None:
    attempts = Attempts()
    for n in range(TRIES_OF_PERSON):
        assert attempts.wait_ms("qc", f"a{n}", 0) == 0
        attempts.failed("qc", f"a{n}", 0)
    assert attempts.wait_ms("qc", "another", 1) == WINDOW_MS - 1


def test_who_came_in_is_not_made_to_wait() -> None:
    attempts = Attempts()
    for _ in range(TRIES):
        attempts.failed("qc", "a", 0)
    attempts.succeeded("qc", "a")
    assert attempts.wait_ms("qc", "a", 1) == 0


def test_a_clock_set_back_locks_nobody_out() -> None:
    attempts = Attempts()
    for _ in range(TRIES):
        attempts.failed("qc", "a", 10 * WINDOW_MS)
    assert attempts.wait_ms("qc", "a", 0) == 0


def test_what_is_remembered_is_bounded() -> None:
    attempts = Attempts()
    for n in range(REMEMBERED):
        attempts.failed(f"p{n}", "a", 0)
    assert len(attempts._failed) == REMEMBERED
