from __future__ import annotations

import socket
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from influx_support import NEEDS_INFLUXDB, influx_running, influx_setup
from ordered_server import Answer, ordered
from store_support import make_setup
from tls_support import certificate_in

from deploy.check import Checked, check
from deploy.folders import with_data
from shared.clock import SystemClock
from shared.models.setup import Setup, WebSettings


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


def test_the_web_server_is_told_with_its_address_and_what_keeps_it_from_starting(tmp_path: Path) -> None:
    plain = make_setup()

    def web(**settings: object) -> Checked:
        site = plain.site.model_copy(update={"web": WebSettings.model_validate(settings)})
        found: list[Checked] = []
        setup = with_data(replace(plain, site=site, folder=str(tmp_path)), tmp_path / "var")
        check(setup, SystemClock(), found.append)
        (one,) = [one for one in found if one.what == "web"]
        return one

    none = "no readings by HTTP, since no loggers_file is set"
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        answers = "something answers: a running service, or another web server"
        assert web(port=port).found == f"http://127.0.0.1:{port}, {answers}; {none}"
    assert web(port=port).found == f"http://127.0.0.1:{port}, not running now; {none}"
    assert web(port=0).ok
    certificate_in(tmp_path)
    (tmp_path / "cert-key.pem").chmod(0o600)
    tls = {"port": port, "cert_file": "cert.pem", "key_file": "cert-key.pem"}
    assert (web(**tls).ok, web(**tls).found) == (True, f"https://127.0.0.1:{port}, not running now; {none}")
    (tmp_path / "cert-key.pem").write_text("no key", encoding="utf-8")
    assert (web(**tls).ok, "cannot be used" in web(**tls).found, bool(web(**tls).mend)) == (False, True, True)
    assert not web(port=port, cert_file="absent.pem", key_file="cert-key.pem").ok
    assert not web(loggers_file="absent").ok
    (tmp_path / "loggers").write_text("lg-01 planted-password\nlg-02 short\n", encoding="utf-8")
    assert (web(loggers_file="loggers").ok, "planted" in str(web(loggers_file="loggers"))) == (False, False)
    (tmp_path / "loggers").write_text("lg-01 planted-password\n", encoding="utf-8")
    assert "readings by HTTP at /r/<logger> and /t/<topic>, from 1" in web(loggers_file="loggers").found
