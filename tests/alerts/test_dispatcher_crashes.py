from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from itertools import count

import pytest
from alerts_book import DiedError, MemoryBook
from alerts_support import Site, filled, for_two

from shared.errors import StoreError
from shared.models.base import MINUTE_MS
from shared.models.decisions import GateState
from shared.models.messages import DeliveryState

S = DeliveryState
LOST = {"": [], "with a lost answer": ["lost"], "with an attempt given up": ["accept", "silence"]}


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
    repeats = ["repeat" in h.text.short for h in site.transport.heard]
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


def test_an_outcome_that_could_not_be_written_is_kept_and_written_when_the_store_takes_it() -> None:
    site = Site(setup=for_two())
    site.release()
    site.transport.at = filled(site)
    for _ in range(3):
        with pytest.raises(StoreError):
            site.run()
        site.clock.set(site.clock.now() + 30 * MINUTE_MS)
    site.book.at = site.transport.at = lambda _where: None
    site.run(5)
    assert site.logged(S.UNSURE) == []
    assert site.transport.numbers() == [41, 41], "one each, none twice"
    assert set(site.book.states(41).values()) == {S.ACCEPTED}


def test_closing_writes_an_outcome_that_could_not_be_written_or_leaves_it_to_the_next_start() -> None:
    for room in (True, False):
        site = Site(setup=for_two())
        site.release()
        site.transport.at = filled(site)
        with pytest.raises(StoreError):
            site.run()
        if room:
            site.book.at = lambda _where: None
        site.dispatcher.close()
        assert (S.ACCEPTED in site.book.states(41).values()) == room
        site.book.at = lambda _where: None
        assert site.started().recover() == (0 if room else 1)


def test_an_attempt_of_a_dead_process_is_unknown_when_its_lease_is_over() -> None:
    """As with several services on one book: nobody has recovered it."""
    site = Site(setup=for_two())
    site.release()
    site.transport.at = _dies
    with pytest.raises(DiedError):
        site.run()
    site.transport.at = lambda _where: None
    site.dispatcher = site.started()
    site.run()
    assert Counter(site.book.states(41).values()) == {S.CALLING: 1, S.ACCEPTED: 1}
    site.run(5)
    assert [e["outcome"] for e in site.logged(S.UNSURE)] == ["the attempt ended without an outcome"]
    assert site.transport.numbers() == [41, 41]


def test_the_book_in_memory_leaves_nothing_behind_of_a_transaction_that_raised() -> None:
    book = MemoryBook()
    book.at = _dies
    site = Site()
    site.book = book
    with pytest.raises(DiedError):
        site.release()
    assert book.rows.messages == {}
