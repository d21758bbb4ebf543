"""Long lists are read a page at a time: each page asks as much of the stores after years as in the first week."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from deploy_support import POUR, START_MS, little_service, poured
from fastapi import FastAPI
from pages_support import Browser
from sqlalchemy import Connection, Engine, event
from store_support import make_message
from told_board import MemoryTold

from cure.dashboard.app import pages
from cure.dashboard.record_facts import RECORDED
from cure.lists import CONFIRMED_BY_PERSONS, NEEDS_A_PERSON
from deploy.page_parts import page_parts
from deploy.wiring import Service
from shared.models.base import HOUR_MS, SensorId
from shared.models.messages import DeliveryState, MessageKind
from shared.models.readings import Reason, Refused
from shared.ports import Which
from shared.store import chain
from shared.store import tables as t
from shared.store.codec import canonical

K = MessageKind
KINDS = (K.RELEASED, K.WITHDRAWAL, K.LOGGER_SILENT, K.HOLD)
LISTS = ("/messages", "/messages?bay=2-b1", "/messages?before=30", "/records", "/records?bay=2-b1", "/loggers")
SHEETS = ("/shift", "/ready")
MANY = 60


@contextmanager
def asked() -> Iterator[list[str]]:
    """Lend what SQLAlchemy is asked, on whatever engine."""
    statements: list[str] = []

    def heard(_connection: Connection, _cursor: object, statement: str, *_: object) -> None:
        statements.append(statement)

    event.listen(Engine, "before_cursor_execute", heard)
    try:
        yield statements
    finally:
        event.remove(Engine, "before_cursor_execute", heard)


def live_on(service: Service, begin: int, end: int) -> None:
    """Let so many pours have been closed in the meantime, with a message and a delivery of each, and refusals."""
    with service.book.writing() as connection:
        row = dict(connection.execute(t.pour.select().where(t.pour.c.id == POUR)).mappings().one())
        head = chain.head(connection)
        for n in range(begin, end):
            pour = {**row, "id": f"old-{n}", "closed_ms": START_MS, "calibration_version": None}
            connection.execute(t.pour.insert().values(pour))
            said = make_message(KINDS[n % 4], pour=f"old-{n}", at_ms=START_MS + n, bay=f"2-b{1 + n % 2}", floor="2")
            message = {"kind": said.kind.value, "pour": said.pour, "subject": said.subject, "epoch": 1}
            when = {"at_ms": said.at_ms, "valid_until_ms": None, "facts": canonical(dict(said.facts)), "routed": 1}
            log = {"log_seq": head[0], "log_hash": head[1]}
            no = connection.scalar(t.message.insert().values(**message, **when, **log).returning(t.message.c.no))
            state = (DeliveryState.CONFIRMED, DeliveryState.ACCEPTED, DeliveryState.REFUSED)[n % 3]
            delivery = {"message": no, "recipient": "super", "channel": 0, "state": state.value, "attempt": 1}
            rest = {"next_ms": 0, "outcome": "", "was_unsure": 0, "again": 0, "was_accepted": 0}
            connection.execute(t.delivery.insert().values(**delivery, **rest))
    sensor = SensorId("lg-01.1")
    refused = [Refused(START_MS + n, "t", b"%d" % n, Reason.UNIT, "", sensor) for n in range(begin, end)]
    service.book.ingest.note([], refused, [], [])


def alike(service: Service) -> None:
    """Hold the book's pages against the same asked of everything in memory."""
    book = service.book.board
    known = MemoryTold(said=book.messages(), sent=book.deliveries(), standing=book.refusals())
    for which in (Which(), Which(RECORDED), Which(bay="2-b1"), Which(RECORDED, floor="2"), Which(pour="old-5")):
        for of in (which, replace(which, before=31), replace(which, from_ms=START_MS + 5, to_ms=START_MS + 50)):
            assert list(book.newest_messages(of, 9)) == list(known.newest_messages(of, 9))
            assert list(book.next_messages(of, 5, 9)) == list(known.next_messages(of, 5, 9))
            assert book.count_messages(of) == known.count_messages(of)
            wait = CONFIRMED_BY_PERSONS, NEEDS_A_PERSON, 9
            assert list(book.waiting_messages(of, *wait)) == list(known.waiting_messages(of, *wait)) != []
    asked = Which({K.WITHDRAWAL}, pours=["old-1", "old-3", "old-5"], from_ms=START_MS + 2)  # type: ignore[list-item]
    assert list(book.newest_messages(asked, 9)) == list(known.newest_messages(asked, 9)) != []
    assert book.count_deliveries() == known.count_deliveries()
    assert book.message(7) == known.message(7)
    assert book.message(9999) is None
    assert list(book.deliveries_of([3, 5, 9999])) == list(known.deliveries_of([3, 5, 9999]))
    assert book.standing_refusals(5) == known.standing_refusals(5)
    rows = {row.pour.id: row for row in book.board()}
    of_pours = book.decided([*rows, next(iter(known.said)).pour])
    assert {pour: (d.gates, d.holds) for pour, d in of_pours.items() if pour in rows} == {
        pour: (row.gates, row.holds) for pour, row in rows.items()
    }


def test_a_page_of_a_list_asks_as_much_of_the_stores_after_years_as_in_the_first_week(tmp_path: Path) -> None:
    with little_service(tmp_path) as (service, clock):
        for done in poured():
            clock.set(START_MS + HOUR_MS)
            service.apply(done)
        service.rounds.run_due()
        app = FastAPI()
        app.include_router(pages(page_parts(service, service.apply, demo=True)))
        browser = Browser(app, address="127.0.0.1", host="127.0.0.1")
        counts: list[dict[str, int]] = []
        for begin, end in ((0, MANY), (MANY, 4 * MANY)):
            live_on(service, begin, end)
            counts.append({})
            for path in LISTS + SHEETS:
                browser.get(path)
                with asked() as statements:
                    assert browser.get(path).status_code == 200
                counts[-1][path] = len(statements)
        assert counts[0] == counts[1]
        assert max(counts[0].values()) < 30, counts
        alike(service)
        older = browser.get("/records").text
        assert "Older" in older
        assert len(older) < 80_000
