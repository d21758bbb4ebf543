"""The contract of `AlertsBook`, held against the site book and against the fake that the tests of alerts run on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Protocol

import pytest
from alerts_book import MemoryBook
from book_support import HOLD, OTHER_POUR, gate
from delivery_support import QC, SUPER
from store_support import BAY, OTHER_BAY, POUR, T0, make_log, make_message, make_result

from shared.models.acts import Act, Confirm, Resend, Silence, TestChannels, instant
from shared.models.base import STRIP, THE_SITE, BayId, Ms
from shared.models.decisions import Gate, GateState
from shared.models.messages import Delivery, DeliveryState, Due, Message, MessageKind, NewDelivery, NewMessage
from shared.ports import AlertsBook
from shared.store.book import SiteBook

LATER = T0 + 60_000
LEASE = "1.1"
WITHDRAWAL = make_message(MessageKind.WITHDRAWAL, bay=BAY)
RELEASE = make_message(bay=BAY)


class Bench(Protocol):
    """A book with what only cure writes into it."""

    @property
    def alerts(self) -> AlertsBook: ...
    def tell(self, new: NewMessage) -> Message: ...
    def turn(self, state: GateState) -> None: ...
    def freeze(self) -> None: ...
    def acts(self) -> Sequence[Act]: ...


class MemoryBench:
    def __init__(self) -> None:
        self.book = MemoryBook()

    @property
    def alerts(self) -> AlertsBook:
        return self.book

    def tell(self, new: NewMessage) -> Message:
        stored = Message(
            len(self.book.rows.messages) + 1,
            new.kind,
            new.pour,
            new.subject,
            new.epoch,
            new.at_ms,
            new.valid_until_ms,
            new.facts,
        )
        self.book.put(stored)
        return stored

    def turn(self, state: GateState) -> None:
        self.book.rows.gates[POUR, STRIP] = Gate(POUR, STRIP, state, 1)

    def freeze(self) -> None:
        self.book.rows.frozen.add(POUR)

    def acts(self) -> Sequence[Act]:
        return self.book.rows.acts


class SqlBench:
    def __init__(self, book: SiteBook) -> None:
        self.book = book

    @property
    def alerts(self) -> AlertsBook:
        return self.book.alerts

    def tell(self, new: NewMessage) -> Message:
        if new.pour == THE_SITE:
            assert self.book.cure.messages_of_site([new]) == 1
        else:
            case = self.book.cure.case(new.pour)
            assert self.book.cure.record(case, make_result(case, messages=(new,)))
        return self.book.board.messages()[-1]

    def turn(self, state: GateState) -> None:
        case = self.book.cure.case(POUR)
        assert self.book.cure.record(case, make_result(case, gates=gate(case, STRIP, state, 1)))

    def freeze(self) -> None:
        case = self.book.cure.case(POUR)
        assert self.book.cure.record(case, make_result(case, holds=(HOLD,)))

    def acts(self) -> Sequence[Act]:
        return [act for act in self.book.board.acts() if act.kind != "pour_start"]


@pytest.fixture(params=["memory", "sql"])
def bench(request: pytest.FixtureRequest, tmp_path: Path) -> Bench:
    if request.param == "memory":
        return MemoryBench()
    book: SiteBook = request.getfixturevalue("book")
    return SqlBench(book)


def routed(bench: Bench, *news: NewMessage) -> list[Message]:
    """Tell messages, each to both recipients."""
    told = [bench.tell(new) for new in news]
    for message in told:
        bench.alerts.route(message.no, [NewDelivery(who, 0, T0) for who in (SUPER, QC)])
    return told


def put(bench: Bench, message: Message, state: DeliveryState, who: str = SUPER, **changes: object) -> None:
    with bench.alerts.deciding() as rows:
        (row,) = [d.delivery for d in rows.rows_of(message.no) if d.delivery.recipient == who]
        rows.write(replace(row, state=state, **changes))  # type: ignore[arg-type]  # a test's builder: fields by name


def rows_of(bench: Bench, message: Message) -> list[Delivery]:
    with bench.alerts.deciding() as rows:
        return [d.delivery for d in rows.rows_of(message.no)]


def due(bench: Bench, now: Ms = T0) -> list[Due]:
    with bench.alerts.deciding() as rows:
        return list(rows.due(now, 99))


def silence(bench: Bench, bay: BayId | None, until: Ms = LATER) -> None:
    act = Silence(at=instant(T0), who="qc", bay=bay, until=instant(until), why="x")
    bench.alerts.silence(act, bay, until, make_log())


def test_urgent_rows_are_due_first_then_by_number(bench: Bench) -> None:
    release, withdrawal = routed(bench, RELEASE, WITHDRAWAL)
    assert [d.message.no for d in due(bench)] == [withdrawal.no] * 2 + [release.no] * 2
    assert due(bench, T0 - 1) == []
    with bench.alerts.deciding() as rows:
        assert [d.message.no for d in rows.due(T0, 1)] == [withdrawal.no]


def test_routing_and_adding_leave_rows_that_are_there(bench: Bench) -> None:
    (message,) = routed(bench, WITHDRAWAL)
    put(bench, message, DeliveryState.ACCEPTED)
    before = rows_of(bench, message)
    bench.alerts.route(message.no, [NewDelivery(QC, 5, T0)])
    with bench.alerts.deciding() as rows:
        rows.add(message.no, [NewDelivery(SUPER, 0, LATER), NewDelivery(SUPER, 1, LATER)])
    after = rows_of(bench, message)
    assert after[:2] == before
    assert [(d.recipient, d.channel, d.state, d.next_ms) for d in after[2:]] == [
        (SUPER, 1, DeliveryState.QUEUED, LATER)
    ]


def test_a_message_of_our_own_is_told_once_and_waits_for_its_routing(bench: Bench) -> None:
    routed(bench, RELEASE)
    own = make_message(MessageKind.DELIVERY_FAILED, subject="1 qc")
    with bench.alerts.deciding() as rows:
        number = rows.tell(own)
        assert rows.tell(own) is None
    assert [m.no for m in bench.alerts.unrouted(9)] == [number]
    assert bench.alerts.anything_due(0)


@pytest.mark.parametrize(
    ("bay", "now", "covered"),
    [
        (BAY, T0, [True, False, False]),
        (BAY, T0 - 1, [False, False, False]),
        (BAY, LATER - 1, [True, False, False]),
        (BAY, LATER, [False, False, False]),
        (OTHER_BAY, T0, [False, True, False]),
        (None, T0, [True, True, True]),
    ],
)
def test_a_silence_covers_its_bay_or_the_site_from_its_hour_to_its_end(
    bench: Bench, bay: BayId | None, now: Ms, covered: list[bool]
) -> None:
    of_site = make_message(MessageKind.MORNING_LIST, pour=THE_SITE)
    for new in (RELEASE, make_message(pour=OTHER_POUR, bay=OTHER_BAY), of_site):
        message = bench.tell(new)
        bench.alerts.route(message.no, [NewDelivery(SUPER, 0, T0 - 9)])
    silence(bench, bay)
    assert [d.silenced for d in due(bench, now)] == covered
    assert [act.kind for act in bench.acts()] == ["silence"]


@pytest.mark.parametrize("shut", ["nothing", "withdrawal", "freeze"])
def test_a_withdrawal_or_freeze_inhibits_its_own_pour(bench: Bench, shut: str) -> None:
    (message,) = routed(bench, make_message(MessageKind.COLD_DELAY))
    if shut == "freeze":
        bench.freeze()
    bench.turn(GateState.WITHDRAWN if shut == "withdrawal" else GateState.RELEASED)
    other = bench.tell(make_message(MessageKind.COLD_DELAY, pour=OTHER_POUR))
    bench.alerts.route(other.no, [NewDelivery(SUPER, 0, T0)])
    found = {(d.message.no, d.inhibited) for d in due(bench)}
    assert found == {(message.no, shut != "nothing"), (other.no, False)}


@pytest.mark.parametrize("state", DeliveryState)
def test_a_confirmation_ends_the_same_rows(bench: Bench, state: DeliveryState) -> None:
    under_way = {DeliveryState.CALLING, DeliveryState.WAITING, DeliveryState.UNSURE}
    kept: list[Act] = []
    for epoch, (was_accepted, told) in enumerate(product((False, True), (None, "by phone"))):
        message, other = routed(
            bench, replace(WITHDRAWAL, epoch=epoch), make_message(MessageKind.KEEP_OFF, epoch=epoch)
        )
        put(bench, message, state, was_accepted=was_accepted, lease_token=LEASE, lease_until_ms=LATER)
        put(bench, message, DeliveryState.REFUSED, QC)
        put(bench, other, DeliveryState.ACCEPTED)
        answers = state is DeliveryState.ACCEPTED or (state in under_way and was_accepted)
        closes = state in under_way | {DeliveryState.QUEUED} and told is not None
        act = Confirm(at=instant(T0), who="engineer", message=message.no, told=told)
        kept += [act] if answers or closes else []
        assert bench.alerts.confirm(act, message.no, make_log()) == int(answers or closes)
        first, second = rows_of(bench, message)
        assert first.state is (DeliveryState.CONFIRMED if answers or closes else state)
        assert (first.lease_token is None) == (answers or closes)
        assert (second.state, rows_of(bench, other)[0].state) == (DeliveryState.REFUSED, DeliveryState.ACCEPTED)
    assert list(bench.acts()) == kept


@pytest.mark.parametrize("state", DeliveryState)
def test_the_same_rows_are_sent_once_more_and_told_stays_told(bench: Bench, state: DeliveryState) -> None:
    (message,) = routed(bench, RELEASE)
    put(bench, message, state, attempt=3, called_ms=T0 + 1, accepted_ms=T0 + 2, was_accepted=True, outcome="250")
    put(bench, message, DeliveryState.CONFIRMED, QC, called_ms=T0)
    before, told = rows_of(bench, message), bench.alerts.told(message)
    act = Resend(at=instant(LATER), who="qc", message=message.no)
    again = state in {DeliveryState.ACCEPTED, DeliveryState.REFUSED, DeliveryState.ESCALATED}
    assert bench.alerts.resend(act, message.no, "nobody", make_log()) == 0
    assert bench.alerts.resend(act, message.no, None, make_log()) == int(again)
    fresh = replace(
        before[0], state=DeliveryState.QUEUED, attempt=0, next_ms=LATER, was_unsure=True, was_accepted=False
    )
    assert rows_of(bench, message) == [fresh if again else before[0], before[1]]
    assert bench.alerts.told(message) == told == [(QC, 0), (SUPER, 0)]
    assert list(bench.acts()) == ([act] if again else [])


def test_told_are_those_who_were_called_about_the_operation_or_the_whole_pour(bench: Bench) -> None:
    release, load, other = routed(bench, RELEASE, make_message(subject="load"), make_message(pour=OTHER_POUR))
    put(bench, release, DeliveryState.SUPERSEDED, called_ms=T0, attempt=1)
    put(bench, load, DeliveryState.ACCEPTED, QC, called_ms=T0, attempt=1)
    assert bench.alerts.told(release) == [(SUPER, 0)]
    assert bench.alerts.told(other) == []
    (whole,) = routed(bench, make_message(MessageKind.KEEP_OFF, subject=""))
    assert bench.alerts.told(whole) == [(QC, 0), (SUPER, 0)]


def test_a_test_message_is_written_with_its_act_and_waits_for_its_routing(bench: Bench) -> None:
    act = TestChannels(at=instant(T0), who="qc", recipient="qc")
    new = make_message(MessageKind.TEST, pour=THE_SITE, subject="qc")
    number = bench.alerts.test(act, new, make_log())
    assert [(m.no, m.kind) for m in bench.alerts.unrouted(9)] == [(number, MessageKind.TEST)]
    assert list(bench.acts()) == [act]


@pytest.mark.parametrize("state", DeliveryState)
def test_both_look_at_the_same_rows(bench: Bench, state: DeliveryState) -> None:
    release, withdrawal = routed(bench, RELEASE, WITHDRAWAL)
    for message in (release, withdrawal):
        put(bench, message, state)
        put(bench, message, DeliveryState.SUPERSEDED, QC)
    with bench.alerts.deciding() as rows:
        looks = (rows.calling(), rows.unsure(), rows.due(T0, 9), rows.accepted_unconfirmed())
        found = [[d.message.no for d in look] for look in looks]
        (mine,) = [d for d in rows.rows_of(release.no) if d.delivery.recipient == SUPER]
        assert [d.message.no for d in rows.withdrawals(mine)] == [withdrawal.no]
        assert mine.busy == (state is DeliveryState.CALLING)
    both = sorted((release.no, withdrawal.no))
    waiting = {DeliveryState.QUEUED, DeliveryState.WAITING}
    assert [sorted(numbers) for numbers in found] == [
        both if state is DeliveryState.CALLING else [],
        both if state is DeliveryState.UNSURE else [],
        both if state in waiting else [],
        [withdrawal.no] if state is DeliveryState.ACCEPTED else [],
    ]
    assert bench.alerts.anything_due(T0) == any(found)
