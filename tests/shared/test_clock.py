from __future__ import annotations

from pathlib import Path

import pytest

from shared.clock import SimulatedClock, SpedUpClock, SystemClock, look
from shared.models.base import Ms

START = 1_795_000_000_000


class Monotonic:
    """The machine's monotonic clock, in the test's hand."""

    def __init__(self) -> None:
        self.seconds = 100.0

    def __call__(self) -> float:
        return self.seconds


@pytest.fixture
def real(monkeypatch: pytest.MonkeyPatch) -> Monotonic:
    real = Monotonic()
    monkeypatch.setattr("shared.clock.time.monotonic", real)
    return real


def test_sped_up_time_runs_at_its_rate(real: Monotonic) -> None:
    clock = SpedUpClock(START, rate=3600.0)
    for _ in range(10):
        real.seconds += 0.05
        clock.step()
    assert clock.now() - START == pytest.approx(0.5 * 3600.0 * 1000.0, abs=1)
    assert clock.boot() == ("sped-up", clock.now() - START)
    assert clock.synchronised()


def test_a_stalled_machine_stalls_the_sped_up_site(real: Monotonic) -> None:
    clock = SpedUpClock(START, rate=3600.0)
    real.seconds += 3.0
    clock.step()
    assert clock.now() - START == 360_000  # 0.1 s of the 3 s, not three hours of the site

    real.seconds += 0.05
    clock.step()
    assert clock.now() - START == pytest.approx(540_000, abs=1)


def test_sped_up_time_stands_still_between_steps(real: Monotonic) -> None:
    clock = SpedUpClock(START, rate=60.0)
    real.seconds += 0.1
    assert clock.now() == START


def test_a_site_that_is_behind_stands_still(real: Monotonic) -> None:
    clock = SpedUpClock(START, rate=600.0)
    real.seconds += 0.05
    clock.step(passing=False)
    real.seconds += 0.05
    clock.step()
    assert clock.now() == START + 30_000


def test_simulated_time_never_runs_back() -> None:
    clock = SimulatedClock(START)
    clock.set(START + 1000)
    clock.set(START - 1000)
    assert clock.now() == START + 1000
    assert clock.boot()[1] == 1000


def test_a_simulated_clock_can_be_out_of_step() -> None:
    assert SimulatedClock(START).synchronised()
    assert not SimulatedClock(START, synchronised=False).synchronised()


def test_the_system_clock_is_the_machines(tmp_path: Path) -> None:
    (tmp_path / "now").touch()
    stamped_ms = (tmp_path / "now").stat().st_mtime_ns // 1_000_000
    assert abs(SystemClock().now() - stamped_ms) < 2_000


def test_the_boot_has_one_id_and_its_time_runs_on() -> None:
    clock = SystemClock()
    first_id, first_ms = clock.boot()
    second_id, second_ms = clock.boot()
    assert first_id == second_id != ""
    assert 0 < first_ms <= second_ms
    assert clock.synchronised() in {True, False}


def test_a_simulated_clock_that_starts_elsewhere_is_another_boot() -> None:
    assert SimulatedClock(1).boot()[0] != SimulatedClock(2).boot()[0]


class Stalling(SimulatedClock):
    """A process that was held up for a day between two looks, a few times."""

    stalls = 3

    def now(self) -> Ms:
        at = super().now()
        if self.stalls:
            self.stalls -= 1
            self.set(at + 86_400_000)
        return at


def test_one_look_takes_all_clocks_at_one_moment() -> None:
    clock = Stalling(1_795_000_000_000)
    seen = look(clock)
    assert clock.stalls == 0
    assert seen.wall_ms - seen.boot_ms == 1_795_000_000_000
