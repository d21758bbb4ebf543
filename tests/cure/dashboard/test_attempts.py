from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest

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
    assert [attempts.begin("qc", "a", n) for n in range(TRIES)] == [0] * TRIES
    assert attempts.begin("qc", "a", 10) == WINDOW_MS - 10
    assert attempts.begin("qc", "another", 10) == attempts.begin("super", "a", 10) == 0
    assert attempts.begin("qc", "a", WINDOW_MS) == 0


def test_an_address_may_try_many_names_but_not_for_ever() -> None:
    attempts = Attempts()
    assert {attempts.begin(f"p{n}", "a", 0) for n in range(TRIES_OF_ADDRESS)} == {0}
    assert attempts.begin("nobody", "a", 1) == WINDOW_MS - 1


def test_a_name_may_be_tried_from_many_addresses_but_not_for_ever() -> None:
    attempts = Attempts()
    assert {attempts.begin("qc", f"a{n}", 0) for n in range(TRIES_OF_PERSON)} == {0}
    assert attempts.begin("qc", "another", 1) == WINDOW_MS - 1


def test_who_came_in_is_not_made_to_wait_and_takes_nothing_from_the_others_there() -> None:
    attempts = Attempts()
    for n in range(TRIES_OF_ADDRESS * 2):
        assert attempts.begin("qc", "a", n) == 0
        attempts.succeeded("qc", "a", n)
    assert {attempts.begin("qc", "a", 0) for _ in range(TRIES)} == {0}
    attempts.succeeded("qc", "a", 0)
    assert attempts.begin("qc", "a", 1) == 0


@pytest.mark.row("M17")
def test_of_many_attempts_made_at_once_only_so_many_as_may_fail_are_looked_at() -> None:
    attempts = Attempts()
    with ThreadPoolExecutor(8) as many:
        waits = list(many.map(lambda _: attempts.begin("qc", "a", 0), range(50)))
    assert waits.count(0) == TRIES


def test_a_clock_set_back_locks_nobody_out() -> None:
    attempts = Attempts()
    for _ in range(TRIES):
        attempts.begin("qc", "a", 10 * WINDOW_MS)
    assert attempts.begin("qc", "a", 0) == 0


def test_what_is_remembered_is_bounded() -> None:
    attempts = Attempts()
    for n in range(REMEMBERED):
        attempts.begin(f"p{n}", f"a{n}", 0)
    assert len(attempts._failed) == REMEMBERED
