"""The contracts of `WeatherBook` and `ForecastBook`."""

from __future__ import annotations

from dataclasses import replace

from store_support import POUR, T0

from shared.models.base import HOUR_MS, LOAD, STRIP, MixId, PourId
from shared.models.forecasts import KeptForecast, Outcome, Score
from shared.models.weather import WeatherHeard, WeatherHour, WeatherIssue
from shared.store.book import SiteBook

OTHER = PourId("2-b2-p1")


def issue(hours: int = 0, source: str = "weather.csv") -> WeatherIssue:
    at_ms = T0 + hours * HOUR_MS
    said = (WeatherHour(at_ms, -2.5, 4.0, 80.0, 0.0, 0.5), WeatherHour(at_ms + HOUR_MS, -3.0))
    return WeatherIssue(source, at_ms, at_ms + 60_000, said, ("one thing",))


def heard(issue: WeatherIssue) -> WeatherHeard:
    return WeatherHeard(issue.source, issue.received_ms, issue.received_ms)


def kept(pour: PourId = POUR, *, operation: str = STRIP, made_h: int = 0) -> KeptForecast:
    made_ms = T0 + made_h * HOUR_MS
    hours = (made_ms + 5 * HOUR_MS, made_ms + 8 * HOUR_MS, None)
    return KeptForecast(
        pour, STRIP if operation == STRIP else LOAD, MixId("c32-f"), made_ms, made_ms, made_ms + 120 * HOUR_MS, *hours,
        widened=1.2, levels_min=(300, 480, None),
    )  # fmt: skip


def test_an_issue_is_kept_once_and_whole_and_the_newest_stays_when_old_ones_are_forgotten(book: SiteBook) -> None:
    for hours in (0, 6, 12):
        assert book.weather.keep(issue(hours), heard(issue(hours)))
    assert book.weather.keep(issue(3, "PUT"), heard(issue(3, "PUT")))
    assert not book.weather.keep(replace(issue(6), received_ms=T0 + 99 * HOUR_MS), heard(issue(12)))
    assert list(book.weather.since("weather.csv", T0)) == [issue(0), issue(6), issue(12)]
    assert list(book.weather.since("weather.csv", T0 + 90 * HOUR_MS)) == [issue(12)]
    assert book.weather.forget(T0 + 90 * HOUR_MS) == 2
    assert list(book.weather.since("weather.csv", 0)) == [issue(12)]
    assert list(book.weather.since("PUT", 0)) == [issue(3, "PUT")]
    assert list(book.weather.since("nobody", 0)) == []


def test_how_it_goes_with_a_source_is_written_over(book: SiteBook) -> None:
    assert book.weather.heard("weather.example") is None
    book.weather.note(WeatherHeard("weather.example", T0, None, 1, "answered 500"))
    better = WeatherHeard("weather.example", T0 + 5, T0 + 5, tag='"abc"', changed="Fri")
    book.weather.note(better)
    assert book.weather.heard("weather.example") == better


def test_a_forecast_is_kept_once_for_its_pour_operation_and_hour(book: SiteBook) -> None:
    assert book.forecasts.keep([kept(), kept(operation=LOAD), kept(OTHER, made_h=1)]) == 3
    assert book.forecasts.keep([kept(), kept(made_h=2)]) == 1
    (first, one), (later, other) = book.forecasts.unscored(POUR, STRIP)
    assert (first, one, other) == (1, kept(), kept(made_h=2))
    assert later > first
    horizon = T0 + 120 * HOUR_MS
    waiting = [(POUR, LOAD, horizon), (POUR, STRIP, horizon), (OTHER, STRIP, horizon + HOUR_MS)]
    assert list(book.forecasts.waiting()) == waiting
    assert set(book.forecasts.newest()) == {kept(made_h=2), kept(operation=LOAD), kept(OTHER, made_h=1)}


def test_a_score_is_written_once_and_the_levels_are_dropped(book: SiteBook) -> None:
    book.forecasts.keep([kept(), kept(OTHER), kept(made_h=1)])
    first = Score(1, T0 + 9, Outcome.CAME, T0 + 8, 1.5)
    book.forecasts.score([first, Score(2, T0 + 7, Outcome.CLOSED, None, None)])
    book.forecasts.score([replace(first, crps_h=9.0)])
    assert [no for no, _ in book.forecasts.unscored(POUR, STRIP)] == [3]
    found = book.forecasts.scored()
    assert [s.score.no for s in found] == [2, 1]
    assert found[1].score == first
    assert found[1].forecast == replace(kept(), levels_min=())
    # Of a pour that was closed before nothing can be learned.
    assert [s.forecast.pour for s in book.forecasts.scored(last_pours=1)] == [POUR]
