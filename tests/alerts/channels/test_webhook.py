from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from mqtt_support import free_port
from server_support import TEXT, Web, talker, web_server

from alerts.channels import Answer
from alerts.channels.webhook import SIGNATURE, send

PLANTED = "planted-secret"


@pytest.fixture(scope="module")
def web() -> Iterator[Web]:
    with web_server() as server:
        yield server


@pytest.fixture
def secret(tmp_path: Path) -> Path:
    path = tmp_path / "secret"
    path.write_text(PLANTED + "\n", encoding="utf-8")
    return path


def job(url: str, secret: Path, deadline_s: float = 5) -> Any:
    return {
        "to": {"kind": "webhook", "url": url, "secret_file": str(secret)},
        "text": {"subject": TEXT.subject, "body": TEXT.body, "short": TEXT.short},
        "number": 42,
        "numbers": [42],
        "recipient": "crew",
        "key": "42.crew.1",
        "at_ms": 1_764_000_000_000,
        "site": "millrace",
        "deadline_s": deadline_s,
    }


def test_the_body_is_signed_and_a_repeat_is_known_by_its_key(web: Web, secret: Path) -> None:
    before = len(web.requests)
    assert send(job(web.url("/ok?token=x"), secret)) == Answer("accepted", "answered 200")
    assert send(job(web.url("/ok?token=x"), secret)).kind == "accepted"
    first, again = web.requests[before:]
    assert first.path == "/ok?token=x"
    expected = hmac.new(PLANTED.encode(), first.body, hashlib.sha256).hexdigest()
    assert first.headers[SIGNATURE] == f"sha256={expected}"
    assert first.headers["Idempotency-Key"] == again.headers["Idempotency-Key"]
    assert first.headers["Content-Type"] == "application/json"
    said = json.loads(first.body)
    assert (said["site"], said["number"], said["short"]) == ("millrace", 42, TEXT.short)
    assert (said["recipient"], said["sent_ms"]) == ("crew", 1_764_000_000_000)
    assert first.headers["Idempotency-Key"] == "millrace.42.crew.1"


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/ok", "accepted"),
        ("/empty", "accepted"),
        ("/null-error", "unsure"),
        ("/silent-yes", "accepted"),
        ("/other", "unsure"),
        ("/text", "unsure"),
        ("/declined", "not now"),
        ("/error", "not now"),
        ("/page", "not now"),
        ("/redirect", "not now"),
        ("/moved", "not now"),
        ("/bad", "never"),
        ("/gone", "never"),
        ("/busy", "not now"),
        ("/broken", "not now"),
        ("/away", "not now"),
        ("/huge", "unsure"),
        ("/drop", "unsure"),
    ],
)
@pytest.mark.row("A10")
def test_only_a_clear_yes_is_taken_as_one(web: Web, secret: Path, path: str, kind: str) -> None:
    before = len(web.requests)
    assert send(job(web.url(path), secret)).kind == kind
    assert [r.path for r in web.requests[before:]] == [path], "a redirect is not followed"


@pytest.mark.row("A4")
def test_an_answer_that_does_not_come_leaves_the_outcome_unknown(web: Web, secret: Path) -> None:
    assert send(job(web.url("/slow"), secret, deadline_s=0.4)).kind == "unsure"
    with talker(b"nonsense\r\n", every_s=0.01) as port:
        assert send(job(f"http://127.0.0.1:{port}/", secret)).kind == "unsure"


def test_a_server_that_is_not_there_has_not_taken_it(secret: Path) -> None:
    assert send(job(f"http://127.0.0.1:{free_port()}/", secret)).kind == "not now"
    assert send(job("http://127.0.0.1:99999/", secret)).kind == "never"


def test_a_plain_server_is_not_spoken_to_when_encryption_is_asked_for(web: Web, secret: Path) -> None:
    before = len(web.requests)
    assert send(job(web.url("/ok").replace("http:", "https:"), secret)).kind == "not now"
    assert len(web.requests) == before


def test_nothing_is_sent_unsigned(web: Web, tmp_path: Path) -> None:
    before = len(web.requests)
    (tmp_path / "empty").write_text("\n", encoding="utf-8")
    for name in ("empty", "not-there"):
        assert send(job(web.url("/ok"), tmp_path / name)).kind == "not now"
    assert len(web.requests) == before


@pytest.mark.row("A17")
@pytest.mark.parametrize("path", ["/ok", "/error", "/redirect", "/bad", "/drop"])
def test_no_answer_quotes_the_address_or_the_secret(web: Web, secret: Path, path: str) -> None:
    said = send(job(web.url(f"{path}?token={PLANTED}"), secret))
    assert PLANTED not in said.text
    assert "127.0.0.1" not in said.text
