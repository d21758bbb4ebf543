"""The dispatcher with threads that send side by side, in real time."""

from __future__ import annotations

import logging
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from contextlib import suppress

import pytest
from alerts_support import Site, filled, for_one, for_two
from store_support import T0

from alerts.attempts import Claimed
from shared.errors import StoreError
from shared.models.base import MINUTE_MS
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, Message, MessageKind, Outcome

S = DeliveryState


class Gates:
    """Holds attempts back until they are let go."""

    def __init__(self, site: Site) -> None:
        self.go = threading.Event()
        self.now = 0
        self.most = 0
        self.most_alike = 0
        self._alike: Counter[str] = Counter()
        self._lock = threading.Lock()
        site.transport.during = self.during

    def during(self, _number: int) -> None:
        with self._lock:
            self.now += 1
            self.most = max(self.most, self.now)
        assert self.go.wait(60)
        with self._lock:
            self.now -= 1


def settled(site: Site, done: Callable[[], bool]) -> None:
    """Run until done, with real time passing; fail after ten seconds."""
    tick = threading.Event()
    for _ in range(1000):
        with suppress(StoreError):
            site.dispatcher.run_due()
        if done():
            return
        tick.wait(0.01)
    raise AssertionError("not done after ten seconds")


def test_with_threads_attempts_run_side_by_side_and_one_is_kept_for_urgent_kinds() -> None:
    site = Site(workers=9)
    gates = Gates(site)
    site.release()
    settled(site, lambda: gates.now == 3)
    site.dispatcher.run_due()
    assert gates.now == 3, "the fourth worker is kept free"
    site.say(MessageKind.KEEP_OFF, 42, GateState.RELEASED)
    settled(site, lambda: gates.now == 4)
    gates.go.set()
    settled(site, lambda: len(site.transport.heard) == 10)
    site.dispatcher.close()
    assert gates.most == 4


def test_with_threads_a_recipient_gets_one_attempt_at_a_time() -> None:
    site = Site(workers=4, setup=for_one())
    gates = Gates(site)
    for no in (41, 42, 43):
        site.say(MessageKind.KEEP_OFF, no, GateState.RELEASED)
    settled(site, lambda: gates.now == 1)
    for _ in range(5):
        site.dispatcher.run_due()
    gates.go.set()
    settled(site, lambda: len(site.transport.heard) == 3)
    site.dispatcher.close()
    assert gates.most == 1
    assert site.transport.numbers() == [41, 42, 43]


def test_with_threads_a_lease_that_ends_while_its_attempt_still_runs_is_not_taken_away() -> None:
    """A sped-up site's minutes pass faster than a mail server answers."""
    site = Site(workers=2, setup=for_two())
    gates = Gates(site)
    site.release()
    settled(site, lambda: gates.now == 1)
    site.clock.set(T0 + 30 * MINUTE_MS)
    site.dispatcher.run_due()
    assert site.logged(S.UNSURE) == []
    gates.go.set()
    settled(site, lambda: len(site.transport.heard) == 2)
    site.dispatcher.close()
    assert site.logged(S.UNSURE) == []


def test_with_threads_an_attempt_that_ends_between_two_looks_is_not_taken_for_dead(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    site = Site(workers=2, setup=for_one())
    gates, ended, write = Gates(site), threading.Event(), threading.Event()
    site.release()
    settled(site, lambda: gates.now == 1)
    site.clock.set(T0 + 30 * MINUTE_MS)
    settle, unrouted = site.dispatcher._settle, site.book.unrouted

    def late(claimed: Claimed, outcome: Outcome) -> None:
        if threading.current_thread() is not threading.main_thread():
            ended.set()
            assert write.wait(60)
        settle(claimed, outcome)

    def meanwhile(limit: int) -> Sequence[Message]:
        gates.go.set()
        assert ended.wait(60)
        return unrouted(limit)

    monkeypatch.setattr(site.dispatcher, "_settle", late)
    monkeypatch.setattr(site.book, "unrouted", meanwhile)
    site.dispatcher.run_due()
    assert site.logged(S.UNSURE) == []
    write.set()
    site.dispatcher.close()
    assert site.book.states(41) == {("qc", 0): S.ACCEPTED}


def test_with_threads_a_failing_store_is_logged_and_the_outcome_written_later(caplog: pytest.LogCaptureFixture) -> None:
    site = Site(workers=2, setup=for_two())
    site.transport.at = filled(site)
    site.release()
    with caplog.at_level(logging.ERROR):
        settled(site, lambda: bool(caplog.records))
        site.book.at = site.transport.at = lambda _where: None
        settled(site, lambda: set(site.book.states(41).values()) == {S.ACCEPTED})
    site.dispatcher.close()
    assert "could not be written" in caplog.text
    assert site.logged(S.UNSURE) == []
    assert site.transport.numbers() == [41, 41]


@pytest.mark.parametrize("minutes", [0, 30, 24 * 60])
@pytest.mark.row("A6")
def test_a_repeat_that_is_confirmed_while_it_runs_is_the_last_one_and_still_serial(minutes: int) -> None:
    site = Site(workers=2, setup=for_one())
    site.withdraw()
    settled(site, lambda: site.book.states(42) == {("qc", 0): S.ACCEPTED})
    gates = Gates(site)
    site.clock.set(T0 + 6 * MINUTE_MS)
    settled(site, lambda: gates.now == 1)
    assert site.confirm(42) == 1
    site.clock.set(site.clock.now() + minutes * MINUTE_MS)
    site.say(MessageKind.KEEP_OFF, 43, GateState.WITHDRAWN)
    for _ in range(5):
        site.dispatcher.run_due()
    assert gates.now == 1, "nothing else goes to this recipient meanwhile"
    gates.go.set()
    settled(site, lambda: site.book.states(43) == {("qc", 0): S.ACCEPTED})
    assert site.book.states(42) == {("qc", 0): S.CONFIRMED}
    site.dispatcher.close()
    assert site.transport.numbers() == [42, 42, 43]


def test_closing_waits_for_the_attempts_that_run() -> None:
    site = Site(workers=2, setup=for_two())
    gates = Gates(site)
    site.release()
    settled(site, lambda: gates.now == 1)
    closing = threading.Thread(target=site.dispatcher.close)
    closing.start()
    closing.join(0.05)
    assert closing.is_alive()
    gates.go.set()
    closing.join(60)
    assert not closing.is_alive()
    assert S.CALLING not in site.book.states(41).values()
