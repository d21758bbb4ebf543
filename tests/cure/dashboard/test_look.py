"""A pour read from real stores: as it is now, and as it was."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from deploy_support import END_MS, POUR, START_MS, act, history, little_service, poured

from cure.dashboard.look import Looks, as_of, look
from cure.dashboard.pour_view import PourView
from deploy.wiring import Service
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.base import HOUR_MS, PourId


@pytest.fixture
def running(tmp_path: Path) -> Iterator[tuple[Service, SimulatedClock]]:
    """Lend a service with a pour 28 h after its start, tested at 27 h."""
    with little_service(tmp_path) as (service, clock):
        for done in poured():
            clock.set(START_MS + HOUR_MS)
            service.apply(done)
        service.intake.take_rows(history(28))
        clock.set(START_MS + 28 * HOUR_MS)
        service.rounds.run_due()
        test = {"method": "pullout", "mpa": 9.0, "position": "middle", "last_third": True}
        service.apply(act("test_result", clock.now(), who="qc-one", pour=POUR, **test))
        yield service, clock


def shown(view: PourView) -> tuple[int, int, int]:
    """Return the newest hour of strength and of temperature, and how many tests are shown."""
    strength, temperature = view.strength(view.window()), view.temperature(view.window())
    newest = max(int(s.taken_ms[-1]) for s in temperature.sensors)
    return int(strength.at_ms[-1]), newest, len(strength.tested)


def test_now_it_has_everything_that_came(running: tuple[Service, SimulatedClock]) -> None:
    service, clock = running
    view = look(service.book.board, service.readings, clock, PourId(POUR))
    looks = Looks(service.book.board, service.readings, clock)
    for kept in (looks(PourId(POUR)), looks(PourId(POUR))):
        assert shown(kept) == shown(view)
        assert kept.evidence.lower_bound_mpa() == view.evidence.lower_bound_mpa()
    assert shown(view) == (START_MS + 28 * HOUR_MS, START_MS + 28 * HOUR_MS, 1)
    state = next(row.state for row in service.book.board.board())
    assert state.estimate is not None
    assert view.evidence.lower_bound_mpa() == pytest.approx(state.estimate.lower_bound_mpa)


def test_as_of_an_hour_it_has_nothing_later(running: tuple[Service, SimulatedClock]) -> None:
    service, _ = running
    at_ms = END_MS + 10 * HOUR_MS
    view = as_of(service.book.board.case(PourId(POUR)), service.readings, at_ms)
    assert shown(view) == (at_ms, at_ms, 0)
    assert view.window().now_ms == at_ms


def test_an_unknown_pour_is_an_error_of_the_store(running: tuple[Service, SimulatedClock]) -> None:
    service, clock = running
    with pytest.raises(StoreError, match="no pour"):
        look(service.book.board, service.readings, clock, PourId("nowhere"))
