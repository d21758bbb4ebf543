from __future__ import annotations

import logging
import threading
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from itertools import count

import pytest
from alerts_book import DiedError, MemoryBook
from alerts_support import Site, alerts_setup
from store_support import T0

from shared.errors import StoreError
from shared.models.base import MINUTE_MS
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState, MessageKind
from shared.models.setup import Setup

S = DeliveryState
LOST = {"": [], "with a lost answer": ["lost"], "with an attempt given up": ["accept", "silence"]}


def for_two() -> Setup:
    return alerts_setup(
        recipient=[
            {"id": who, "role": who, "shift": "00:00-00:00", "channels": [{"kind": "inbox", "file": who}]}
            for who in ("crew", "qc")
        ]
    )


class Arrows:
    """Dies at the n-th arrow that is passed."""

    def __init__(self, site: Site, n: int) -> None:
        self.left = n
        self.where = ""
        site.book.at = site.transport.at = self.passed

    def passed(self, where: str) -> None:
        self.left -= 1
        if self.left == 0:
            self.where = where
            raise DiedError


def played(n: int, script: list[str]) -> tuple[Site, str]:
    """Play a release and its withdrawal, dying once at the n-th arrow; return the site and where it died."""
    site = Site(*script, setup=for_two())
    arrows = Arrows(site, n)
    gates: list[GateState] = []
    site.transport.during = lambda _number: gates.append(site.book.rows.gates["2-b1-p1", "strip"].state)

    def surviving(deed: Callable[[], object]) -> None:
        try:
            deed()
        except DiedError:
            site.restart()
            deed()

    surviving(site.release)
    surviving(site.run)
    surviving(site.withdraw)
    for _ in range(8):
        surviving(site.run)
        site.clock.set(site.clock.now() + MINUTE_MS)
    begun = zip(site.transport.began, gates, strict=True)
    assert not [g for number, g in begun if number == 41 and g is not GateState.RELEASED]
    return site, arrows.where


def checked(site: Site) -> None:
    """Hold the promises: no copy without a record of doubt, the withdrawal last, and nothing left over."""
    unsure = Counter((e["message"], e["recipient"]) for e in site.logged(S.UNSURE))
    for file in ("crew", "qc"):
        heard = site.transport.numbers(file)
        assert heard.count(41) <= 1 + unsure[41, file]
        assert heard[-1] == 42
        if unsure[42, file] == 0:
            assert heard.count(42) <= 2, "one, and its repeat after five minutes"
    assert set(site.book.states(41).values()) <= {S.ACCEPTED, S.SUPERSEDED}
    assert set(site.book.states(42).values()) == {S.ACCEPTED}
    assert len(site.book.rows.deliveries) == 4


@pytest.mark.parametrize("script", [pytest.param(s, id=name or "with good answers") for name, s in LOST.items()])
@pytest.mark.row("A7", "A8", "H2")
def test_a_crash_at_any_arrow_loses_nothing_and_copies_nothing_silently(script: list[str]) -> None:
    died: Counter[str] = Counter()
    for n in count(1):
        site, where = played(n, list(script))
        checked(site)
        if not where:
            break
        died[where] += 1
    assert {"transport: before", "transport: after", "deciding: before commit", "deciding: after commit"} <= set(died)
    assert sum(died.values()) > 40


@pytest.mark.row("A8")
def test_a_crash_after_calling_was_kept_is_unsure_and_its_repeat_says_so() -> None:
    site = Site(setup=for_two())
    site.release()
    site.transport.at = _dies
    with pytest.raises(DiedError):
        site.run()
    site.transport.at = lambda _where: None
    assert site.transport.numbers() == []
    assert Counter(site.book.states(41).values()) == {S.CALLING: 1, S.QUEUED: 1}
    assert site.started().recover() == 1
    assert Counter(site.book.states(41).values()) == {S.UNSURE: 1, S.QUEUED: 1}
    site.run(2)
    repeats = ["repeat of" in h.text.short for h in site.transport.heard]
    assert sorted(repeats) == [False, True]


def _dies(where: str) -> None:
    raise DiedError(where)


def test_recovering_twice_changes_nothing_more() -> None:
    site = Site(setup=for_two())
    site.release()
    site.transport.at = _dies
    with pytest.raises(DiedError):
        site.run()
    assert [site.started().recover() for _ in range(3)] == [1, 0, 0]


def test_an_attempt_whose_outcome_could_not_be_written_counts_as_unknown_when_its_lease_is_over() -> None:
    site = Site(setup=for_two())
    site.release()
    site.transport.at = filled(site)
    with pytest.raises(StoreError):
        site.run()
    site.book.at = site.transport.at = lambda _where: None
    site.run(5)
    assert [e["outcome"] for e in site.logged(S.UNSURE)] == ["the attempt ended without an outcome"]
    assert sorted(site.transport.numbers()) == [41, 41, 41]


def filled(site: Site) -> Callable[[str], None]:
    """Return a hook that fills the disk once an attempt is over."""

    def hook(where: str) -> None:
        if where == "transport: after":
            site.book.at = _full

    return hook


def _full(where: str) -> None:
    raise StoreError("the disk is full")


# With sending threads -----------------------------------------------------------------------------------------------


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
        assert self.go.wait(10)
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
    site = Site(
        workers=4,
        setup=alerts_setup(
            recipient=[
                {"id": "qc", "role": "qc", "shift": "00:00-00:00", "channels": [{"kind": "inbox", "file": "qc"}]}
            ]
        ),
    )
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


def test_with_threads_a_failing_store_is_logged_and_the_worker_comes_back(caplog: pytest.LogCaptureFixture) -> None:
    site = Site(workers=2, setup=for_two())
    site.transport.at = filled(site)
    site.release()
    with caplog.at_level(logging.ERROR):
        settled(site, lambda: bool(caplog.records))
        site.book.at = site.transport.at = lambda _where: None
        settled(site, lambda: set(site.book.states(41).values()) == {S.ACCEPTED} or _later(site))
    site.dispatcher.close()
    assert "could not be written" in caplog.text
    assert len(site.logged(S.UNSURE)) == 1


def _later(site: Site) -> bool:
    site.clock.set(site.clock.now() + 10_000)
    return False


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
    closing.join(10)
    assert not closing.is_alive()
    assert S.CALLING not in site.book.states(41).values()


def test_the_book_in_memory_leaves_nothing_behind_of_a_transaction_that_raised() -> None:
    book = MemoryBook()
    book.at = _dies
    site = Site()
    site.book = book
    with pytest.raises(DiedError):
        site.release()
    assert book.rows.messages == {}
