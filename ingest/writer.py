"""The one thread that stores. It knows nothing of MQTT: whoever queued a message is told when it is durable."""

from __future__ import annotations

import logging
import queue
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from threading import Event, Thread
from typing import Final

from ingest.gather import ENOUGH, Gather
from ingest.message import Incoming
from ingest.sheet import Taken
from shared.errors import StoreError

BATCH: Final = 1000
"""Messages stored at once at most: a commit costs the same for one as for a thousand."""
HELD: Final = 5000
"""Messages in memory at most; what is more stays with the broker."""
TRIES_BEFORE_RESEND: Final = 3
LONGEST_WAIT_S: Final = 5.0
_TURN_S: Final = 0.25

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Queued:
    """A message, and whom to tell once it is durable."""

    message: Incoming
    stored: Callable[[Taken], None]
    """Called in the writer's thread; raises nothing."""


class Writer:
    """Takes whatever waits, stores it, then says so; a batch that cannot be stored is kept and tried again."""

    def __init__(
        self,
        take: Callable[[Sequence[Incoming]], Sequence[Taken]],
        on_stuck: Callable[[], None],
    ) -> None:
        self._take = take
        self._on_stuck = on_stuck
        self._queue: queue.Queue[Queued] = queue.Queue(HELD)
        self._stopping = Event()
        self._turned = time.monotonic()
        self._pace = Gather()
        self._thread = Thread(target=self._run, name="ingest-writer", daemon=True)
        self.trouble: str | None = None
        """Why nothing is being stored."""
        self.busy = False
        self.stored = 0
        self.failures = 0

    def start(self) -> None:
        """Begin."""
        self._turned = time.monotonic()
        self._thread.start()

    def stop(self, timeout_s: float) -> None:
        """Store what waits, if the store lets us, and end."""
        self._stopping.set()
        self._thread.join(timeout_s)

    def offer(self, queued: Queued, wait_s: float) -> bool:
        """Return whether there was room within `wait_s`."""
        try:
            self._queue.put(queued, timeout=wait_s)
        except queue.Full:
            return False
        return True

    def waiting(self) -> int:
        """Return how many messages wait, those being stored not counted."""
        return self._queue.qsize()

    def alive(self) -> bool:
        """Return whether the thread runs."""
        return self._thread.is_alive()

    def stale_s(self) -> float:
        """Return the real seconds since the thread last turned its loop."""
        return time.monotonic() - self._turned

    def _run(self) -> None:
        while True:
            self._turned = time.monotonic()
            batch = self._next()
            if not batch:
                if self._stopping.is_set():
                    return
                continue
            taken = self._store(batch)
            if taken is None:
                return
            for queued, what in zip(batch, taken, strict=True):
                queued.stored(what)
            self._pace.stored(time.monotonic())
            self.busy = False

    def _next(self) -> list[Queued]:
        """Return what is there, and wait only for the first, or in a stream for a few."""
        batch: list[Queued] = []
        try:
            batch.append(self._queue.get(timeout=_TURN_S))
            self.busy = True
            self._waiting_to(batch)
        except queue.Empty:
            return batch
        self._gather(batch)
        return batch

    def _waiting_to(self, batch: list[Queued]) -> None:
        with suppress(queue.Empty):
            while len(batch) < BATCH:
                batch.append(self._queue.get_nowait())

    def _gather(self, batch: list[Queued]) -> None:
        """Wait for a few more messages, in a stream of them."""
        came, now = len(batch), time.monotonic()
        until_s = self._pace.until_s(came, now)
        if until_s == now:
            return
        with suppress(queue.Empty):
            while len(batch) < ENOUGH and (left_s := until_s - time.monotonic()) > 0:
                batch.append(self._queue.get(timeout=left_s))
        self._pace.waited(len(batch) - came, time.monotonic())
        self._waiting_to(batch)

    def _store(self, batch: Sequence[Queued]) -> Sequence[Taken] | None:
        """Try until the batch is durable; None when stopped before: whoever sent it still has all of it."""
        messages = [queued.message for queued in batch]
        tries = 0
        while (taken := self._stored_now(messages)) is None:
            tries += 1
            if tries == TRIES_BEFORE_RESEND:
                self._on_stuck()
            if self._stopping.wait(min(0.1 * 2.0 ** min(tries, 10), LONGEST_WAIT_S)):
                return self._stored_now(messages)
        return taken

    def _stored_now(self, messages: Sequence[Incoming]) -> Sequence[Taken] | None:
        self._turned = time.monotonic()
        try:
            taken = self._take(messages)
        except StoreError as error:
            self._fail(f"readings cannot be stored: {error}")
            return None
        except Exception as error:  # noqa: BLE001  a fault of ours must neither end the thread nor lose the batch
            _log.exception("storing failed")
            self._fail(f"readings cannot be stored: {type(error).__name__}")
            return None
        self.stored += len(messages)
        self.trouble = None
        return taken

    def _fail(self, trouble: str) -> None:
        self.failures += 1
        if trouble != self.trouble:
            _log.error("%s", trouble)
        self.trouble = trouble
