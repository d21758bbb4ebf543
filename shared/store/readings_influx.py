"""Readings in an InfluxDB. One service writes a site's readings; its lock is that of the data folder.

`slabhour_reading` has a point a key, with the tags `site` and `sensor` and the fields `milli_c` and `received_ms`;
`slabhour_other` has the other values that a key came with, each a series of its own by the tag `value`. Both fields are
always floats: those hold whole numbers exactly up to 2^53, and a field may never change its type. InfluxDB lets the
newest value win without a word, so what is stored is read before it is written over, the other value is stored before
the colder one, and a batch counts as stored when it has been read back.
"""

from __future__ import annotations

import logging
import re
from collections import OrderedDict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import groupby
from pathlib import Path
from threading import Lock
from typing import Any, Final

from shared.errors import RejectedError, StoreError
from shared.models.base import DAY_MS, HOUR_MS, Ms, SensorId
from shared.models.readings import Conflict, Reading, Series
from shared.models.setup import Setup
from shared.store.influx_server import Found, InfluxServer

LOG: Final = logging.getLogger(__name__)
READING: Final = "slabhour_reading"
OTHER: Final = "slabhour_other"
PAGE: Final = 10_000
REMEMBERED: Final = 50_000
"""Lines that the server has acknowledged to this process."""
SHARD_MS: Final = 7 * DAY_MS
"""Stretch of time that the server keeps in one log, unless it was set up otherwise."""
STATEMENTS: Final = 200
"""Statements of one request."""
SPAN_MS: Final = HOUR_MS
"""Keys of a sensor that lie closer together are asked for in one statement."""
_EXACT: Final = 2**53
_LATEST_MS: Final = 9_223_372_036_000
"""InfluxDB counts nanoseconds in 64 bits; the same before 1970."""
_SENSOR: Final = re.compile(r"[A-Za-z0-9_-]+(\.[A-Za-z0-9_-]+)*")

_Key = tuple[SensorId, Ms]
_Value = tuple[int, Ms]


@dataclass(slots=True)
class _Stored:
    """What the server holds of some keys."""

    kept: dict[_Key, _Value] = field(default_factory=dict)
    others: dict[_Key, dict[int, Ms]] = field(default_factory=dict)

    def conflicts(self, keys: Iterable[_Key]) -> list[Conflict]:
        """Return the pairs of those keys, in their order."""
        return [
            # One that was stored as another just before a crash may still be the kept one.
            Conflict(*key, self.kept[key][0], other, max(self.kept[key][1], received))
            for key in keys
            if key in self.kept
            for other, received in sorted(self.others.get(key, {}).items())
            if other != self.kept[key][0]
        ]


@dataclass(frozen=True, slots=True)
class _Asked:
    """One stretch of a sensor's time, both ends in it."""

    measurement: str
    fields: str
    sensor: SensorId
    first: Ms
    last: Ms
    grouped: str = ""


def open_readings(setup: Setup, _folder: Path, *, writer: bool) -> InfluxReadings:
    """Open the store on the server that the set-up names; nothing is asked of it yet."""
    settings = setup.site.stores.readings
    if settings.kind != "influxdb":
        raise StoreError("the site file names no InfluxDB for its readings")
    return InfluxReadings(InfluxServer(settings, Path(setup.folder)), setup.site.site.id, writer=writer)


class InfluxReadings:
    """The `Readings` port on InfluxDB."""

    def __init__(self, server: InfluxServer, site: str, *, writer: bool) -> None:
        self._server = server
        self._site = site
        self._writes = writer
        self._lock = Lock()
        self._durable: OrderedDict[str, None] = OrderedDict()
        self._newest: dict[int, tuple[_Key, _Value]] = {}

    def merge(self, batch: Sequence[Reading]) -> Sequence[Conflict]:
        self._refuse_reader()
        fit = [r for r in batch if _fits(r)]
        unfit = [(r, "it cannot be written exactly") for r in batch if not _fits(r)]
        with self._lock:
            stored, faulty = self._merged(fit)
        rejected = [*unfit, *((r, faulty[_key(r)]) for r in fit if _key(r) in faulty)]
        conflicts = stored.conflicts(sorted({_key(r) for r in fit} - set(faulty)))
        if rejected:
            raise RejectedError(rejected, conflicts)
        return conflicts

    def _merged(self, batch: Sequence[Reading]) -> tuple[_Stored, Mapping[_Key, str]]:
        """Return what is stored now, and of the keys that the server will never take why."""
        keys = {_key(r) for r in batch}
        kept, others = _wanted(batch, self._whole(keys))
        # In this order: after a crash between them both values are there.
        faulty = self._written({self._other_line(*of): of[0] for of in others})
        faulty |= self._written({self._line(key, value): key for key, value in kept.items() if key not in faulty})
        now = self._stored(keys)
        lost = [key for key, value in kept.items() if key not in faulty and now.kept.get(key) != value]
        lost += [key for key, other, _ in others if key not in faulty and other not in now.others.get(key, {})]
        if lost:
            # The next try finds it, if the server only lost it since.
            self._server.write(list(self._durable))
            raise StoreError(f"InfluxDB acknowledged {len(lost)} readings and does not have them")
        self._newest |= {key[1] // SHARD_MS: (key, value) for key, value in kept.items() if key not in faulty}
        return now, faulty

    def _whole(self, keys: Collection[_Key]) -> _Stored:
        """Return what is stored of the keys, after what the server has lost since is there again.

        After a full disk and a restart 1.6.7 leaves a hole in its log; at the next restart all behind it is gone.
        """
        stored = self._stored({*keys, *(key for key, _ in self._newest.values())})
        if all(stored.kept.get(key) == value for key, value in self._newest.values()):
            return stored
        LOG.error("InfluxDB has lost what it acknowledged: the newest %d lines are written again", len(self._durable))
        # In the order in which they were written: of one key the last one counts.
        self._server.write(list(self._durable))
        return self._stored(keys)

    def _written(self, lines: Mapping[str, _Key]) -> dict[_Key, str]:
        """Write what is not known to be durable, and return which keys are not taken.

        That a value can be read does not make it durable: InfluxDB shows what it could not write to its log. Only
        what it acknowledged to this process is not written again.
        """
        faulty = self._server.write([line for line in lines if line not in self._durable])
        refused = {one.line for one in faulty}
        for line in lines:
            if line not in refused:
                self._durable[line] = None
                self._durable.move_to_end(line)
        while len(self._durable) > REMEMBERED:
            self._durable.popitem(last=False)
        return {lines[one.line]: one.why for one in faulty}

    def _line(self, key: _Key, value: _Value) -> str:
        sensor, taken = key
        fields = f"milli_c={float(value[0])},received_ms={float(value[1])}"
        return f"{READING},sensor={sensor},site={self._site} {fields} {taken}"

    def _other_line(self, key: _Key, other: int, received: Ms) -> str:
        sensor, taken = key
        return f"{OTHER},sensor={sensor},site={self._site},value={other} received_ms={float(received)} {taken}"

    def _stored(self, keys: Collection[_Key]) -> _Stored:
        found = _Stored()
        spans = _spans(keys)
        readings = [_Asked(READING, "milli_c, received_ms", *span) for span in spans]
        others = [_Asked(OTHER, "received_ms", *span, " GROUP BY value") for span in spans]
        for asked, series in self._answers([*readings, *others]):
            for taken, *values in _rows([series]):
                if asked.measurement == READING:
                    found.kept[asked.sensor, taken] = (values[0], values[1])
                else:
                    found.others.setdefault((asked.sensor, taken), {})[int(series.tags["value"])] = values[0]
        return found

    def _answers(self, asked: Sequence[_Asked]) -> Iterator[tuple[_Asked, Found]]:
        for first in range(0, len(asked), STATEMENTS):
            some = asked[first : first + STATEMENTS]
            for one, found in zip(some, self._server.query([self._select(one) for one in some]), strict=True):
                yield from ((one, series) for page in self._on(one, found) for series in page)

    def _on(self, asked: _Asked, found: list[Found]) -> Iterator[list[Found]]:
        """Yield the page found, and those after it: a server cuts or marks what is longer than it likes."""
        while True:
            yield found
            full = [series.values[-1][0] for series in found if len(series.values) >= PAGE]
            if not full:
                return
            asked = replace(asked, first=min(full) + 1)
            (found,) = self._server.query([self._select(asked)])

    def _select(self, asked: _Asked) -> str:
        where = f"{self._of(asked.sensor)} AND {_between(asked.first - 1, asked.last)}{asked.grouped}"
        return f"SELECT {asked.fields} FROM {asked.measurement} WHERE {where} ORDER BY time LIMIT {PAGE}"  # noqa: S608 - ids: _of

    def _of(self, sensor: SensorId) -> str:
        if not _SENSOR.fullmatch(sensor):
            raise StoreError(f"no sensor can be called {sensor!r}")
        return f"site = '{self._site}' AND sensor = '{sensor}'"

    def known(self, keys: Collection[tuple[SensorId, Ms]]) -> Mapping[tuple[SensorId, Ms], int]:
        fit = {key for key in keys if _SENSOR.fullmatch(key[0]) and abs(key[1]) <= _LATEST_MS}
        asked = [_Asked(READING, "milli_c, received_ms", *span) for span in _spans(fit)]
        found = {(a.sensor, taken): milli_c for a, s in self._answers(asked) for taken, milli_c, _ in _rows([s])}
        return {key: found[key] for key in fit if key in found}

    def between(self, sensor: SensorId, after: Ms, through: Ms) -> Series:
        pages = self._pages(_Asked(READING, "milli_c, received_ms", sensor, after + 1, through))
        return Series.of_rows([row for page in pages for row in page])

    def rows(self, sensor: SensorId, after: Ms, through: Ms) -> Iterator[Reading]:
        for page in self._pages(_Asked(READING, "milli_c, received_ms", sensor, after + 1, through)):
            for taken, milli_c, received in page:
                yield Reading(sensor, taken, milli_c, received)

    def _pages(self, asked: _Asked) -> Iterator[list[list[int]]]:
        (found,) = self._server.query([self._select(asked)])
        yield from map(_rows, self._on(asked, found))

    def forget(self, sensor: SensorId, before: Ms) -> int:
        self._refuse_reader()
        earlier = f"{self._of(sensor)} AND {_between(-_LATEST_MS, before - 1)}"
        with self._lock:
            # What is forgotten must not be written again.
            self._durable.clear()
            self._newest.clear()
            (found,) = self._server.query([f"SELECT count(milli_c) FROM {READING} WHERE {earlier}"])  # noqa: S608 - ids: _of
            self._server.query([f"DELETE FROM {name} WHERE {earlier}" for name in (OTHER, READING)])  # noqa: S608 - ids: _of
        return sum(int(row[1]) for series in found for row in series.values)

    def tidy(self) -> str | None:
        # The server does that by itself.
        return None

    def _refuse_reader(self) -> None:
        if not self._writes:
            raise StoreError("InfluxDB: readings were opened to read only")

    def close(self) -> None:
        self._server.close()


def _key(reading: Reading) -> _Key:
    return reading.sensor, reading.taken_ms


def _fits(reading: Reading) -> bool:
    exact = max(abs(reading.milli_c), abs(reading.received_ms)) <= _EXACT
    return exact and abs(reading.taken_ms) <= _LATEST_MS and _SENSOR.fullmatch(reading.sensor) is not None


def _wanted(batch: Sequence[Reading], stored: _Stored) -> tuple[dict[_Key, _Value], list[tuple[_Key, int, Ms]]]:
    """Return what to keep of each key, and the other values that it came with."""
    kept: dict[_Key, _Value] = {}
    others: list[tuple[_Key, int, Ms]] = []
    for key, group in groupby(sorted(batch, key=_key), key=_key):
        seen: list[_Value] = [(r.milli_c, r.received_ms) for r in group]
        if key in stored.kept:
            seen.append(stored.kept[key])
        kept[key] = min(seen)
        first = dict(stored.others.get(key, {}))
        for value, received in seen:
            first[value] = min(received, first.get(value, received))
        others += [(key, value, received) for value, received in first.items() if value != kept[key][0]]
    return kept, others


def _spans(keys: Collection[_Key]) -> list[tuple[SensorId, Ms, Ms]]:
    """Return stretches of time, by sensor, that hold the keys and not much besides."""
    spans: list[tuple[SensorId, Ms, Ms]] = []
    for sensor, taken in sorted(keys):
        if spans and spans[-1][0] == sensor and taken - spans[-1][2] <= SPAN_MS:
            spans[-1] = (sensor, spans[-1][1], taken)
        else:
            spans.append((sensor, taken, taken))
    return spans


def _between(after: Ms, through: Ms) -> str:
    ends = (max(-_LATEST_MS, min(_LATEST_MS, end)) for end in (after, through))
    return "time > {}ms AND time <= {}ms".format(*ends)


def _rows(found: Sequence[Found]) -> list[list[int]]:
    """Return the rows as whole numbers; a point of which only one field is there yet is not there yet."""
    return [[_whole(value) for value in row] for series in found for row in series.values if None not in row]


def _whole(value: Any) -> int:
    if not isinstance(value, int | float) or int(value) != value:
        raise StoreError(f"InfluxDB: {value!r} stands where a whole number should be")
    return int(value)
