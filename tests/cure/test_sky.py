from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from store_support import T0
from weather_support import issue_of

from cure.forecast import Weather
from cure.sky import BIAS_SD_C, foreseen_sd_c, own_sd_c, weather_over
from cure.sky_held import Held, NoSky, OwnAir
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.readings import Series
from shared.models.weather import WeatherHeard, WeatherHour

NOW = T0 + 30 * HOUR_MS
NOTHING: Mapping[str, float] = {}
ALL = {"wind_m_s": 4.0, "humidity_percent": 90.0, "sun_w_m2": 10.0, "cloud_share": 1.0}


def own(c: float = 2.0, hours: float = 30.0, *, swing_c: float = 0.0) -> OwnAir:
    """Return so many hours of air to the present, with a daily swing that is coldest at T0."""
    taken = np.arange(NOW - round(hours * HOUR_MS), NOW + 1, 15 * MINUTE_MS, dtype=np.int64)
    air_c = c - swing_c * np.cos((taken - T0) / HOUR_MS / 24.0 * math.tau)
    return OwnAir("lg-09.1", Series(taken, np.round(air_c * 1000.0).astype(np.int64)))


def held(c: float = 2.0, *, hours: int = 150, made_h: int = 24, said: Mapping[str, float] = NOTHING) -> Held:
    """Return one issue of the same air from `made_h` after T0 on."""
    issue = issue_of(T0 + made_h * HOUR_MS, [c] * hours, said=said)
    return Held("weather.csv", (issue,), WeatherHeard("weather.csv", NOW, NOW))


def over(held: Held, own: OwnAir | None, hours: int = 120) -> Weather:
    found = weather_over(held, own, T0, NOW + hours * HOUR_MS, NOW)
    assert isinstance(found, Weather), found
    return found


def at(weather: Weather, hours_ahead: int) -> int:
    return int(np.flatnonzero(weather.hours_ms == NOW + hours_ahead * HOUR_MS)[0])


def test_measured_air_counts_as_far_as_it_goes_and_the_forecast_from_then_on() -> None:
    weather = over(held(4.0, said=ALL), own(2.0))
    assert np.allclose(weather.air_c[: at(weather, 0) + 1], 2.0)
    # What the forecast is off at present fades: exp(-12 / 12) of 2 degC (computed).
    assert math.isclose(weather.air_c[at(weather, 12)], 4.0 - 2.0 * math.exp(-1.0))
    assert weather.issued_ms == NOW
    assert weather.bias_sd_c == BIAS_SD_C
    assert weather.doubts == ()
    assert weather.source == "weather.csv and air logger lg-09.1"
    ahead = weather.air_sd_c[at(weather, 1) :]
    assert np.all(np.diff(ahead) > 0.0)
    assert np.all(weather.air_sd_c[: at(weather, 0) + 1] < ahead[0])
    assert set(weather.cloud_share[at(weather, 0) :]) == {1.0}


def test_the_error_grows_as_it_is_said() -> None:
    # 0.25 + 3.75 (1 - 0.93^48) = 3.885, its root 1.971 (computed); two days after the first day 0.5 degC more.
    lead = np.array([-5.0, 0.0, 24.0, 72.0, 1e6])
    found = foreseen_sd_c(lead)
    assert np.allclose(found[:3], [0.5, 0.5, 1.9711], atol=2e-4)
    assert math.isclose(found[3], 2.5, abs_tol=0.001)
    own_sd = own_sd_c(lead)
    assert math.isclose(own_sd[2], 2.0 + 2.5 * (1.0 - math.exp(-1.0)))
    assert np.all(own_sd[:4] > found[:4])


def test_without_a_source_the_last_day_goes_on_with_a_wider_error() -> None:
    alone = over(Held(None), own(0.0, swing_c=1.5))
    with_forecast = over(held(0.0, said=ALL), own(0.0, swing_c=1.5))
    for ahead in (5, 20, 29, 53, 101):
        # Each hour as a day, or days, before.
        assert math.isclose(alone.air_c[at(alone, ahead)], alone.air_c[at(alone, ahead - 24 * (1 + ahead // 24))])
        assert alone.air_sd_c[at(alone, ahead)] > with_forecast.air_sd_c[at(with_forecast, ahead)]
    assert alone.bias_sd_c > with_forecast.bias_sd_c
    assert alone.source == "air logger lg-09.1"
    assert "the air goes on as the last day" in alone.doubts
    assert any(said.startswith("not said") for said in alone.doubts)
    # Without a whole day of it nobody knows the swing.
    short = over(Held(None), own(0.0, hours=3.0))
    assert short.air_sd_c[at(short, 12)] > alone.air_sd_c[at(alone, 12)] + 1.0


def test_a_forecast_that_ends_early_goes_on_as_its_last_day_and_is_wider_and_says_so() -> None:
    short, whole = over(held(hours=36, said=ALL), own()), over(held(said=ALL), own())
    assert short.air_sd_c[at(short, 100)] > whole.air_sd_c[at(whole, 100)]
    assert math.isclose(short.air_sd_c[at(short, 20)], whole.air_sd_c[at(whole, 20)])
    assert [said for said in short.doubts if "early" in said] == [
        "the forecast ends 91 h early and goes on as its last day"
    ]


def test_what_is_stale_is_widened_and_said_and_what_is_useless_counts_for_nothing() -> None:
    fresh = over(held(2.0, said=ALL), own())
    stale = over(held(2.0, made_h=10, hours=200, said=ALL), own())
    assert any("20 h ago: it is widened" in said for said in stale.doubts)
    ahead = slice(at(fresh, 1), None)
    assert np.all(stale.air_sd_c[ahead] > fresh.air_sd_c[ahead])
    useless = held(20.0, made_h=-50, hours=300, said=ALL)
    found = over(useless, own(2.0))
    assert any("counts for nothing" in said for said in found.doubts)
    assert np.all(found.air_c < 3.0)
    assert found.source == "air logger lg-09.1"
    assert isinstance(weather_over(useless, None, T0, NOW + HOUR_MS, NOW), NoSky)


def test_a_forecast_far_from_the_sites_own_air_is_widened_and_one_of_another_place_refused() -> None:
    far = over(held(7.0, said=ALL), own(2.0))
    assert far.bias_sd_c == 2.5
    assert any("5 degC off" in said for said in far.doubts)
    other = over(held(20.0, said=ALL), own(2.0))
    assert any("18 degC off the site's own air: it counts for nothing" in said for said in other.doubts)
    assert np.all(other.air_c < 3.0)


def test_no_weather_and_no_air_is_said_with_what_would_help() -> None:
    series = own().series
    silent = OwnAir("lg-09.1", replace(series, taken_ms=series.taken_ms - 25 * HOUR_MS))
    none = OwnAir("lg-09.1", Series(series.taken_ms[:0], series.milli_c[:0]))
    for air in (None, silent, none):
        found = weather_over(Held("PUT /weather"), air, T0, NOW + HOUR_MS, NOW)
        assert isinstance(found, NoSky)
        assert "[weather]" in found.how


def test_a_hole_in_the_past_is_filled_from_the_nearest_and_is_wider() -> None:
    late = own(2.0, hours=5.0)
    weather = over(held(2.0, said=ALL), late)
    assert any("past hours without any air" in said for said in weather.doubts)
    assert weather.air_sd_c[0] > 3.0


@settings(max_examples=60, deadline=None)
@given(
    airs=st.lists(st.floats(-40, 40), min_size=1, max_size=60),
    begins_h=st.integers(-80, 60),
    made_h=st.integers(-80, 30),
    wind=st.none() | st.floats(0, 60),
    air_h=st.none() | st.floats(0.0, 40.0),
    to_h=st.integers(1, 130),
)
def test_whatever_is_held_comes_to_numbers_or_to_a_reason(
    airs: list[float], begins_h: int, made_h: int, wind: float | None, air_h: float | None, to_h: int
) -> None:
    hours = tuple(WeatherHour(T0 + (begins_h + h) * HOUR_MS, c, wind) for h, c in enumerate(airs))
    issue = replace(issue_of(T0, [0.0]), hours=hours, issued_ms=T0 + made_h * HOUR_MS)
    air = None if air_h is None else own(1.0, air_h)
    # `Weather` itself refuses what is no number.
    found = weather_over(Held("w", (issue,)), air, T0, NOW + to_h * HOUR_MS, NOW)
    if isinstance(found, Weather):
        assert found.hours_ms[0] <= T0
        assert found.hours_ms[-1] >= NOW + to_h * HOUR_MS
        assert np.all(found.air_sd_c >= 0.5)
    else:
        assert found.reason
