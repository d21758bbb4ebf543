"""What stands beside the pages, over a real service: loggers, checks, labels, and a calibration put in force."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest
from beside_support import in_process
from deploy_support import little_service
from fastapi import FastAPI
from mixes_support import TYPED
from pages_support import Browser
from weather_support import FakeWeatherBook, issue_of

from cure.dashboard.app import pages
from cure.dashboard.beside import Programme
from cure.first_reading import Found
from cure.loggers import Standing
from deploy.page_parts import page_parts
from deploy.pages_beside import beside
from shared.errors import SetupError
from shared.models.base import HOUR_MS, MINUTE_MS, SensorId
from shared.models.weather import FileWeather, WeatherHeard


def test_the_pages_see_the_same_loggers_as_the_command_and_put_a_calibration_in_force(tmp_path: Path) -> None:
    with little_service(tmp_path) as (service, clock):
        board = service.book.board
        made = beside(board, service.readings, clock, service.book.forecasts, service.book.weather)
        seen = made.loggers()
        assert {row.standing for row in seen.rows} == {Standing.NEVER_HEARD}
        assert seen.refused == {}
        sensor = SensorId(seen.rows[0].name)
        [check] = made.check(sensor).values()
        assert {c.name: c.found for c in check}["alive"] is Found.NOT_YET
        assert made.check("lg-99") == {}
        assert (list(made.scored()), made.weather_heard()) == ([], None)
        assert made.table("ledger", []).startswith("floor,bay,pour,operation,wanted_at")
        assert made.warmth(sensor, clock.now()).found is Found.NOT_YET
        assert made.warmth(sensor, clock.now() - 21 * MINUTE_MS).found is Found.NOT_OK
        [sheet] = made.sheets("http://site.test", "A4", [])
        assert sensor in sheet

        programme = Programme("c32-f", "", "", None, "none", "s", "l", "2999-10-19", "", version=2)
        with pytest.raises(SetupError, match="made on: found 2999-10-19; allowed: the day on which the cylinders were"):
            made.judge(programme)

        # The process of its own is tried in `test_fitting`.
        made = replace(made, judge=in_process)
        app = FastAPI()
        app.include_router(pages(replace(page_parts(service, service.apply, demo=True), beside=made)))
        browser = Browser(app, address="127.0.0.1", host="127.0.0.1")
        browser.cookies.set("slabhour_acting", "qc-one")
        mix = board.site().mix[0].id
        form = browser.get(f"/mix/{mix}/calibrate").text
        [secret] = set(re.findall(r'name="csrf" value="([^"]+)"', form))
        before = board.newest_version(mix)
        fitted = browser.post(f"/mix/{mix}/calibrate", {"csrf": secret, **TYPED}).text
        [digest] = re.findall(r'name="digest" value="([0-9a-f]{64})"', fitted)
        press = {"csrf": secret, "digest": digest, "second_person": "super", "why": "new cement", **TYPED}
        answer = browser.post(f"/mix/{mix}/put-in-force", press)
        assert f"Version {before + 1} is in force." in answer.text
        assert [(r.calibration.version, r.calibration.digest) for r in board.mixes() if r.in_force] == [
            (before + 1, digest)
        ]
        assert [
            browser.get(path).status_code for path in ("/mixes", "/loggers", f"/logger/{sensor[:5]}", "/labels")
        ] == [200] * 4


def test_the_plan_page_gets_the_weather_that_the_site_holds_over_the_hours_it_asks_of(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with little_service(tmp_path) as (service, clock):
        board, book, now = service.book.board, FakeWeatherBook(), clock.now()
        hours = (now, now + 48 * HOUR_MS)
        book.keep(issue_of(now - HOUR_MS, [-3.0] * 40), WeatherHeard("weather.csv", now, now))
        made = beside(board, service.readings, clock, service.book.forecasts, book)
        assert made.weather(hours) is None
        weather = FileWeather.model_validate({"kind": "file", "file": "weather.csv"})
        site = board.site().model_copy(update={"weather": weather})
        monkeypatch.setattr(type(board), "site", lambda _: site)
        found = made.weather(hours)
        assert found is not None
        assert (found.source, set(found.air_c)) == ("weather.csv", {-3.0})
        assert any("goes on as its last day" in doubt for doubt in found.doubts)
        assert made.weather((now + 90 * HOUR_MS, now + 99 * HOUR_MS)) is None
