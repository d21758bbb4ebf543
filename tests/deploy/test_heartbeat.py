from __future__ import annotations

import json
import logging
import socket
from collections.abc import Sequence
from pathlib import Path
from threading import Event

import pytest
from mqtt_support import free_port
from server_support import web_server
from store_support import make_setup, make_site

from deploy.heartbeat import Heartbeat, notify, post, url_of
from shared.errors import SetupError

HEAD = (41, "ab" * 32)


def heartbeat(url: str | None, wrong: Sequence[str] = (), every_s: float = 60.0) -> Heartbeat:
    return Heartbeat("millrace", url, every_s, lambda _: wrong, lambda: HEAD)


def test_a_service_that_is_well_sends_its_newest_log_line() -> None:
    with web_server() as web:
        assert heartbeat(web.url("/ok")).beat() == ()
        (request,) = web.requests
    assert request.path == "/ok"
    assert json.loads(request.body) == {"site": "millrace", "log": 41, "hash": "ab" * 32}


def test_a_service_that_is_not_well_says_why_and_sends_no_sign_of_life() -> None:
    with web_server() as web:
        wrong = heartbeat(web.url("/ok"), ["the rounds have stopped", "in doubt: the clock"]).beat()
        assert [r.path for r in web.requests] == ["/ok/fail"]
    assert wrong == ("the rounds have stopped", "in doubt: the clock")
    assert json.loads(web.requests[0].body)["reason"] == "the rounds have stopped; in doubt: the clock"


@pytest.mark.parametrize(("path", "said"), [("/redirect", "302"), ("/moved", "308"), ("/away", "503"), ("/drop", "")])
def test_only_a_clear_yes_is_one_and_no_redirect_is_followed(path: str, said: str) -> None:
    with web_server() as web:
        answer = post(web.url(path), {"site": "millrace"})
        assert answer is not None
        assert said in answer
        assert [r.path for r in web.requests] == [path]


def test_a_monitor_that_hangs_is_given_up() -> None:
    with web_server() as web:
        assert post(web.url("/slow"), {}, timeout_s=0.2) == "the monitor cannot be reached: TimeoutError"


def test_the_url_is_in_no_log(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    assert heartbeat(f"http://127.0.0.1:{free_port()}/planted-secret").beat() == ()
    assert "monitor cannot be reached" in caplog.text
    assert "planted-secret" not in caplog.text


def test_without_a_monitor_the_test_is_made_all_the_same() -> None:
    assert heartbeat(None, ["the rounds have stopped"]).beat() == ("the rounds have stopped",)


def test_what_is_wrong_is_logged_once_and_what_joins_it_by_itself(caplog: pytest.LogCaptureFixture) -> None:
    found, beaten = iter([["a"], ["a", "b"], ["a", "b"], []]), Event()
    caplog.set_level(logging.INFO, "deploy.heartbeat")

    def test(_stop: Event) -> Sequence[str]:
        now = next(found, None)
        if now is None:
            beaten.set()
        return now or []

    beating = Heartbeat("millrace", None, 0.001, test, lambda: HEAD)
    beating.start()
    assert beaten.wait(60)
    beating.close()
    assert [r.message for r in caplog.records] == ["self test: a", "self test: b", "self test: all is well"]


def test_a_test_that_raises_does_not_end_the_beating(caplog: pytest.LogCaptureFixture) -> None:
    beaten, count = Event(), [0]

    def test(_stop: Event) -> Sequence[str]:
        count[0] += 1
        if count[0] == 1:
            raise RuntimeError("once")
        beaten.set()
        return ()

    beating = Heartbeat("millrace", None, 0.02, test, lambda: HEAD)
    beating.start()
    try:
        assert beaten.wait(60)
    finally:
        beating.close()
    assert "self test: the test failed: RuntimeError" in caplog.text


def test_the_service_manager_hears_that_it_began_and_nothing_of_its_tests(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "n"))
        manager.settimeout(5)
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "n"))
        # A new start mends none of what they find: a broker that is away, a backup that failed.
        heartbeat(None, ["ill"]).beat()
        heartbeat(None).beat()
        notify("READY=1")
        assert manager.recv(64) == b"READY=1"


def test_a_service_manager_that_is_gone_is_no_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "nobody"))
    notify("READY=1")


@pytest.mark.parametrize("text", ["", "ftp://monitor.example/x", "https://", "http://m.example/x?key=1", "http://[x"])
def test_a_file_without_a_usable_url_is_refused_and_not_quoted(tmp_path: Path, text: str) -> None:
    (tmp_path / "beat").write_text(text)
    setup = make_setup(make_site(heartbeat={"url_file": "beat"}), folder=str(tmp_path))
    with pytest.raises(SetupError, match=r"heartbeat\.url_file") as refused:
        url_of(setup)
    assert not text or text not in str(refused.value)


def test_the_url_is_read_from_its_file(tmp_path: Path) -> None:
    setup = make_setup(make_site(heartbeat={"url_file": "beat"}), folder=str(tmp_path))
    with pytest.raises(SetupError, match="No such file"):
        url_of(setup)
    (tmp_path / "beat").write_text("https://monitor.example/abc/\n")
    assert url_of(setup) == "https://monitor.example/abc"
    assert url_of(make_setup()) is None
