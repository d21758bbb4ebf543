"""The dispatcher on the site book itself, which must do what the tests' book in memory does."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, Protocol

import pytest
from alerts_support import FACTS, ScriptedTransport, Site, alerts_setup, with_duty
from store_support import POUR, T0, make_result, opened_book

from alerts.acts import apply
from alerts.dispatcher import Dispatcher
from alerts.routing import TOGETHER_MS
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError
from shared.models.acts import Confirm, instant
from shared.models.base import HOUR_MS, STRIP, PourId
from shared.models.decisions import Gate, GateState
from shared.models.messages import DeliveryState, MessageKind, NewMessage
from shared.store.book import SiteBook

SETUP: Final = with_duty(alerts_setup(), "installer")
SCRIPTS: Final = {
    "all is well": [],
    "the server is down at first": ["fail"] * 12,
    "answers are lost": ["lost", "accept", "silence", "lost", "fail", "never", "lost"],
    "some are refused": ["never", "accept", "never"],
}


class Told(Protocol):
    """Either site."""

    transport: ScriptedTransport

    def release(self) -> None: ...
    def withdraw(self) -> None: ...
    def run(self, minutes: float = 0) -> int: ...
    def restart(self) -> None: ...
    def withdrawal(self) -> int: ...
    def confirm(self, no: int) -> int: ...


class BookSite:
    """What `alerts_support.Site` is, on a site book on disk."""

    def __init__(self, book: SiteBook, *script: str) -> None:
        self.clock = SimulatedClock(T0)
        self.book = book
        self.transport = ScriptedTransport(self.clock, *script)
        self.restart()

    def restart(self) -> None:
        self.dispatcher = Dispatcher(SETUP, self.book.alerts, self.clock, self.transport, quiet_ms=0)
        self.dispatcher.recover()

    def _say(self, kind: MessageKind, state: GateState) -> None:
        case = self.book.cure.case(PourId(POUR))
        now = self.clock.now()
        permits = kind is MessageKind.RELEASED
        at_ms = now - TOGETHER_MS if permits else now
        until = at_ms + 9 * HOUR_MS if permits else None
        message = NewMessage(kind, PourId(POUR), STRIP, 1, at_ms, until, {**FACTS, "hour_ms": at_ms})
        gates = tuple((dict(case.gates) | {STRIP: Gate(PourId(POUR), STRIP, state, 1)}).values())
        assert self.book.cure.record(case, make_result(case, at_ms=now, gates=gates, messages=(message,)))

    def release(self) -> None:
        self._say(MessageKind.RELEASED, GateState.RELEASED)

    def withdraw(self) -> None:
        self._say(MessageKind.WITHDRAWAL, GateState.WITHDRAWN)

    def run(self, minutes: float = 0) -> int:
        done = self.dispatcher.run_due()
        until = self.clock.now() + round(minutes * 60_000)
        while self.clock.now() < until:
            self.clock.set(min(until, self.clock.now() + 30_000))
            done += self.dispatcher.run_due()
        return done

    def withdrawal(self) -> int:
        return next(m.no for m in self.book.board.messages() if m.kind is MessageKind.WITHDRAWAL)

    def confirm(self, no: int) -> int:
        act = Confirm(at=instant(self.clock.now()), who="qc", message=no)
        before = self._confirmed(no)
        apply(self.book.alerts, SETUP, act, self.clock.now())
        return self._confirmed(no) - before

    def _confirmed(self, no: int) -> int:
        mine = (d for d in self.book.board.deliveries() if d.message == no)
        return [d.state for d in mine].count(DeliveryState.CONFIRMED)

    def logged(self) -> list[Any]:
        return [e.body for _, e in self.book.board.log_after(0) if e.what == "delivery"]


def play(site: Told) -> list[int]:
    """Play a day of it; return how many things were done at each step."""
    done: list[int] = []
    site.release()
    done.append(site.run(12))
    site.restart()
    site.withdraw()
    done.append(site.run(12))
    done.append(site.confirm(site.withdrawal()))
    done.append(site.run(12))
    return done


@pytest.mark.parametrize("script", [pytest.param(s, id=name) for name, s in SCRIPTS.items()])
def test_the_site_book_and_the_book_in_memory_tell_the_same_story(tmp_path: Path, script: Sequence[str]) -> None:
    memory = InMemory(*script)
    with opened_book(tmp_path, SETUP) as book:
        disk = BookSite(book, *script)
        assert play(disk) == play(memory)
        assert heard(disk.transport) == heard(memory.transport)
        assert disk.logged() == [e.body for e in memory.book.rows.log if e.what == "delivery"]
        book.service.verify_log()


class InMemory(Site):
    """Numbers as the site book gives them: from 1, one after the other."""

    def __init__(self, *script: str) -> None:
        super().__init__(*script, setup=SETUP)
        self.book.rows.own_from = 0

    def _next(self) -> int:
        return len(self.book.rows.messages) + 1

    def release(self, no: int = 0) -> None:
        super().release(no or self._next())

    def withdraw(self, no: int = 0) -> None:
        super().withdraw(no or self._next())

    def withdrawal(self) -> int:
        return next(m.no for m in self.book.rows.messages.values() if m.kind is MessageKind.WITHDRAWAL)


def heard(transport: ScriptedTransport) -> list[tuple[int, tuple[int, ...], str, bool]]:
    """Return what was heard but for the check codes, which only a log gives."""
    return [(h.at_ms, h.numbers, h.file, "repeat" in h.text.short) for h in transport.heard]


@pytest.mark.row("A8")
def test_a_service_that_died_while_calling_says_so_when_it_starts_again(tmp_path: Path) -> None:
    with opened_book(tmp_path, SETUP) as book:
        site = BookSite(book)
        site.release()
        site.transport.at = _dies
        with pytest.raises(KeyboardInterrupt):
            site.run()
    with opened_book(tmp_path, SETUP) as book:
        again = BookSite(book)
        again.run(2)
        assert sorted("repeat" in h.text.short for h in again.transport.heard) == [False] * 4 + [True]
        assert [b["outcome"] for b in again.logged() if b["state"] == "unsure"] == [
            "the service ended during the attempt"
        ]


def _dies(_where: str) -> None:
    raise KeyboardInterrupt


def test_confirming_what_is_not_there_to_confirm_is_refused(tmp_path: Path) -> None:
    with opened_book(tmp_path, SETUP) as book:
        site = BookSite(book, *["fail"] * 5)
        site.withdraw()
        site.run()
        with pytest.raises(ActRefusedError):
            site.confirm(1)
