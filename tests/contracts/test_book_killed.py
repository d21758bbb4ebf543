"""A process that dies at any statement leaves all of a transaction or nothing: no decision without its message."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import pytest
from book_support import DOUBT, HOLD, SPANS, STATE, document, dump, gate, require, strength_test
from delivery_support import SUPER, put, told_and_routed
from faults_support import DiedError, dying_at, killed_at_every_statement
from store_support import (
    BAY,
    OTHER_BAY,
    POUR,
    T0,
    make_log,
    make_message,
    make_pour,
    make_result,
    make_start,
    opened_book,
)

from shared.models.acts import Confirm, Resend, Resume, Silence, TestChannels, instant
from shared.models.base import STRIP, THE_SITE
from shared.models.decisions import DoubtKind, GateState
from shared.models.messages import DeliveryState, MessageKind, NewDelivery
from shared.ports import Result
from shared.store.book import SiteBook

OWN = make_message(MessageKind.DELIVERY_FAILED, subject="1 qc")
RESUME = Resume(at=instant(T0), who="engineer", doubt=DOUBT.kind, why="set by hand")
OF_SITE = make_message(MessageKind.TEST, pour=THE_SITE, subject="qc")


def decision(book: SiteBook, state: GateState = GateState.RELEASED) -> Result:
    """Return a result with everything in it that a transaction can write."""
    case = book.cure.case(POUR)
    kind = MessageKind.RELEASED if state is GateState.RELEASED else MessageKind.WITHDRAWAL
    gates = tuple(replace(g, snapshot="d1" if g.operation == STRIP else None) for g in gate(case, STRIP, state, 7))
    return make_result(
        case,
        pour=replace(case.pour, end_ms=T0 + 7),
        gates=gates,
        holds=(HOLD,),
        state=STATE,
        messages=(make_message(kind, epoch=7), make_message(MessageKind.HOLD, subject="", epoch=7)),
        log=(make_log("gate", to=state), make_log("hold")),
        snapshots={"d1": {"lower_bound_mpa": 3.6}},
        act=strength_test(),
        wake=(OTHER_BAY,),
    )


class Standing(NamedTuple):
    """What a reopened book says of a decision."""

    state: GateState
    messages: list[MessageKind]
    acts: int
    tests: int
    lines: int


def standing(folder: Path) -> Standing:
    with opened_book(folder) as book:
        case, messages = book.cure.case(POUR), [m.kind for m in book.board.messages()]
        lines, _ = book.service.verify_log()
        return Standing(case.gates[STRIP].state, messages, len(book.board.acts()), len(case.tests), lines)


def standings(images: Sequence[Path]) -> list[Standing]:
    """Return what each of several copies of a book says; equal copies are opened once."""
    known: dict[bytes, Standing] = {}
    found = []
    for image in images:
        durable = b"".join((image / name).read_bytes() for name in ("site.db", "site.db-wal"))
        if durable not in known:
            known[durable] = standing(image)
        found.append(known[durable])
    return found


@pytest.mark.row("A7")
@pytest.mark.parametrize("state", [GateState.RELEASED, GateState.WITHDRAWN])
def test_a_kill_at_any_statement_of_a_decision_leaves_it_with_its_messages_or_not_at_all(
    book: SiteBook, tmp_path: Path, tmp_path_factory: pytest.TempPathFactory, state: GateState
) -> None:
    case, result = book.cure.case(POUR), decision(book, state)
    told = [m.kind for m in result.messages]
    nothing = Standing(GateState.NOT_SET_UP, [], 2, 0, 3)
    everything = Standing(state, told, 3, 1, 3 + len(result.log) + len(told))
    killed = tmp_path_factory.mktemp("killed")
    images = killed_at_every_statement(tmp_path, lambda: book.cure.record(case, result), killed)
    assert len(images) > 20
    assert standings(images) == [nothing] * (len(images) - 1) + [everything]


def _decide(book: SiteBook) -> None:
    with book.alerts.deciding() as rows:
        rows.write(replace(rows.one(1).delivery, state=DeliveryState.CALLING), make_log("delivery"))
        rows.add(1, [NewDelivery(SUPER, 5, T0)])
        rows.tell(OWN)


WRITES: dict[str, Callable[[SiteBook], object]] = {
    "record": lambda book: book.cure.record(book.cure.case(POUR), decision(book)),
    "open_pour": lambda book: book.cure.open_pour(make_start("p2"), make_pour("p2", start_ms=T0 + 1), make_log()),
    "document": lambda book: book.cure.act_on_site(document(bay=BAY), make_log()),
    "requirement": lambda book: book.cure.act_on_site(require(), make_log()),
    "messages_of_site": lambda book: book.cure.messages_of_site([OF_SITE, replace(OF_SITE, epoch=2)]),
    "raise_doubt": lambda book: book.service.raise_doubt(replace(DOUBT, kind=DoubtKind.LOG), [OF_SITE]),
    "end_doubt": lambda book: book.service.end_doubt(DOUBT.kind, make_log(), RESUME),
    "keep_clock": lambda book: book.service.keep_clock((*SPANS, SPANS[1])),
    "confirm": lambda book: book.alerts.confirm(
        Confirm(at=instant(T0), who="engineer", message=1, told="by phone"), 1, make_log()
    ),
    "silence": lambda book: book.alerts.silence(
        Silence(at=instant(T0), who="qc", bay=BAY, until=instant(T0 + 9), why="x"), BAY, T0 + 9, make_log()
    ),
    "resend": lambda book: book.alerts.resend(Resend(at=instant(T0), who="qc", message=1), 1, None, make_log()),
    "test": lambda book: book.alerts.test(
        TestChannels(at=instant(T0), who="qc", recipient="qc"), replace(OF_SITE, epoch=9), make_log()
    ),
    "deciding": _decide,
}


@pytest.mark.row("A7")
@pytest.mark.parametrize("write", WRITES)
def test_what_dies_at_any_statement_leaves_nothing_and_can_be_done_again(
    book: SiteBook, tmp_path: Path, write: str
) -> None:
    told_and_routed(book, make_message(MessageKind.WITHDRAWAL))
    put(book, 1, DeliveryState.ACCEPTED)
    book.service.keep_clock(SPANS)
    assert book.service.raise_doubt(DOUBT, [])
    before, died, n = dump(tmp_path), True, 0
    while died:
        assert dump(tmp_path) == before
        n += 1
        try:
            with dying_at(n):
                WRITES[write](book)
            died = False
        except DiedError:
            pass
    assert dump(tmp_path) != before
    assert n > 4
    book.service.verify_log()
