from __future__ import annotations

import pytest
from store_support import T0
from weather_support import FakeWeatherBook, payload

from ingest.weather import Unusable
from ingest.weather_intake import WeatherIntake
from shared.clock import SimulatedClock
from shared.errors import StoreError
from shared.models.base import HOUR_MS
from shared.models.weather import WeatherIssue


def test_what_is_usable_is_kept_and_what_is_not_is_written_down_with_its_reason() -> None:
    book, clock = FakeWeatherBook(), SimulatedClock(T0)
    intake = WeatherIntake("w.json", None, book, clock)
    assert isinstance(intake.take(payload(T0), tag='"a"'), WeatherIssue)
    assert isinstance(intake.take(payload(T0)), WeatherIssue)
    assert len(book.issues) == 1
    clock.set(T0 + HOUR_MS)
    for many in (1, 2):
        found = intake.take(b"[]")
        heard = intake.heard()
        assert isinstance(found, Unusable)
        assert heard is not None
        assert (heard.failures, heard.why, heard.heard_ms) == (many, found.why, T0)
        assert heard.tag is None
    intake.unchanged()
    heard = intake.heard()
    assert heard is not None
    assert (heard.failures, heard.why, heard.heard_ms) == (0, "", T0 + HOUR_MS)


def test_a_book_that_fails_keeps_nothing_and_says_so() -> None:
    book = FakeWeatherBook()
    book.broken = True
    intake = WeatherIntake("w.json", None, book, SimulatedClock(T0))
    for said in (payload(T0), b"[]"):
        with pytest.raises(StoreError):
            intake.take(said)
    assert book.issues == []
