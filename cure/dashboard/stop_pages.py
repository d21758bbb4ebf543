"""STOP: two presses, by anybody, without signing in. It only ever shuts."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from typing import Final

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.bay_pages import found
from cure.dashboard.rendering import page, problem
from shared.models.acts import Stop, instant
from shared.models.base import MINUTE_MS

ANYBODY: Final = "at-the-bay"
"""Who pressed, when nobody signed in."""
PRESSES_APART_MS: Final = 10 * MINUTE_MS
LONGEST_WHY: Final = 150


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    key = secrets.token_bytes(32)
    return {
        ("GET", "/stop/{bay}"): lambda asked: _first(parts, asked),
        ("POST", "/stop/{bay}"): lambda asked: _press(parts, key, asked),
    }


def _first(parts: Parts, asked: Asked) -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    return page(asked, "stop.html", bay=bay, pour="" if row is None else row.pour.id, presses=0, mark="", why="")


def _press(parts: Parts, key: bytes, asked: Asked) -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    if row is None:
        return _first(parts, asked)
    pour, given = row.pour.id, asked.one("why")
    why = " ".join("".join(c if c.isprintable() else " " for c in given).split())[:LONGEST_WHY]
    if not _is_second(key, pour, asked):
        mark = f"{asked.now}.{_proof(key, pour, asked.now)}"
        return page(asked, "stop.html", bay=bay, pour=pour, presses=1, mark=mark, why=why)
    who = asked.visitor.person or ANYBODY
    parts.apply(Stop(at=instant(asked.now), who=who, pour=pour, why=why or asked.reader.say("stop-no-reason")))
    return page(asked, "stop.html", bay=bay, pour=pour, presses=2, mark="", why=why)


def _proof(key: bytes, pour: str, at_ms: int) -> str:
    return hmac.new(key, f"{pour} {at_ms}".encode(), "sha256").hexdigest()


def _is_second(key: bytes, pour: str, asked: Asked) -> bool:
    """Return whether a first press of this pour's came before, not long ago."""
    at, _, proof = asked.one("mark").partition(".")
    if not at.isdecimal() or len(at) > 15:
        return False
    recent = 0 <= asked.now - int(at) <= PRESSES_APART_MS
    return recent and hmac.compare_digest(_proof(key, pour, int(at)).encode(), proof.encode())
