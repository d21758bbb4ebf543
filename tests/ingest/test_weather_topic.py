from __future__ import annotations

import pytest
from ingest_support import Bench
from store_support import T0
from weather_support import FakeWeatherBook, payload

from ingest.weather_intake import WeatherIntake
from ingest.weather_topic import WithWeather
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.readings import Reason


def test_weather_is_taken_aside_and_all_else_goes_on_to_the_readings_in_order() -> None:
    bench, book = Bench(), FakeWeatherBook()
    both = WithWeather(bench.intake, "site/weather", WeatherIntake("topic", None, book, SimulatedClock(T0)))
    assert both.subscriptions() == [*bench.intake.subscriptions(), ("site/weather", 1)]
    batch = [
        both.incoming("nobody/knows", b"1"),
        both.incoming("site/weather", payload(T0)),
        both.incoming("site/weather", b"[]"),
        both.incoming("nobody/knows", b"2"),
    ]
    taken = both.take(batch)
    assert [len(one.faults) for one in taken] == [1, 0, 0, 1]
    assert [fault.reason for one in taken for fault in one.faults] == [Reason.TOPIC] * 2
    assert len(book.issues) == 1
    assert book.notes["topic"].failures == 1
    book.broken = True
    with pytest.raises(StoreError):
        both.take(batch)
