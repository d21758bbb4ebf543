"""Days of a site whose service's clock is set, through the real rounds and stores."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from deploy_support import END_MS, POUR, SENSORS, START_MS, act, poured, write_site
from service_support import HostClock

from alerts.transport import RecordingTransport
from deploy.wiring import Service, build
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, STRIP, Ms, SensorId
from shared.models.decisions import GateState
from shared.models.messages import PERMITS, MessageKind
from shared.models.readings import Reading
from shared.sitefile import load

QUARTER_MS = 15 * MINUTE_MS


class Site:
    """One pour on a site with loggers whose clocks are right, judged every quarter of an hour."""

    def __init__(self, service: Service, clock: HostClock) -> None:
        self.service = service
        self.clock = clock

    def run(self, hours: float) -> None:
        for _ in range(round(hours * 4)):
            self.clock.pass_(QUARTER_MS - 2 * 61_000)
            true = self.clock.true_ms
            rows = [Reading(SensorId(s), true, 12_000 if s == "lg-09.1" else 18_000, self.clock.now()) for s in SENSORS]
            self.service.intake.take_rows(rows)
            for _ in range(2):
                self.service.tick()
                self.service.dispatcher.run_due()
                self.clock.pass_(61_000)

    def set(self, offset_ms: int) -> None:
        self.clock.offset_ms = offset_ms
        self.service.tick()

    def resume(self) -> None:
        self.service.apply(act("resume", self.clock.now(), "qc-one", doubt="clock", why="the hour is right"))

    @property
    def state(self) -> GateState:
        return self.service.book.board.board()[0].gates[STRIP].state

    def permits(self) -> list[MessageKind]:
        return [m.kind for m in self.service.book.board.messages() if m.kind in PERMITS]


@contextmanager
def poured_site(folder: Path, **changes: str) -> Iterator[Site]:
    clock = HostClock(START_MS)
    setup = load(write_site(folder, **changes))
    with build(setup, clock=clock, transport=RecordingTransport()) as service:
        site = Site(service, clock)
        service.apply(poured()[0])
        site.run(1)
        clock.true_ms = END_MS
        service.apply(act("pour_end", END_MS, pour=POUR))
        yield site


def met_at(site: Site, *, within_h: float) -> Ms:
    """Return the true hour at which strip is met."""
    for _ in range(round(within_h * 4)):
        site.run(0.25)
        if site.state is GateState.MET:
            return site.clock.true_ms
    raise AssertionError(f"not met within {within_h} h: {site.state}")


def test_with_a_clock_that_is_right_strip_is_met_when_its_hours_have_passed(tmp_path: Path) -> None:
    with poured_site(tmp_path) as site:
        assert 24 * HOUR_MS <= met_at(site, within_h=30) - END_MS <= 26 * HOUR_MS


@pytest.mark.row("C6")
def test_a_clock_that_jumps_ten_days_ahead_releases_nothing_before_its_true_hour(tmp_path: Path) -> None:
    with poured_site(tmp_path) as site:
        site.run(12)
        site.set(10 * DAY_MS)
        assert site.state is GateState.SUSPENDED
        site.run(3)
        site.resume()
        site.run(3)
        assert site.permits() == []
        site.set(0)
        site.resume()
        assert met_at(site, within_h=30) - END_MS >= 24 * HOUR_MS
        assert [m.kind for m in site.service.book.board.messages()].count(MessageKind.IN_DOUBT) >= 2


@pytest.mark.row("C7")
def test_a_clock_that_jumps_back_two_hours_does_not_keep_the_rounds_waiting(tmp_path: Path) -> None:
    with poured_site(tmp_path) as site:
        site.run(12)
        site.set(-2 * HOUR_MS)
        assert site.state is GateState.SUSPENDED
        before = site.service.book.board.board()[0].state.as_of_ms
        site.run(1)
        row = site.service.book.board.board()[0]
        assert before < row.state.as_of_ms
        assert site.clock.now() - row.state.as_of_ms <= 16 * MINUTE_MS
        assert row.state.estimate is None or row.state.estimate.age_h is None or row.state.estimate.age_h >= 0
        site.set(0)
        site.resume()
        assert met_at(site, within_h=30) - END_MS >= 24 * HOUR_MS


@pytest.mark.row("C9")
def test_where_it_is_required_an_unsynchronised_clock_suspends_and_the_gate_goes_on_when_it_is_back(
    tmp_path: Path,
) -> None:
    sync = {'clock_sync = "not-checked"': 'clock_sync = "required"'}
    with poured_site(tmp_path, **sync) as site:
        site.clock.right = False
        site.run(26)
        assert (site.state, site.permits()) == (GateState.SUSPENDED, [])
        assert [d.reason for d in site.service.book.service.doubts()] != []
        site.clock.right = True
        met_at(site, within_h=2)
        assert site.service.book.service.doubts() == ()


@pytest.mark.row("C11")
def test_after_eight_hours_of_sleep_nothing_is_released_on_the_estimate_from_before(tmp_path: Path) -> None:
    with poured_site(tmp_path) as site:
        site.run(22)
        site.clock.pass_(8 * HOUR_MS)
        site.service.tick()
        assert (site.state, site.permits()) == (GateState.CURING, [])
        assert site.service.book.service.doubts() == ()
