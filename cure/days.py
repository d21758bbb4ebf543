"""The day's messages about the whole site: morning list, low batteries, what to cover tonight, shift handover.

Each is due at an hour of the site's own day and written at most once for that day: its date is the message's subject.
A service that was away at the hour writes it when it comes back, but not after the list has lost its use.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Final

from cure import lists
from cure.covers import Night, air_sensors, cover_tonight, expected_low_c, wants
from cure.loggers import is_low
from cure.night_ahead import foreseen_low_c
from cure.skies import held
from cure.sky_held import Held, OwnAir
from shared.models.base import DAY_MS, HOUR_MS, THE_SITE, BayId, Json, LoggerId, Ms, SensorId
from shared.models.messages import MessageKind, NewMessage
from shared.models.setup import SiteFile, SiteSettings
from shared.models.weather import source_of
from shared.ports import BoardBook, Clock, CureBook, Readings, ServiceBook, WeatherBook
from shared.shifts import day_of, hour_of, running_or_next

NOON: Final = "12:00"
SHORTEST_USE_MS: Final = HOUR_MS
"""Of a list whose hour lies late in its part of the day."""
HANDOVER_USE_MS: Final = 4 * HOUR_MS
NIGHT_FROM: Final = "18:00"
NIGHT_TO: Final = "08:00"


@dataclass(frozen=True, slots=True)
class Occasion:
    """One list of one day: from which hour on it is due, and until when it is of use."""

    kind: MessageKind
    day: date
    from_ms: Ms
    until_ms: Ms


def _shift_ends_ms(at_ms: Ms, site: SiteSettings) -> Ms | None:
    """Return when the shift that is running ends; None: none is."""
    shift = running_or_next(at_ms, site.shift, site.zone)
    return shift.ends_ms if shift.begins_ms <= at_ms else None


def _of_day(day: date, site: SiteSettings) -> Iterator[Occasion]:
    morning, cover, ends = (hour_of(day, h, site.zone) for h in (site.morning, site.cover_list, site.shift[-5:]))
    noon, dark = hour_of(day, NOON, site.zone), _shift_ends_ms(cover, site)
    yield Occasion(MessageKind.MORNING_LIST, day, morning, max(noon, morning + SHORTEST_USE_MS))
    yield Occasion(MessageKind.LOW_BATTERY, day, morning, max(noon, morning + SHORTEST_USE_MS))
    yield Occasion(MessageKind.COVER_TONIGHT, day, cover, max(dark or 0, cover + SHORTEST_USE_MS))
    yield Occasion(MessageKind.HANDOVER, day, ends, ends + HANDOVER_USE_MS)


def occasions(now_ms: Ms, site: SiteSettings) -> list[Occasion]:
    """Return the lists of yesterday, today and the two days after, by hour."""
    today = day_of(now_ms, site.zone)
    days = (today + timedelta(days=ahead) for ahead in (-1, 0, 1, 2))
    return sorted((o for day in days for o in _of_day(day, site)), key=lambda o: o.from_ms)


def message(occasion: Occasion, facts: Mapping[str, Json], site: SiteSettings, now_ms: Ms) -> NewMessage:
    """Return the message of one list."""
    common = {
        "site": site.name,
        "site_id": site.id,
        "zone": site.zone,
        "units": site.units,
        "floor": "",
        "bay": "",
        "pour": THE_SITE,
        "operation": "",
        "hour_ms": now_ms,
    }
    return NewMessage(occasion.kind, THE_SITE, occasion.day.isoformat(), 0, now_ms, None, {**common, **facts})


@dataclass(slots=True)
class Days:
    """Writes each list at its hour."""

    site: SiteFile
    board: BoardBook
    book: CureBook
    service: ServiceBook
    readings: Readings
    clock: Clock
    weather: WeatherBook | None = None
    """None: no night is foreseen, each is taken to be as cold as the last one."""
    _looked_ms: Ms = field(default=0, init=False)
    _next_ms: Ms = field(default=0, init=False)

    def run_due(self) -> int:
        """Write the lists that are due and were not written; return how many were.

        Raises:
            StoreError: a store failed; the next call tries again.
        """
        now = self.clock.now()
        # A clock that was put back must not make the next list wait.
        if self._looked_ms <= now < self._next_ms:
            return 0
        all_of_them = occasions(now, self.site.site)
        due = [o for o in all_of_them if o.from_ms <= now < o.until_ms]
        written = self._write(due, now) if due else 0
        self._looked_ms, self._next_ms = now, min(o.from_ms for o in all_of_them if o.from_ms > now)
        return written

    def _write(self, due: list[Occasion], now: Ms) -> int:
        shown = lists.Shown(
            self.site, self.board.board(), self.board.messages(), self.board.deliveries(), self.service.doubts()
        )
        told = {(m.kind, m.subject) for m in shown.messages if m.pour == THE_SITE}
        new = []
        for occasion in due:
            facts = None if (occasion.kind, occasion.day.isoformat()) in told else self._facts(occasion, shown, now)
            if facts is not None:
                new.append(message(occasion, facts, self.site.site, now))
        return self.book.messages_of_site(new) if new else 0

    def _facts(self, occasion: Occasion, shown: lists.Shown, now: Ms) -> Mapping[str, Json] | None:
        match occasion.kind:
            case MessageKind.MORNING_LIST:
                return lists.morning(shown)
            case MessageKind.LOW_BATTERY:
                return self._low_batteries()
            case MessageKind.HANDOVER:
                facts = lists.handover(shown, now)
                return facts if any(facts.values()) else None
            case _:
                ends_ms = _shift_ends_ms(now, self.site.site)
                return cover_tonight(self.site, shown.rows, self._lows_c(occasion.day, shown), ends_ms)

    def _low_batteries(self) -> Mapping[str, Json] | None:
        """Return the placed loggers whose battery is low, the emptiest first; None: there is none."""
        placed = {LoggerId(p.sensor.partition(".")[0]) for p in self.board.placements() if p.to_ms is None}
        heard = (self.service.heard(logger) for logger in sorted(placed))
        low = [(h.battery_percent, h.logger) for h in heard if h is not None and h.battery_percent is not None]
        found = [{"logger": logger, "percent": percent} for percent, logger in sorted(low) if is_low(percent)]
        return {"loggers": found} if found else None

    def _lows_c(self, day: date, shown: lists.Shown) -> dict[BayId, float | None]:
        zone = self.site.site.zone
        night = Night(hour_of(day - timedelta(days=1), NIGHT_FROM, zone), hour_of(day, NIGHT_TO, zone))
        placements, lows, sky = self.board.placements(), dict[BayId, float | None](), self._held()
        for bay in {row.pour.bay for row in wants(shown.rows)}:
            sensors = air_sensors(placements, bay)
            air = [self.readings.between(s, night.from_ms - 1, night.to_ms) for s in sensors]
            foreseen_c = None if sky.source is None else self._foreseen_low_c(sky, sensors, day)
            lows[bay] = expected_low_c(air, night) if foreseen_c is None else foreseen_c
        return lows

    def _held(self) -> Held:
        if self.weather is None:
            return Held(None)
        return held(source_of(self.site.weather), self.weather, self.clock.now() - DAY_MS)

    def _foreseen_low_c(self, sky: Held, sensors: Sequence[SensorId], day: date) -> float | None:
        now, zone = self.clock.now(), self.site.site.zone
        from_ms, to_ms = hour_of(day, NIGHT_FROM, zone), hour_of(day + timedelta(days=1), NIGHT_TO, zone)
        airs = [OwnAir(s, self.readings.between(s, now - DAY_MS, now)) for s in sensors]
        spoke = max((a for a in airs if len(a.series)), key=lambda a: int(a.series.taken_ms[-1]), default=None)
        return foreseen_low_c(sky, spoke, from_ms, to_ms, now)
