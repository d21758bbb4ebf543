"""A service whose clock is set, that boots in 1970, or whose night has 23 or 25 hours: nothing comes before its hour.

Jumps by 10 days and by 2 hours: `tests/deploy/test_standing_days.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

import pytest
from backup_support import little_setup, strip_of
from deploy_support import POUR, SENSORS, act
from service_support import HostClock

from alerts.transport import RecordingTransport
from deploy.wiring import Service, build
from shared.errors import SlabError
from shared.models.base import HOUR_MS, MINUTE_MS, Ms, SensorId
from shared.models.decisions import GateState
from shared.models.messages import PERMITS
from shared.models.readings import Reading
from shared.models.setup import Setup

QUARTER_MS: Final = 15 * MINUTE_MS
NEEDED_H: Final = 24.0
"""Counted hours that the shipped plan asks for before forms are struck (README, "Requirements")."""


def at(year: int, month: int, day: int, hour: int) -> Ms:
    return int(datetime(year, month, day, hour, tzinfo=UTC).timestamp()) * 1000


@dataclass
class Host:
    """The little site on a host whose clock is at hand; its loggers' clocks are right."""

    setup: Setup
    end_ms: Ms
    clock: HostClock = field(init=False)
    _told_ms: Ms = field(init=False)

    def __post_init__(self) -> None:
        self.clock = HostClock(self.end_ms - HOUR_MS)
        self._told_ms = self.end_ms - HOUR_MS

    @contextmanager
    def up(self) -> Iterator[Service]:
        with build(self.setup, clock=self.clock, transport=RecordingTransport()) as service:
            yield service

    def begin(self, service: Service) -> None:
        service.apply(act("pour_start", self.clock.now(), bay="2-b1", pour=POUR))
        self.clock.true_ms = self.end_ms
        service.apply(act("pour_end", self.end_ms, pour=POUR))

    def turn(self, service: Service, hours: float) -> None:
        """Be at so many true hours from the end of the pour: bring in what was measured until then, judge it twice."""
        self.clock.true_ms = max(self.clock.true_ms, self.end_ms + round(hours * HOUR_MS))
        times = range(self._told_ms, self.clock.true_ms + 1, QUARTER_MS)
        rows = [
            Reading(SensorId(s), t, 12_000 if s == "lg-09.1" else 18_000, self.clock.now())
            for t in times
            for s in SENSORS
        ]
        self._told_ms = times[-1] + QUARTER_MS if times else self._told_ms
        service.intake.take_rows(rows)
        for _ in range(3):
            service.tick()
            self.clock.pass_(61_000)

    def is_permitted(self, service: Service) -> bool:
        """Return whether the strip is permitted, or can be by a signature now."""
        try:
            service.apply(act("sign", self.clock.now(), pour=POUR, operations=["strip"]))
        except SlabError:
            said = [m for m in service.book.board.messages() if m.kind in PERMITS]
            return bool(said) or strip_of(service) in {GateState.MET, GateState.RELEASED}
        return True

    def resume(self, service: Service) -> None:
        service.apply(act("resume", self.clock.now(), "qc-one", doubt="clock", why="the hour is right"))


@pytest.mark.row("C6", "C7")
@pytest.mark.parametrize("offset_ms", [2 * MINUTE_MS, -2 * MINUTE_MS])
def test_a_clock_that_is_set_by_two_minutes_earns_nothing_and_is_told(tmp_path: Path, offset_ms: int) -> None:
    host = Host(little_setup(tmp_path), at(2026, 11, 23, 13))
    with host.up() as service:
        host.begin(service)
        host.turn(service, 12)
        host.clock.offset_ms = offset_ms
        host.turn(service, 12.5)
        assert strip_of(service) is GateState.SUSPENDED
        assert [d.kind for d in service.book.service.doubts()] == ["clock"]
        assert not host.is_permitted(service)
        host.resume(service)
        # By the service's clock an hour that is two minutes off has come; by what really passed it has not.
        host.turn(service, NEEDED_H - 0.15)
        assert not host.is_permitted(service)
        host.turn(service, NEEDED_H + 1)
        assert host.is_permitted(service)


@pytest.mark.row("C8", "C6")
def test_a_host_that_boots_in_1970_releases_nothing_until_it_knows_the_hour_and_a_person_has_looked(
    tmp_path: Path,
) -> None:
    host = Host(little_setup(tmp_path), at(2026, 11, 23, 13))
    with host.up() as service:
        host.begin(service)
        host.turn(service, 20)
    host.clock.reboot(HOUR_MS, -host.clock.true_ms)
    with host.up() as service:
        host.turn(service, NEEDED_H + 2)
        assert strip_of(service) is GateState.SUSPENDED
        assert ["1970" in d.reason for d in service.book.service.doubts()] == [True]
        with pytest.raises(SlabError, match="1970"):
            host.resume(service)
        assert not host.is_permitted(service)
        host.clock.offset_ms = 0
        service.tick()
        host.resume(service)
        # What came while the clock said 1970 was refused as hours ahead, and counts for nothing: 20 to 26 h.
        host.turn(service, NEEDED_H + 6)
        assert not host.is_permitted(service)
        host.turn(service, NEEDED_H + 8)
        assert host.is_permitted(service)


@pytest.mark.row("C4", "C10")
@pytest.mark.parametrize(
    "end_ms",
    [
        # America/Halifax: clocks go back on 2026-11-01 at 05:00 UTC, ahead on 2027-03-14 at 06:00 UTC (tzdata).
        at(2026, 10, 31, 18),
        at(2027, 3, 13, 18),
    ],
    ids=["25 h night", "23 h night"],
)
def test_over_the_nights_in_which_clocks_are_changed_a_day_has_its_true_hours(tmp_path: Path, end_ms: Ms) -> None:
    host = Host(little_setup(tmp_path), end_ms)
    with host.up() as service:
        host.begin(service)
        host.turn(service, 12)
        host.turn(service, NEEDED_H - 0.25)
        assert not host.is_permitted(service)
        assert service.book.service.doubts() == ()
        host.turn(service, NEEDED_H + 0.5)
        assert host.is_permitted(service)
