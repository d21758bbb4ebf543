from __future__ import annotations

import math

from days_support import LISTS, Rows, at, days_of, shown_row
from store_support import T0, make_site
from weather_support import FakeWeatherBook, issue_of

from cure.night_ahead import foreseen_low_c
from cure.sky_held import Held
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS
from shared.models.decisions import GateState
from shared.models.weather import FileWeather, WeatherHeard

COVER = LISTS[1]


def test_the_low_of_a_night_is_that_of_one_night_in_ten_and_nothing_when_the_forecast_says_too_little() -> None:
    issue = issue_of(T0, [5.0 - abs(h - 12) / 12.0 for h in range(40)])
    held = Held("w", (issue,), WeatherHeard("w", T0, T0))
    low = foreseen_low_c(held, None, T0 + 2 * HOUR_MS, T0 + 16 * HOUR_MS, T0)
    assert low is not None
    # 1.28 times 2.0 to 2.2 degC (error, bias and what is not said) below 4.2 to 5 degC.
    assert 1.0 < low < 3.0
    assert foreseen_low_c(held, None, T0 + 2 * HOUR_MS, T0 + 60 * HOUR_MS, T0) is None
    assert foreseen_low_c(held, None, T0 + 14 * HOUR_MS, T0 + 20 * HOUR_MS, T0 + 13 * HOUR_MS) is None
    assert foreseen_low_c(Held("w"), None, T0, T0 + HOUR_MS, T0) is None


def test_the_cover_list_goes_by_a_fresh_forecast_and_without_one_by_the_last_night() -> None:
    now = at("2026-11-24T14:00-04:00")
    book = FakeWeatherBook()
    rows = Rows(
        make_site(weather=FileWeather(kind="file", file="w.csv")),
        [shown_row(strip=GateState.CURING, start_ms=now - 4 * HOUR_MS)],
    )
    for air_c, listed in ((-2.0, True), (15.0, False)):
        book.keep(issue_of(now, [air_c] * 48, source="w.csv"), WeatherHeard("w.csv", now, now))
        days = days_of(rows, SimulatedClock(now))
        days.weather = book
        assert days.run_due() == int(listed)
        if listed:
            told = rows.told.pop()
            assert told.kind is COVER
            low = told.facts["bays"][0]["expected_low_c"]
            assert -6.0 < low < -3.0
            assert math.isfinite(low)
    # The last night was at 3 degC.
    rows.told.clear()
    assert days_of(rows, SimulatedClock(now)).run_due() == 1
    assert rows.told[0].facts["bays"][0]["expected_low_c"] == 3.0
