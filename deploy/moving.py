"""Copies a stopped site to other stores: those that another site file of the same site names, of whatever kind.

Files of the data folder first, then the readings, the site book last: a copy that was stopped half way has no book, so
nobody can go on from it. Done again, it passes over what is there. Nothing at the source is changed.

Of two values for one hour the colder one is stored, and it is what is copied; the other one stands on the site book.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing
from dataclasses import dataclass
from hashlib import sha256
from itertools import islice
from pathlib import Path
from typing import Any, Final

from deploy.anchors import anchors_of
from deploy.backup import Told, quietly
from deploy.folders import data_folder
from deploy.moving_files import copied, copy_folder
from deploy.restored import marked, sync
from shared.errors import SlabError, StoreError
from shared.models.base import SensorId
from shared.models.readings import Reading
from shared.models.setup import Setup
from shared.models.stores import InfluxSettings, PostgresqlSettings
from shared.ports import Readings
from shared.store import (
    has_book,
    log_head,
    move_book,
    open_readings,
    read_board,
    read_readings,
    refuse_others,
    verify_log,
)
from shared.store.copying import CopiedTable
from shared.store.lock import DataLock

PAGE: Final = 2_000
"""Readings written at once."""
EVER: Final = (-(2**62), 2**62)


@dataclass(frozen=True, slots=True)
class MovedSensor:
    """What is at the other end of one sensor, as it was read there."""

    sensor: SensorId
    rows: int
    digest: str
    """SHA-256 over hour, value and hour of arrival of each."""
    copied: int
    """How many of them were not there before."""


@dataclass(frozen=True, slots=True)
class Moved:
    """What was copied; None: it stays where it is, both site files name the same place."""

    lines: int
    """Of the log, whole at the other end."""
    tables: Sequence[CopiedTable] | None
    sensors: Sequence[MovedSensor] | None
    files: int | None
    """Of the data folder, those that were not there before."""


@dataclass(frozen=True, slots=True)
class _Way:
    """From where to where."""

    setup: Setup
    data: Path
    to: Setup
    to_data: Path
    told: Told

    @property
    def book(self) -> bool:
        """Whether the site book goes."""
        return _place_of_book(self.setup, self.data) != _place_of_book(self.to, self.to_data)

    @property
    def readings(self) -> bool:
        """Whether the readings go."""
        return _place_of_readings(self.setup, self.data) != _place_of_readings(self.to, self.to_data)

    @property
    def files(self) -> bool:
        """Whether the other files of the data folder go."""
        return self.data != self.to_data


def _place_of_book(setup: Setup, data: Path) -> object:
    book = setup.site.stores.book
    return ("dsn", Path(setup.folder, book.dsn_file).resolve()) if isinstance(book, PostgresqlSettings) else data


def _place_of_readings(setup: Setup, data: Path) -> object:
    readings = setup.site.stores.readings
    return (readings.url, readings.bucket) if isinstance(readings, InfluxSettings) else data


def move(setup: Setup, to: Setup, told: Told = quietly) -> Moved:
    """Copy a site's stores, its service stopped.

    Args:
        setup: where they are.
        to: of the same site, where they are to be.
        told: with what is copied and the fraction done; what it raises ends the work, which can be done again.

    Raises:
        LockedError: a service of the site runs.
        SlabError: it is another site, there is nothing to do, or something else is at the other end already.
        StoreError: a store does not do, or what arrived is not what was sent.
    """
    way = _Way(setup, data_folder(setup), to, data_folder(to), told)
    _refuse_at_once(way)
    with ExitStack() as held:
        held.enter_context(DataLock(way.data))
        if way.files:
            held.enter_context(DataLock(way.to_data))
        _refuse_running(way)
        verify_log(setup, way.data, anchors_of(setup, way.data).read())
        _refuse_another_book(way)
        files = _files(way)
        sensors = _readings(way) if way.readings else None
        tables = _book(way) if way.book else None
        lines, _ = verify_log(to, way.to_data, anchors_of(to, way.to_data).read())
    return Moved(lines, tables, sensors, files)


def _refuse_at_once(way: _Way) -> None:
    here, there = way.setup.site.site.id, way.to.site.site.id
    if here != there:
        raise SlabError(f"the other site file is of site {there}, not of {here}: a copy is of one site")
    if not (way.book or way.readings or way.files):
        raise SlabError("both site files name the same stores: change [stores] or [site] data in the other one")
    if way.files and (way.data in way.to_data.parents or way.to_data in way.data.parents):
        raise SlabError(f"{way.data} and {way.to_data} lie in one another: name two folders side by side")


def _refuse_running(way: _Way) -> None:
    for setup, data in ((way.setup, way.data), (way.to, way.to_data)):
        refuse_others(setup)
        if marked(data) is not None:
            raise StoreError(f"the stores in {data} are a backup that nobody has accepted yet: resume first")


def _refuse_another_book(way: _Way) -> None:
    """Ask before hours of copying what is asked again at the end."""
    if not way.book or not has_book(way.to, way.to_data):
        return
    here = log_head(way.setup, way.data)
    try:
        if log_head(way.to, way.to_data) == here:
            return
        said = "there is another site book"
    except StoreError as error:
        said = f"there is a site book that cannot be read ({error})"
    served = isinstance(way.to.site.stores.book, PostgresqlSettings)
    aside = "name another database in dsn_file" if served else f"move site.db out of {way.to_data}"
    raise StoreError(f"{said} at the other end, and nothing was written: {aside}")


def _files(way: _Way) -> int | None:
    here, there = anchors_of(way.setup, way.data).path, anchors_of(way.to, way.to_data).path
    try:
        number = int(here != there and here.is_file() and copied(here, there))
        return number + copy_folder(way.data, way.to_data, way.told) if way.files else number or None
    except OSError as error:
        raise StoreError(f"{error.filename} could not be copied: {error.strerror}; do it again") from error


def _book(way: _Way) -> Sequence[CopiedTable]:
    arrived = move_book(way.setup, way.data, way.to, way.to_data, lambda _, done: way.told("site book", done))
    sync(way.to_data)
    return arrived


def _readings(way: _Way) -> list[MovedSensor]:
    with read_board(way.setup, way.data) as board:
        names = sorted({a.sensor for a in board.arrivals()} | {p.sensor for p in board.placements()})
    moved: list[MovedSensor] = []
    with (
        closing(read_readings(way.setup, way.data)) as source,
        closing(open_readings(way.to, way.to_data)) as target,
    ):
        for number, name in enumerate(names):
            way.told("readings", number / len(names))
            moved.append(_sensor(source, target, name))
    way.told("readings", 1.0)
    return moved


def _sensor(source: Readings, target: Readings, name: SensorId) -> MovedSensor:
    sent, number = _Read(), 0
    missing = _missing(sent.each(source.rows(name, *EVER)), target.rows(name, *EVER))
    while page := list(islice(missing, PAGE)):
        target.merge(page)
        number += len(page)
    arrived = sent if number == 0 else _Read()
    if number:
        for _ in arrived.each(target.rows(name, *EVER)):
            pass
    if (sent.rows, sent.digest()) != (arrived.rows, arrived.digest()):
        raise StoreError(
            f"what arrived of sensor {name} is not what was sent: {arrived.rows} readings of {sent.rows}; do it again"
        )
    return MovedSensor(name, arrived.rows, arrived.digest(), number)


def _missing(sent: Iterator[Reading], there: Iterator[Reading]) -> Iterator[Reading]:
    """Yield what was sent and is not there. Raises `StoreError` for what is there and was not sent."""
    other = next(there, None)
    for reading in sent:
        if other is None or other.taken_ms > reading.taken_ms:
            yield reading
        elif other == reading:
            other = next(there, None)
        else:
            break
    if other is None:
        return
    raise StoreError(
        f"there are other readings of sensor {other.sensor} at the other end, such as one taken at {other.taken_ms} "
        "ms, and they were left as they are: name another place for them, or move the old ones away"
    )


class _Read:
    """What was read of a sensor so far."""

    def __init__(self) -> None:
        self.rows = 0
        self._digest: Any = sha256()

    def each(self, readings: Iterator[Reading]) -> Iterator[Reading]:
        """Yield them, each counted."""
        for reading in readings:
            self.rows += 1
            self._digest.update(b"%d %d %d\n" % (reading.taken_ms, reading.milli_c, reading.received_ms))
            yield reading

    def digest(self) -> str:
        """Return the digest so far."""
        return str(self._digest.hexdigest())
