"""The dispatcher on the site book itself, which must do what the tests' book in memory does."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final, Protocol

import pytest
from alerts_support import FACTS, ScriptedTransport, Site, alerts_setup
from store_support import POUR, T0, make_result, make_start, opened_book

from alerts.acts import confirm
from alerts.dispatcher import Dispatcher
from shared.clock import SimulatedClock
from shared.errors import ActRefusedError
from shared.models.acts import Confirm
from shared.models.base import HOUR_MS, STRIP, PourId
from shared.models.decisions import Gate, GateState
from shared.models.messages import MessageKind, NewMessage
from shared.store.book import SiteBook

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
    def confirm(self, no: int) -> int: ...


class BookSite:
    """What `alerts_support.Site` is, on a site book on disk."""

    def __init__(self, book: SiteBook, *script: str) -> None:
        self.clock = SimulatedClock(T0)
        self.book = book
        self.transport = ScriptedTransport(self.clock, *script)
        self.restart()

    def restart(self) -> None:
        self.dispatcher = Dispatcher(alerts_setup(), self.book.alerts, self.clock, self.transport)
        self.dispatcher.recover()

    def _say(self, kind: MessageKind, state: GateState) -> None:
        case = self.book.cure.case(PourId(POUR))
        now = self.clock.now()
        until = now + 9 * HOUR_MS if kind is MessageKind.RELEASED else None
        message = NewMessage(kind, PourId(POUR), STRIP, 1, now, until, {**FACTS, "hour_ms": now})
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

    def confirm(self, no: int) -> int:
        return confirm(self.book.alerts, Confirm(at=make_start(at_ms=self.clock.now()).at, who="qc", message=no))

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
    done.append(site.confirm(2))
    done.append(site.run(12))
    return done


@pytest.mark.parametrize("script", [pytest.param(s, id=name) for name, s in SCRIPTS.items()])
def test_the_site_book_and_the_book_in_memory_tell_the_same_story(tmp_path: Path, script: Sequence[str]) -> None:
    memory = InMemory(*script)
    with opened_book(tmp_path, alerts_setup()) as book:
        disk = BookSite(book, *script)
        assert play(disk) == play(memory)
        assert heard(disk.transport) == heard(memory.transport)
        assert disk.logged() == [e.body for e in memory.book.rows.log if e.what == "delivery"]
        book.verify_log()


class InMemory(Site):
    """Numbers as the site book gives them: from 1."""

    def release(self, no: int = 1) -> None:
        super().release(no)

    def withdraw(self, no: int = 2) -> None:
        super().withdraw(no)


def heard(transport: ScriptedTransport) -> list[tuple[int, int, str, str]]:
    return [(h.at_ms, h.number, h.file, h.text.short) for h in transport.heard]


@pytest.mark.row("A8")
def test_a_service_that_died_while_calling_says_so_when_it_starts_again(tmp_path: Path) -> None:
    with opened_book(tmp_path, alerts_setup()) as book:
        site = BookSite(book)
        site.release()
        site.transport.at = _dies
        with pytest.raises(KeyboardInterrupt):
            site.run()
    with opened_book(tmp_path, alerts_setup()) as book:
        again = BookSite(book)
        again.run(2)
        assert sorted("repeat of no. 1" in h.text.short for h in again.transport.heard) == [False] * 4 + [True]
        assert [b["outcome"] for b in again.logged() if b["state"] == "unsure"] == [
            "the service ended during the attempt"
        ]


def _dies(_where: str) -> None:
    raise KeyboardInterrupt


def test_confirming_what_is_not_there_to_confirm_is_refused(tmp_path: Path) -> None:
    with opened_book(tmp_path, alerts_setup()) as book:
        site = BookSite(book, *["fail"] * 5)
        site.withdraw()
        site.run()
        with pytest.raises(ActRefusedError):
            site.confirm(1)
