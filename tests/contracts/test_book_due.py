"""The contract of `DeliveryTransaction`: what is silenced or inhibited, further rows, messages of our own."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest
from book_support import HOLD, OTHER_POUR, gate
from delivery_support import QC, SUPER, put, route, tell, told_and_routed
from store_support import BAY, POUR, T0, gates_with, make_log, make_message, make_pour, make_result, make_start

from shared.errors import StoreError
from shared.models.acts import Silence, instant
from shared.models.base import LOAD, STRIP, THE_SITE, WALK, BayId, Ms
from shared.models.decisions import GateState, HoldKind
from shared.models.messages import Delivery, DeliveryState, MessageKind, NewDelivery
from shared.store.book import SiteBook

SILENCE = Silence(at=instant(T0), who="qc", bay=BAY, until=instant(T0 + 100), why="too many")


def silence(book: SiteBook, bay: BayId | None, until: Ms = T0 + 100) -> None:
    book.alerts.silence(SILENCE, bay, until, make_log())


def silenced(book: SiteBook, now: Ms) -> list[int]:
    with book.alerts.deciding() as rows:
        return [d.message.no for d in rows.due(now, 99) if d.silenced]


def of_everything(book: SiteBook) -> None:
    """Tell of a pour, of the pour in the other bay, and of the site: messages 1, 2, 3."""
    tell(book, make_message(), make_message(pour=OTHER_POUR), make_message(MessageKind.MORNING_LIST, pour=THE_SITE))
    for number in (1, 2, 3):
        route(book, number, SUPER, next_ms=T0 - 9)


@pytest.mark.row("O11")
def test_a_silence_covers_its_bay_from_its_act_to_its_end(book: SiteBook) -> None:
    of_everything(book)
    silence(book, BAY)
    assert [silenced(book, now) for now in (T0 - 1, T0, T0 + 99, T0 + 100)] == [[], [1], [1], []]


@pytest.mark.row("O11")
def test_a_silence_of_the_site_covers_every_message(book: SiteBook) -> None:
    of_everything(book)
    silence(book, None)
    assert silenced(book, T0 + 1) == [1, 2, 3]
    silence(book, BAY, until=T0 + 200)
    assert silenced(book, T0 + 150) == [1]


def test_a_silence_covers_the_next_pour_of_its_bay_too(book: SiteBook) -> None:
    silence(book, BAY)
    book.cure.open_pour(make_start("p2"), make_pour("p2", start_ms=T0 + 1), make_log())
    tell(book, make_message(pour="p2"))
    route(book, 1, SUPER)
    assert silenced(book, T0 + 1) == [1]


@pytest.mark.parametrize(
    ("states", "hold", "inhibited"),
    [
        ({}, None, False),
        ({WALK: GateState.WITHDRAWN}, None, True),
        ({STRIP: GateState.RELEASED, LOAD: GateState.SUSPENDED}, None, False),
        ({}, HoldKind.FREEZE_SUSPECTED, True),
        ({}, HoldKind.FREEZE_LOCKED, True),
        ({}, HoldKind.CONFLICT, False),
    ],
)
def test_an_open_withdrawal_or_freeze_inhibits_what_is_told_of_its_pour_and_no_other(
    book: SiteBook, states: dict[str, GateState], hold: HoldKind | None, inhibited: bool
) -> None:
    of_everything(book)
    case = book.cure.case(POUR)
    gates = tuple(replace(g, state=states.get(operation, g.state)) for operation, g in case.gates.items())
    holds = () if hold is None else (replace(HOLD, kind=hold),)
    assert book.cure.record(case, make_result(case, gates=gates, holds=holds))
    with book.alerts.deciding() as rows:
        assert [d.inhibited for d in rows.due(T0, 9)] == [inhibited, False, False]
        assert rows.one(1).inhibited == inhibited


def test_what_inhibits_ends_with_the_withdrawal(book: SiteBook) -> None:
    of_everything(book)
    for state, inhibited in ((GateState.WITHDRAWN, True), (GateState.CURING, False)):
        case = book.cure.case(POUR)
        assert book.cure.record(case, make_result(case, gates=gate(case, STRIP, state)))
        with book.alerts.deciding() as rows:
            assert rows.one(1).inhibited == inhibited


@pytest.mark.parametrize(
    ("state", "before", "kept_off"),
    [
        (GateState.UNDER_WAY, None, True),
        (GateState.SUSPENDED, GateState.UNDER_WAY, True),
        (GateState.RELEASED, None, False),
        (GateState.DONE, None, False),
        (GateState.WITHDRAWN, None, False),
    ],
)
def test_a_bay_is_kept_off_while_the_strip_of_a_keep_off_that_names_it_is_under_way(
    book: SiteBook, state: GateState, before: GateState | None, kept_off: bool
) -> None:
    case = book.cure.case(POUR)
    strip = replace(case.gates[STRIP], state=state, before=before)
    keep_off = make_message(MessageKind.KEEP_OFF, epoch=strip.epoch, bay=BAY, bays=[BAY, "2-b2"])
    assert book.cure.record(case, make_result(case, gates=gates_with(case, STRIP, strip), messages=(keep_off,)))
    beside = enumerate(("2-b2", "2-b9"))
    tell(book, *(make_message(pour=OTHER_POUR, subject=WALK, epoch=n, bay=bay) for n, bay in beside))
    for number in (1, 2, 3):
        route(book, number, SUPER, next_ms=T0 - 9)
    with book.alerts.deciding() as rows:
        assert [d.kept_off for d in rows.due(T0, 9)] == [kept_off, kept_off, False]


def test_further_rows_of_a_message_leave_those_that_are_there_as_they_are(book: SiteBook) -> None:
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL))
    put(book, 1, DeliveryState.ACCEPTED)
    before = book.board.deliveries()
    with book.alerts.deciding() as rows:
        rows.add(1, [NewDelivery(SUPER, 0, T0 + 7), NewDelivery(SUPER, 1, T0 + 8)])
        rows.add(1, [NewDelivery(SUPER, 1, T0 + 9)])
        added = [d.delivery for d in rows.rows_of(1)][2:]
    assert added == [Delivery(added[0].no, 1, SUPER, 1, next_ms=T0 + 8)]
    assert book.board.deliveries() == [*before, *added]


def test_the_rows_of_a_message_are_all_of_its_own(book: SiteBook) -> None:
    told_and_routed(book, make_message(), make_message(epoch=2))
    put(book, 3, DeliveryState.CONFIRMED)
    with book.alerts.deciding() as rows:
        assert [(d.delivery.no, d.delivery.recipient) for d in rows.rows_of(2)] == [(3, SUPER), (4, QC)]
        assert rows.rows_of(99) == []


def test_a_message_of_our_own_is_written_once_and_waits_for_its_routing(book: SiteBook) -> None:
    failed = make_message(MessageKind.DELIVERY_FAILED, subject="1 qc", epoch=0)
    with book.alerts.deciding() as rows:
        assert (rows.tell(failed), rows.tell(failed)) == (1, None)
    with book.alerts.deciding() as rows:
        assert rows.tell(replace(failed, at_ms=T0 + 9)) is None
    assert [m.no for m in book.alerts.unrouted(9)] == [1]


def test_a_row_cannot_be_added_to_a_message_that_is_not_there(book: SiteBook) -> None:
    with pytest.raises(StoreError), book.alerts.deciding() as rows:
        rows.add(7, [NewDelivery(SUPER, 0, T0)])
    assert book.board.deliveries() == []


def anchors(book: SiteBook) -> Sequence[tuple[int, str]]:
    return [(m.log_seq, m.log_hash) for m in book.board.messages()]


def test_a_message_carries_number_and_hash_of_its_own_line_in_the_log(book: SiteBook) -> None:
    case = book.cure.case(POUR)
    both = (make_message(), make_message(subject=LOAD))
    assert book.cure.record(case, make_result(case, messages=both, log=(make_log("gate"),)))
    with book.alerts.deciding() as rows:
        rows.tell(make_message(MessageKind.DELIVERY_FAILED))
    lines = dict(book.board.log_after(0))
    for message in book.board.messages():
        assert lines[message.log_seq].what == "message"
        assert lines[message.log_seq].body["no"] == message.no
    assert book.service.verify_log(anchors(book)) == (len(lines), anchors(book)[-1][1])
    route(book, 1, SUPER)
    with book.alerts.deciding() as rows:
        assert rows.one(1).message == book.board.messages()[0]


@pytest.mark.row("M14")
def test_each_message_has_a_check_code_that_anybody_can_read_out(book: SiteBook) -> None:
    tell(book, *(make_message(epoch=n) for n in range(40)))
    codes = [m.code for m in book.board.messages()]
    assert {len(code) for code in codes} == {4}
    assert len(set(codes)) > 38
    assert codes == [m.code for m in book.alerts.unrouted(99)]
    assert not set("".join(codes)) & set("01258OIBSZ")
