"""Weather of strangers: a JSON or a CSV in, whole hours out; what cannot be is left out or refused, and said. Pure."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import jmespath
from jmespath.exceptions import JMESPathError

from ingest.payloads.decoded import quoted
from ingest.payloads.json_times import Reader, reader
from ingest.payloads.strict_json import PayloadError, load
from shared import units
from shared.models.base import DAY_MS, HOUR_MS, MINUTE_MS, Json, Ms
from shared.models.weather import OWN_MAP, WEATHER_PATHS, WeatherHour, WeatherIssue, WeatherMap

LIMIT_BYTES: Final = 512 * 1024
MOST_POINTS: Final = 5000
COLDEST_C, HOTTEST_C = -60.0, 55.0
"""Air beyond is not believed: as for air sensors at the cold end, records of inhabited places at the hot one."""
JUMP_C: Final = 12.0
"""In an hour (our judgement: fronts bring some 10 degC in an hour)."""
OTHERS: Final[Mapping[str, tuple[float, float]]] = {
    "wind": (0.0, 60.0), "humidity": (0.0, 100.0), "sun": (0.0, 1400.0), "cloud": (0.0, 1.0),
}  # fmt: skip
"""What is believed of the others [m/s, %, W/m2, share]; a value beyond is as if it were not there."""
MOST_LEFT_OUT: Final = 0.25
LEAST_AHEAD_H: Final = 6
LONGEST_GAP_MS: Final = 6 * HOUR_MS
"""Between two points a line is drawn; over more nothing is said."""
BEFORE_MS: Final = 2 * DAY_MS
AFTER_MS: Final = 16 * DAY_MS
"""What lies farther from its coming is of no use, and dropped."""
STALE_MS: Final = 3 * DAY_MS
AHEAD_MS: Final = 10 * MINUTE_MS
"""So far in front may its maker's clock be."""
_AIR: Final[Mapping[str, Callable[[float], float]]] = {"degC": float, "degF": units.f_to_c, "K": units.k_to_c}
_WIND: Final[Mapping[str, Callable[[float], float]]] = {
    "m/s": float, "km/h": units.km_h_to_m_s, "mph": units.mph_to_m_s, "kn": units.kn_to_m_s,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Unusable:
    """Why nothing of it is taken."""

    why: str


class _UnusableError(Exception):
    """Ends the reading; never leaves this module."""


_Point = tuple[Ms, float, dict[str, float]]
"""Hour, air, the others that it says."""


def _find(name: str, path: Any, where: Json) -> Json:
    try:
        return path.search(where)
    except (JMESPathError, ArithmeticError, AttributeError, LookupError, TypeError, ValueError, RecursionError):
        raise _UnusableError(f"{name}: the path cannot be followed in it") from None


def _in_columns(paths: Mapping[str, Any], message: Json) -> Iterator[dict[str, Json]]:
    found = {name: _find(name, path, message) for name, path in paths.items() if name not in {"issued", "records"}}
    there = {name: values for name, values in found.items() if values is not None}
    wrong = next((name for name, values in there.items() if not isinstance(values, list)), None)
    if wrong is not None or not {"time", "air"} <= there.keys():
        raise _UnusableError(f"{wrong or 'time and air'}: a list, found {quoted(found[wrong or 'air'])}")
    if len({len(values) for values in there.values()}) != 1:
        raise _UnusableError("its lists are not of one length")
    names = list(there)
    for row in zip(*there.values(), strict=True):
        yield dict(zip(names, row, strict=True))


def _in_records(paths: Mapping[str, Any], message: Json) -> Iterator[dict[str, Json]]:
    records = _find("records", paths["records"], message)
    if not isinstance(records, list):
        raise _UnusableError(f"records: a list, found {quoted(records)}")
    for record in records:
        yield {name: _find(name, path, record) for name, path in paths.items() if name not in {"issued", "records"}}


def _number(found: Json) -> float | None:
    if isinstance(found, str):
        # In a CSV every cell is text.
        try:
            found = float(found) if found.strip() else None
        except ValueError:
            return None
    if isinstance(found, bool) or not isinstance(found, int | float) or not math.isfinite(found):
        return None
    return float(found)


def _others(here: WeatherMap, row: Mapping[str, Json]) -> Iterator[tuple[str, float | None]]:
    """Yield each other value that is there; None: it is not believed."""
    share = 0.01 if here.cloud_unit == "percent" else 1.0
    scales: Mapping[str, Callable[[float], float]] = {
        "wind": _WIND[here.wind_unit], "humidity": float, "sun": float, "cloud": lambda found: found * share,
    }  # fmt: skip
    for name, scale in scales.items():
        found = _number(row.get(name))
        if found is not None:
            low, high = OTHERS[name]
            value = scale(found)
            yield name, value if low <= value <= high else None


def _points(
    here: WeatherMap, rows: Sequence[Mapping[str, Json]], read: Reader, at_ms: Ms
) -> tuple[list[_Point], list[str]]:
    """Return the believed points near `at_ms` in order of time, and what is not believed."""
    found: dict[Ms, _Point] = {}
    left_out: list[str] = []
    for row in rows:
        taken_ms, air = read(row.get("time")), _number(row.get("air"))
        if taken_ms is None:
            left_out.append(f"no time in {quoted(row.get('time'))}")
            continue
        if not at_ms - BEFORE_MS <= taken_ms <= at_ms + AFTER_MS:
            continue
        air_c = math.nan if air is None else _AIR[here.air_unit](air)
        if not COLDEST_C <= air_c <= HOTTEST_C:
            left_out.append(f"air {quoted(row.get('air'))} {here.air_unit}")
            continue
        others = {}
        for name, value in _others(here, row):
            if value is None:
                left_out.append(f"{name} {quoted(row[name])}")
            else:
                others[name] = value
        # Of two for one hour the colder.
        if taken_ms not in found or air_c < found[taken_ms][1]:
            found[taken_ms] = (taken_ms, air_c, others)
    return [found[key] for key in sorted(found)], left_out


def _jumps(one: _Point, other: _Point) -> bool:
    hours = max(1.0, (other[0] - one[0]) / HOUR_MS)
    return not abs(other[1] - one[1]) <= JUMP_C * hours


def _without_spikes(points: list[_Point], left_out: list[str]) -> list[_Point]:
    """Return the points without those that jump from both of their neighbours."""
    kept: list[_Point] = []
    for i, point in enumerate(points):
        near = [points[j] for j in (i - 1, i + 1) if 0 <= j < len(points)]
        if len(near) == 2 and all(_jumps(*sorted((point, other))) for other in near) and not _jumps(near[0], near[1]):
            left_out.append(f"air {point[1]:.1f} degC between {near[0][1]:.1f} and {near[1][1]:.1f}")
        else:
            kept.append(point)
    return kept


def _hour(at_ms: Ms, before: _Point, after: _Point) -> WeatherHour:
    share = 0.0 if after[0] == before[0] else (at_ms - before[0]) / (after[0] - before[0])

    def other(name: str) -> float | None:
        one, two = before[2].get(name), after[2].get(name)
        return None if one is None or two is None else one + share * (two - one)

    return WeatherHour(
        at_ms, before[1] + share * (after[1] - before[1]), other("wind"), other("humidity"), other("sun"),
        other("cloud"),
    )  # fmt: skip


def _whole_hours(points: Sequence[_Point]) -> tuple[WeatherHour, ...]:
    """Return the whole hours between the points, on the line between neighbours that are near enough."""
    found: dict[Ms, WeatherHour] = {}
    for before, after in pairwise(points):
        if after[0] - before[0] <= LONGEST_GAP_MS:
            first = -(-before[0] // HOUR_MS) * HOUR_MS
            for at_ms in range(first, after[0] + 1, HOUR_MS):
                found.setdefault(at_ms, _hour(at_ms, before, after))
    return tuple(found[at_ms] for at_ms in sorted(found))


def _refuse_absurd(points: Sequence[_Point], many: int, left_out: Sequence[str]) -> None:
    if len(left_out) > MOST_LEFT_OUT * many:
        raise _UnusableError(f"{len(left_out)} of {many} hours cannot be, the first: {left_out[0]}")
    jump = next(((a, b) for a, b in pairwise(points) if _jumps(a, b)), None)
    if jump is not None:
        raise _UnusableError(f"the air goes from {jump[0][1]:.1f} to {jump[1][1]:.1f} degC at once")
    if len(points) > 24 and len({air for _, air, _ in points}) == 1:
        raise _UnusableError(f"the air is {points[0][1]:.1f} degC in every hour")


def _issued(found: Json, read: Reader, received_ms: Ms, first_ms: Ms) -> Ms:
    if found is None or found == "":
        # It may have waited before it came; its first hour cannot wait.
        return min(first_ms, received_ms)
    issued_ms = read(found)
    if issued_ms is None:
        raise _UnusableError(f"no time in {quoted(found)}, when it was made")
    if issued_ms > received_ms + AHEAD_MS:
        raise _UnusableError("it says that it was made in the future: look at the clocks")
    if issued_ms < received_ms - STALE_MS:
        raise _UnusableError(f"it was made {(received_ms - issued_ms) / HOUR_MS:.0f} h ago")
    return min(issued_ms, received_ms)


def _csv_rows(payload: bytes) -> list[dict[str, Json]]:
    try:
        text = payload.decode("utf-8-sig")
        table = csv.DictReader(io.StringIO(text), strict=True)
        names = table.fieldnames or []
        if len(set(names)) != len(names):
            raise _UnusableError("two of its columns have one name")
        # Also None, under which the reader puts what is too much in a row.
        return [{str(k): v for k, v in row.items() if k is not None} for row in table]
    except (UnicodeDecodeError, csv.Error) as error:
        raise _UnusableError(f"no CSV: {quoted(str(error))}") from None


def _message(payload: bytes, paths: dict[str, Any], *, is_csv: bool) -> tuple[list[Mapping[str, Json]], Json]:
    """Return the rows, and the value of when it was made."""
    if len(payload) > LIMIT_BYTES:
        raise _UnusableError(f"more than {LIMIT_BYTES} bytes")
    if is_csv:
        cells = _csv_rows(payload)
        message: Json = cells[0] if cells else {}
        paths = {**paths, "records": jmespath.compile("@")}
        rows = list(_in_records(paths, cells))
    else:
        try:
            message = load(payload, LIMIT_BYTES)
        except PayloadError as error:
            raise _UnusableError(error.fault.detail) from None
        rows = list(_in_records(paths, message) if "records" in paths else _in_columns(paths, message))
    return list(rows), _find("issued", paths["issued"], message) if "issued" in paths else None


def _paths(here: WeatherMap) -> dict[str, Any]:
    named = {name: getattr(here, name) for name in WEATHER_PATHS}
    return {name: jmespath.compile(path) for name, path in named.items() if path is not None}


def made_ms(payload: bytes, mapped: WeatherMap | None, *, is_csv: bool = False) -> Ms | Unusable:
    """Return when a payload says that it was made, or else its first hour; or why it says neither."""
    here = mapped or OWN_MAP
    read = reader(here)
    try:
        rows, issued = _message(payload, _paths(here), is_csv=is_csv)
    except _UnusableError as error:
        return Unusable(str(error))
    hours = (read(issued),) if issued else (read(row.get("time")) for row in rows)
    said = min((at_ms for at_ms in hours if at_ms is not None), default=None)
    return Unusable("no hour in it can be read") if said is None else said


def read_weather(
    payload: bytes, source: str, received_ms: Ms, mapped: WeatherMap | None, *, is_csv: bool = False
) -> WeatherIssue | Unusable:
    """Return the weather in a payload, or why there is none to be used.

    Args:
        payload: as it came.
        source: under which name it is kept.
        received_ms: when it came.
        mapped: where what stands; None: as `OWN_MAP` says.
        is_csv: whether it is a CSV; else it is a JSON.
    """
    here = mapped or OWN_MAP
    paths, read = _paths(here), reader(here)
    try:
        rows, issued = _message(payload, paths, is_csv=is_csv)
        if len(rows) > MOST_POINTS:
            raise _UnusableError(f"more than {MOST_POINTS} hours")
        points, left_out = _points(here, rows, read, received_ms)
        points = _without_spikes(points, left_out)
        _refuse_absurd(points, len(rows), left_out)
        hours = _whole_hours(points)
        issued_ms = _issued(issued, read, received_ms, hours[0].at_ms if hours else received_ms)
        ahead = sum(hour.at_ms >= received_ms for hour in hours)
        if ahead < LEAST_AHEAD_H:
            raise _UnusableError(f"{ahead} of its hours lie ahead, at least {LEAST_AHEAD_H} must")
    except _UnusableError as error:
        return Unusable(str(error))
    return WeatherIssue(source, issued_ms, received_ms, hours, tuple(left_out[:10]))
