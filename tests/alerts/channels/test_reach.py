"""The channel that goes through apprise, with apprise itself and a web server."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import apprise
import pytest
from mqtt_support import free_port
from server_support import TEXT, Web, web_server

from alerts.channels import Answer
from alerts.channels.reach import send

PLANTED = "planted-secret"
# apprise 2.3 imports a module of Python 3.11 that 3.13 no longer has.
pytestmark = pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning")


@pytest.fixture(scope="module")
def web() -> Iterator[Web]:
    with web_server() as server:
        yield server


@pytest.fixture(autouse=True)
def logging_again() -> Iterator[None]:
    """The channel switches all logging off, which is right in its child."""
    yield
    logging.disable(logging.NOTSET)


def job(folder: Path, url: str, *, short: bool = True) -> Any:
    (folder / "url").write_text(url + "\n", encoding="utf-8")
    to = {"kind": "reach", "url_file": str(folder / "url"), "short": short}
    return {"to": to, "text": {"subject": TEXT.subject, "body": TEXT.body, "short": TEXT.short}}


def at(web: Web, path: str) -> str:
    return web.url(path).replace("http://", "json://")


def test_the_short_text_arrives_and_counts(web: Web, tmp_path: Path) -> None:
    before = len(web.requests)
    assert send(job(tmp_path, at(web, "/ok"))) == Answer("accepted", "accepted through apprise")
    (came,) = web.requests[before:]
    assert TEXT.short.encode() in came.body
    assert b"long long" not in came.body


def test_the_whole_text_arrives_where_there_is_room_for_it(web: Web, tmp_path: Path) -> None:
    before = len(web.requests)
    assert send(job(tmp_path, at(web, "/ok"), short=False)).kind == "accepted"
    assert b"long long" in web.requests[before].body


@pytest.mark.parametrize("path", ["/broken", "/gone", "/busy", "/drop", "/redirect", "/moved"])
@pytest.mark.row("A10", "A11")
def test_a_failure_may_have_arrived_because_apprise_does_not_say(web: Web, tmp_path: Path, path: str) -> None:
    before = len(web.requests)
    assert send(job(tmp_path, at(web, path))) == Answer("unsure", "apprise answered FAILURE")
    assert [r.path for r in web.requests[before:]] == [path], "once, and no redirect is followed"


def test_a_server_that_is_not_there_is_a_failure_like_any_other(tmp_path: Path) -> None:
    assert send(job(tmp_path, f"json://127.0.0.1:{free_port()}/")).kind == "unsure"


@pytest.mark.parametrize("url", ["pigeon://loft", "127.0.0.1", "mailto://", "jsno://127.0.0.1/"])
@pytest.mark.row("A9")
def test_a_url_that_apprise_does_not_know_is_known_not_to_work(tmp_path: Path, url: str) -> None:
    assert send(job(tmp_path, url)) == Answer("never", "apprise does not know this kind of URL")


@pytest.mark.parametrize("option", ["optional=yes", "retry=3", "redirect=yes"])
@pytest.mark.row("A10")
def test_a_url_with_options_that_hide_failures_is_refused(web: Web, tmp_path: Path, option: str) -> None:
    before = len(web.requests)
    assert send(job(tmp_path, at(web, f"/broken?{option}"))).kind == "never"
    assert len(web.requests) == before


@pytest.mark.parametrize("held", ["", "json://127.0.0.1:1/ json://127.0.0.1:2/"])
def test_a_file_that_does_not_hold_one_url_may_be_mended(tmp_path: Path, held: str) -> None:
    assert send(job(tmp_path, held)) == Answer("not now", "the URL file does not hold one URL")
    gone = {**job(tmp_path, ""), "to": {"kind": "reach", "url_file": str(tmp_path / "gone"), "short": True}}
    assert send(gone) == Answer("not now", "the URL file cannot be read: FileNotFoundError")


@pytest.mark.parametrize("path", ["/ok", "/broken", "/drop"])
@pytest.mark.row("A17")
def test_the_url_is_in_no_log_and_in_no_answer(
    web: Web, tmp_path: Path, path: str, caplog: pytest.LogCaptureFixture, capfd: pytest.CaptureFixture[str]
) -> None:
    url = at(web, f"{path}/{PLANTED}?token={PLANTED}").replace("json://", f"json://slab:{PLANTED}@")
    with caplog.at_level(logging.DEBUG):
        said = send(job(tmp_path, url))
    printed = capfd.readouterr()
    assert PLANTED not in said.text + caplog.text + printed.out + printed.err


@pytest.mark.row("A11")
def test_apprises_results_are_what_this_channel_was_written_against() -> None:
    """A version that changes them must fail here by name, and not by silence on a site."""
    assert {s.name for s in apprise.AppriseResultStatus} == {"SUCCESS", "FAILURE", "NOMATCH", "PARTIAL", "TIMEOUT"}
    empty = apprise.Apprise(asset=apprise.AppriseAsset(async_mode=False)).notify(body="x")
    assert empty.status is apprise.AppriseResultStatus.NOMATCH
    assert not isinstance(empty, bool), "never a plain truth value"
