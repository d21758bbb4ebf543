from __future__ import annotations

import json
from http.client import HTTPConnection
from pathlib import Path

import pytest
from deploy_support import START_MS, little_service, write_site
from ingest_support import until
from mqtt_support import free_port, send
from weather_support import payload

from alerts.transport import RecordingTransport
from deploy.serve import running
from deploy.weather_parts import headers_of, token_of, weather_parts
from ingest.weather_poll import WeatherLoop
from shared.clock import SimulatedClock
from shared.errors import SetupError
from shared.models.weather import HttpWeather, PutWeather
from shared.sitefile import load

TOKEN = "a-token-of-the-weather"  # noqa: S105  invented


def with_weather(folder: Path, table: str, port: int = 1883) -> Path:
    web = "[web]\nport = 0\n"
    return write_site(folder, **{"port = 1883": f"port = {port}", web: f"{web}[weather]\n{table}"})


def test_weather_comes_in_by_a_topic_beside_the_readings_and_by_put_and_from_a_file(tmp_path: Path) -> None:
    clock = SimulatedClock(START_MS)
    topic, put, file = (tmp_path / name for name in ("topic", "put", "file"))
    for folder in (topic, put, file):
        folder.mkdir()
    port = free_port()
    with running(
        load(with_weather(topic, 'kind = "mqtt"\ntopic = "site/weather"\n', port)),
        clock,
        transport=RecordingTransport(),
    ) as parts:
        book = parts.service.book.weather
        until(lambda: parts.listener.healthy() is None, 60)
        send(port, [payload(START_MS)], "site/weather")
        until(lambda: book.heard("topic site/weather") is not None, 60)
        assert len(book.since("topic site/weather", 0)) == 1
        # The service's own heartbeat comes by the same way and may come first.
        until(lambda: (done := parts.listener.counters()).acknowledged == done.received > 0, 60)
    (put / "t").write_text(TOKEN + "\n", encoding="ascii")
    with running(
        load(with_weather(put, 'kind = "put"\ntoken_file = "t"\n', free_port())), clock, transport=RecordingTransport()
    ) as parts:
        address = parts.web.address
        connection = HTTPConnection(address.host, address.port, timeout=20)
        headers = {"Authorization": f"Bearer {TOKEN}", "Content-Type": "application/json"}
        connection.request("PUT", "/weather", payload(START_MS), headers)
        answer = connection.getresponse()
        assert (answer.status, json.loads(answer.read())["hours"]) == (200, 48)
        connection.close()
        assert len(parts.service.book.weather.since("PUT /weather", 0)) == 1
    (file / "w.json").write_bytes(payload(START_MS))
    with little_service(file) as (service, _):
        assert weather_parts(service).loop is None
    site = with_weather(file, 'kind = "file"\nfile = "w.json"\n')
    with little_service(tmp_path) as (service, _):
        object.__setattr__(service, "setup", load(site))
        made = weather_parts(service)
        assert isinstance(made.loop, WeatherLoop)
        assert made.takes is service.intake


def test_secrets_are_asked_for_and_never_repeated(tmp_path: Path) -> None:
    site = with_weather(tmp_path, 'kind = "put"\ntoken_file = "t"\n')
    setup = load(site)
    weather = setup.site.weather
    assert isinstance(weather, PutWeather)
    for text in (None, "planted", "planted but in several words"):
        if text is not None:
            (tmp_path / "t").write_text(text, encoding="ascii")
        with pytest.raises(SetupError, match=r"weather\.token_file") as found:
            token_of(setup, weather)
        assert "planted" not in str(found.value)
    (tmp_path / "t").write_text(f" {TOKEN}\n", encoding="ascii")
    assert token_of(setup, weather) == TOKEN


def test_the_headers_of_a_provider_are_read_a_line_each(tmp_path: Path) -> None:
    table = 'kind = "http"\nurl = "https://w.example/v1"\nheaders_file = "h"\n'
    mapped = '[weather.map]\ntime = "t"\nair = "a"\nair_unit = "degC"\n'
    setup = load(with_weather(tmp_path, table + mapped))
    weather = setup.site.weather
    assert isinstance(weather, HttpWeather)
    (tmp_path / "h").write_text("X-Key: planted 1\n\nAccept-Language:en\n", encoding="ascii")
    assert headers_of(setup, weather) == {"X-Key": "planted 1", "Accept-Language": "en"}
    (tmp_path / "h").write_text("X-Key: 1\nplanted\n", encoding="ascii")
    with pytest.raises(SetupError, match="line 2") as found:
        headers_of(setup, weather)
    assert "planted" not in str(found.value)
    assert headers_of(setup, weather.model_copy(update={"headers_file": None})) == {}
