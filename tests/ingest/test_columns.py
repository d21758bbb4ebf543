from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ingest.columns import Mapped, Mapper, Row, missing_columns
from shared.models.acts import ms
from shared.models.files import ColumnMap, SensorColumn
from shared.models.readings import Reason
from shared.units import f_to_c, milli_c

LONG = ["time", "id", "temp"]
WIDE = ["time", "temp1", "temp2"]
AT = "2026-11-24T08:40:00-04:00"
AT_MS = 1795524000000
"""Computed: date -d 2026-11-24T08:40:00-04:00 +%s."""


def long(**changes: Any) -> ColumnMap:
    return ColumnMap(**{"time": "time", "sensor": "id", "value": "temp", "unit": "degC", **changes})


def wide(**changes: Any) -> ColumnMap:
    columns = (SensorColumn(name="temp1", id="lg-01.1"), SensorColumn(name="temp2", id="lg-01.2"))
    return ColumnMap(**{"time": "time", "columns": columns, "unit": "degC", **changes})


def mapped(columns: ColumnMap, *rows: Sequence[str], header: Sequence[str] = LONG) -> Mapped:
    return Mapper(columns, header).read([Row(n, cells) for n, cells in enumerate(rows, 2)])


def refusal(columns: ColumnMap, time: str = AT, sensor: str = "lg-01.1", value: str = "18") -> tuple[Reason, str]:
    came = mapped(columns, [time, sensor, value])
    assert came.found == []
    (wrong,) = came.wrong
    assert wrong.line == 2
    return wrong.reason, wrong.detail


def taken(columns: ColumnMap, time: str) -> int:
    came = mapped(columns, [time, "lg-01.1", "18"])
    assert came.wrong == []
    return came.found[0].taken_ms


def test_a_row_of_a_long_table_is_one_reading_with_its_line() -> None:
    came = mapped(long(), [AT, "lg-01.1", "18.25"], [AT, " lg-09.1 ", "-0.5"])
    assert [(f.line, f.sensor, f.taken_ms, f.milli_c) for f in came.found] == [
        (2, "lg-01.1", AT_MS, 18250),
        (3, "lg-09.1", AT_MS, -500),
    ]
    assert (came.wrong, came.blank) == ([], [])


def test_a_row_of_a_wide_table_is_a_reading_a_column_and_an_empty_cell_is_counted() -> None:
    came = mapped(wide(), [AT, "18", " "], [AT, "warm", "17"], header=WIDE)
    assert [(f.line, f.sensor, f.milli_c) for f in came.found] == [(2, "lg-01.1", 18000), (3, "lg-01.2", 17000)]
    assert came.blank == ["lg-01.2"]
    assert [(w.line, w.sensor, w.reason) for w in came.wrong] == [(3, "lg-01.1", Reason.SCHEMA)]


def test_fahrenheit_is_converted_once() -> None:
    came = mapped(long(unit="degF"), [AT, "lg-01.1", "32"], [AT, "lg-01.1", "64.4"])
    # 32 degF = 0 degC, 64.4 degF = 18 degC (definition of the scale).
    assert [f.milli_c for f in came.found] == [0, 18000]


@given(st.decimals(-40, 180, places=2))
def test_fahrenheit_agrees_with_the_product_of_units(value: Any) -> None:
    came = mapped(long(unit="degF"), [AT, "lg-01.1", str(value)])
    assert came.found[0].milli_c == milli_c(f_to_c(float(value)))


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("warm", Reason.SCHEMA),
        ("", Reason.SCHEMA),
        ("18 C", Reason.SCHEMA),
        ("18,5", Reason.SCHEMA),
        ("1_8", Reason.SCHEMA),
        ("0x12", Reason.SCHEMA),
        ("True", Reason.SCHEMA),
        ("\u0661\u0668", Reason.SCHEMA),
        ("nan", Reason.NOT_FINITE),
        ("-INF", Reason.NOT_FINITE),
        ("1e999", Reason.NOT_FINITE),
        ("1e7", Reason.RANGE),
    ],
)
def test_what_is_no_number_is_refused_with_its_reason(value: str, reason: Reason) -> None:
    assert refusal(long(), value=value)[0] is reason


def test_a_decimal_comma_is_read_when_it_is_said_and_a_point_is_then_refused() -> None:
    came = mapped(long(decimal="comma"), [AT, "lg-01.1", "18,5"])
    assert came.found[0].milli_c == 18500
    assert refusal(long(decimal="comma"), value="18.5")[0] is Reason.SCHEMA


@pytest.mark.parametrize(
    "text",
    ["2026-11-24", "2026-11", "2026-W48-2", "yesterday", "24/11/2026 08:40", "2026-02-30 08:00Z", "", "1795524000"],
)
def test_what_is_no_whole_hour_is_refused(text: str) -> None:
    assert refusal(long(), time=text)[0] is Reason.SCHEMA


@pytest.mark.row("C4")
def test_an_hour_without_an_offset_needs_a_zone() -> None:
    reason, detail = refusal(long(), time="2026-11-24T08:40:00")
    assert (reason, "needs its offset" in detail) == (Reason.SCHEMA, True)
    assert taken(long(zone="-04:00"), "2026-11-24T08:40") == AT_MS
    assert taken(long(zone="America/Halifax"), "2026-11-24 08:40:00") == AT_MS


def test_an_offset_in_the_cell_is_stronger_than_the_zone() -> None:
    assert taken(long(zone="Asia/Tokyo"), AT) == AT_MS
    assert taken(long(), "2026-11-24T12:40:00.000Z") == AT_MS


def test_a_local_hour_that_exists_twice_or_never_is_refused_and_a_fixed_offset_tells_it() -> None:
    # Nova Scotia 2026: forward on 8 March at 02:00, back on 1 November at 02:00 (tzdata).
    local = long(zone="America/Halifax")
    assert refusal(local, time="2026-11-01 01:30:00") == (
        Reason.LOCAL_TIME,
        "2026-11-01 01:30:00 exists twice: clocks were put back; a fixed offset as zone would tell",
    )
    reason, detail = refusal(local, time="2026-03-08 02:30:00")
    assert (reason, "does not exist" in detail) == (Reason.LOCAL_TIME, True)
    fixed = long(zone="-04:00")
    assert taken(fixed, "2026-11-01 01:30:00") == ms(datetime(2026, 11, 1, 5, 30, tzinfo=UTC))
    assert taken(local, "2026-11-01 00:59:59") == ms(datetime(2026, 11, 1, 3, 59, 59, tzinfo=UTC))
    assert taken(local, "2026-11-01 02:00:00") == ms(datetime(2026, 11, 1, 6, 0, tzinfo=UTC))


@given(st.datetimes(datetime(2026, 1, 1), datetime(2026, 12, 31)).map(lambda at: at.replace(microsecond=0)))  # noqa: DTZ001
def test_a_local_hour_is_read_exactly_when_one_instant_has_it(at: datetime) -> None:
    place = ZoneInfo("America/Halifax")
    guess = at.replace(tzinfo=UTC)
    # Every instant that is near enough to be it, by quarters of an hour: offsets are whole ones.
    near = [guess + timedelta(minutes=15 * n) for n in range(-60, 61)]
    having = [one for one in near if one.astimezone(place).replace(tzinfo=None) == at]
    came = mapped(long(zone="America/Halifax"), [at.isoformat(), "lg-01.1", "18"])
    assert [f.taken_ms for f in came.found] == ([ms(having[0])] if len(having) == 1 else [])


def test_hours_in_another_form_are_read_by_their_format() -> None:
    american = long(zone="-04:00", time_format="%m/%d/%Y %I:%M %p")
    assert taken(american, "11/24/2026 8:40 AM") == AT_MS
    assert refusal(american, time=AT)[0] is Reason.SCHEMA
    assert taken(long(time_format="unix"), str(AT_MS // 1000)) == AT_MS
    assert refusal(long(time_format="unix"), time=AT)[0] is Reason.SCHEMA
    assert refusal(long(time_format="unix"), time="1e300")[0] is Reason.SCHEMA


def test_a_day_in_a_column_of_its_own_is_read_before_the_time() -> None:
    apart = long(date="day", zone="-04:00", time_format="%d.%m.%Y %H:%M")
    header = ["day", "time", "id", "temp"]
    came = mapped(apart, ["24.11.2026", " 08:40 ", "lg-01.1", "18"], ["", "08:40", "lg-01.1", "18"], header=header)
    assert [f.taken_ms for f in came.found] == [AT_MS]
    assert [(w.line, w.reason) for w in came.wrong] == [(3, Reason.SCHEMA)]
    # Of a sheet: a day is midnight, a time is a time.
    sheet = long(date="day", zone="-04:00")
    came = mapped(sheet, ["2026-11-24 00:00:00", "08:40:00", "lg-01.1", "18"], header=header)
    assert [f.taken_ms for f in came.found] == [AT_MS]
    assert missing_columns(apart, LONG) == ["day"]


@pytest.mark.parametrize("name", ["", "lg-01", "LG-01.1", "=1+1", "lg-01.1.1", "x" * 500])
def test_a_cell_that_names_no_sensor_is_refused_and_shown_short(name: str) -> None:
    reason, detail = refusal(long(), sensor=name)
    assert reason is Reason.UNKNOWN_SENSOR
    assert len(detail) < 160


def test_a_row_with_too_few_or_too_many_cells_is_refused_whole() -> None:
    came = mapped(long(), [AT, "lg-01.1"], [AT, "lg-01.1", "18", "19"], [AT, "lg-01.1", "18"])
    assert [(w.line, w.detail) for w in came.wrong] == [
        (2, "2 cells, the header has 3"),
        (3, "4 cells, the header has 3"),
    ]
    assert [f.line for f in came.found] == [4]


def test_a_row_that_could_not_be_taken_apart_says_why() -> None:
    (wrong,) = Mapper(long(), LONG).read([Row(7, ["x"], "not a row")]).wrong
    assert (wrong.line, wrong.detail, wrong.text) == (7, "not a row", "x")


def test_columns_that_are_missing_or_there_twice_are_named() -> None:
    assert missing_columns(long(), LONG) == []
    assert missing_columns(long(), ["time", "temp", "temp"]) == ["id", "temp"]
    assert missing_columns(wide(), ["time", "temp2"]) == ["temp1"]


def test_many_hours_are_read_as_they_are() -> None:
    # More than are remembered, so that what is remembered is let go of in between.
    times = [datetime(2026, 11, 1, tzinfo=UTC) + timedelta(minutes=n) for n in range(11_000)]
    came = mapped(long(), *([at.isoformat(), "lg-01.1", "18"] for at in times))
    assert [f.taken_ms for f in came.found] == [ms(at) for at in times]
