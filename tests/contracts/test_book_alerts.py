"""The contract of `AlertsBook` and its `DeliveryTransaction`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from pathlib import Path
from threading import Event, Thread

import pytest
from delivery_support import QC, SUPER, put, route, tell, told_and_routed
from store_support import POUR, T0, gates_with, make_log, make_message, make_result

from shared.errors import StoreError
from shared.models.base import LOAD, STRIP, PourId
from shared.models.decisions import GateState
from shared.models.messages import Delivery, DeliveryState, Due, MessageKind, NewDelivery
from shared.store.book import SiteBook


def numbers(found: Sequence[Due]) -> list[int]:
    return [due.delivery.no for due in found]


def test_messages_wait_for_their_routing_by_number(book: SiteBook) -> None:
    tell(book, make_message(epoch=2, floor="2"), make_message(epoch=1, valid_until_ms=T0 + 5))
    assert [(m.no, m.epoch) for m in book.alerts.unrouted(10)] == [(1, 2), (2, 1)]
    assert [m.no for m in book.alerts.unrouted(1)] == [1]
    assert book.alerts.unrouted(1)[0].facts == {"floor": "2"}
    assert book.alerts.unrouted(10)[1].valid_until_ms == T0 + 5


def test_something_is_due_while_a_message_is_not_routed(book: SiteBook) -> None:
    assert not book.alerts.anything_due(T0)
    tell(book, make_message())
    assert book.alerts.anything_due(0)
    route(book, 1)
    assert not book.alerts.anything_due(T0)


def test_something_is_due_when_a_row_is_there_that_a_turn_looks_at(book: SiteBook) -> None:
    tell(book, *(make_message(kind) for kind in MessageKind))
    for number in range(1, len(MessageKind) + 1):
        route(book, number, SUPER)
    # One transaction: what is asked is the same, and each of several hundred would wait for the disk.
    with book.writing(), book.alerts.deciding() as rows:
        every = [rows.one(number).delivery for number in range(1, len(MessageKind) + 1)]
        for row in every:
            rows.write(replace(row, state=DeliveryState.CONFIRMED))
        for row, state in product(every, DeliveryState):
            rows.write(replace(row, state=state, next_ms=T0 + 5))
            for now in (T0 + 4, T0 + 5):
                repeats = [d for d in rows.accepted_unconfirmed() if d.delivery.next_ms <= now]
                looked_at = [*rows.calling(), *rows.unsure(), *rows.due(now, 1), *repeats]
                assert book.alerts.anything_due(now) == bool(looked_at), (row, state, now)
            rows.write(replace(row, state=DeliveryState.CONFIRMED))


def test_routing_twice_changes_nothing(book: SiteBook) -> None:
    tell(book, make_message())
    route(book, 1, SUPER)
    route(book, 1, SUPER, QC, next_ms=T0 + 9)
    assert book.alerts.unrouted(10) == []
    assert book.board.deliveries() == [Delivery(1, 1, SUPER, 0, next_ms=T0)]


def test_a_reader_gets_the_newest_delivery_to_each_channel_of_each_recipient(book: SiteBook) -> None:
    for no, recipients in ((1, (SUPER, QC)), (2, (SUPER,))):
        tell(book, make_message(epoch=no))
        route(book, no, *recipients)
    assert [(d.message, d.recipient) for d in book.board.newest_deliveries()] == [(1, QC), (2, SUPER)]


def test_a_message_that_nobody_gets_is_routed_too(book: SiteBook) -> None:
    tell(book, make_message())
    route(book, 1)
    assert (book.alerts.unrouted(10), book.board.deliveries()) == ([], [])


def test_an_unknown_message_cannot_be_routed(book: SiteBook) -> None:
    with pytest.raises(StoreError, match="no message 7"):
        route(book, 7, SUPER)


def test_due_are_queued_and_waiting_rows_whose_time_has_come(book: SiteBook) -> None:
    tell(book, *(make_message(epoch=n) for n in range(1, 10)))
    for message, state in enumerate(DeliveryState, start=1):
        route(book, message, SUPER, next_ms=T0)
        put(book, message, state)
    with book.alerts.deciding() as rows:
        assert {d.delivery.state for d in rows.due(T0, 99)} == {DeliveryState.QUEUED, DeliveryState.WAITING}
        assert rows.due(T0 - 1, 99) == []


def test_urgent_messages_are_due_before_all_others_then_by_number(book: SiteBook) -> None:
    kinds = (
        MessageKind.RELEASED,
        MessageKind.COLD_DELAY,
        MessageKind.WITHDRAWAL,
        MessageKind.SIGN_OFF_WANTED,
        MessageKind.FREEZE_LOCKED,
        MessageKind.KEEP_OFF,
        MessageKind.FREEZE_SUSPECTED,
    )
    told_and_routed(book, *(make_message(kind) for kind in kinds))
    with book.alerts.deciding() as rows:
        assert [d.message.no for d in rows.due(T0, 99)] == [3, 3, 5, 5, 6, 6, 7, 7, 1, 1, 2, 2, 4, 4]
        assert numbers(rows.due(T0, 3)) == [5, 6, 9]


def test_a_due_row_carries_its_message_and_its_gate_as_it_is_now(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    released = replace(case.gates[STRIP], state=GateState.RELEASED, epoch=1, signers=("qc",))
    gates = gates_with(case, STRIP, released)
    silent = make_message(MessageKind.LOGGER_SILENT, subject="lg-01.1")
    assert book.cure.record(case, make_result(case, gates=gates, messages=(make_message(), silent)))
    for message in (1, 2):
        route(book, message, SUPER)
    with book.alerts.deciding() as rows:
        first, second = rows.due(T0, 9)
    assert first == Due(Delivery(1, 1, SUPER, 0, next_ms=T0), book.board.messages()[0], released, busy=False)
    assert second.gate is None


def test_a_row_is_busy_while_another_of_its_recipient_and_channel_is_calling(book: SiteBook) -> None:
    told_and_routed(book, make_message(epoch=1), make_message(epoch=2))
    with book.alerts.deciding() as rows:
        rows.write(replace(rows.one(1).delivery, state=DeliveryState.CALLING))
        assert {d.delivery.no: d.busy for d in rows.due(T0, 9)} == {2: False, 3: True, 4: False}
        assert not rows.one(1).busy


def test_one_recipients_channels_are_kept_apart(book: SiteBook) -> None:
    tell(book, make_message(), make_message(MessageKind.WITHDRAWAL))
    for message in (1, 2):
        book.alerts.route(message, [NewDelivery(SUPER, channel, T0) for channel in (0, 1)])
    put(book, 1, DeliveryState.CALLING)
    with book.alerts.deciding() as rows:
        assert {d.delivery.no: d.busy for d in rows.due(T0, 9)} == {2: False, 3: True, 4: False}
        assert numbers(rows.withdrawals(rows.one(2))) == [4]


def test_rows_are_found_by_state(book: SiteBook) -> None:
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL), make_message(), make_message(MessageKind.KEEP_OFF))
    for delivery, state in enumerate(
        (
            DeliveryState.ACCEPTED,
            DeliveryState.CONFIRMED,
            DeliveryState.ACCEPTED,
            DeliveryState.CALLING,
            DeliveryState.ACCEPTED,
            DeliveryState.UNSURE,
        ),
        start=1,
    ):
        put(book, delivery, state)
    with book.alerts.deciding() as rows:
        assert (numbers(rows.calling()), numbers(rows.unsure())) == ([4], [6])
        assert numbers(rows.accepted_unconfirmed()) == [1, 5]


def test_the_withdrawals_of_a_release_are_those_of_its_recipient_and_operation(book: SiteBook) -> None:
    told_and_routed(
        book,
        make_message(),
        make_message(MessageKind.WITHDRAWAL),
        make_message(MessageKind.WITHDRAWAL, subject=LOAD),
        make_message(MessageKind.WITHDRAWAL, epoch=2),
    )
    with book.alerts.deciding() as rows:
        assert numbers(rows.withdrawals(rows.one(1))) == [3, 7]
        assert numbers(rows.withdrawals(rows.one(2))) == [4, 8]


def test_a_row_is_stored_as_given_with_its_log_line(book: SiteBook) -> None:
    told_and_routed(book, make_message())
    row = Delivery(1, 1, SUPER, 0, DeliveryState.WAITING, 3, T0 + 9, T0 + 8, "1.3", T0 + 7, "421", True, True, T0 + 6)
    with book.alerts.deciding() as rows:
        rows.write(row, make_log("delivery", state="waiting"))
        rows.write(rows.one(2).delivery)
    assert book.board.deliveries()[0] == row
    assert book.board.log_after(0)[-1][1] == make_log("delivery", state="waiting")


def test_a_row_that_is_not_there_is_not_written(book: SiteBook) -> None:
    with pytest.raises(StoreError, match="no delivery 9"), book.alerts.deciding() as rows:
        rows.write(Delivery(9, 1, SUPER, 0))
    with pytest.raises(StoreError, match="no delivery 9"), book.alerts.deciding() as rows:
        rows.one(9)


class CrashError(Exception):
    """Stands for anything that ends a transaction half way."""


@pytest.mark.row("H2")
def test_a_crash_between_two_writes_leaves_neither(book: SiteBook) -> None:
    told_and_routed(book, make_message())
    before = (book.board.deliveries(), book.board.log_after(0))

    def crash() -> None:
        with book.alerts.deciding() as rows:
            for delivery in (1, 2):
                rows.write(replace(rows.one(delivery).delivery, state=DeliveryState.CALLING), make_log("delivery"))
            raise CrashError

    with pytest.raises(CrashError):
        crash()
    assert (book.board.deliveries(), book.board.log_after(0)) == before


def test_two_threads_never_claim_the_same_row(book: SiteBook) -> None:
    told_and_routed(book, make_message())
    inside, claims = Event(), []

    def claim() -> None:
        with book.alerts.deciding() as rows:
            due = rows.due(T0, 1)[0].delivery
            inside.wait(0.05)
            rows.write(replace(due, state=DeliveryState.CALLING))
            claims.append(due.no)

    threads = [Thread(target=claim) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(claims) == [1, 2]


def test_told_are_those_who_were_ever_called_about_the_operation(book: SiteBook) -> None:
    told_and_routed(book, make_message(), make_message(subject=LOAD), make_message(epoch=2))
    put(book, 1, DeliveryState.SUPERSEDED, called_ms=T0 + 1, attempt=1)
    put(book, 4, DeliveryState.ACCEPTED, called_ms=T0 + 1, attempt=1)
    messages = book.board.messages()
    assert book.alerts.told(messages[0]) == [("super", 0)]
    assert book.alerts.told(messages[1]) == [("qc", 0)]
    put(book, 6, DeliveryState.CALLING)
    assert book.alerts.told(messages[0]) == [("qc", 0), ("super", 0)]


def test_about_a_whole_pour_all_are_told_who_were_called_about_any_part_of_it(book: SiteBook) -> None:
    told_and_routed(book, make_message(), make_message(MessageKind.KEEP_OFF, subject=""))
    assert book.alerts.told(book.board.messages()[1]) == []
    put(book, 2, DeliveryState.UNSURE, attempt=1)
    assert book.alerts.told(book.board.messages()[1]) == [("qc", 0)]


def test_other_pours_people_are_not_told(book: SiteBook) -> None:
    told_and_routed(book, make_message())
    put(book, 1, DeliveryState.ACCEPTED, attempt=1)
    tell(book, make_message(pour="2-b2-p1"), pour=PourId("2-b2-p1"))
    assert book.alerts.told(book.board.messages()[1]) == []


def test_another_reader_sees_a_decision_only_when_it_is_whole(book: SiteBook, tmp_path: Path) -> None:
    told_and_routed(book, make_message())
    seen: list[DeliveryState] = []

    def look() -> None:
        seen.append(book.board.deliveries()[0].state)

    with book.alerts.deciding() as rows:
        rows.write(replace(rows.one(1).delivery, state=DeliveryState.CALLING))
        thread = Thread(target=look)
        thread.start()
        thread.join()
    look()
    assert seen == [DeliveryState.QUEUED, DeliveryState.CALLING]
