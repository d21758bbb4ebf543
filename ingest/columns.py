"""Rows of text in, readings and refusals out, by a column map. Pure.

Nothing is guessed and nothing is dropped in silence: a row either gives readings, or says why not. The one thing that
gives nothing and is no fault is an empty cell of a wide table; it is counted.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, tzinfo
from typing import Final, NamedTuple

from ingest.payloads.decoded import quoted
from shared import units
from shared.models.acts import ms
from shared.models.base import MilliC, Ms, SensorId
from shared.models.files import ColumnMap
from shared.models.readings import Reason
from shared.zones import place_of

DELIMITERS: Final = {"comma": ",", "semicolon": ";", "tab": "\t"}
NEEDS_OFFSET: Final = "a time needs its offset, like 2026-11-24T08:40:00-04:00, or the map a zone"
HOTTEST_C: Final = 1e6
"""Only keeps the arithmetic finite; what is plausible is decided by screening."""
_ISO: Final = re.compile(
    r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:?\d\d)?", re.ASCII
)  # not "2026-11-24", which would be midnight
_NUMBER: Final = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?", re.ASCII)
_SENSOR: Final = re.compile(r"[a-z0-9-]{1,32}\.[0-9]{1,2}", re.ASCII)
_REMEMBERED: Final = 5_000


class Row(NamedTuple):
    """One row of a table, as text."""

    line: int
    """In the file, counted from 1; of a sheet, its row; of a Parquet file, its number."""
    cells: Sequence[str]
    fault: str = ""
    """Why it cannot be taken apart."""


class Found(NamedTuple):
    """A reading with the line that it came from."""

    line: int
    sensor: SensorId
    taken_ms: Ms
    milli_c: MilliC
    received_ms: Ms | None = None


@dataclass(frozen=True, slots=True)
class Wrong:
    """A row, or one cell of a wide one, that gives no reading."""

    line: int
    reason: Reason
    detail: str
    sensor: SensorId | None
    text: str


@dataclass(slots=True)
class Mapped:
    """What some rows came to."""

    found: list[Found] = field(default_factory=list)
    wrong: list[Wrong] = field(default_factory=list)
    blank: list[SensorId] = field(default_factory=list)
    """Empty cells of a wide table, by sensor."""


class CellError(ValueError):
    """A cell cannot be read; says why."""

    def __init__(self, reason: Reason, detail: str) -> None:
        super().__init__(detail)
        self.reason = reason


def missing_columns(columns: ColumnMap, header: Sequence[str]) -> list[str]:
    """Return the columns that the map names and the header has not exactly once."""
    wanted = [columns.time, columns.date, columns.sensor, columns.value, *(c.name for c in columns.columns)]
    return [name for name in wanted if name is not None and header.count(name) != 1]


class Mapper:
    """Reads rows by a map that fits their header."""

    def __init__(self, columns: ColumnMap, header: Sequence[str], received: str | None = None) -> None:
        """Take a header that has every column of the map once; `received`: column of the hour of receipt, which only
        a replay believes.
        """
        self._width = len(header)
        self._time = header.index(columns.time)
        self._date = None if columns.date is None else header.index(columns.date)
        self._sensor = None if columns.sensor is None else header.index(columns.sensor)
        self._value = None if columns.value is None else header.index(columns.value)
        self._wide = [(header.index(c.name), c.sensor_id) for c in columns.columns]
        self._received = None if received is None else header.index(received)
        self._sensors: dict[str, SensorId] = {}
        self._instant = Instants(columns)
        self._milli_c = Temperatures(columns)

    def read(self, rows: Sequence[Row]) -> Mapped:
        """Return the readings and the refusals of rows, in order."""
        mapped = Mapped()
        for row in rows:
            try:
                self._row(row, mapped)
            except CellError as error:
                mapped.wrong.append(_wrong(row, error, None))
        return mapped

    def _row(self, row: Row, mapped: Mapped) -> None:
        if row.fault or len(row.cells) != self._width:
            raise CellError(Reason.SCHEMA, row.fault or f"{len(row.cells)} cells, the header has {self._width}")
        taken = self._instant(self._when(row.cells))
        if self._sensor is None or self._value is None:
            self._cells(row, taken, mapped)
            return
        name = row.cells[self._sensor]
        sensor = self._sensors.get(name) or self._named(name)
        received = None
        try:
            milli_c = self._milli_c(row.cells[self._value])
            if self._received is not None and row.cells[self._received]:
                received = self._instant(row.cells[self._received])
        except CellError as error:
            mapped.wrong.append(_wrong(row, error, sensor))
            return
        mapped.found.append(Found(row.line, sensor, taken, milli_c, received))

    def _when(self, cells: Sequence[str]) -> str:
        if self._date is None:
            return cells[self._time]
        # A day in a cell of a sheet is midnight.
        return f"{cells[self._date].strip().removesuffix(' 00:00:00')} {cells[self._time].strip()}"

    def _named(self, text: str) -> SensorId:
        """Return the sensor that a cell names. Raises `CellError`."""
        plain = text.strip()
        if not _SENSOR.fullmatch(plain):
            raise CellError(Reason.UNKNOWN_SENSOR, f"{quoted(text)} is no sensor, which is logger.channel")
        if len(self._sensors) < _REMEMBERED:
            self._sensors[text] = SensorId(plain)
        return SensorId(plain)

    def _cells(self, row: Row, taken: Ms, mapped: Mapped) -> None:
        for index, sensor in self._wide:
            text = row.cells[index].strip()
            if not text:
                mapped.blank.append(sensor)
                continue
            try:
                mapped.found.append(Found(row.line, sensor, taken, self._milli_c(text)))
            except CellError as error:
                mapped.wrong.append(_wrong(row, error, sensor))


class Instants:
    """Reads hours."""

    def __init__(self, columns: ColumnMap) -> None:
        self._place = None if columns.zone is None else place_of(columns.zone)
        self._parse = _parser(columns)
        self._known: dict[str, Ms] = {}

    def __call__(self, text: str) -> Ms:
        """Return the instant in a cell. Raises `CellError`."""
        found = self._known.get(text)
        if found is None:
            found = ms(self._aware(self._parse(text.strip())))
            if len(self._known) >= _REMEMBERED:
                self._known.clear()
            # Sensors of one logger measure at one time.
            self._known[text] = found
        return found

    def _aware(self, at: datetime) -> datetime:
        if at.tzinfo is not None:
            return at
        if self._place is None:
            raise CellError(Reason.SCHEMA, NEEDS_OFFSET)
        return _once(at, self._place)


def _parser(columns: ColumnMap) -> Callable[[str], datetime]:
    wanted = columns.time_format
    if wanted is None:
        return _iso
    if wanted == "unix":
        return _unix

    def by_format(text: str) -> datetime:
        try:
            return datetime.strptime(text, wanted)  # noqa: DTZ007  the zone is the map's
        except ValueError:
            raise CellError(Reason.SCHEMA, f"{quoted(text)} is no time like {wanted}") from None

    return by_format


def _iso(text: str) -> datetime:
    if _ISO.fullmatch(text):
        try:
            return datetime.fromisoformat(text)
        except ValueError:
            pass
    raise CellError(Reason.SCHEMA, f"{quoted(text)} is no time like 2026-11-24T08:40:00-04:00")


def _unix(text: str) -> datetime:
    if _NUMBER.fullmatch(text):
        try:
            return datetime.fromtimestamp(float(text), UTC)
        except (ValueError, OverflowError, OSError):
            pass
    raise CellError(Reason.SCHEMA, f"{quoted(text)} is no number of seconds since 1970")


def _once(at: datetime, place: tzinfo) -> datetime:
    """Return a local hour in its zone, if it is there once. Raises `CellError`."""
    first, second = at.replace(tzinfo=place, fold=0), at.replace(tzinfo=place, fold=1)
    if first.utcoffset() == second.utcoffset():
        return first
    gap = first.astimezone(UTC).astimezone(place).replace(tzinfo=None) != at
    said = "does not exist: clocks were put forward" if gap else "exists twice: clocks were put back"
    raise CellError(Reason.LOCAL_TIME, f"{at.isoformat(sep=' ')} {said}; a fixed offset as zone would tell")


class Temperatures:
    """Reads temperatures."""

    def __init__(self, columns: ColumnMap) -> None:
        self._fahrenheit = columns.unit == "degF"
        self._comma = columns.decimal == "comma"

    def __call__(self, text: str) -> int:
        """Return the thousandths of a degree Celsius in a cell. Raises `CellError`."""
        plain = text.strip()
        if self._comma:
            plain = "" if "." in plain else plain.replace(",", ".")
        if not _NUMBER.fullmatch(plain):
            odd = plain.lstrip("+-").casefold() in {"nan", "inf", "infinity"}
            raise CellError(Reason.NOT_FINITE if odd else Reason.SCHEMA, f"{quoted(text)} is no number")
        value = float(plain)
        if not math.isfinite(value):
            raise CellError(Reason.NOT_FINITE, f"{quoted(text)} is {value}")
        if not abs(value) <= HOTTEST_C:
            raise CellError(Reason.RANGE, f"{quoted(text)} is no temperature")
        return units.milli_c(units.f_to_c(value) if self._fahrenheit else value)


def _wrong(row: Row, error: CellError, sensor: SensorId | None) -> Wrong:
    return Wrong(row.line, error.reason, str(error), sensor, ",".join(row.cells))
