from __future__ import annotations

import numpy as np
from cure_support import make_case
from store_support import T0
from weather_support import FakeWeatherBook, issue_of

from cure.forecast import NoForecast, Weather
from cure.skies import SiteSkies
from shared.models.base import HOUR_MS, MINUTE_MS
from shared.models.readings import Series
from shared.models.weather import WeatherHeard


def test_a_bay_gets_the_weather_that_is_held_beside_its_own_air_or_the_reason_why_there_is_none() -> None:
    book, case = FakeWeatherBook(), make_case()
    book.keep(issue_of(T0, [-3.0] * 100, source="w.csv"), WeatherHeard("w.csv", T0, T0))
    now = T0 + 5 * HOUR_MS
    taken = np.arange(T0, now + 1, 15 * MINUTE_MS, dtype=np.int64)
    air = Series(taken, np.full(len(taken), -2000, dtype=np.int64))
    both = SiteSkies("w.csv", book).over(case, air, T0, now + 60 * HOUR_MS, now)
    assert isinstance(both, Weather)
    assert both.air_c[0] == -2.0
    assert both.source == "w.csv and air logger lg-09.1"
    alone = SiteSkies("w.csv", book).over(case, None, T0, now + 60 * HOUR_MS, now)
    assert isinstance(alone, Weather)
    assert (alone.source, set(alone.air_c)) == ("w.csv", {-3.0})
    none = SiteSkies(None, book).over(case, None, T0, now + HOUR_MS, now)
    assert isinstance(none, NoForecast)
    assert (none.pour, "[weather]" in none.how) == (case.pour.id, True)
