"""The wired service makes its forecasts anew each hour of evidence, after the rounds, and tells their hours."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from deploy_support import END_MS, POUR, START_MS, history, poured, write_site

from alerts.transport import RecordingTransport
from cure.forecast import Forecast, NoForecast, Weather
from cure.foreseen_hours import hours_of
from cure.foresight import STANDS_MS
from deploy.page_parts import page_parts
from deploy.wiring import build
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS, LOAD, MINUTE_MS, STRIP, Ms, PourId
from shared.models.readings import Series
from shared.ports import PourCase
from shared.sitefile import load


@dataclass
class SteadySkies:
    """Ten degrees, for ever; or nothing."""

    nothing: bool = False
    asked: int = 0

    def over(self, case: PourCase, air: Series | None, from_ms: Ms, to_ms: Ms, now_ms: Ms) -> Weather | NoForecast:
        self.asked += 1
        if self.nothing:
            return NoForecast(case.pour.id, "no weather", "give the site a source of weather")
        assert air is not None
        hours = np.arange(from_ms // HOUR_MS, to_ms // HOUR_MS + 1, dtype=np.int64) * HOUR_MS
        ones = np.ones(len(hours))
        sd = np.where(hours > now_ms, 1.5, 0.5)
        said = (ones * 10.0, ones * 3.0, ones * 70.0, ones * 0.0, ones * 0.5, sd)
        return Weather(hours, *said, 0.7, now_ms, "steady")


def broken(*_: object) -> Weather:
    raise ArithmeticError("a bug")


def test_forecasts_are_made_each_hour_told_and_forgotten_when_old(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    skies, clock, pour = SteadySkies(), SimulatedClock(START_MS), PourId(POUR)
    setup = load(write_site(tmp_path))
    with build(setup, clock=clock, transport=RecordingTransport(), skies=lambda _: skies) as service:
        assert service.foresight is not None
        start, end = poured()
        service.apply(start)
        service.tick()
        unended = service.foresight.latest[pour]
        assert isinstance(unended, NoForecast)
        assert "end of the pour" in unended.reason
        said = history(5, 14.0, 10.0)
        for quarter in range(4, 19):
            clock.set(START_MS + quarter * 15 * MINUTE_MS + 2000)
            now = clock.now()
            service.intake.take_rows([r for r in said if now - 15 * MINUTE_MS < r.received_ms <= now])
            if quarter == 4:
                service.apply(end)
            service.tick()
        assert 3 <= skies.asked <= 4
        forecast = service.foresight.latest[pour]
        assert isinstance(forecast, Forecast)
        assert forecast.through_ms > END_MS + 2 * HOUR_MS
        hours = [forecast.expected[STRIP].at(chance) for chance in (0.1, 0.5, 0.9)]
        assert hours[1] is not None
        assert hours == sorted(h for h in hours if h is not None)
        (row,) = service.book.board.board()
        kept, told = row.state.memory["expected"][LOAD], service.foresight.hours(pour, now)[LOAD]
        assert (kept["expected_ms"], kept["cautious_ms"]) == (told.even_ms, told.cautious_ms)
        assert told == hours_of(forecast.expected[LOAD])
        assert (told.early_ms, told.even_ms) == tuple(forecast.expected[LOAD].at(chance) for chance in (0.1, 0.5))
        assert sum(told.waits_for.values()) == pytest.approx(1.0, abs=0.01)
        shown = row.state.memory["forecast"]
        assert shown["hours"][LOAD]["spread"] == dict(told.spread)
        assert any("no heat data" in note for note in shown["notes"])
        looked = page_parts(service, service.apply, demo=True).look(pour)
        assert looked.foreseen is forecast
        assert any("no heat data" in note for note in forecast.notes)
        # Nothing is said by a forecast whose evidence is old, and weather that fails takes the last one's place.
        assert service.foresight.hours(pour, forecast.through_ms + STANDS_MS + 1) == {}
        skies.nothing = True
        clock.set(now + 2 * HOUR_MS)
        more = [r for r in history(7, 14.0, 10.0) if now < r.received_ms <= clock.now()]
        service.intake.take_rows(more)
        service.tick()
        refused = service.foresight.latest[pour]
        assert isinstance(refused, NoForecast)
        assert refused.reason == "no weather"
        service.rounds.run(pour)
        (row,) = service.book.board.board()
        why = "no weather; give the site a source of weather"
        assert row.state.memory["forecast"] == {"hours": {}, "notes": [], "none": why}
        assert service.foresight.hours(pour, clock.now()) == {}
        # Nor does a failure of any other kind keep the service from its work.
        monkeypatch.setattr(SteadySkies, "over", broken)
        clock.set(clock.now() + 20 * MINUTE_MS)
        service.tick()
        failed = service.foresight.latest[pour]
        assert isinstance(failed, NoForecast)
        assert failed.reason == "it could not be computed"
