"""A site whose one recipient is at a mail server, or at a web server, of the test."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from alerts_book import MemoryBook
from alerts_support import alerts_setup, make_gate, make_told
from server_support import Web
from store_support import T0

from alerts.dispatcher import Dispatcher
from alerts.routing import TOGETHER_MS
from alerts.transport import ChildTransport
from shared.models.base import Ms
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind
from shared.models.people import EmailAddress
from shared.models.setup import Setup

_SHUT = {MessageKind.RELEASED: GateState.RELEASED, MessageKind.WITHDRAWAL: GateState.WITHDRAWN}
CREW = EmailAddress(kind="email", to="crew@millrace.example")


def at_server(port: int, folder: Path, **server: Any) -> Setup:
    """Return a site that mails the crew through a server on a port of this machine."""
    return alerts_setup(
        str(folder),
        recipient=[
            {"id": "crew", "role": "crew", "shift": "00:00-00:00", "channels": [CREW.model_dump()]},
        ],
        channel={"email": {"host": "127.0.0.1", "port": port, "sender": "slab@millrace.example", **server}},
    )


def at_web(web: Web, folder: Path, path: str = "/ok") -> Setup:
    """Return a site whose crew is told by a webhook at a path of a web server of the test; writes its secret."""
    (folder / "hook").write_text("hook-secret\n", encoding="utf-8")
    hook = {"kind": "webhook", "url": web.url(path), "secret_file": "hook"}
    return alerts_setup(
        str(folder),
        recipient=[{"id": "crew", "role": "crew", "shift": "00:00-00:00", "channels": [hook]}],
        channel={"webhook_hosts": [f"127.0.0.1:{web.server_port}"]},
    )


class FastClock:
    """Real time, `rate` times as fast from 2026 on: backoff of minutes passes in seconds, order and ratios stay."""

    def __init__(self, rate: float = 1.0) -> None:
        self._rate = rate
        self._began_s = time.monotonic()

    def now(self) -> Ms:
        return T0 + round((time.monotonic() - self._began_s) * 1000 * self._rate)

    def boot(self) -> tuple[str, int]:
        return "boot", self.now()

    def synchronised(self) -> bool:
        return True


class Sent:
    """A dispatcher that sends really, by children, what a book in memory holds."""

    def __init__(self, setup: Setup, *, deadline_s: float = 20, rate: float = 1.0) -> None:
        self.book = MemoryBook()
        self.clock = FastClock(rate)
        transport = ChildTransport(setup, deadline_s)
        self.dispatcher = Dispatcher(setup, self.book, self.clock, transport, workers=2)

    def say(self, kind: MessageKind, no: int, state: GateState | None = None) -> None:
        """Write a message about the strip of the first pour, with its gate; a permit waits for no others."""
        at_ms = self.clock.now() - TOGETHER_MS
        self.book.put(make_told(kind, no, at_ms=at_ms), make_gate(_SHUT[kind] if state is None else state))

    def until(self, done: Callable[[], bool], seconds: float = 60) -> None:
        """Turn until something is done."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            self.dispatcher.run_due()
            if done():
                return
            threading.Event().wait(0.02)
        raise AssertionError(f"not done after {seconds} seconds: {self.outcomes()}")

    def until_at_rest(self, number: int) -> None:
        """Turn until a withdrawal is accepted and no release is under way or to be repeated."""
        over = {DeliveryState.ACCEPTED, DeliveryState.SUPERSEDED, DeliveryState.REFUSED, DeliveryState.ESCALATED}
        self.until(
            lambda: (
                set(self.book.states(number).values()) == {DeliveryState.ACCEPTED}
                and all(d.state in over for d in self.book.rows.deliveries.values())
            )
        )
        self.dispatcher.close()

    def outcomes(self) -> list[tuple[int, str, str]]:
        """Return (message, state, outcome) of every change, in order."""
        return [
            (e.body["message"], e.body["state"], e.body["outcome"]) for e in self.book.rows.log if e.what == "delivery"
        ]

    def unsure(self, number: int) -> int:
        """Return how many attempts of a message have a record of doubt."""
        return sum(1 for no, state, _ in self.outcomes() if (no, state) == (number, "unsure"))
