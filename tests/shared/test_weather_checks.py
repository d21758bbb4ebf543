from __future__ import annotations

from pathlib import Path

import pytest
from setup_support import SITE, changed, written

from shared.errors import SetupError
from shared.models.weather import FileWeather, HttpWeather, NoWeather, PutWeather, TopicWeather
from shared.sitefile import load

MAPPED = """\
[weather]
kind = "http"
url = "https://weather.example/v1"
[weather.map]
time = "hourly.time"
air = "hourly.air"
air_unit = "degC"
"""


def with_weather(text: str) -> str:
    return changed(SITE, "[[mix]]", f"{text}[[mix]]")


def fields_at_fault(folder: Path, text: str) -> list[str]:
    with pytest.raises(SetupError) as caught:
        load(written(folder, with_weather(text)))
    return [fault.field for fault in caught.value.faults]


def test_weather_of_every_kind_loads_and_none_is_what_is_not_written(tmp_path: Path) -> None:
    assert load(written(tmp_path)).site.weather == NoWeather()
    for text, model in (
        ('[weather]\nkind = "none"\n', NoWeather),
        ('[weather]\nkind = "file"\nfile = "weather.csv"\n', FileWeather),
        ('[weather]\nkind = "put"\ntoken_file = "weather.token"\n', PutWeather),
        ('[weather]\nkind = "mqtt"\ntopic = "site/weather"\n', TopicWeather),
        (MAPPED, HttpWeather),
    ):
        assert isinstance(load(written(tmp_path, with_weather(text))).site.weather, model)


def test_a_map_whose_path_or_time_cannot_be_read_is_told_with_its_field(tmp_path: Path) -> None:
    wrong = changed(MAPPED, '"hourly.air"', '"hourly.["')
    assert fields_at_fault(tmp_path, wrong) == ["weather.map.air"]
    assert fields_at_fault(tmp_path, MAPPED + 'time_format = "%H:%M"\n') == ["weather.map.time_format"]
    assert fields_at_fault(tmp_path, MAPPED + 'time_format = "%Y-%m-%d %H:%M"\n') == ["weather.map.utc_offset"]


def test_the_weather_does_not_share_a_topic_with_loggers_or_with_the_service(tmp_path: Path) -> None:
    for topic in ("slabhour/millrace/r/lg-01", "slabhour/millrace/canary"):
        assert fields_at_fault(tmp_path, f'[weather]\nkind = "mqtt"\ntopic = "{topic}"\n') == ["weather.topic"]
