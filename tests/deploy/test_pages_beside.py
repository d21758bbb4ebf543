"""What stands beside the pages, over a real service: loggers, checks, labels, and a calibration put in force."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

from beside_support import in_process
from deploy_support import little_service
from fastapi import FastAPI
from mixes_support import TYPED
from pages_support import Browser

from cure.dashboard.app import pages
from cure.first_reading import Found
from cure.loggers import Standing
from deploy.page_parts import page_parts
from deploy.pages_beside import beside
from shared.models.base import MINUTE_MS, SensorId


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
