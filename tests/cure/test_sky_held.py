from __future__ import annotations

from dataclasses import replace

from store_support import T0
from weather_support import issue_of

from cure.sky_held import Held, wrongs
from shared.models.base import HOUR_MS
from shared.models.weather import WeatherHeard

NOW = T0 + HOUR_MS
ISSUE = issue_of(T0, [1.0] * 60)
HELD = Held("weather.csv", (ISSUE,), WeatherHeard("weather.csv", NOW, NOW))


def test_what_is_wrong_is_told_and_nothing_is_when_nothing_is_wrong() -> None:
    assert wrongs(Held(None), NOW) == ()
    assert wrongs(HELD, NOW) == ()
    assert wrongs(Held("w"), NOW) == ("no usable weather of w has come yet",)
    failing = replace(HELD, heard=WeatherHeard("weather.csv", NOW, T0, 3, "answered 500"))
    assert wrongs(failing, NOW) == ("the last 3 from weather.csv could not be used: answered 500",)
    left = replace(HELD, issues=(replace(ISSUE, left_out=("air 99",)),))
    assert wrongs(left, NOW) == ("left out of it: air 99",)


def test_what_is_stale_is_told_and_then_that_it_counts_for_nothing() -> None:
    assert wrongs(HELD, T0 + 12 * HOUR_MS) == ()
    assert wrongs(HELD, T0 + 13 * HOUR_MS) == ("the weather of weather.csv was made 13 h ago: it is widened",)
    assert wrongs(HELD, T0 + 72 * HOUR_MS) == (
        "the weather of weather.csv was made 72 h ago: it counts for nothing any more",
    )
    assert HELD.age_h(T0 - HOUR_MS) == 0.0
