"""How the columns of a file become readings: on the command line, beside a file that is dropped, or in `site.toml`."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from shared.models.base import Line, Record, SensorId, SensorIdText


class SensorColumn(Record):
    """One line of `columns`: a column that holds the temperatures of one sensor."""

    name: Line
    """Of the column, as its header says."""
    id: SensorIdText
    """Sensor of the site file."""

    @property
    def sensor_id(self) -> SensorId:
        """The id as its own type."""
        return SensorId(self.id)


class ColumnMap(Record):
    """[incoming], or a file's own map: which column means what.

    Long: a sensor and a value in each row (`sensor`, `value`). Wide: a column for each sensor (`columns`). One of both.
    """

    time: Line
    """Column of the hour of measuring."""
    date: Line | None = None
    """Column of its day, where the day stands apart; both are read as one text, the day first, a blank between."""
    sensor: Line | None = None
    """Column of the sensor's id."""
    value: Line | None = None
    """Column of the temperature."""
    columns: tuple[SensorColumn, ...] = ()
    unit: Literal["degC", "degF"]
    """Of every temperature. There is no default: nobody can tell 50 from 50."""
    zone: Line | None = None
    """Of hours without an offset: a fixed offset ("-04:00", "UTC") or an IANA time zone, in which an hour that does
    not exist or exists twice is refused. None: every hour must say its offset."""
    time_format: Line | None = None
    """As `strptime` of Python reads it, or "unix" for seconds since 1970 UTC; none: ISO 8601."""
    delimiter: Literal["comma", "semicolon", "tab"] = "comma"
    """Of a CSV."""
    decimal: Literal["point", "comma"] = "point"
    header_line: Annotated[int, Field(ge=1, le=1000)] = 1
    """Line, or row of a sheet, that names the columns; what stands above it is not read."""
