"""The test of a running service from end to end: what must be so before its silence means anything to a monitor."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from threading import Event
from typing import Final

from deploy.canary import Canary
from deploy.wiring import Service
from ingest.address import BrokerAddress
from ingest.canary import CANARY
from shared.errors import StoreError
from shared.ports import ServiceBook

VERIFY_EVERY_S: Final = 3_600.0
TICK_STALE_S: Final = 120.0
LISTENS_WITHIN_S: Final = 30.0
LONGEST_DUE_S: Final = 600.0


@dataclass(frozen=True, slots=True)
class SelfTest:
    """Everything that is asked before each heartbeat."""

    service: Service
    canary: Canary
    listening: Callable[[], str | None]
    """Why readings do not come in; None: they do."""
    tick_stale_s: Callable[[], float]
    alarms: Callable[[], Sequence[str]] = tuple
    """What the broker has lost in the last hour."""
    rate: float = 1.0
    """Site seconds a real second."""
    housekeeping: Callable[[], Sequence[str]] = tuple
    """What is wrong with backups and stores."""

    def __call__(self, stop: Event) -> list[str]:
        """Return what is wrong, one sentence each."""
        try:
            return list(self._wrong(stop))
        except StoreError as error:
            return [str(error)]

    def _wrong(self, stop: Event) -> Iterator[str]:
        service, check = self.service, self.service.self_check
        said = self._deaf(stop) or self.canary.fly(service.clock.now(), stop)
        if said is not None:
            yield said
        yield from self.alarms()
        if not self.tick_stale_s() <= TICK_STALE_S:
            yield "the rounds have stopped"
        if check.verified_s() > VERIFY_EVERY_S:
            check.verify()
        yield from (f"in doubt: {doubt.reason}" for doubt in service.book.service.doubts())
        if service.setup.site.site.clock_sync == "required" and not service.clock.synchronised():
            yield "the clock is not synchronised"
        now = service.clock.now()
        since = service.book.service.oldest_due_ms(now)
        if since is not None and (now - since) / 1000.0 / self.rate > LONGEST_DUE_S:
            yield f"a delivery has waited for {(now - since) // 60_000} min"
        yield from service.dispatcher.nobody()
        yield from self.housekeeping()
        check.anchor()

    def _deaf(self, stop: Event) -> str | None:
        """Return why the listener does not listen, after some patience: it has just begun, or the broker is new."""
        end = time.monotonic() + LISTENS_WITHIN_S
        while (said := self.listening()) is not None:
            if time.monotonic() > end or stop.wait(0.1):
                return said
        return None


def canary_of(broker: BrokerAddress, service: Service) -> Canary:
    """Return the canary of a service."""
    return Canary(broker, service.setup.site.site.site_id, lambda: heard(service.book.service))


def heard(book: ServiceBook) -> int | None:
    """Return the number of the canary that was stored last."""
    said = book.heard(CANARY)
    return None if said is None else said.sequence
