from __future__ import annotations

from typing import Any

import httpx
from fastapi import FastAPI
from store_support import T0
from weather_support import FakeWeatherBook, payload
from web_support import ask

from ingest.weather_http import router
from ingest.weather_intake import WeatherIntake
from shared.clock import SimulatedClock

TOKEN = "a-token-of-the-weather"  # noqa: S105  invented
BOOK = FakeWeatherBook()
APP = FastAPI()
APP.include_router(router(WeatherIntake("PUT /weather", None, BOOK, SimulatedClock(T0)), TOKEN))


def put(body: Any, *, media: str = "application/json", token: str = f"Bearer {TOKEN}") -> httpx.Response:
    return ask(APP, "PUT", "/weather", content=body, headers={"Authorization": token, "Content-Type": media})


def test_weather_is_kept_before_it_is_answered_and_refused_with_the_reason() -> None:
    answer = put(payload(T0))
    assert (answer.status_code, answer.json()) == (200, {"hours": 48, "left_out": []})
    assert len(BOOK.issues) == 1
    refused = put(b"[]")
    assert refused.status_code == 422
    assert refused.json()["detail"] == BOOK.notes["PUT /weather"].why != ""
    rows = "\n".join(["at,air_c", *(f"2025-11-{24 + h // 24}T{h % 24:02}:00Z,{-h / 10}" for h in range(16, 40))])
    assert put(rows.encode(), media="text/csv; charset=utf-8").json() == {"hours": 24, "left_out": []}


def test_without_the_token_nothing_is_read() -> None:
    before = len(BOOK.issues)
    for said in ("", "Bearer", "Bearer another-token-altogether", f"Basic {TOKEN}", TOKEN):
        answer = put(payload(T0, mean_c=5.0), token=said)
        assert (answer.status_code, answer.headers["www-authenticate"]) == (401, 'Bearer realm="slabhour"')
    assert len(BOOK.issues) == before


def test_another_kind_too_much_and_a_book_that_fails_are_told_apart() -> None:
    assert put(payload(T0), media="text/plain").status_code == 415
    assert put(b" " * 600_000).status_code == 413
    BOOK.broken = True
    try:
        answer = put(payload(T0, mean_c=1.0))
    finally:
        BOOK.broken = False
    assert (answer.status_code, answer.headers["retry-after"]) == (503, "60")
