"""The site book as the running service sees it: its clock, its doubts about itself, the log."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from sqlalchemy import bindparam, func, select

from shared.models.acts import Act
from shared.models.base import LoggerId, Ms, PourId
from shared.models.decisions import ClockSpan, Doubt, DoubtKind, LogEntry
from shared.models.messages import DeliveryState, NewMessage
from shared.models.readings import Heard
from shared.ports import PourRecord
from shared.store import chain, records, site
from shared.store import tables as t
from shared.store.database import Database, inserting
from shared.store.kept import keep_act
from shared.store.rows import heard_from
from shared.store.rows_site import span_to
from shared.store.told import touch, write_message

# Built once: making a statement costs more than running it.
_NEW_DOUBT: Final = inserting(t.doubt).on_conflict_do_nothing().returning(t.doubt.c.kind)
_OLDEST_DUE: Final = select(func.min(t.delivery.c.next_ms)).where(
    t.delivery.c.state.in_((DeliveryState.QUEUED.value, DeliveryState.WAITING.value)),
    t.delivery.c.next_ms <= bindparam("now"),
)
_HEARD: Final = select(t.heard).where(t.heard.c.logger == bindparam("of_logger"))


class SqlServiceBook:
    """The `ServiceBook` port."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def clock(self) -> Sequence[ClockSpan]:
        with self._database.reading() as connection:
            return site.clock_of(connection)

    def keep_clock(self, spans: Sequence[ClockSpan]) -> None:
        with self._database.writing() as connection:
            connection.execute(t.clock_span.delete())
            for span in spans:
                connection.execute(t.clock_span.insert(), span_to(span))

    def doubts(self) -> Sequence[Doubt]:
        with self._database.reading() as connection:
            return site.doubts_of(connection)

    def raise_doubt(self, doubt: Doubt, messages: Sequence[NewMessage]) -> bool:
        with self._database.writing() as connection:
            row = {"kind": doubt.kind.value, "since_ms": doubt.since_ms, "reason": doubt.reason}
            if connection.execute(_NEW_DOUBT, row).first() is None:
                return False
            body = {"doubt": doubt.kind.value, "event": "opened", "reason": doubt.reason}
            chain.append(connection, [LogEntry(doubt.since_ms, "slabhour", "doubt", body)])
            for message in messages:
                write_message(connection, message)
            touch(connection)
            return True

    def end_doubt(self, kind: DoubtKind, log: LogEntry, act: Act | None = None) -> bool:
        with self._database.writing() as connection:
            ended = connection.execute(t.doubt.delete().where(t.doubt.c.kind == kind.value)).rowcount
            if ended == 0:
                return False
            if act is not None:
                keep_act(connection, act)
            chain.append(connection, [log])
            touch(connection)
            return True

    def log_head(self) -> tuple[int, str]:
        with self._database.reading() as connection:
            return chain.head(connection)

    def verify_log(self, anchors: Sequence[tuple[int, str]] = ()) -> tuple[int, str]:
        with self._database.reading() as connection:
            return chain.verify(connection, anchors)

    def oldest_due_ms(self, now: Ms) -> Ms | None:
        with self._database.reading() as connection:
            oldest: Ms | None = connection.scalar(_OLDEST_DUE, {"now": now})
            return oldest

    def damage(self) -> str | None:
        return self._database.damage()

    def heard(self, logger: LoggerId) -> Heard | None:
        with self._database.reading() as connection:
            row = connection.execute(_HEARD, {"of_logger": logger}).mappings().first()
        return None if row is None else heard_from(row)

    def records(self) -> Sequence[PourRecord]:
        with self._database.reading() as connection:
            return records.all_of(connection)

    def close_records(self, pours: Collection[PourId], log: LogEntry) -> bool:
        with self._database.writing() as connection:
            finished = {one.pour.id for one in records.all_of(connection) if one.finished_ms is not None}
            if not set(pours) <= finished:
                return False
            records.close(connection, pours, log.at_ms)
            chain.append(connection, [log])
            return True

    def tidy(self) -> str | None:
        return self._database.tidy()
