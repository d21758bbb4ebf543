"""The loop of alerts: messages without deliveries are routed, due deliveries are worded and sent, outcomes written.

`run_due` is a plain function; `serve` calls it from a loop, `replay` from its own. With `workers` the attempts run on
threads, serial per (recipient, channel). Permits of several bays that turn together go as one text. Withdrawals and
keep-off messages repeat every 5 minutes until a person confirms, for ever, and go to further people on duty.
"""

from __future__ import annotations

import logging
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from typing import Final

from alerts.attempts import Attempts, Claimed, to
from alerts.companions import companions
from alerts.delivery import INSISTENT, DeliveryEvent, Go, Supersede, Wait, claim, may_go, step
from alerts.escalation import further, unheard
from alerts.lesser import is_urgent
from alerts.routing import TOGETHER_MS, route, unreachable
from alerts.sending import Sending
from alerts.settling import lose, record, resolve, settle
from alerts.transport import Transport
from shared.catalogue import Catalogue
from shared.errors import StoreError
from shared.models.base import MINUTE_MS, Ms
from shared.models.messages import PERMITS, Delivery, Due, Message, MessageKind, Outcome
from shared.models.setup import Setup
from shared.ports import AlertsBook, Clock, DeliveryTransaction

_LOG: Final = logging.getLogger(__name__)
_ROUTED_AT_ONCE: Final = 100
_LIMITS: Final = (50, 400, 10_000)
"""How many due rows a claim looks at: more only when none of the first can go."""
_LEASE_MORE_MS: Final = 10_000
MOST_WORKERS: Final = 4
QUIET_MS: Final = 2 * MINUTE_MS
"""After a start only urgent messages go for so long: what the last process left is settled first."""


class Dispatcher:
    """Routes, claims, sends and settles. `workers` 0: everything inside `run_due`."""

    def __init__(
        self,
        setup: Setup,
        book: AlertsBook,
        clock: Clock,
        transport: Transport,
        workers: int = 0,
        *,
        quiet_ms: Ms = QUIET_MS,
        catalogue: Catalogue | None = None,
    ) -> None:
        self._setup = setup
        self._book = book
        self._clock = clock
        self._sending = Sending(setup, book, clock, transport, catalogue)
        self._workers = min(workers, MOST_WORKERS)
        self._pool = ThreadPoolExecutor(self._workers, "sender") if self._workers > 0 else None
        self._attempts = Attempts()
        self._quiet_ms = quiet_ms
        self._quiet_until_ms: Ms | None = None
        self._unheard: dict[MessageKind, int] = {}
        """The newest message of a kind, where nobody was there to get it."""

    def recover(self, *, alone: bool = True) -> int:
        """Make every delivery that a dead process was calling unsure, and begin quietly; once, before `run_due`.

        Not `alone`: others may be calling. What a dead one called is unsure when its lease is over.
        """
        with self._book.deciding() as rows:
            now = self._clock.now()
            calling = [due for due in rows.calling() if alone or self._is_dead(due, now)]
            for due in calling:
                lose(rows, due, "the service ended during the attempt", now)
        self._quiet_until_ms = now + self._quiet_ms
        return len(calling)

    def run_due(self) -> int:
        """Do what is due; return how many things were done. With workers, attempts go on after it returns."""
        done = self._write_late()
        # Most turns find nothing: one look instead of the write lock twice.
        if not self._book.anything_due(self._clock.now()):
            return done
        done += self._route() + self._settle_doubts()
        while (claimed := self._claim()) is not None:
            done += 1
            self._attempts.begin(claimed)
            if self._pool is None:
                self._attempt(claimed)
            else:
                self._pool.submit(self._attempt_alone, claimed)
        return done

    def nobody(self) -> tuple[str, ...]:
        """Return whom nobody can tell, one sentence each; empty: all is well."""
        said = [f"{kind}: nobody who should be told has a channel" for kind in unreachable(self._setup.site)]
        said += [f"message no. {no} ({kind}): nobody can be told" for kind, no in sorted(self._unheard.items())]
        with self._book.deciding() as rows:
            now = self._clock.now()
            for message in _unanswered(rows, now):
                if further(message, _rows_of(rows, message), self._setup.site, now).exhausted:
                    said.append(f"message no. {message.no} ({message.kind}): no answer, and nobody is left on duty")
        return tuple(said)

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
                deliveries = route(message, self._setup.site, told, self._clock.now())
                self._book.route(message.no, deliveries)
                self._unheard.pop(message.kind, None)
                if not deliveries:
                    self._unheard[message.kind] = message.no
                    _LOG.error("message no. %d (%s): nobody can be told", message.no, message.kind)
                done += 1
        return done

    def _settle_doubts(self) -> int:
        """Decide unsure deliveries, those whose caller died without a word, and withdrawals that nobody answers."""
        done = 0
        with self._book.deciding() as rows:
            now = self._clock.now()
            for due in rows.calling():
                if self._is_dead(due, now):
                    lose(rows, due, "the attempt ended without an outcome", now)
                    done += 1
            for due in rows.unsure():
                done += resolve(rows, due, now)
            for message in _unanswered(rows, now):
                done += self._escalate(rows, message, now)
        return done

    def _is_dead(self, due: Due, now: Ms) -> bool:
        """Return whether nobody will tell how an attempt ended.

        A lease is site time, an attempt real time: it says nothing about what this process knows to be running.
        """
        row = due.delivery
        leased = row.lease_until_ms is not None and now < row.lease_until_ms
        return not leased and not self._attempts.knows(row.lease_token)

    def _escalate(self, rows: DeliveryTransaction, message: Message, now: Ms) -> int:
        deliveries = _rows_of(rows, message)
        new = further(message, deliveries, self._setup.site, now).deliveries
        if new:
            rows.add(message.no, new)
        told = sum(rows.tell(news) is not None for news in unheard(message, deliveries, now))
        return len(new) + told

    def _write_late(self) -> int:
        """Write outcomes that are known but could not be written."""
        unwritten = self._attempts.unwritten()
        for claimed, outcome in unwritten:
            self._settle(claimed, outcome)
        return len(unwritten)

    def _claim(self) -> Claimed | None:
        """Commit what goes next as `calling` and return it, or None when nothing can go."""
        for limit in _LIMITS:
            with self._book.deciding() as rows:
                now = self._clock.now()
                due = list(rows.due(now, limit))
                whole = len(due) < limit
                for candidate in _in_order(rows, due):
                    if self._decide(rows, candidate, now):
                        return self._commit_calling(rows, candidate, now)
            if whole:
                break
        return None

    def _decide(self, rows: DeliveryTransaction, due: Due, now: Ms) -> bool:
        """Return whether a row goes now; write down what becomes of it if it does not."""
        permission = self._permission(due, now)
        if isinstance(permission, Supersede):
            record(rows, step(due, DeliveryEvent.VOIDED, now, outcome=permission.why), now)
        elif isinstance(permission, Wait) and permission.until_ms is not None:
            rows.write(replace(due.delivery, next_ms=permission.until_ms))
        return isinstance(permission, Go) and self._has_room(due)

    def _permission(self, due: Due, now: Ms) -> Go | Supersede | Wait:
        # A repeat that is confirmed while it runs is not "calling" any more; its recipient is still being sent to.
        busy = due.busy or self._attempts.sends_to(to(due.delivery))
        permission = may_go(replace(due, busy=busy), now)
        quiet_until_ms = self._quiet_until_ms
        if isinstance(permission, Go) and quiet_until_ms is not None and now < quiet_until_ms:
            return permission if is_urgent(due.message) else Wait(quiet_until_ms)
        return permission

    def _has_room(self, due: Due) -> bool:
        """One worker of several is kept for urgent kinds, so that slow mail servers cannot hold a withdrawal up."""
        if self._pool is None:
            return True
        free = self._workers - len(self._attempts)
        return free > 0 if is_urgent(due.message) or self._workers == 1 else free > 1

    def _commit_calling(self, rows: DeliveryTransaction, first: Due, now: Ms) -> Claimed:
        # The attempt grows with each committed claim, so the token never comes twice.
        token = f"{first.delivery.no}.{first.delivery.attempt + 1}"
        lease_ms = int(self._sending.deadline_s * 1000) + _LEASE_MORE_MS
        waiting = rows.due(now + TOGETHER_MS, _LIMITS[-1]) if first.message.kind in PERMITS else ()
        going = sorted((first, *companions(first, waiting, now)), key=lambda due: due.message.no)
        claimed = tuple(replace(due, delivery=claim(due, now, token=token, lease_ms=lease_ms)) for due in going)
        for due in claimed:
            record(rows, due.delivery, now)
        return Claimed(token, claimed)

    def _attempt_alone(self, claimed: Claimed) -> None:
        try:
            self._attempt(claimed)
        except Exception:  # noqa: BLE001 - nobody reads this thread's end; the next turn writes the outcome
            _LOG.exception("delivery %d: its outcome could not be written", claimed.first.delivery.no)

    def _attempt(self, claimed: Claimed) -> None:
        outcome: Outcome | None = None
        try:
            outcome = self._sending.attempt(claimed)
        finally:
            self._attempts.end(claimed, outcome)
        self._settle(claimed, outcome)

    def _settle(self, claimed: Claimed, outcome: Outcome) -> None:
        with self._book.deciding() as rows:
            now = self._clock.now()
            for due in claimed.dues:
                settle(rows, due.delivery.no, outcome, claimed.token, now)
        self._attempts.written(claimed)


def _in_order(rows: DeliveryTransaction, due: list[Due]) -> Iterator[Due]:
    repeats = rows.accepted_unconfirmed()
    yield from (d for d in due if is_urgent(d.message))
    yield from repeats
    yield from (d for d in due if not is_urgent(d.message))


def _unanswered(rows: DeliveryTransaction, now: Ms) -> list[Message]:
    """Return withdrawals and keep-off messages that are still to be heard or to be answered."""
    waiting = (due for due in rows.due(now, _LIMITS[1]) if due.message.kind in INSISTENT)
    return list({due.message.no: due.message for due in (*rows.accepted_unconfirmed(), *waiting)}.values())


def _rows_of(rows: DeliveryTransaction, message: Message) -> list[Delivery]:
    return [due.delivery for due in rows.rows_of(message.no)]
