"""Channel "webhook": an HTTP POST of JSON, signed, without redirects; only a clear yes counts as one.

Headers: `Slabhour-Signature: sha256=<hex HMAC-SHA256 of the body>`, and `Idempotency-Key`, the same for each repeat.
The body carries the attempt's hour (`sent_ms`), so that an old one that is played again can be told.
"""

from __future__ import annotations

import hashlib
import hmac
import http.client
import json
import ssl
from pathlib import Path
from typing import Final
from urllib.parse import SplitResult, urlsplit

from alerts.channels import Answer, Job, accepted, never, not_now, unsure

SIGNATURE: Final = "Slabhour-Signature"
_CAP: Final = 64 * 1024
_STEP_SHARE: Final = 0.8


def send(job: Job) -> Answer:
    """Try once."""
    try:
        url = urlsplit(job["to"]["url"])
        port = url.port
    except ValueError:
        return never("the URL cannot be read")
    try:
        secret = Path(job["to"]["secret_file"]).read_bytes().strip()
    except OSError as error:
        return not_now(f"the secret file cannot be read: {error.strerror}")
    if not secret:
        return not_now("the secret file is empty")
    said = {key: job[key] for key in ("site", "number", "numbers", "recipient")}
    body = json.dumps({**said, "sent_ms": job["at_ms"], **job["text"]}).encode("utf-8")
    connection = connection_to(url, port, job["deadline_s"] * _STEP_SHARE)
    try:
        connection.connect()
    except (OSError, http.client.HTTPException) as error:
        return not_now(f"no connection: {type(error).__name__}")
    try:
        return _post(connection, url, body, _headers(job, body, secret))
    finally:
        connection.close()


def connection_to(url: SplitResult, port: int | None, timeout_s: float) -> http.client.HTTPConnection:
    """Return a connection, not open yet, to where an http or https URL leads; it follows no redirect."""
    host = url.hostname or ""
    if url.scheme == "https":
        return http.client.HTTPSConnection(host, port, timeout=timeout_s, context=ssl.create_default_context())
    return http.client.HTTPConnection(host, port, timeout=timeout_s)


def _headers(job: Job, body: bytes, secret: bytes) -> dict[str, str]:
    return {
        "Content-Type": "application/json",
        "User-Agent": "slabhour",
        "Idempotency-Key": f"{job['site']}.{job['key']}",
        SIGNATURE: "sha256=" + hmac.new(secret, body, hashlib.sha256).hexdigest(),
    }


def _post(connection: http.client.HTTPConnection, url: SplitResult, body: bytes, headers: dict[str, str]) -> Answer:
    target = (url.path or "/") + (f"?{url.query}" if url.query else "")
    try:
        connection.request("POST", target, body, headers)
        response = connection.getresponse()
        said = response.read(_CAP + 1)
    except (OSError, http.client.HTTPException) as error:
        return unsure(f"no answer after sending: {type(error).__name__}")
    return verdict(response.status, response.headers.get_content_type(), said)


def verdict(status: int, content_type: str, said: bytes) -> Answer:
    """Return what an answer means: yes is 2xx with nothing, or with {"accepted": true}.

    A redirect, a page or a body that speaks of an error is a no; what else a 2xx says leaves the outcome unknown.
    """
    if not 200 <= status < 300:
        lasting = 400 <= status < 500 and status not in {408, 425, 429}
        return (never if lasting else not_now)(f"answered {status}")
    if not said:
        return accepted(f"answered {status}")
    if content_type == "text/html":
        return not_now(f"answered {status} with a page")
    if len(said) > _CAP:
        return unsure(f"answered {status} with more than {_CAP} bytes")
    return _spoken(status, said)


def _spoken(status: int, said: bytes) -> Answer:
    try:
        answer = json.loads(said)
    except ValueError:
        answer = None
    if isinstance(answer, dict):
        if answer.get("error") or answer.get("accepted") is False:
            return not_now(f"answered {status} with an error")
        if answer.get("accepted") is True:
            return accepted(f"answered {status}")
    return unsure(f"answered {status} without saying that it accepted")
