"""Which readings may be forgotten, and forgetting them: archived if that is wanted, told in the log, then deleted.

In this order, so that after a crash at any step nothing has gone that is not told, and what is left goes an hour later.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from cure.seen import LOOK_BEFORE_MS
from deploy.backup import RETAINED
from deploy.tables_out import Column, Row, write_table
from shared.errors import StoreError
from shared.models.acts import instant, ms
from shared.models.base import DAY_MS, Ms, PourId, SensorId
from shared.models.decisions import LogEntry
from shared.models.readings import Reading
from shared.ports import PourRecord, Readings, ServiceBook

YEAR_MS: Final[Ms] = 366 * DAY_MS
"""Rounded up: a year of the record is never a day short."""
COLUMNS: Final = (
    Column("sensor", "text"),
    Column("taken_at", "time"),
    Column("temperature_c", "number"),
    Column("received_at", "time"),
    Column("temperature_milli_c", "whole"),
)
"""As `slabhour export` writes them, and `slabhour replay` reads them."""


@dataclass(frozen=True, slots=True)
class Due:
    """What of one sensor may be forgotten."""

    sensor: SensorId
    before_ms: Ms
    pours: tuple[PourId, ...]
    """The finished pours of which readings go."""


def due(records: Sequence[PourRecord], now: Ms, years: int) -> list[Due]:
    """Return what may be forgotten, by sensor.

    Args:
        records: every pour.
        now: the hour.
        years: for which the readings of a finished pour are kept.
    """
    limit = now - years * YEAR_MS
    past = [one for one in records if one.finished_ms is not None and one.finished_ms <= limit]
    kept = [one for one in records if one.finished_ms is None or not one.finished_ms <= limit]
    found = []
    for sensor in sorted({sensor for one in past for sensor in one.sensors}):
        of_it = [one for one in past if sensor in one.sensors]
        before = max(one.finished_ms or 0 for one in of_it)
        before = min([before, *(one.pour.start_ms - LOOK_BEFORE_MS for one in kept if sensor in one.sensors)])
        going = tuple(one.pour.id for one in of_it if one.pour.start_ms < before)
        if going:
            found.append(Due(sensor, before, going))
    return found


@dataclass(frozen=True, slots=True)
class Retention:
    """Forgets what is due."""

    readings: Readings
    book: ServiceBook
    site: str
    zone: str
    years: int
    archive: Path | None

    def run(self, now: Ms) -> int:
        """Forget what is due now; return how many readings went. Raises `StoreError`; the next run goes on."""
        return sum(self._forget(one, now) for one in due(self.book.records(), now, self.years))

    def _forget(self, one: Due, now: Ms) -> int:
        number, first = 0, None
        for reading in self._rows(one):
            number, first = number + 1, reading.taken_ms if first is None else first
        if first is None:
            return 0
        file = None if self.archive is None else self._archived(self.archive, one, number)
        body = {
            "sensor": one.sensor,
            "pours": list(one.pours),
            "readings": number,
            "from_ms": first,
            "before_ms": one.before_ms,
            "years": self.years,
            "archive": None if file is None else file.name,
        }
        if not self.book.close_records(one.pours, LogEntry(now, "slabhour", RETAINED, body)):
            # Something happened to one of them since: the next run judges anew.
            return 0
        return self.readings.forget(one.sensor, one.before_ms)

    def _rows(self, one: Due) -> Iterator[Reading]:
        return self.readings.rows(one.sensor, -1, one.before_ms - 1)

    def _archived(self, folder: Path, one: Due, number: int) -> Path:
        """Write what goes to a file of its own, and read it back."""
        name = f"{self.site}-{one.sensor}-before-{instant(one.before_ms):%Y%m%dT%H%M%S}Z"
        try:
            folder.mkdir(parents=True, exist_ok=True)
            again, path = 1, folder / f"{name}.csv"
            while path.exists():
                again += 1
                path = folder / f"{name}-{again}.csv"
            write_table(path, COLUMNS, map(_row, self._rows(one)), self.zone)
            self._compare(path, one, number)
        except OSError as error:
            raise StoreError(f"readings cannot be archived in {folder}, and none is forgotten: {error}") from error
        return path

    def _compare(self, path: Path, one: Due, number: int) -> None:
        with path.open(encoding="utf-8", newline="") as file:
            table = csv.reader(file)
            whole = next(table, None) == [column.name for column in COLUMNS]
            lines = 0
            for line, reading in zip(table, self._rows(one), strict=False):
                lines += 1
                whole = whole and _read(line) == reading
        if not (whole and lines == number):
            raise StoreError(f"{path} does not hold what was written: none of it is forgotten; look at that disk")


def _row(reading: Reading) -> Row:
    return reading.sensor, reading.taken_ms, reading.milli_c / 1000.0, reading.received_ms, reading.milli_c


def _read(line: Sequence[str]) -> Reading | None:
    try:
        sensor, taken, _, received, milli_c = line
        hours = [ms(datetime.fromisoformat(text)) for text in (taken, received)]
        return Reading(SensorId(sensor), hours[0], int(milli_c), hours[1])
    except ValueError:
        return None
