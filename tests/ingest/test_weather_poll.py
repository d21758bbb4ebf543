from __future__ import annotations

import io
import os
import threading
import time
from functools import partial
from pathlib import Path

import pytest
from store_support import T0
from weather_support import FakeWeatherBook, payload, provider

from ingest.weather import LIMIT_BYTES
from ingest.weather_intake import WeatherIntake
from ingest.weather_poll import (
    AGAIN_S,
    LONGEST_ANSWER_S,
    LOOK_S,
    PolledWeather,
    WatchedWeather,
    WeatherLoop,
    asked_wait_s,
    read_within,
)
from shared.clock import SimulatedClock
from shared.models.base import HOUR_MS
from shared.models.weather import WeatherHeard

EVERY_S = 3600.0


def test_a_file_is_taken_once_it_lies_still_and_again_when_it_has_changed(tmp_path: Path) -> None:
    book, clock, path = FakeWeatherBook(), SimulatedClock(T0), tmp_path / "w.json"
    watched = WatchedWeather(path, WeatherIntake("w.json", None, book, clock))
    assert watched.look() == LOOK_S
    assert book.notes["w.json"].why.startswith("the file cannot be read")
    assert book.notes["w.json"].failures == 1
    watched.look()
    assert book.notes["w.json"].failures == 1
    path.write_bytes(payload(T0)[:-5])
    watched.look()
    path.write_bytes(payload(T0))
    watched.look()
    assert book.issues == []
    watched.look()
    watched.look()
    assert len(book.issues) == 1
    path.write_bytes(payload(T0, mean_c=-3.0))
    os.utime(path, ns=(1, 2))
    watched.look()
    book.broken = True
    look = threading.Event()

    def looked() -> float:
        wait_s = watched.look()
        look.set()
        return wait_s

    loop = WeatherLoop(looked)
    # A store that fails costs a wait, not the thread, and the file is taken in later.
    assert loop._safely(looked) == AGAIN_S
    assert not look.is_set()
    book.broken = False
    assert loop._safely(looked) == LOOK_S
    assert len(book.issues) == 2
    loop.start()
    loop.close()


def test_a_provider_is_asked_for_what_is_new_and_left_alone_when_it_fails_or_wants_to_be() -> None:
    book, clock = FakeWeatherBook(), SimulatedClock(T0)
    with provider() as at:
        intake = WeatherIntake("w.example", None, book, clock)
        polled = PolledWeather(at.url, EVERY_S, {"X-Key": "secret"}, intake, clock, roll=lambda: 0.0)
        assert polled.first_s() == 0.0
        at.body, at.headers = payload(T0), {"ETag": '"one"', "Last-Modified": "Mon, 24 Nov 2025 16:00:00 GMT"}
        assert polled.look() == EVERY_S
        assert (at.asked[0]["x-key"], at.asked[0]["path"]) == ("secret", "/v1?key=planted")
        assert "if-none-match" not in at.asked[0]
        # A service that starts again half an hour later waits for the other half.
        clock.set(T0 + HOUR_MS // 2)
        assert polled.first_s() == EVERY_S / 2
        clock.set(T0 + HOUR_MS)
        at.status, at.body = 304, b""
        assert polled.look() == EVERY_S
        assert at.asked[1]["if-none-match"] == '"one"'
        assert at.asked[1]["if-modified-since"] == "Mon, 24 Nov 2025 16:00:00 GMT"
        assert book.notes["w.example"].heard_ms == T0 + HOUR_MS
        at.status, at.headers = 503, {"Retry-After": "9000"}
        assert polled.look() == 9000.0
        at.headers = {}
        assert [polled.look() for _ in range(4)] == [4 * 3600.0, 6 * 3600.0, 6 * 3600.0, 6 * 3600.0]
        assert book.notes["w.example"].why == "answered 503"
        at.status, at.headers = 302, {"Location": at.url}
        many = len(at.asked)
        polled.look()
        assert len(at.asked) == many + 1
        at.status, at.headers, at.body = 200, {}, b"<html>"
        assert polled.look() == 6 * 3600.0
        at.body = payload(T0, mean_c=-2.0)
        assert polled.look() == EVERY_S
        assert len(book.issues) == 2
    assert polled.look() == 2 * EVERY_S
    why = book.notes["w.example"].why
    assert why.startswith("cannot be reached")
    assert "planted" not in why


class Dripping:
    """An answer that comes by the byte, and never ends."""

    def __init__(self) -> None:
        self.asked = 0

    def read1(self, n: int = -1, /) -> bytes:
        self.asked += 1
        return b" "[: max(n, 1)]


def test_an_answer_that_comes_by_the_byte_is_waited_for_no_longer_than_a_minute_and_a_long_one_is_cut() -> None:
    late = Dripping()
    with pytest.raises(TimeoutError):
        read_within(late, time.monotonic() - 1.0)
    assert late.asked == 1
    assert read_within(io.BytesIO(b"x" * 10), time.monotonic() + LONGEST_ANSWER_S) == b"x" * 10
    assert len(read_within(io.BytesIO(b"x" * (2 * LIMIT_BYTES)), time.monotonic() + 60.0)) == LIMIT_BYTES + 1


def test_how_long_a_provider_wants_to_be_left_alone_is_read_from_seconds_or_a_date() -> None:
    assert asked_wait_s(None, T0) == 0.0
    assert asked_wait_s("120", T0) == 120.0
    # T0 is 2025-11-24T16:00:00Z (computed).
    assert asked_wait_s("Mon, 24 Nov 2025 16:02:00 GMT", T0) == 120.0
    assert asked_wait_s("Mon, 24 Nov 2025 15:00:00 GMT", T0) == 0.0
    assert asked_wait_s("99999999", T0) == 24 * 3600.0
    assert asked_wait_s("when it suits", T0) == 0.0


def test_chance_only_ever_makes_the_wait_longer() -> None:
    book, clock = FakeWeatherBook(), SimulatedClock(T0)
    book.note(WeatherHeard("w", T0, T0))
    for chance in (0.0, 0.5, 1.0):
        intake = WeatherIntake("w", None, book, clock)
        polled = PolledWeather("http://w", EVERY_S, {}, intake, clock, partial(float, chance))
        assert EVERY_S <= polled.first_s() <= 1.1 * EVERY_S
