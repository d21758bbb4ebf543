from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from influx_support import NEEDS_INFLUXDB, influx_running, influx_setup
from ordered_server import Answer, ordered
from store_support import make_setup

from deploy.check import Checked, check
from deploy.wiring import with_data
from shared.clock import SystemClock
from shared.models.setup import Setup


@pytest.fixture
def checked(tmp_path: Path) -> Callable[..., list[Checked]]:
    def run(setup: Setup, *, fix: bool = False) -> list[Checked]:
        found: list[Checked] = []
        check(with_data(setup, tmp_path / "var"), SystemClock(), found.append, fix=fix)
        return [one for one in found if one.what in {"readings", "secret"}]

    return run


def test_readings_in_a_file_are_looked_at_with_the_stores(checked: Callable[..., list[Checked]]) -> None:
    assert checked(make_setup()) == []


@pytest.mark.needs_influxdb
@NEEDS_INFLUXDB[1]
def test_the_server_of_the_readings_is_tried_and_mended(checked: Callable[..., list[Checked]], tmp_path: Path) -> None:
    (tmp_path / "influx").write_text("planted", encoding="utf-8")
    (tmp_path / "influx").chmod(0o644)
    with influx_running(tmp_path / "influxdb") as (_, front):
        more = {"bucket": "new", "token_file": "influx"}
        setup = influx_setup(front.url, folder=str(tmp_path), **more)
        before, secret = checked(setup)
        assert (before.ok, "check --fix" in before.found, "check --fix" in before.mend) == (False, True, True)
        assert (secret.ok, secret.mend) == (False, "chmod 600 influx")
        made, after, _ = checked(setup, fix=True)
        assert (made.ok, made.found) == (True, "made: database new, if it was not there")
        assert (after.ok, after.found) == (True, f"InfluxDB 1.6.7~rc0 at {front.url}, bucket new: wrote and read back")
        assert "planted" not in str([before, made, after])


def test_a_token_that_is_not_accepted_is_told_with_the_mend(checked: Callable[..., list[Checked]]) -> None:
    with ordered(Answer(401, b'{"message": "unauthorized"}'), paths={"GET /ping": Answer(204)}) as front:
        for fix in (False, True):
            (found,) = checked(influx_setup(front.url), fix=fix)
            assert not found.ok
            assert "token_file" in found.found
