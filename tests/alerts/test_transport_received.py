"""A webhook from its receiver's side: a server that checks what it gets as README tells it to."""

from __future__ import annotations

import hashlib
import hmac
import json
from pathlib import Path

from mail_support import Sent, at_web
from server_support import Request, web_server

from shared.models.base import Ms
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind

SECRET = b"hook-secret"
FRESH_MS = 300_000


def is_genuine(request: Request, now: Ms, secret: bytes = SECRET) -> bool:
    """Check signature, then hour: what is played again later, or changed by a letter, is not taken."""
    expected = "sha256=" + hmac.new(secret, request.body, hashlib.sha256).hexdigest()
    if not hmac.compare_digest(expected, request.headers.get("Slabhour-Signature", "")):
        return False
    return abs(now - int(json.loads(request.body)["sent_ms"])) <= FRESH_MS


def test_a_receiver_knows_a_genuine_message_a_repeat_a_replay_and_a_forgery(tmp_path: Path) -> None:
    with web_server() as web:
        web.order = "/away"
        # Backoff of minutes passes in seconds.
        sent = Sent(at_web(web, tmp_path, "/ordered"), rate=60.0)
        sent.say(MessageKind.WITHDRAWAL, 42, GateState.WITHDRAWN)
        sent.until(lambda: sent.book.states(42) == {("crew", 0): DeliveryState.WAITING})
        web.order = "/ok"
        sent.until(lambda: sent.book.states(42) == {("crew", 0): DeliveryState.ACCEPTED})
        sent.dispatcher.close()
        now = sent.clock.now()
    first, again = web.requests[0], web.requests[-1]
    assert len(web.requests) >= 2
    assert [r.order for r in (first, again)] == ["/away", "/ok"]
    assert all(is_genuine(r, now) for r in web.requests)
    # The retry is the same message, signed anew at its own hour.
    assert first.headers["Idempotency-Key"] == again.headers["Idempotency-Key"]
    assert json.loads(first.body)["sent_ms"] < json.loads(again.body)["sent_ms"]
    assert first.headers["Slabhour-Signature"] != again.headers["Slabhour-Signature"]
    assert json.loads(again.body)["number"] == 42
    assert not is_genuine(again, now + FRESH_MS + 1 + now - json.loads(again.body)["sent_ms"])
    forged = again.body.replace(b"KEEP FORMS ON", b"TAKE FORMS OFF")
    assert forged != again.body
    assert not is_genuine(Request(again.path, again.headers, forged, again.order), now)
    later = again.body.replace(b'"sent_ms": ', b'"sent_ms": 9')
    assert not is_genuine(Request(again.path, again.headers, later, again.order), now)
    assert not is_genuine(again, now, b"another secret")
