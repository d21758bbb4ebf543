"""What stands beside the pages, made of the parts of a running service."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from cure.dashboard.beside import Beside, Judgement, LoggersSeen, Programme, Refusals
from cure.first_reading import Check, Warmth, checks, hand_warmth
from cure.forecast import Weather
from cure.loggers import rows
from cure.plan_weather import EARLIER_H
from cure.skies import held
from cure.sky import weather_over
from cure.sky_held import NoSky
from deploy import labels
from deploy.exporting import FIRST_MS, LAST_MS, SHEETS, Wanted
from deploy.fitting import fitted
from deploy.loggers import known, look, may_be_taken_for, newest_readings, newest_values, spoken
from deploy.made_on import not_ahead
from deploy.tables_out import csv_lines
from deploy.weather_cli import BEFORE_MS
from shared.models.base import HOUR_MS, MINUTE_MS, MilliC, Ms, SensorId
from shared.models.weather import source_of
from shared.ports import BoardBook, Clock, ForecastBook, Readings, WeatherBook

HAND_MS = 20 * MINUTE_MS
"""How long a sensor is held in the hand, as by `slabhour logger test --watch`."""


def beside(book: BoardBook, readings: Readings, clock: Clock, forecasts: ForecastBook, weather: WeatherBook) -> Beside:
    """Return it. Its parts ask the stores anew each time, and raise `StoreError`."""
    return Beside(
        partial(_judge, clock),
        partial(_loggers, book, clock),
        partial(_newest, book, readings),
        partial(_check, book, readings, clock),
        partial(_warmth, book, readings, clock),
        partial(_sheets, book),
        partial(_table, book, readings),
        forecasts.scored,
        partial(_weather_heard, book, weather),
        partial(_weather, book, weather, clock),
    )


def _judge(clock: Clock, programme: Programme) -> Judgement:
    not_ahead(programme.made_on, clock.now(), "form", "made on")
    return fitted(programme)


def _weather(book: BoardBook, weather: WeatherBook, clock: Clock, hours: tuple[Ms, Ms]) -> Weather | None:
    now = clock.now()
    issues = held(source_of(book.site().weather), weather, now - BEFORE_MS)
    found = weather_over(issues, None, hours[0] - EARLIER_H * HOUR_MS, hours[1], now)
    return None if isinstance(found, NoSky) else found


def _loggers(book: BoardBook, clock: Clock) -> LoggersSeen:
    now = clock.now()
    found = look(book.site(), book, now)
    refused = {name: Refusals(t.messages, t.reason) for name, t in found.refused.items()}
    return LoggersSeen(rows(known(found, book, {}, now), now), refused)


def _newest(book: BoardBook, readings: Readings, sensors: Sequence[SensorId]) -> Mapping[SensorId, MilliC]:
    return newest_values(readings, {a.sensor: a for a in book.arrivals()}, sensors)


def _check(book: BoardBook, readings: Readings, clock: Clock, name: str) -> Mapping[SensorId, Sequence[Check]]:
    now = clock.now()
    seen = look(book.site(), book, now)
    known = {p.sensor for p in seen.placements} | set(seen.arrivals)
    sensors = [s for s in seen.sensors_of(name) if s in known]
    return {sensor: checks(spoken(book, readings, seen, sensor), now) for sensor in sensors}


def _warmth(book: BoardBook, readings: Readings, clock: Clock, sensor: SensorId, began_ms: Ms) -> Warmth:
    now = clock.now()
    seen = look(book.site(), book, now)
    held = [sensor, *may_be_taken_for(seen, sensor)]
    return hand_warmth(sensor, {s: newest_readings(readings, seen, s) for s in held}, began_ms, now, HAND_MS)


def _sheets(book: BoardBook, address: str, paper: str, bays: Sequence[str]) -> Sequence[str]:
    site = book.site()
    wanted = [bay for bay in site.bay if not bays or bay.id in bays]
    return labels.sheets(labels.labels(wanted, book.placements(), address), paper)


def _table(book: BoardBook, readings: Readings, name: str, bays: Sequence[str]) -> str:
    sheet = SHEETS[name](book, readings, Wanted(FIRST_MS, LAST_MS, (), tuple(bays)))
    return "".join(csv_lines(sheet.columns, sheet.rows, book.site().site.zone))


def _weather_heard(book: BoardBook, weather: WeatherBook) -> Ms | None:
    source = source_of(book.site().weather)
    heard = None if source is None else weather.heard(source)
    return None if heard is None else heard.heard_ms
