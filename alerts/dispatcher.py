"""The loop of alerts: messages without deliveries are routed, due deliveries are worded and sent, outcomes written.

`run_due` is a plain function; `serve` calls it from a loop, `replay` from its own. With `workers` the attempts run on
threads, serial per (recipient, channel). Withdrawals and keep-off messages repeat every 5 minutes until a person
confirms, for ever; telling the next person of a roster comes in a later version.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from threading import Lock
from typing import Final, TypeAlias

from alerts.delivery import DeliveryEvent as Event
from alerts.delivery import Go, Supersede, Wait, answered, claim, fence, lost, may_go, overtaken, resolved, step
from alerts.routing import route
from alerts.transport import Transport
from alerts.wording import words
from shared.errors import StoreError
from shared.models.base import Ms
from shared.models.decisions import LogEntry
from shared.models.messages import PERMITS, URGENT, Delivery, Due, Outcome, OutcomeKind
from shared.models.setup import Address, Setup
from shared.ports import AlertsBook, Clock, DeliveryTransaction

_LOG: Final = logging.getLogger(__name__)
_ROUTED_AT_ONCE: Final = 100
_LIMITS: Final = (50, 400, 10_000)
"""How many due rows a claim looks at: more only when none of the first can go."""
_LEASE_MORE_MS: Final = 10_000
MOST_WORKERS: Final = 4
_To: TypeAlias = tuple[str, int]
"""A recipient and a channel."""


class Dispatcher:
    """Routes, claims, sends and settles. `workers` 0: everything inside `run_due`."""

    def __init__(self, setup: Setup, book: AlertsBook, clock: Clock, transport: Transport, workers: int = 0) -> None:
        self._setup = setup
        self._book = book
        self._clock = clock
        self._transport = transport
        self._workers = min(workers, MOST_WORKERS)
        self._pool = ThreadPoolExecutor(self._workers, "sender") if self._workers > 0 else None
        self._running: dict[str | None, _To] = {}
        self._unwritten: dict[str | None, tuple[Due, Outcome]] = {}
        """Outcomes that the store would not take when they came."""
        self._lock = Lock()

    def recover(self) -> int:
        """Make every delivery that a dead process was calling unsure; once, before the first `run_due`."""
        with self._book.deciding() as rows:
            calling = rows.calling()
            for due in calling:
                self._lose(rows, due, "the service ended during the attempt")
        return len(calling)

    def run_due(self) -> int:
        """Do what is due; return how many things were done. With workers, attempts go on after it returns."""
        done = self._write_late()
        # Most turns find nothing: one look instead of the write lock twice.
        if not self._book.anything_due(self._clock.now()):
            return done
        done += self._route() + self._settle_doubts()
        while (due := self._claim()) is not None:
            done += 1
            with self._lock:
                self._running[due.delivery.lease_token] = _to(due.delivery)
            if self._pool is None:
                self._attempt(due)
            else:
                self._pool.submit(self._attempt_alone, due)
        return done

    def close(self) -> None:
        """Wait for the attempts that are running."""
        if self._pool is not None:
            self._pool.shutdown(wait=True)
        # What the store does not take now either is unsure at the next start.
        with suppress(StoreError):
            self._write_late()

    def _route(self) -> int:
        done = 0
        while messages := self._book.unrouted(_ROUTED_AT_ONCE):
            for message in messages:
                told = self._book.told(message)
                self._book.route(message.no, route(message, self._setup.site, told, self._clock.now()))
                done += 1
        return done

    def _settle_doubts(self) -> int:
        """Decide unsure deliveries, and those whose caller died without a word."""
        done = 0
        with self._book.deciding() as rows:
            now = self._clock.now()
            for due in rows.calling():
                if self._is_dead(due.delivery, now):
                    self._lose(rows, due, "the attempt ended without an outcome")
                    done += 1
            for due in rows.unsure():
                after = resolved(due, now)
                if after is not None:
                    self._write(rows, after, now)
                    done += 1
        return done

    def _is_dead(self, delivery: Delivery, now: Ms) -> bool:
        """Return whether nobody will tell how an attempt ended.

        A lease is site time, an attempt real time: it says nothing about what this process knows to be running.
        """
        with self._lock:
            mine = delivery.lease_token in self._running or delivery.lease_token in self._unwritten
        return not mine and not (delivery.lease_until_ms is not None and now < delivery.lease_until_ms)

    def _write_late(self) -> int:
        """Write outcomes that are known but could not be written."""
        with self._lock:
            unwritten = list(self._unwritten.items())
        for token, (due, outcome) in unwritten:
            self._settle(due, outcome, token)
        return len(unwritten)

    def _lose(self, rows: DeliveryTransaction, due: Due, why: str) -> None:
        now = self._clock.now()
        self._write(rows, lost(due, now, why), now)
        self._send_withdrawals_again(rows, due.delivery.no, now)

    def _claim(self) -> Due | None:
        """Commit the next delivery as `calling` and return it, or None when none can go."""
        for limit in _LIMITS:
            with self._book.deciding() as rows:
                now = self._clock.now()
                due = list(rows.due(now, limit))
                whole = len(due) < limit
                for candidate in self._in_order(rows, due):
                    claimed = self._decide(rows, candidate, now)
                    if claimed is not None:
                        return claimed
            if whole:
                break
        return None

    def _in_order(self, rows: DeliveryTransaction, due: list[Due]) -> Iterator[Due]:
        repeats = rows.accepted_unconfirmed()
        yield from (d for d in due if d.message.kind in URGENT)
        yield from repeats
        yield from (d for d in due if d.message.kind not in URGENT)

    def _decide(self, rows: DeliveryTransaction, due: Due, now: Ms) -> Due | None:
        with self._lock:
            # A repeat that is confirmed while it runs is not "calling" any more; its recipient is still being sent to.
            busy = due.busy or _to(due.delivery) in self._running.values()
        permission = may_go(replace(due, busy=busy), now)
        if isinstance(permission, Supersede):
            self._write(rows, step(due, Event.VOIDED, now, outcome=permission.why), now)
        elif isinstance(permission, Wait) and permission.until_ms is not None:
            rows.write(replace(due.delivery, next_ms=permission.until_ms))
        elif isinstance(permission, Go) and self._has_room(due):
            return self._commit_calling(rows, due, now)
        return None

    def _has_room(self, due: Due) -> bool:
        """One worker of several is kept for urgent kinds, so that slow mail servers cannot hold a withdrawal up."""
        if self._pool is None:
            return True
        with self._lock:
            free = self._workers - len(self._running)
        return free > 0 if due.message.kind in URGENT or self._workers == 1 else free > 1

    def _commit_calling(self, rows: DeliveryTransaction, due: Due, now: Ms) -> Due:
        # The attempt grows with each committed claim, so the token never comes twice.
        token = f"{due.delivery.no}.{due.delivery.attempt + 1}"
        lease_ms = int(self._transport.deadline_s * 1000) + _LEASE_MORE_MS
        after = claim(due, now, token=token, lease_ms=lease_ms)
        self._write(rows, after, now)
        return replace(due, delivery=after)

    def _attempt_alone(self, due: Due) -> None:
        try:
            self._attempt(due)
        except Exception:  # noqa: BLE001 - nobody reads this thread's end; the next turn writes the outcome
            _LOG.exception("delivery %d: its outcome could not be written", due.delivery.no)

    def _attempt(self, due: Due) -> None:
        token = due.delivery.lease_token
        try:
            outcome = self._outcome(due, token)
            # First, so that no turn in between finds the attempt neither running nor ended.
            with self._lock:
                self._unwritten[token] = due, outcome
        finally:
            with self._lock:
                del self._running[token]
        self._settle(due, outcome, token)

    def _outcome(self, due: Due, token: str | None) -> Outcome:
        address = self._address(due.delivery)
        if address is None:
            return Outcome(OutcomeKind.NEVER, "the set-up has no such recipient or channel any more")
        try:
            text = words(due.message, repeat=due.delivery.was_unsure)
        except Exception as error:  # noqa: BLE001 - one text that cannot be made must not hold the others up
            _LOG.exception("delivery %d: its text could not be made", due.delivery.no)
            return Outcome(OutcomeKind.NOT_NOW, f"the text could not be made: {type(error).__name__}")
        try:
            return self._transport.send(text, address, due.message.no, self._still_true(due, token))
        except Exception as error:  # noqa: BLE001 - an attempt that broke anywhere may have arrived; the loop goes on
            _LOG.exception("delivery %d: the attempt broke", due.delivery.no)
            return Outcome(OutcomeKind.UNSURE, f"the attempt broke: {type(error).__name__}")

    def _address(self, delivery: Delivery) -> Address | None:
        person = self._setup.site.person(delivery.recipient)
        if person is None or not 0 <= delivery.channel < len(person.channels):
            return None
        return person.channels[delivery.channel]

    def _still_true(self, due: Due, token: str | None) -> Callable[[], bool]:
        def reread() -> bool:
            if due.message.kind not in PERMITS:
                return True
            with self._book.deciding() as rows:
                current = rows.one(due.delivery.no)
            return current.delivery.lease_token == token and isinstance(fence(current, self._clock.now()), Go)

        return reread

    def _settle(self, due: Due, outcome: Outcome, token: str | None) -> None:
        with self._book.deciding() as rows:
            now = self._clock.now()
            current = rows.one(due.delivery.no)
            after = answered(current, outcome, token, now)
            if after != current.delivery:
                self._write(rows, after, now)
                self._send_withdrawals_again(rows, after.no, now)
        with self._lock:
            self._unwritten.pop(token, None)

    def _send_withdrawals_again(self, rows: DeliveryTransaction, delivery: int, now: Ms) -> None:
        due = rows.one(delivery)
        if due.message.kind in PERMITS:
            for again in overtaken(due, rows.withdrawals(due), now):
                self._write(rows, again, now)

    def _write(self, rows: DeliveryTransaction, delivery: Delivery, now: Ms) -> None:
        body = {
            "message": delivery.message,
            "recipient": delivery.recipient,
            "channel": delivery.channel,
            "state": delivery.state.value,
            "attempt": delivery.attempt,
            "outcome": delivery.outcome,
        }
        rows.write(delivery, LogEntry(now, "alerts", "delivery", body))


def _to(delivery: Delivery) -> _To:
    return delivery.recipient, delivery.channel
