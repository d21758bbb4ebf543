"""What the stores say of loggers, gathered for the list and for the check of a sensor that was just placed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from cure.bay import AIR_ZONES
from cure.first_reading import LOOKED_AT, Spoken
from cure.loggers import RECENT_MS, Known, LoggerRow, logger_of, rows
from ingest.strangers import Tally, stranger, tallies
from ingest.topics import Route, routes
from shared.models.base import DAY_MS, BayId, MilliC, Ms, SensorId
from shared.models.decisions import ByHand, Placement, Pour
from shared.models.readings import Arrival, Heard, Reading, Reason
from shared.models.setup import SiteFile
from shared.ports import BoardBook, Readings
from shared.sequence import Followed

STRANGERS: Final = 200
"""Shown at most, the newest."""


@dataclass(frozen=True, slots=True)
class Listed:
    """The list."""

    rows: Sequence[LoggerRow]
    refused: Mapping[str, Tally]
    """Within a day, by sensor or logger; "" is all of it."""
    by_hand: Sequence[tuple[Pour, ByHand]] = ()
    """What people measured at open pours within a day."""
    missing: Sequence[Followed] = ()
    """Loggers of which messages never came, by their numbers."""


@dataclass(frozen=True, slots=True)
class Site:
    """A site's loggers, read from its stores as they are now."""

    placements: Sequence[Placement]
    arrivals: Mapping[SensorId, Arrival]
    heard: Mapping[str, Heard]
    refused: Mapping[str, Tally]
    routes: Sequence[Route]

    def now_at(self, sensor: SensorId) -> Placement | None:
        """Return where a sensor lies."""
        return next((p for p in self.placements if p.sensor == sensor and p.to_ms is None), None)

    def sensors_of(self, name: str) -> list[SensorId]:
        """Return the sensor of that name, or the placed or heard ones of a logger of that name."""
        known = {p.sensor for p in self.placements if p.to_ms is None} | set(self.arrivals)
        return [SensorId(name)] if "." in name else sorted(s for s in known if logger_of(s) == name)


def look(site: SiteFile, book: BoardBook, now_ms: Ms) -> Site:
    """Read what the site book says of the loggers."""
    way = routes(site.site.site_id, site.topic)
    return Site(
        book.placements(),
        {a.sensor: a for a in book.arrivals()},
        {h.logger: h for h in book.heard()},
        tallies(way, book.refused_since(now_ms - DAY_MS)),
        way,
    )


def listed(site: SiteFile, book: BoardBook, readings: Readings, now_ms: Ms) -> Listed:
    """Return every placed sensor, and every one that sends and lies nowhere."""
    found = look(site, book, now_ms)
    values = newest_values(readings, found.arrivals, found.arrivals)
    by_hand = [(row.pour, one) for row in book.board() for one in book.case(row.pour.id).by_hand]
    return Listed(
        rows(known(found, book, values, now_ms), now_ms),
        found.refused,
        [(p, one) for p, one in by_hand if now_ms - one.taken_ms <= DAY_MS],
        book.missing(),
    )


def known(found: Site, book: BoardBook, newest: Mapping[SensorId, MilliC], now_ms: Ms) -> Known:
    """Return what the list is told from.

    Args:
        found: a look at the site book.
        book: whose strangers are read.
        newest: the newest stored value of each sensor of which it is to be told.
        now_ms: site time.
    """
    # A person does not look at what was switched off long ago.
    unplaced = [r for r in book.strangers(STRANGERS) if now_ms - r.received_ms <= 7 * RECENT_MS]
    return Known(
        found.placements,
        found.arrivals,
        newest,
        found.heard,
        [stranger(found.routes, r) for r in unplaced],
        # What was refused before it was placed is over by now.
        [name for name, tally in found.refused.items() if name and tally.reason is not Reason.UNKNOWN_SENSOR],
    )


def newest_values(
    readings: Readings, arrivals: Mapping[SensorId, Arrival], sensors: Iterable[SensorId]
) -> dict[SensorId, MilliC]:
    """Return the newest stored value of each of these sensors that has one."""
    found = {}
    for arrival in (arrivals[sensor] for sensor in sensors if sensor in arrivals):
        series = readings.between(arrival.sensor, arrival.newest_ms - 1, arrival.newest_ms)
        if len(series):
            found[arrival.sensor] = int(series.milli_c[-1])
    return found


def newest_readings(readings: Readings, found: Site, sensor: SensorId) -> list[Reading]:
    """Return the newest readings of a sensor, ascending; of one that was never heard none."""
    arrival, lies = found.arrivals.get(sensor), found.now_at(sensor)
    if arrival is None:
        return []
    every_ms = 1000 * (lies.interval_s if lies is not None else 900)
    return list(readings.rows(sensor, arrival.newest_ms - LOOKED_AT * every_ms, arrival.newest_ms))[-LOOKED_AT:]


def spoken(book: BoardBook, readings: Readings, found: Site, sensor: SensorId) -> Spoken:
    """Return what is known of one sensor."""
    lies = found.now_at(sensor)
    pours = {row.pour.bay: row.pour for row in book.board()}
    tally = found.refused.get(sensor) or found.refused.get(logger_of(sensor))
    return Spoken(
        sensor,
        lies,
        newest_readings(readings, found, sensor),
        found.heard.get(logger_of(sensor)),
        None if lies is None else _air(readings, found, lies.bay),
        None if lies is None else pours.get(lies.bay),
        None if tally is None else tally.reason,
    )


def _air(readings: Readings, found: Site, bay: BayId) -> MilliC | None:
    airs = [p.sensor for p in found.placements if p.bay == bay and p.zone in AIR_ZONES and p.to_ms is None]
    return next(iter(newest_values(readings, found.arrivals, airs).values()), None)


def may_be_taken_for(found: Site, sensor: SensorId) -> list[SensorId]:
    """Return the sensors that may have been exchanged with one: of its bay, and of its logger."""
    lies = found.now_at(sensor)
    others = (p for p in found.placements if p.to_ms is None)
    return [
        p.sensor
        for p in others
        if p.sensor != sensor and (logger_of(p.sensor) == logger_of(sensor) or (lies is not None and p.bay == lies.bay))
    ]
