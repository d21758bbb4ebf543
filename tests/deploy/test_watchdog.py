from __future__ import annotations

from threading import Event

import pytest

from deploy.watchdog import Watchdog


@pytest.mark.row("J3", "N7")
def test_a_loop_that_stopped_turning_ends_the_process() -> None:
    ended = Event()
    ages = {"tick": 0.0}
    dog = Watchdog({"tick": lambda: ages["tick"]}, stale_after_s=1.0, look_every_s=0.01, end=ended.set)
    dog.start()
    try:
        assert not ended.wait(0.1)
        ages["tick"] = 1.5
        assert ended.wait(5)
    finally:
        dog.close()


@pytest.mark.parametrize("age", [float("inf"), float("nan")])
def test_a_loop_whose_age_is_unknown_has_stopped(age: float) -> None:
    assert Watchdog({"tick": lambda: age, "readings": lambda: 0.0}).stale() == ("tick",)


def test_loops_that_turn_are_left_alone() -> None:
    assert Watchdog({"tick": lambda: 119.9}).stale() == ()
