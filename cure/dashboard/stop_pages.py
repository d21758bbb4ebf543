"""STOP: two presses, by anybody, without signing in. It only ever shuts."""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Callable
from threading import Lock
from typing import Final

from starlette.responses import Response

from cure.dashboard.asked import Asked, Parts
from cure.dashboard.bay_pages import found
from cure.dashboard.rendering import page, problem
from shared.models.acts import Stop, instant
from shared.models.base import MINUTE_MS, Ms
from shared.ports import BoardRow

ANYBODY: Final = "at-the-bay"
"""Who pressed, when nobody signed in."""
PRESSES_APART_MS: Final = 10 * MINUTE_MS
LONGEST_WHY: Final = 150
REPEATED: Final = 10
"""Of presses without a name while nothing of the pour has changed since: each is a line in the log for good."""
REPEATED_MS: Final = 10 * MINUTE_MS


def handlers(parts: Parts) -> dict[tuple[str, str], Callable[[Asked], Response]]:
    """Return what answers which route."""
    key, presses = secrets.token_bytes(32), Presses()
    return {
        ("GET", "/stop/{bay}"): lambda asked: _first(parts, asked),
        ("POST", "/stop/{bay}"): lambda asked: _press(parts, key, presses, asked),
    }


class Presses:
    """Whose STOP is carried out: everybody's, but not one after the other without end of a pour that is shut already.

    Safe from many threads. Whatever has changed since, a press counts again.
    """

    def __init__(self) -> None:
        self._of: dict[str, tuple[object, list[Ms]]] = {}
        self._lock = Lock()

    def counts(self, row: BoardRow, now: Ms) -> bool:
        """Return whether a press without a name is carried out, and note it.

        Args:
            row: the pour as it stood before the press.
            now: site time.
        """
        stands = tuple(sorted((op, gate.state, gate.epoch) for op, gate in row.gates.items()))
        with self._lock:
            before, pressed = self._of.get(row.pour.id, (None, []))
            recent = [at for at in pressed if 0 <= now - at < REPEATED_MS] if before == stands else []
            if len(recent) >= REPEATED:
                return False
            self._of[row.pour.id] = (stands, [*recent, now])
            return True


def _first(parts: Parts, asked: Asked) -> Response:
    bay, row = found(parts, asked)
    if bay is None:
        return problem(asked, "no-bay", status=404)
    return page(asked, "stop.html", bay=bay, pour="" if row is None else row.pour.id, presses=0, mark="", why="")


def _press(parts: Parts, key: bytes, presses: Presses, asked: Asked) -> Response:
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
    if asked.visitor.person is not None or presses.counts(row, asked.now):
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
